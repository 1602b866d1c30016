-- Pull and junction boxes, 314.28: what each wall must measure, from the raceway rows.
--
-- 314.28 goes by the trade size in inches or by the metric designator in millimetres; the two differ
-- (8 x 2 in = 406.4 mm, 8 x 53 mm = 424 mm), so each is used as given and never turned into the other.
-- Results are in thousandths of a millimetre (`um`).

CREATE OR REPLACE MACRO box_um(mm) AS CAST(mm * 1000 AS BIGINT);

CREATE OR REPLACE MACRO box_pull_lines(rows, places, edition) AS TABLE
WITH part AS MATERIALIZED (
  -- raceways, the box row with its inside dimensions, and conductors of 4 AWG and larger
  SELECT r.box, r.space, r.wall_word AS wall, r.row_word AS row, r.pull_word AS pull, r.run_word AS run, w.raceway_um AS size_um, w.metric, r.pieces,
    box_um(r.distance) AS distance_um, box_um(r.width) AS width_um, box_um(r.height) AS height_um, box_um(r.depth) AS depth_um,
    w.size, s.rank, ((r.bits >> 37) & 1) = 1 AS is_raceway, ((r.bits >> 61) & 1) = 1 AS is_box
  FROM (
    -- empty text is nothing
    SELECT b.*, nullif(box_item_key(b.wall), '') AS wall_word, nullif(box_item_key(b.pull), '') AS pull_word,
      nullif(trim(CAST(b.row AS VARCHAR)), '') AS row_word, nullif(trim(CAST(b.run AS VARCHAR)), '') AS run_word
    FROM query_table(rows) b
    WHERE NOT b.bad AND b.pieces > 0 AND (b.bits & 2305843696408461312) <> 0
      AND b.box IN (SELECT p.box FROM query_table(places) p WHERE p.wall IS NOT NULL OR p.pull IS NOT NULL)
  ) r
  JOIN fill_word w ON w.id = r.id LEFT JOIN conductor_size s ON s.size = w.size
), entry AS (
  SELECT * FROM part WHERE is_raceway AND (wall IS NOT NULL OR pull IS NOT NULL)
), factor AS (SELECT x.straight, x.angle, x.apart FROM fill_edition x WHERE x.edition = edition),
inside AS (
  SELECT p.box, p.space, max(p.width_um) FILTER (p.is_box) AS width_um, max(p.height_um) FILTER (p.is_box) AS height_um,
    max(p.depth_um) FILTER (p.is_box) AS depth_um, max(p.rank) AS rank, max_by(p.size, p.rank) AS largest
  FROM part p GROUP BY p.box, p.space
), line AS (
  SELECT e.box, e.space, 1 AS position, 'straight_pull' AS rule, CASE WHEN e.wall IN ('left', 'right') THEN 'width' WHEN e.wall = 'back' THEN 'depth' ELSE 'height' END AS side,
    'straight pull along the ' || CASE WHEN e.wall IN ('left', 'right') THEN 'width' WHEN e.wall = 'back' THEN 'depth' ELSE 'height' END AS what,
    max(f.straight * e.size_um) AS needed_um, NULL AS given_um
  FROM entry e, factor f WHERE e.pull = 'straight' AND e.wall IS NOT NULL GROUP BY ALL
  UNION ALL
  -- each row of a wall by itself; the row that asks most
  SELECT b.box, b.space, 2, 'angle_pull', CASE WHEN b.wall IN ('left', 'right') THEN 'width' ELSE 'height' END,
    'from the ' || b.wall || ' wall to the opposite wall', max(f.angle * b.most_um + b.sum_um - b.most_um), NULL
  FROM (SELECT e.box, e.space, e.wall, e.row, max(e.size_um) AS most_um, CAST(sum(e.size_um * e.pieces) AS BIGINT) AS sum_um
        FROM entry e WHERE e.wall <> 'back' GROUP BY ALL HAVING bool_or(e.pull <> 'straight')) b, factor f GROUP BY ALL
  UNION ALL
  SELECT e.box, e.space, 3, 'cover', 'depth', 'from the back wall to the cover', NULL, NULL
  FROM entry e WHERE e.wall = 'back' AND e.pull <> 'straight' GROUP BY ALL
  UNION ALL
  -- entries of the same conductors, between nearest edges
  SELECT e.box, e.space, 4, 'same_conductors', NULL,
    CASE WHEN e.run IS NULL THEN 'between entries whose run is not given' ELSE 'between the entries of run ' || CAST(e.run AS VARCHAR) END,
    max(f.apart * e.size_um), CASE WHEN e.run IS NOT NULL THEN min(e.distance_um) END
  FROM entry e, factor f WHERE e.run IS NOT NULL OR e.pull IN ('angle', 'u') GROUP BY e.box, e.space, e.run
  HAVING bool_or(e.pull <> 'straight')
  UNION ALL
  SELECT e.box, e.space, 5, 'angle_pull', NULL, 'raceways whose wall or pull is not given', NULL, NULL
  FROM entry e WHERE e.wall IS NULL OR e.pull IS NULL GROUP BY e.box, e.space
)
SELECT l.box, l.space, l.position, l.rule, l.what, i.largest,
  CASE WHEN l.rule = 'cover' THEN (
      SELECT max(CAST(b.limit_mm * 1000 AS BIGINT)) FROM box_limit b JOIN conductor_size a ON a.size = b.size_from
      JOIN conductor_size z ON z.size = b.size_to
      WHERE b.edition = edition AND b.rule LIKE 'cover%' AND i.rank BETWEEN a.rank AND z.rank)
    ELSE l.needed_um END AS needed_um,
  CASE l.side WHEN 'width' THEN i.width_um WHEN 'height' THEN i.height_um WHEN 'depth' THEN i.depth_um ELSE l.given_um END AS given_um
FROM line l LEFT JOIN inside i ON i.box = l.box AND i.space IS NOT DISTINCT FROM l.space;
