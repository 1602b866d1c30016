-- The rows of a schedule as they are read: one row of the input, with what it adds to its box.
--
--   FROM box_rows('items', 'nec-2023')
--
-- `items` names a table, a view or a common table expression with any of the columns of `item_template`; a
-- macro cannot name a column that its input lacks, hence the empty row of nulls that is joined by name.
-- A condition on a column that the input lacks is settled when the query is planned and costs nothing.

-- What is wrong with one value of a row; each is used by box_rows (is it bad?) and box_problems (what is right?).
CREATE OR REPLACE MACRO box_bad_gangs(gangs, quantity, bits) AS
  NOT box_blank(gangs) AND (bits & fill_bit(33)) <> 0 AND coalesce(
    box_whole(gangs) NOT BETWEEN 1 AND 20 OR box_whole(gangs) * coalesce(box_whole(quantity), 1) > 9999, true);
CREATE OR REPLACE MACRO box_bad_sizes(size, conductor_size, bits) AS
  NOT box_blank(conductor_size) AND NOT box_blank(size) AND (bits & (fill_bit(33) | fill_bit(53) | fill_bit(54))) <> 0
    AND box_size_key(size) <> box_size_key(conductor_size);
CREATE OR REPLACE MACRO box_bad_joint(joint, item) AS NOT box_blank(joint) AND box_item_key(item) = 'cable';
CREATE OR REPLACE MACRO box_bad_length(x, least) AS
  NOT box_blank(x) AND coalesce(box_decimal(x) < least OR box_decimal(x) > 99999, true);
CREATE OR REPLACE MACRO box_bad_volume(x, bits) AS
  NOT box_blank(x) AND (bits & (fill_bit(61) | fill_bit(36) | fill_bit(35))) <> 0
    AND coalesce(box_decimal(x) <= 0 OR box_decimal(x) > 500000, true);
CREATE OR REPLACE MACRO box_bad_boxes(boxes, bits) AS
  NOT box_blank(boxes) AND (bits & fill_bit(61)) <> 0 AND coalesce(box_whole(boxes) < 1, true);
CREATE OR REPLACE MACRO box_material_word(material) AS regexp_replace(trim(lower(CAST(material AS VARCHAR))), '[^a-z]', '', 'g');
CREATE OR REPLACE MACRO box_bad_material(material, bits) AS
  NOT box_blank(material) AND (bits & fill_bit(35)) <> 0
    AND box_material_word(material) NOT IN ('metal', 'metallic', 'nonmetal', 'nonmetallic', 'plastic');
CREATE OR REPLACE MACRO box_bad_wall(wall, bits) AS
  NOT box_blank(wall) AND (bits & fill_bit(37)) <> 0
    AND trim(lower(CAST(wall AS VARCHAR))) NOT IN ('left', 'right', 'top', 'bottom', 'back');
CREATE OR REPLACE MACRO box_bad_pull(pull, bits) AS
  NOT box_blank(pull) AND (bits & fill_bit(37)) <> 0
    AND trim(lower(CAST(pull AS VARCHAR))) NOT IN ('straight', 'angle', 'u', 'splice');
-- Trade sizes in inches end at 6 and metric designators begin at 12, so that the number tells them apart.
CREATE OR REPLACE MACRO box_bad_raceway(size, bits) AS
  (bits & fill_bit(37)) <> 0 AND coalesce(box_number(size) NOT BETWEEN 0.375 AND 6 AND box_number(size) NOT BETWEEN 12 AND 155, true);

-- The key of a row in `fill_word`, for ways of writing that `fill_code` does not hold.
CREATE OR REPLACE MACRO box_row_code(word, size, marked) AS
  box_item_key(word) || '|' || CASE
    WHEN box_item_key(word) IN ('conduit_body', 'raceway') THEN ''
    WHEN box_blank(size) THEN ''
    WHEN box_item_key(word) IN ('clamp', 'stud', 'hickey', 'barrier') THEN '*'
    WHEN box_item_key(word) IN ('box', 'extension') THEN CASE WHEN marked THEN '' ELSE box_name_key(size) END
    ELSE box_size_key(size) END;

CREATE OR REPLACE MACRO box_rows(items, edition) AS TABLE
WITH given AS (
  FROM (SELECT NULL AS file_row, NULL AS box, NULL AS item, NULL AS size, NULL AS quantity, NULL AS conductor_size,
               NULL AS gangs, NULL AS volume_in3, NULL AS volume_cm3, NULL AS loop_mm, NULL AS depth_mm,
               NULL AS insulation, NULL AS material, NULL AS space, NULL AS joint, NULL AS boxes, NULL AS note,
               NULL AS wall, NULL AS row, NULL AS pull, NULL AS run, NULL AS width_mm, NULL AS height_mm,
               NULL AS distance_mm WHERE false)
  UNION ALL BY NAME FROM query_table(items)
), worded AS (
  SELECT g.file_row, g.box, g.item, g.size, g.quantity, g.conductor_size, g.gangs, g.volume_in3, g.volume_cm3,
    g.loop_mm, g.depth_mm, g.insulation, g.material, g.joint, g.boxes, g.note, g.wall, g.row, g.pull, g.run,
    g.width_mm, g.height_mm, g.distance_mm,
    CASE WHEN box_blank(g.space) THEN NULL ELSE g.space END AS space,
    e.loop_mm AS loop_from_mm,
    CASE WHEN g.loop_mm IS NOT NULL AND box_decimal(g.loop_mm) < e.loop_mm AND box_item_key(g.item) = 'loop' THEN 'loop_short'
         WHEN NOT box_blank(g.insulation) AND box_item_key(g.item) IN ('grounding', 'fixture_grounding')
           AND trim(lower(CAST(g.insulation AS VARCHAR))) NOT IN ('bare', 'none') THEN box_item_key(g.item) || '_insulated'
         ELSE CAST(g.item AS VARCHAR) END AS word,
    CASE WHEN box_blank(g.size) THEN coalesce(CAST(g.conductor_size AS VARCHAR), '') ELSE CAST(g.size AS VARCHAR) END AS size_text,
    NOT (box_blank(g.volume_in3) AND box_blank(g.volume_cm3)) AS marked
  FROM given g, (SELECT f.loop_mm FROM fill_edition f WHERE f.edition = edition) e
), coded AS (
  SELECT w.*, coalesce(c.packed, d.packed, 0) AS packed,
    coalesce(c.bits, d.bits, CASE WHEN box_item_key(w.word) = 'extension' THEN fill_bit(36) END) AS bits,
    coalesce(c.code, d.code) AS code, box_whole(w.quantity) AS pieces
  FROM worded w
  LEFT JOIN (SELECT f.item, f.size, f.packed, f.bits, f.code FROM fill_code f WHERE f.edition = edition) c
    ON c.item = w.word AND c.size = w.size_text
  LEFT JOIN (SELECT f.code, f.packed, f.bits FROM fill_word f WHERE f.edition = edition) d
    ON d.code = CASE WHEN c.bits IS NULL THEN box_row_code(w.word, w.size_text, w.marked) END
)
SELECT r.*,
  r.bits IS NULL OR (r.bits & fill_bit(52)) <> 0 OR r.pieces IS NULL
  OR box_bad_gangs(r.gangs, r.quantity, r.bits) OR box_bad_sizes(r.size, r.conductor_size, r.bits)
  OR box_bad_joint(r.joint, r.item) OR box_bad_length(r.loop_mm, 0) OR box_bad_length(r.depth_mm, 0.000001)
  OR box_bad_length(r.width_mm, 0.000001) OR box_bad_length(r.height_mm, 0.000001) OR box_bad_length(r.distance_mm, 0)
  OR box_bad_volume(r.volume_in3, r.bits) OR box_bad_volume(r.volume_cm3, r.bits) OR box_bad_boxes(r.boxes, r.bits)
  OR box_bad_material(r.material, r.bits) OR box_bad_wall(r.wall, r.bits) OR box_bad_pull(r.pull, r.bits)
  OR ((r.bits & fill_bit(37)) <> 0 AND box_bad_raceway(r.size_text, r.bits))
  OR ((r.bits & fill_bit(38)) <> 0 AND NOT r.marked)
  OR (r.space IS NOT NULL AND (r.bits & fill_bit(61)) <> 0 AND NOT r.marked) AS bad
FROM coded r;
