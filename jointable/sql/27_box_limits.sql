-- box_limits: limits beside the volume, each with what it needs, what the schedule gives, and whether it passes.
--
--   FROM box_limits('items', 'nec-2023')
--
-- box, space, position, rule, clause, what, needed, given (millimetres), unit, passes (null: not checked, since
-- the schedule does not give the figure), provenance. Only 314.28 left unchecked leaves a box undecided.

CREATE OR REPLACE MACRO box_mm(um) AS CAST(CAST(um AS DECIMAL(18, 0)) * 0.001 AS DECIMAL(18, 3));

CREATE OR REPLACE MACRO box_limits_nec(rows, pulls, state, edition) AS TABLE
WITH device AS (
  -- devices by the size that supplies them, with how far they project
  SELECT s.box, s.space, s.box_um, CASE WHEN ((r.bits >> 34) & 1) = 1 THEN e.top_place[s.present + 1] ELSE e.top_place[(r.bits & 127) + 1] END AS place,
    box_um(r.depth) AS projects_um
  FROM query_table(rows) r JOIN query_table(state) s ON s.box = r.box AND s.space IS NOT DISTINCT FROM r.space,
    (FROM fill_edition x WHERE x.edition = edition) e
  WHERE s.problems = 0 AND r.pieces > 0 AND ((r.bits >> 33) & 1) = 1
), line AS (
  SELECT s.box, s.space, 1 AS position, 'depth_empty' AS rule, CAST(NULL AS VARCHAR) AS what, e.empty_um AS needed_um, s.box_um AS given_um
  FROM query_table(state) s, (FROM fill_edition x WHERE x.edition = edition) e WHERE s.problems = 0 AND ((s.bits >> 33) & 1) = 0
  UNION ALL
  SELECT d.box, d.space, 2, e.depth_rule[d.place], NULL, max(e.depth_um[d.place]), any_value(d.box_um)
  FROM device d, (FROM fill_edition x WHERE x.edition = edition) e WHERE e.depth_rule[d.place] IS NOT NULL GROUP BY ALL
  UNION ALL
  SELECT d.box, d.space, 3, CASE WHEN e.projection_um[d.place] < 48000 THEN e.depth_rule[d.place] ELSE 'depth_large' END,
    'projection of the device and its clearance', max(d.projects_um + e.clearance_um[d.place]), any_value(d.box_um)
  FROM device d, (FROM fill_edition x WHERE x.edition = edition) e WHERE d.projects_um > e.projection_um[d.place] GROUP BY ALL
  UNION ALL
  SELECT d.box, d.space, 4, 'depth_large', 'projection of the device is not given', NULL, NULL
  FROM device d WHERE d.projects_um IS NULL GROUP BY ALL
  UNION ALL
  SELECT s.box, s.space, 5, v.rule, NULL, NULL, NULL
  FROM query_table(state) s, (VALUES ('depth_12_10_rear', 24), ('side_entry', 127)) v(rule, sizes)
  WHERE s.problems = 0 AND ((s.bits >> 33) & 1) = 1 AND ((s.present & 24) <> 0 OR v.rule = 'side_entry')
  UNION ALL
  SELECT s.box, s.space, 6, v.rule, NULL, NULL, NULL
  FROM query_table(state) s, (VALUES ('free_length'), ('free_length_outside')) v(rule) WHERE s.problems = 0 AND (s.present > 0 OR s.has_large)
  UNION ALL
  SELECT p.box, p.space, 10 + p.position, p.rule, p.what, p.needed_um, p.given_um
  FROM query_table(pulls) p JOIN query_table(state) s ON s.box = p.box AND s.space IS NOT DISTINCT FROM p.space
  WHERE s.problems = 0 AND s.pulls
  UNION ALL
  SELECT s.box, s.space, 17, 'angle_pull', 'raceways whose wall and pull are not given', NULL, NULL
  FROM query_table(state) s WHERE s.problems = 0 AND s.pulls AND s.pull_open IS NULL AND s.pull_fails IS NULL
)
SELECT l.box, l.space, row_number() OVER (PARTITION BY l.box, l.space ORDER BY l.position, l.rule, l.what) AS position, l.rule,
  coalesce(u.clause, '314.28(A)(2) Exception') AS clause, coalesce(l.what, u.what) AS what,
  box_mm(coalesce(l.needed_um, CASE WHEN l.position IN (1, 2, 5, 6) THEN CAST(u.limit_mm * 1000 AS BIGINT) END)) AS needed,
  box_mm(l.given_um) AS given, 'mm' AS unit, l.given_um >= l.needed_um AS passes,
  CASE WHEN u.rule IS NULL THEN [] ELSE ['box_limit/' || edition || ',' || u.rule || '/' || CASE WHEN u.factor IS NOT NULL THEN 'factor'
    WHEN l.position = 3 THEN 'clearance_mm' WHEN u.limit_mm IS NULL THEN 'threshold_mm' ELSE 'limit_mm' END] END AS provenance
FROM line l LEFT JOIN box_limit u ON u.edition = edition AND u.rule = l.rule
WHERE u.rule IS NOT NULL OR l.rule = 'cover';
