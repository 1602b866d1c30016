-- The rows of a schedule as they are read: one row a row of the input, with what it adds to its box.
--
--   FROM box_rows('items', 'nec-2023')
--
-- `items` names a table, a view or a common table expression with any of the columns of `item_template`; a
-- macro cannot name a column that its input lacks, hence the empty row of nulls that is joined by name.
-- A condition on a column that the input lacks is settled when the query is planned and costs nothing.
-- What is computed in steps stands in steps, since deeply nested calls are planned slowly.

CREATE OR REPLACE MACRO box_input(items) AS TABLE
FROM (SELECT NULL AS file_row, NULL AS box, NULL AS item, NULL AS size, NULL AS quantity, NULL AS conductor_size,
             NULL AS gangs, NULL AS volume_in3, NULL AS volume_cm3, NULL AS loop_mm, NULL AS depth_mm,
             NULL AS insulation, NULL AS material, NULL AS space, NULL AS joint, NULL AS boxes, NULL AS note,
             NULL AS wall, NULL AS row, NULL AS pull, NULL AS run, NULL AS width_mm, NULL AS height_mm,
             NULL AS distance_mm WHERE false)
UNION ALL BY NAME FROM query_table(items);

CREATE OR REPLACE MACRO box_rows(items, edition) AS TABLE
WITH worded AS (
  SELECT g.file_row, g.box, CASE WHEN box_given(g.space) THEN g.space END AS space, g.item, g.size, g.quantity, g.conductor_size, g.gangs,
    g.volume_in3, g.volume_cm3, g.loop_mm, g.depth_mm, g.insulation, g.material, g.joint, g.boxes, g.note,
    g.wall, g.row, g.pull, g.run, g.width_mm, g.height_mm, g.distance_mm,
    CASE WHEN box_decimal(g.loop_mm) < e.loop_mm AND box_item_key(g.item) = 'loop' THEN 'loop_short'
         WHEN box_given(g.insulation) AND box_item_key(g.item) IN ('grounding', 'fixture_grounding')
           AND trim(lower(CAST(g.insulation AS VARCHAR))) NOT IN ('bare', 'none') THEN box_item_key(g.item) || '_insulated'
         ELSE CAST(g.item AS VARCHAR) END AS word,
    CASE WHEN box_given(g.size) THEN CAST(g.size AS VARCHAR) ELSE coalesce(CAST(g.conductor_size AS VARCHAR), '') END AS size_text,
    box_given(g.volume_in3) OR box_given(g.volume_cm3) AS marked,
    box_whole(g.quantity) AS pieces, box_whole(g.gangs) AS gang_count,
    box_decimal(g.volume_in3) AS in3, box_decimal(g.volume_cm3) AS cm3, box_decimal(g.depth_mm) AS depth,
    box_decimal(g.width_mm) AS width, box_decimal(g.height_mm) AS height, box_decimal(g.distance_mm) AS distance
  FROM box_input(items) g, (SELECT f.loop_mm FROM fill_edition f WHERE f.edition = edition) e
), found AS (
  SELECT w.*, c.id AS c_id, c.packed AS c_packed, c.bits AS c_bits, CASE WHEN c.id IS NULL THEN box_item_key(w.word) END AS item_key
  FROM worded w
  LEFT JOIN (SELECT f.item, f.size, f.id, f.packed, f.bits FROM fill_code f WHERE f.edition = edition) c
    ON c.item = w.word AND c.size = w.size_text
), keyed AS (
  SELECT f.*, f.item_key || '|' || CASE
      WHEN f.size_text = '' OR f.item_key = 'conduit_body' THEN ''
      WHEN f.item_key IN ('clamp', 'stud', 'hickey', 'barrier') THEN '*'
      WHEN f.item_key IN ('box', 'extension', 'raceway') THEN CASE WHEN f.marked THEN '' ELSE box_name_key(f.size_text) END
      ELSE box_size_key(f.size_text) END AS key
  FROM found f
), coded AS (
  SELECT k.*, coalesce(k.c_id, d.id) AS id, coalesce(k.c_packed, d.packed, 0) AS packed,
    coalesce(k.c_bits, d.bits, CASE WHEN k.item_key = 'extension' THEN fill_bit(36) END) AS bits
  FROM keyed k
  LEFT JOIN (SELECT f.code, f.id, f.packed, f.bits FROM fill_key f WHERE f.edition = edition) d ON d.code = k.key
)
SELECT r.*, box_row_flaws(r.bits, r.pieces, r.gangs, r.gang_count, r.size, r.conductor_size, r.joint, r.word,
    r.volume_in3, r.in3, r.volume_cm3, r.cm3, r.loop_mm, r.depth_mm, r.depth, r.width_mm, r.width, r.height_mm, r.height,
    r.distance_mm, r.distance, r.boxes, r.material, r.wall, r.pull, r.marked, r.space) AS flaws, flaws <> 0 AS bad
FROM coded r;

-- What is wrong with a row, a bit for each kind; box_problems has the words for them.
CREATE OR REPLACE MACRO box_row_flaws(bits, pieces, gangs, gang_count, size, conductor_size, joint, word,
    volume_in3, in3, volume_cm3, cm3, loop_mm, depth_mm, depth, width_mm, width, height_mm, height,
    distance_mm, distance, boxes, material, wall, pull, marked, space) AS
  CASE WHEN bits IS NULL OR (bits & fill_bit(52)) <> 0 THEN 1 ELSE 0 END
  | CASE WHEN pieces BETWEEN 0 AND 9999 THEN 0 ELSE 2 END
  | CASE WHEN box_given(gangs) AND (bits & fill_bit(33)) <> 0 AND (gang_count BETWEEN 1 AND 20) IS NOT TRUE THEN 4 ELSE 0 END
  | CASE WHEN box_given(conductor_size) AND box_given(size) AND (bits & (fill_bit(33) | fill_bit(53) | fill_bit(54))) <> 0 AND box_size_key(size) <> box_size_key(conductor_size) THEN 8 ELSE 0 END
  | CASE WHEN box_given(joint) AND box_item_key(word) = 'cable' THEN 16 ELSE 0 END
  | CASE WHEN box_given(volume_in3) AND (bits & (fill_bit(61) | fill_bit(36) | fill_bit(35))) <> 0 AND (in3 > 0 AND in3 <= 500000) IS NOT TRUE THEN 32 ELSE 0 END
  | CASE WHEN box_given(volume_cm3) AND (bits & (fill_bit(61) | fill_bit(36) | fill_bit(35))) <> 0 AND (cm3 > 0 AND cm3 <= 8193532) IS NOT TRUE THEN 64 ELSE 0 END
  | CASE WHEN box_given(loop_mm) AND (box_decimal(loop_mm) BETWEEN 0 AND 99999) IS NOT TRUE THEN 128 ELSE 0 END
  | CASE WHEN box_given(depth_mm) AND (depth > 0 AND depth <= 99999) IS NOT TRUE THEN 256 ELSE 0 END
  | CASE WHEN box_given(width_mm) AND (width > 0 AND width <= 99999) IS NOT TRUE THEN 512 ELSE 0 END
  | CASE WHEN box_given(height_mm) AND (height > 0 AND height <= 99999) IS NOT TRUE THEN 1024 ELSE 0 END
  | CASE WHEN box_given(distance_mm) AND (distance BETWEEN 0 AND 99999) IS NOT TRUE THEN 2048 ELSE 0 END
  | CASE WHEN box_given(boxes) AND (bits & fill_bit(61)) <> 0 AND (box_whole(boxes) BETWEEN 1 AND 1000000) IS NOT TRUE THEN 4096 ELSE 0 END
  | CASE WHEN box_given(material) AND (bits & fill_bit(35)) <> 0 AND box_item_key(material) NOT IN ('metal', 'metallic', 'nonmetal', 'nonmetallic', 'non_metallic', 'plastic') THEN 8192 ELSE 0 END
  | CASE WHEN box_given(wall) AND (bits & fill_bit(37)) <> 0 AND box_item_key(wall) NOT IN ('left', 'right', 'top', 'bottom', 'back') THEN 16384 ELSE 0 END
  | CASE WHEN box_given(pull) AND (bits & fill_bit(37)) <> 0 AND box_item_key(pull) NOT IN ('straight', 'angle', 'u', 'splice') THEN 32768 ELSE 0 END
  | CASE WHEN (bits & fill_bit(38)) <> 0 AND NOT marked THEN 65536 ELSE 0 END
  | CASE WHEN space IS NOT NULL AND (bits & fill_bit(61)) <> 0 AND NOT marked THEN 131072 ELSE 0 END;
