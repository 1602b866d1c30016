-- box_fill_lines: what each line of a box counts, with its clause and the provenance of its figures.
--
--   FROM box_fill_lines('items', 'nec-2023')
--
-- box, space, position, item, count, size, allowance_in3, allowance_cm3, volume_in3, volume_cm3, clause,
-- provenance (as `trace` takes it). The lines of a box sum to its required volume exactly. What counts
-- nothing has no line, and a box with problems has none.

CREATE OR REPLACE MACRO box_lines_nec(rows, state, edition) AS TABLE
WITH part AS (
  SELECT r.box, r.space, w.item, w.size, w.place, w.n * r.pieces * CASE WHEN w.item = 'device' THEN r.gang_count ELSE 1 END AS quarter_counts,
    ((r.bits >> 34) & 1) = 1 AS at_largest, (r.bits >> 42) & 127 <> 0 AS is_small
  FROM query_table(rows) r JOIN fill_word w ON w.id = r.id
  WHERE NOT r.bad AND r.pieces > 0 AND w.n > 0
    AND w.item IN ('cable', 'conductor', 'through', 'loop', 'loop_short', 'fixture_wire', 'device', 'terminal_block')
), counted AS (
  SELECT p.box, p.space, CASE WHEN p.item = 'loop_short' THEN 'loop' ELSE p.item END AS item,
    CASE WHEN p.at_largest THEN e.top_size[s.present + 1] ELSE p.size END AS size, CAST(sum(p.quarter_counts) * 10000 AS BIGINT) AS count_e4,
    CASE p.item WHEN 'cable' THEN 'conductor' WHEN 'fixture_wire' THEN 'conductor' ELSE p.item END AS rule
  FROM part p JOIN query_table(state) s ON s.box = p.box AND s.space IS NOT DISTINCT FROM p.space, (FROM fill_edition x WHERE x.edition = edition) e
  WHERE s.problems = 0 AND p.place IS NOT NULL = NOT p.at_largest AND (NOT p.is_small OR s.small_counted)
  GROUP BY ALL
  UNION ALL
  SELECT f.box, f.space, f.item, f.size, f.count_e4, f.item
  FROM (SELECT s.box, s.space, unnest([
    {item: 'clamp', size: e.top_size[s.present + 1], count_e4: ((s.bits >> 28) & 1) * e.clamp * 10000},
    {item: 'stud', size: e.top_size[s.present + 1], count_e4: ((s.bits >> 29) & 1) * e.stud * 10000},
    {item: 'hickey', size: e.top_size[s.present + 1], count_e4: ((s.bits >> 30) & 1) * e.hickey * 10000},
    {item: 'grounding', size: e.top_size[s.tally + 1],
     count_e4: CASE WHEN s.tally = 0 THEN 0 ELSE 4 * (e.grounding_e4 + e.beyond_e4 * greatest(0, s.grounds - e.grounding_free)) END},
    {item: 'isolated_grounding', size: e.top_size[s.isolated + 1], count_e4: CASE WHEN (s.bits >> 31) & 3 = 3 THEN 4 * e.isolated_e4 ELSE 0 END}],
    recursive := true)
    FROM query_table(state) s, (FROM fill_edition x WHERE x.edition = edition) e WHERE s.problems = 0) f
  WHERE f.count_e4 > 0
)
SELECT c.box, c.space,
  row_number() OVER (PARTITION BY c.box, c.space ORDER BY list_position(['cable', 'conductor', 'through', 'loop', 'fixture_wire',
    'clamp', 'stud', 'hickey', 'device', 'grounding', 'isolated_grounding', 'terminal_block'], c.item), z.rank DESC, c.count_e4 DESC) AS position,
  c.item, CAST(CAST(c.count_e4 AS DECIMAL(14, 0)) * 0.0001 AS DECIMAL(18, 4)) AS count, c.size,
  z.volume_in3 AS allowance_in3, CAST(z.volume_in3 * 16.387064 AS DECIMAL(18, 10)) AS allowance_cm3,
  CAST(CAST(c.count_e4 * z.quarters // 4 AS DECIMAL(14, 0)) * 0.0001 AS DECIMAL(18, 10)) AS volume_in3,
  CAST(CAST(CAST(c.count_e4 * z.quarters // 4 AS HUGEINT) * 16387064 AS DECIMAL(28, 0)) * 0.0000000001::DECIMAL(10, 10) AS DECIMAL(18, 10)) AS volume_cm3,
  u.clause, ['allowance/' || edition || ',' || c.size || '/volume_in3', 'fill_rule/' || edition || ',' || c.rule || '/allowances'] AS provenance
FROM counted c
JOIN fill_size z ON z.edition = edition AND z.size = c.size
LEFT JOIN fill_rule u ON u.edition = edition AND u.rule = c.rule;
