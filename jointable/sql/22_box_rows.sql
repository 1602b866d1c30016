-- The rows of a schedule as they are read: one row a row of the input, with what it adds to its box.
--
--   FROM box_rows('items', 'nec-2023')
--
-- `items` names a table, a view or a common table expression with any of the columns of `item_template`; a
-- macro cannot name a column that its input lacks, hence the empty row of nulls that is joined by name.
-- A condition on a column that the input lacks is settled when the query is planned and costs nothing.
-- What is computed in steps stands in steps, since deeply nested calls are planned slowly.

-- What can be wrong with a row that was read, each once: box_rows asks whether any holds, box_problems which.
-- (A condition on a column that the input lacks is never true, and is dropped when the query is planned. CASE besides,
-- since the parts of an AND are worked out for every row, also where the cell is empty.)
CREATE OR REPLACE MACRO box_bad_quantity(pieces) AS
  (pieces BETWEEN 0 AND 9999) IS NOT TRUE;
CREATE OR REPLACE MACRO box_bad_gangs(gangs, gang_count, bits) AS
  gangs IS NOT NULL AND CASE WHEN gangs IS NULL THEN false ELSE CAST(gangs AS VARCHAR) <> '' AND (bits >> 33) & 1 = 1 AND (gang_count BETWEEN 1 AND 20) IS NOT TRUE END;
CREATE OR REPLACE MACRO box_bad_sections(gangs, gang_count, bits, marked) AS
  gangs IS NOT NULL AND gang_count > 1 AND (bits >> 61) & 1 = 1 AND NOT marked;
CREATE OR REPLACE MACRO box_bad_sizes(size, conductor_size, bits) AS
  conductor_size IS NOT NULL AND CASE WHEN conductor_size IS NULL THEN false ELSE CAST(conductor_size AS VARCHAR) <> CAST(size AS VARCHAR) AND (bits & 27021606354157568) <> 0 AND CAST(size AS VARCHAR) <> ''
    AND CAST(conductor_size AS VARCHAR) <> '' AND box_size_key(size) <> box_size_key(conductor_size) END;
CREATE OR REPLACE MACRO box_bad_joint(joint, item) AS
  joint IS NOT NULL AND CASE WHEN joint IS NULL THEN false ELSE CAST(joint AS VARCHAR) <> '' AND box_item_key(item) = 'cable' END;
CREATE OR REPLACE MACRO box_bad_volume(given, volume, most, bits) AS
  given IS NOT NULL AND CASE WHEN given IS NULL THEN false ELSE CAST(given AS VARCHAR) <> '' AND (bits & 2305843112292909056) <> 0 AND (volume > 0 AND volume <= most) IS NOT TRUE END;
CREATE OR REPLACE MACRO box_bad_length(given, length, least) AS
  given IS NOT NULL AND CASE WHEN given IS NULL THEN false ELSE CAST(given AS VARCHAR) <> '' AND (length BETWEEN least AND 99999) IS NOT TRUE END;
CREATE OR REPLACE MACRO box_bad_boxes(boxes, bits) AS
  boxes IS NOT NULL AND CASE WHEN boxes IS NULL THEN false ELSE CAST(boxes AS VARCHAR) <> '' AND (bits >> 61) & 1 = 1 AND (box_whole(boxes) BETWEEN 1 AND 1000000) IS NOT TRUE END;
CREATE OR REPLACE MACRO box_bad_material(material, bits) AS
  material IS NOT NULL AND CASE WHEN material IS NULL THEN false ELSE CAST(material AS VARCHAR) <> '' AND (bits >> 35) & 1 = 1
    AND box_item_key(material) NOT IN ('metal', 'metallic', 'nonmetal', 'nonmetallic', 'non_metallic', 'plastic') END;
CREATE OR REPLACE MACRO box_bad_wall(wall, bits) AS
  wall IS NOT NULL AND CASE WHEN wall IS NULL THEN false ELSE CAST(wall AS VARCHAR) <> '' AND (bits >> 37) & 1 = 1 AND box_item_key(wall) NOT IN ('left', 'right', 'top', 'bottom', 'back') END;
CREATE OR REPLACE MACRO box_bad_pull(pull, bits) AS
  pull IS NOT NULL AND CASE WHEN pull IS NULL THEN false ELSE CAST(pull AS VARCHAR) <> '' AND (bits >> 37) & 1 = 1 AND box_item_key(pull) NOT IN ('straight', 'angle', 'u', 'splice') END;
CREATE OR REPLACE MACRO box_bad_conduit_body(bits, marked) AS
  (bits >> 38) & 1 = 1 AND NOT marked;
CREATE OR REPLACE MACRO box_bad_space(space, bits, marked) AS
  space IS NOT NULL AND CASE WHEN space IS NULL THEN false ELSE (bits >> 61) & 1 = 1 AND NOT marked END;

CREATE OR REPLACE MACRO box_input(items) AS TABLE
FROM (SELECT NULL AS file_row, NULL AS box, NULL AS item, NULL AS size, NULL AS quantity, NULL AS conductor_size,
             NULL AS gangs, NULL AS volume_in3, NULL AS volume_cm3, NULL AS loop_mm, NULL AS depth_mm,
             NULL AS insulation, NULL AS material, NULL AS space, NULL AS joint, NULL AS boxes, NULL AS note,
             NULL AS wall, NULL AS row, NULL AS pull, NULL AS run, NULL AS width_mm, NULL AS height_mm,
             NULL AS distance_mm WHERE false)
UNION ALL BY NAME FROM query_table(items);

-- The same rows by their place alone, for what needs no more.
CREATE OR REPLACE MACRO box_places(items) AS TABLE
SELECT g.box, CASE WHEN g.space IS NOT NULL AND CAST(g.space AS VARCHAR) <> '' THEN g.space END AS space, g.file_row, g.note, g.depth_mm, g.wall, g.pull
FROM box_input(items) g;

-- A bad row counts nothing, and its box is refused; box_problems says what is wrong with it.
CREATE OR REPLACE MACRO box_rows(items, edition) AS TABLE
WITH worded AS (
  SELECT g.file_row, g.box, CASE WHEN g.space IS NOT NULL AND CAST(g.space AS VARCHAR) <> '' THEN g.space END AS space, g.item, g.size, g.quantity,
    g.conductor_size, g.gangs, g.volume_in3, g.volume_cm3, g.loop_mm, g.depth_mm, g.material, g.joint, g.boxes, g.note,
    g.wall, g.row, g.pull, g.run, g.width_mm, g.height_mm, g.distance_mm,
    CASE WHEN g.loop_mm IS NOT NULL AND TRY_CAST(g.loop_mm AS DECIMAL(18, 6)) < e.loop_mm AND box_item_key(g.item) = 'loop' THEN 'loop_short'
         WHEN g.insulation IS NOT NULL AND CAST(g.insulation AS VARCHAR) <> '' AND lower(CAST(g.insulation AS VARCHAR)) NOT IN ('bare', 'none')
           AND box_item_key(g.item) IN ('grounding', 'fixture_grounding') THEN box_item_key(g.item) || '_insulated'
         ELSE CAST(g.item AS VARCHAR) END AS word,
    CASE WHEN g.conductor_size IS NULL THEN coalesce(CAST(g.size AS VARCHAR), '')
         ELSE coalesce(nullif(CAST(g.size AS VARCHAR), ''), CAST(g.conductor_size AS VARCHAR)) END AS size_text,
    TRY_CAST(g.volume_in3 AS DECIMAL(18, 6)) AS in3, TRY_CAST(g.volume_cm3 AS DECIMAL(18, 6)) AS cm3,
    g.volume_in3 IS NOT NULL AND CAST(g.volume_in3 AS VARCHAR) <> '' OR g.volume_cm3 IS NOT NULL AND CAST(g.volume_cm3 AS VARCHAR) <> '' AS marked,
    TRY_CAST(g.depth_mm AS DECIMAL(18, 6)) AS depth, TRY_CAST(g.width_mm AS DECIMAL(18, 6)) AS width,
    TRY_CAST(g.height_mm AS DECIMAL(18, 6)) AS height, TRY_CAST(g.distance_mm AS DECIMAL(18, 6)) AS distance,
    box_whole(g.quantity) AS pieces,
    CASE WHEN g.gangs IS NULL OR CAST(g.gangs AS VARCHAR) = '' THEN 1 WHEN TRY_CAST(g.gangs AS DECIMAL(18, 6)) % 1 = 0 THEN TRY_CAST(g.gangs AS BIGINT) END AS gang_count
  FROM box_input(items) g, (SELECT f.loop_mm FROM fill_edition f WHERE f.edition = edition) e
), found AS (
  SELECT w.*, c.id AS c_id, c.packed AS c_packed, c.packed_more AS c_more, c.bits AS c_bits, CASE WHEN c.id IS NULL THEN box_item_key(w.word) END AS item_key
  FROM worded w
  LEFT JOIN (SELECT f.item, f.size, f.id, f.packed, f.packed_more, f.bits FROM fill_code f WHERE f.edition = edition) c
    ON c.item = w.word AND c.size = w.size_text
), coded AS (
  -- the rare row that is written otherwise is read by its key
  SELECT k.*, coalesce(k.c_id, d.id) AS id, coalesce(k.c_packed, d.packed, 0) AS packed, coalesce(k.c_more, d.packed_more, 0) AS packed_more,
    coalesce(k.c_bits, d.bits, CASE WHEN k.item_key = 'extension' THEN 68719476736 END) AS bits
  FROM found k
  LEFT JOIN (SELECT f.code, f.id, f.packed, f.packed_more, f.bits FROM fill_key f WHERE f.edition = edition) d ON d.code = CASE WHEN k.c_id IS NULL THEN k.item_key || '|' || CASE
      WHEN k.size_text = '' OR k.item_key = 'conduit_body' THEN ''
      WHEN k.item_key IN ('clamp', 'stud', 'hickey', 'barrier') THEN '*'
      WHEN k.item_key IN ('box', 'extension', 'raceway') THEN CASE WHEN k.marked THEN '' ELSE box_name_key(k.size_text) END
      ELSE box_size_key(k.size_text) END END
), judged AS (
  SELECT r.*,
    r.bits IS NULL OR (r.bits >> 52) & 1 = 1 OR box_bad_quantity(r.pieces) OR box_bad_gangs(r.gangs, r.gang_count, r.bits)
    OR box_bad_sections(r.gangs, r.gang_count, r.bits, r.marked) OR box_bad_sizes(r.size, r.conductor_size, r.bits) OR box_bad_joint(r.joint, r.item)
    OR box_bad_volume(r.volume_in3, r.in3, 500000, r.bits) OR box_bad_volume(r.volume_cm3, r.cm3, 8193532, r.bits)
    OR box_bad_length(r.loop_mm, TRY_CAST(r.loop_mm AS DECIMAL(18, 6)), 0) OR box_bad_length(r.depth_mm, r.depth, 0.001)
    OR box_bad_length(r.width_mm, r.width, 0.001) OR box_bad_length(r.height_mm, r.height, 0.001) OR box_bad_length(r.distance_mm, r.distance, 0)
    OR box_bad_boxes(r.boxes, r.bits) OR box_bad_material(r.material, r.bits) OR box_bad_wall(r.wall, r.bits) OR box_bad_pull(r.pull, r.bits)
    OR box_bad_conduit_body(r.bits, r.marked) OR box_bad_space(r.space, r.bits, r.marked) AS wrong,
    coalesce(wrong, false) OR r.box IS NULL OR (typeof(r.box) = 'VARCHAR' AND CAST(r.box AS VARCHAR) = '') AS bad
  FROM coded r
), weighed AS (
  SELECT j.*, CASE WHEN j.bad THEN 0 WHEN j.gangs IS NOT NULL AND (j.bits >> 33) & 1 = 1 THEN j.pieces * j.gang_count ELSE j.pieces END AS counted,
    CASE WHEN j.bad THEN 4503599627370496 WHEN j.pieces = 0 THEN 0 ELSE j.bits END AS flags
  FROM judged j
)
-- what the row adds to each sum of its box; a box row that counts adds one to the number of them
SELECT w.*, w.packed * w.counted AS adds, w.packed_more * (w.counted + 16384 * ((w.flags >> 61) & 1)) AS adds_more
FROM weighed w;
