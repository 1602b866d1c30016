-- Code tables of the box: what a row of a schedule adds to its box, worked out once from the printed tables.
--
-- Hidden tables: they hold no figure of their own, only those of `allowance`, `box`, `fill_rule`,
-- `box_limit` and `conductor_size` in the form in which one pass over millions of rows is quick.
--
-- A row's two numbers (per unit of quantity) hold six sums. The unit of volume is a quarter of a cubic inch, of
-- which every allowance is a whole multiple:
--   packed       bit 0   volume of what counts at its own size                    25 bits
--                bit 25  grounding conductors of the tally                        19 bits
--                bit 44  pieces in all; over 524,287 of them the box is refused
--   packed_more  bit 0   volume of small fixture wires, counted when over four    22 bits
--                bit 22  allowances at the largest conductor present              20 bits
--                bit 42  box rows, 16384 each, plus their ganged sections
-- With at most 524,287 pieces no field can run into the next; an overflow only makes the last one larger, and that
-- has room for 2^40 rows at their bounds, since BIGINT sums to HUGEINT.
--
-- A row's bits (`bits`, joined by OR over the box):
--   0-6 sizes present (the smallest with an allowance is bit 0) · 7-13 those that are no grounding conductor,
--   pigtail or left-out wire · 14-20 sizes of the grounding tally · 21-27 sizes of isolated grounding
--   28 clamp · 29 stud · 30 hickey · 31 grounding · 32 isolated grounding · 33 device · 34 device or terminal
--   block without a size · 35 barrier · 36 extension · 37 raceway · 38 conduit body · 39 conductor of 4 AWG or
--   larger · 40 size on a fitting · 42-48 sizes of small fixture wires · 49 loop · 50 pigtail · 51 canopy
--   52 bad row · 53 connector · 54 terminal block · 55-60 place of the table box · 61 box row · 62 left-out size

CREATE OR REPLACE TABLE fill_size AS
SELECT a.edition, a.size, s.rank,
       CAST(row_number() OVER (PARTITION BY a.edition ORDER BY s.rank) - 1 AS INTEGER) AS place,
       CAST(a.volume_in3 * 4 AS BIGINT) AS quarters,
       CAST(a.volume_cm3 * 10 AS BIGINT) AS tenths,
       a.volume_in3, a.volume_cm3
FROM allowance a JOIN conductor_size s USING (size);
COMMENT ON TABLE fill_size IS 'Sizes with an allowance, numbered upwards by area in each edition (derived from allowance).';

-- The figures of an edition in one row. Lists are indexed by a set of sizes plus one, or by a size plus one.
CREATE OR REPLACE TABLE fill_edition AS
WITH sets AS (
  SELECT f.edition, m.range AS mask, max(f.place) AS top
  FROM fill_size f, range(1, 128) m
  WHERE ((m.range >> f.place) & 1) = 1 GROUP BY ALL
), tops AS (
  SELECT s.edition, [0] || list(f.quarters ORDER BY s.mask) AS top_quarters, [0] || list(f.place + 1 ORDER BY s.mask) AS top_place,
         [CAST(NULL AS VARCHAR)] || list(f.size ORDER BY s.mask) AS top_size
  FROM sets s JOIN fill_size f ON f.edition = s.edition AND f.place = s.top GROUP BY s.edition
), sizes AS (
  SELECT f.edition, list(f.size ORDER BY f.place) AS sizes, list(f.quarters ORDER BY f.place) AS quarters,
         list(f.tenths ORDER BY f.place) AS tenths,
         list(CAST(coalesce(l.limit_mm, 0) * 1000 AS BIGINT) ORDER BY f.place) AS depth_um,
         list(CAST(coalesce(l.threshold_mm, w.threshold_mm, 999999) * 1000 AS BIGINT) ORDER BY f.place) AS projection_um,
         list(CAST(coalesce(l.clearance_mm, w.clearance_mm, 0) * 1000 AS BIGINT) ORDER BY f.place) AS clearance_um,
         list(l.rule ORDER BY f.place) AS depth_rule
  FROM fill_size f
  LEFT JOIN (
    SELECT b.edition, b.rule, b.limit_mm, b.threshold_mm, b.clearance_mm,
           coalesce(a.rank, 0) AS least, coalesce(z.rank, 99999) AS most
    FROM box_limit b LEFT JOIN conductor_size a ON a.size = b.size_from LEFT JOIN conductor_size z ON z.size = b.size_to
    WHERE b.rule IN ('depth_8_6_4', 'depth_12_10', 'depth_14')
  ) l ON l.edition = f.edition AND f.rank BETWEEN l.least AND l.most
  LEFT JOIN box_limit w ON w.edition = f.edition AND w.rule = 'depth_large'
  GROUP BY f.edition
), rules AS (
  SELECT edition,
    max(allowances) FILTER (rule = 'clamp') AS clamp, max(allowances) FILTER (rule = 'stud') AS stud,
    max(allowances) FILTER (rule = 'hickey') AS hickey,
    bool_or(per = 'each') FILTER (rule = 'stud') AS studs_each,
    max(allowances) FILTER (rule = 'grounding') AS grounding, max(free_count) FILTER (rule = 'grounding') AS grounding_free,
    max(beyond_share) FILTER (rule = 'grounding') AS grounding_beyond,
    max(allowances) FILTER (rule = 'isolated_grounding') AS isolated,
    max(free_count) FILTER (rule = 'canopy_wires') AS canopy_free, max(size_limit) FILTER (rule = 'canopy_wires') AS canopy_size,
    max(threshold) FILTER (rule = 'loop') AS loop_mm,
    max(volume_in3) FILTER (rule = 'barrier_metal') AS barrier_metal,
    max(volume_in3) FILTER (rule = 'barrier_nonmetallic') AS barrier_nonmetallic,
    max(threshold) FILTER (rule = 'marked_box') AS large_box_in3,
    max(threshold) FILTER (rule = 'deep_device') AS deep_mm, max(volume_cm3) FILTER (rule = 'deep_device') AS deep_cm3
  FROM fill_rule GROUP BY edition
)
SELECT r.edition, e.code, e.year, e.basis, t.top_quarters, t.top_place, t.top_size, s.* EXCLUDE (edition),
  CAST(coalesce(r.clamp, 0) AS BIGINT) AS clamp, CAST(coalesce(r.stud, 0) AS BIGINT) AS stud,
  CAST(coalesce(r.hickey, 0) AS BIGINT) AS hickey, coalesce(r.studs_each, false) AS studs_each,
  CAST(coalesce(r.grounding, 0) * 2500 AS BIGINT) AS grounding_e4,
  CAST(coalesce(r.grounding_free, 0) AS BIGINT) AS grounding_free,
  CAST(coalesce(r.grounding_beyond, 0) * 2500 AS BIGINT) AS beyond_e4,
  CAST(coalesce(r.isolated, 0) * 2500 AS BIGINT) AS isolated_e4,
  coalesce(r.canopy_free, 0) AS canopy_free,
  -- As many of the largest small wires as may be left out; one more of the smallest is over it (a test holds this).
  CAST(coalesce(r.canopy_free * (SELECT max(f.quarters) FROM fill_size f JOIN conductor_size c ON c.size = r.canopy_size
    WHERE f.edition = r.edition AND f.rank < c.rank), 0) AS BIGINT) AS canopy_quarters,
  r.loop_mm, CAST(r.barrier_metal * 1000000 AS BIGINT) AS barrier_metal_e6,
  CAST(r.barrier_nonmetallic * 1000000 AS BIGINT) AS barrier_nonmetallic_e6,
  CAST(r.large_box_in3 AS BIGINT) AS large_box_in3,
  r.deep_mm, CAST(r.deep_cm3 AS BIGINT) AS deep_cm3,
  (SELECT CAST(limit_mm * 1000 AS BIGINT) FROM box_limit b WHERE b.edition = r.edition AND b.rule = 'depth_empty') AS empty_um,
  (SELECT CAST(factor AS BIGINT) FROM box_limit b WHERE b.edition = r.edition AND b.rule = 'straight_pull') AS straight,
  (SELECT CAST(factor AS BIGINT) FROM box_limit b WHERE b.edition = r.edition AND b.rule = 'angle_pull') AS angle,
  (SELECT CAST(factor AS BIGINT) FROM box_limit b WHERE b.edition = r.edition AND b.rule = 'same_conductors') AS apart,
  (SELECT [NULL] || list(b.box ORDER BY b.box) FROM box b WHERE b.edition = r.edition) AS boxes,
  (SELECT [NULL] || list(CAST(b.volume_in3 * 10000 AS BIGINT) ORDER BY b.box) FROM box b WHERE b.edition = r.edition) AS box_e4,
  (SELECT [NULL] || list(CAST(b.volume_cm3 * 10000 AS BIGINT) ORDER BY b.box) FROM box b WHERE b.edition = r.edition) AS box_cm3_e4,
  (SELECT [NULL] || list(CASE WHEN b.kind = 'device' THEN 'gang' ELSE b.volume_basis END ORDER BY b.box)
   FROM box b WHERE b.edition = r.edition) AS box_basis
FROM rules r JOIN edition e USING (edition) JOIN tops t USING (edition) JOIN sizes s USING (edition);
COMMENT ON TABLE fill_edition IS 'The figures of the box rules of an edition in one row (derived from fill_rule, box_limit, box and allowance).';

-- The ways to write one part of a key: `1 1/2`, `1.5`, `1½`, `1 ½`; `4`, `4.0`; round is octagonal too.
CREATE OR REPLACE MACRO box_part_forms(part) AS
  CASE WHEN part IS NULL THEN [CAST(NULL AS VARCHAR)]
       WHEN part = 'round' THEN ['round', 'octagonal', 'octagon']
       WHEN contains(part, '/') THEN
         [part, CAST(CASE WHEN contains(part, ' ') THEN CAST(string_split(part, ' ')[1] AS INTEGER) ELSE 0 END
           + CAST(regexp_extract(part, '([0-9]+)/', 1) AS DOUBLE) / CAST(regexp_extract(part, '/([0-9]+)', 1) AS DOUBLE) AS VARCHAR),
          replace(replace(replace(replace(replace(replace(replace(replace(part, ' 1/2', '½'), ' 1/4', '¼'), ' 3/4', '¾'), ' 1/8', '⅛'),
            ' 3/8', '⅜'), ' 5/8', '⅝'), ' 7/8', '⅞'), '1/2', '½'),
          replace(replace(replace(replace(replace(replace(replace(part, '1/2', '½'), '1/4', '¼'), '3/4', '¾'), '1/8', '⅛'),
            '3/8', '⅜'), '5/8', '⅝'), '7/8', '⅞')]
       WHEN regexp_full_match(part, '[0-9]+') THEN [part, part || '.0']
       ELSE [part] END;

-- The trade sizes of raceways and their metric designators (Table 300.1(C), from memory): which numbers are sizes.
CREATE OR REPLACE TABLE fill_raceway AS
SELECT * FROM (VALUES ('3/8', 12, 9525), ('1/2', 16, 12700), ('3/4', 21, 19050), ('1', 27, 25400), ('1-1/4', 35, 31750),
  ('1-1/2', 41, 38100), ('2', 53, 50800), ('2-1/2', 63, 63500), ('3', 78, 76200), ('3-1/2', 91, 88900), ('4', 103, 101600),
  ('5', 129, 127000), ('6', 155, 152400)) v(trade_size, designator, trade_um);
COMMENT ON TABLE fill_raceway IS 'Trade sizes of raceways, their metric designators, and the trade size in thousandths of a millimetre.';

CREATE OR REPLACE MACRO fill_bit(n) AS (CAST(1 AS BIGINT) << n);

-- Rows of `fill_code` in one way to write them; `key` is the reading that every other way comes to.
CREATE OR REPLACE TABLE fill_word AS
WITH named AS (
  SELECT edition, box, place, names, string_split(box_name_key(names[1]), '|') AS parts
  FROM (
    SELECT edition, box, kind, face, trade_size_mm, row_number() OVER (PARTITION BY edition ORDER BY box) AS place FROM box
  ) b, LATERAL (SELECT [b.box, replace(b.box, ' round', ' octagonal'), replace(b.box, ' round', ' octagon')] AS names
    UNION ALL
    SELECT [CASE WHEN b.kind IN ('FS', 'FD') THEN b.face || ' ' || b.trade_size_mm ELSE b.trade_size_mm || ' ' || b.kind END]
    WHERE b.trade_size_mm IS NOT NULL) n
), item AS (
  -- item as in a schedule; the rule that counts it; how many times; grounding, pigtail and left-out wires apart
  SELECT * FROM (VALUES
    ('conductor', 'conductor', 'own'), ('through', 'through', 'own'), ('loop', 'loop', 'own'),
    ('loop_short', 'loop_short', 'own'), ('pigtail', 'pigtail', 'left out'), ('grounding', NULL, 'tally'),
    ('grounding_insulated', 'grounding_insulated', 'tally'), ('isolated_grounding', 'isolated_grounding', 'isolated'),
    ('fixture_wire', 'conductor', 'canopy'), ('fixture_grounding', NULL, 'left out'),
    ('fixture_grounding_insulated', NULL, 'left out'),
    ('device', 'device', 'connected'), ('terminal_block', 'terminal_block', 'connected'),
    ('connector', NULL, 'none')) v(item, rule, kind)
), counted AS (
  SELECT e.edition, e.code, i.item, i.kind, CAST(coalesce(r.allowances, 0) AS BIGINT) AS n,
         (SELECT s.rank FROM fill_rule c JOIN conductor_size s ON s.size = c.size_limit
          WHERE c.edition = e.edition AND c.rule = 'canopy_wires') AS canopy_rank,
         (SELECT s.rank FROM fill_rule c JOIN conductor_size s ON s.size = c.size_limit
          WHERE c.edition = e.edition AND c.rule = 'large_conductor') AS large_rank
  FROM fill_edition e CROSS JOIN item i LEFT JOIN fill_rule r ON r.edition = e.edition AND r.rule = i.rule
), sized AS (
  SELECT c.*, s.size, s.rank, s.system, f.place, f.quarters, coalesce(s.rank >= c.large_rank, false) AND c.code = 'nec' AS large,
         c.code = 'cec' AND (c.item IN ('grounding', 'fixture_grounding', 'fixture_grounding_insulated')
           OR (c.item = 'fixture_wire' AND s.size IN ('18 AWG', '16 AWG'))) AS exempt,
         c.kind = 'canopy' AND s.rank < c.canopy_rank AS small
  FROM counted c CROSS JOIN conductor_size s LEFT JOIN fill_size f ON f.edition = c.edition AND f.size = s.size
)
SELECT row_number() OVER (ORDER BY edition, item, size, table_box, keys) AS id, * FROM (
SELECT edition, item,
  [box_size_key(size)] || CASE WHEN size LIKE '%/0 AWG' THEN [repeat('0', CAST(left(size, 1) AS INTEGER))]
    WHEN system = 'mm2' THEN [replace(box_size_key(size), 'mm2', 'mm²')] WHEN system = 'kcmil' THEN [replace(box_size_key(size), 'kcmil', 'mcm')] ELSE [] END AS keys,
  size, place, n, large, CAST(NULL AS VARCHAR) AS table_box,
  CAST(NULL AS VARCHAR) AS ground_size, CAST(NULL AS BIGINT) AS raceway_um, CAST(NULL AS BOOLEAN) AS metric,
  CASE WHEN kind = 'none' THEN [size, replace(size, ' ', '')]
       WHEN place IS NULL THEN CAST([] AS VARCHAR[])
       ELSE [size, replace(size, ' ', ''), replace(size, ' AWG', ''), '#' || replace(size, ' AWG', '')] END AS spellings,
  CASE WHEN place IS NULL OR kind = 'none' THEN 0
       ELSE fill_bit(44) + CASE
         WHEN small THEN 0
         WHEN kind IN ('own', 'connected', 'canopy') THEN n * quarters
         WHEN kind IN ('tally', 'isolated') THEN fill_bit(25)
         ELSE 0 END END AS packed,
  CASE WHEN place IS NOT NULL AND small THEN quarters ELSE 0 END AS packed_more,
  CASE WHEN kind = 'none' THEN 0
       WHEN place IS NULL THEN CASE WHEN exempt THEN 0 WHEN large AND kind <> 'connected' THEN fill_bit(39) ELSE fill_bit(52) END
       ELSE fill_bit(place) + CASE
         WHEN small THEN fill_bit(42 + place) + fill_bit(51)
         WHEN kind IN ('own', 'connected', 'canopy') THEN fill_bit(7 + place)
         WHEN kind = 'tally' THEN fill_bit(14 + place) + fill_bit(31)
         WHEN kind = 'isolated' THEN fill_bit(14 + place) + fill_bit(21 + place) + fill_bit(32)
         ELSE fill_bit(62) END END
  + CASE item WHEN 'device' THEN fill_bit(33) WHEN 'loop' THEN fill_bit(49) WHEN 'loop_short' THEN fill_bit(49)
      WHEN 'pigtail' THEN fill_bit(50) WHEN 'connector' THEN fill_bit(53) WHEN 'terminal_block' THEN fill_bit(54)
      WHEN 'fixture_grounding' THEN fill_bit(51) WHEN 'fixture_grounding_insulated' THEN fill_bit(51) ELSE 0 END AS bits
FROM sized
UNION ALL
-- devices, terminal blocks and connectors without a size
SELECT edition, item, [''], NULL, NULL, n, false, NULL, NULL, NULL, NULL, [''],
  CASE WHEN item = 'connector' THEN 0 ELSE fill_bit(44) END, CASE WHEN item = 'connector' THEN 0 ELSE fill_bit(22) * n END,
  CASE item WHEN 'device' THEN fill_bit(33) + fill_bit(34) WHEN 'connector' THEN fill_bit(53)
    ELSE fill_bit(54) + CASE WHEN n > 0 THEN fill_bit(34) ELSE 0 END END
FROM counted WHERE item IN ('device', 'terminal_block', 'connector')
UNION ALL
-- fittings, with and without a size that tells nothing
SELECT edition, item, [key], NULL, NULL, 0, false, NULL, NULL, NULL, NULL, [key], fill_bit(44), 0,
  bit + CASE WHEN key = '*' THEN fill_bit(40) ELSE 0 END
FROM fill_edition, (VALUES ('clamp', fill_bit(28)), ('stud', fill_bit(29)), ('hickey', fill_bit(30)), ('barrier', fill_bit(35))) v(item, bit),
  (VALUES (''), ('*')) w(key)
UNION ALL
SELECT edition, item, [''], NULL, NULL, 0, false, NULL, NULL, NULL, NULL, [''],
  fill_bit(44), CASE WHEN item IN ('box', 'conduit_body') THEN fill_bit(42) ELSE 0 END, bits
FROM fill_edition, (VALUES ('extension', fill_bit(36)), ('box', fill_bit(61)),
  ('conduit_body', fill_bit(61) + fill_bit(38))) v(item, bits)
UNION ALL
SELECT edition, 'raceway', box_part_forms(replace(size, '-', ' ')), NULL, NULL, 0, false, NULL, NULL, um, metric, [size], fill_bit(44), 0,
  fill_bit(37) | CASE WHEN code = 'cec' THEN fill_bit(52) ELSE 0 END
FROM fill_edition, (SELECT trade_size AS size, trade_um AS um, false AS metric FROM fill_raceway
  UNION ALL SELECT CAST(designator AS VARCHAR), designator * 1000, true FROM fill_raceway) r
UNION ALL
-- boxes and extensions of a table size, by inches and by the metric trade size
SELECT edition, item, keys, NULL, NULL, 0, false, box, NULL, NULL, NULL, names,
  fill_bit(44), CASE WHEN item = 'box' THEN fill_bit(42) ELSE 0 END,
  CASE WHEN item = 'box' THEN fill_bit(61) + (CAST(place AS BIGINT) << 55) ELSE fill_bit(36) END
FROM (
  SELECT edition, box, any_value(place) AS place, any_value(names) AS names, list(DISTINCT array_to_string(list_sort([a, b, c, d]), '|')) AS keys
  FROM (SELECT p.*, unnest(box_part_forms(parts[1])) AS a FROM named p) p1,
    LATERAL (SELECT unnest(box_part_forms(p1.parts[2])) AS b), LATERAL (SELECT unnest(box_part_forms(p1.parts[3])) AS c),
    LATERAL (SELECT unnest(box_part_forms(p1.parts[4])) AS d)
  GROUP BY edition, box, p1.parts
), (VALUES ('box'), ('extension')) v(item)
UNION ALL
-- cables: their conductors, and one bare grounding conductor, the same size to 10 AWG and 10 AWG for 8 and 6
SELECT c.edition, 'cable', [box_size_key(c.size) || '/' || m.range], c.size, c.place, c.n * m.range, false, NULL, g.size, NULL, NULL,
  [box_size_key(c.size) || '/' || m.range],
  fill_bit(44) * m.range + c.n * m.range * c.quarters + fill_bit(25), 0,
  fill_bit(c.place) | fill_bit(7 + c.place) | fill_bit(g.place) | fill_bit(14 + g.place) | fill_bit(31)
FROM sized c JOIN fill_size f ON f.edition = c.edition AND f.size = c.size
JOIN fill_size g ON g.edition = c.edition AND g.size = CASE WHEN c.size IN ('8 AWG', '6 AWG') THEN '10 AWG' ELSE c.size END,
  range(1, 10) m
WHERE c.item = 'conductor'
);
COMMENT ON TABLE fill_word IS 'What one row of a schedule adds to its box, by edition, item and size as read (derived).';

-- Every key that a size can come to.
CREATE OR REPLACE TABLE fill_key AS
SELECT edition, item || '|' || key AS code, id, packed, packed_more, bits
FROM (SELECT edition, item, id, packed, packed_more, bits, unnest(list_distinct(keys)) AS key FROM fill_word) ORDER BY ALL;
COMMENT ON TABLE fill_key IS 'The keys that sizes and names come to, each with its row of fill_word (derived).';

-- The ways to write a size that are met most, so that one join finds most rows.
CREATE OR REPLACE TABLE fill_code AS
SELECT edition, item, size, id, packed, packed_more, bits
FROM (SELECT edition, item, id, packed, packed_more, bits, unnest(list_distinct(spellings)) AS size FROM fill_word) ORDER BY ALL;
COMMENT ON TABLE fill_code IS 'The usual ways to write a size, each with its row of fill_word (derived).';
