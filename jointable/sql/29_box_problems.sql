-- box_problems: everything in a schedule that keeps a box from being computed.
--
--   FROM box_problems('items', 'nec-2023') ORDER BY file_row
--
-- file_row, box, space, column_name, value, reason, expected: one row a thing that is wrong. A box is refused by
-- box_fill exactly when it stands here (both use the box_bad_ macros and the problems of the state).

CREATE OR REPLACE MACRO box_flaw(is_so, column_name, value, reason, expected) AS
  CASE WHEN is_so THEN {column_name: column_name, value: CAST(value AS VARCHAR), reason: reason, expected: expected} END;

CREATE OR REPLACE MACRO box_problem_rows(rows, state, edition) AS TABLE
WITH known AS (
  -- what a row that was not read could have meant
  SELECT r.*, coalesce(box_item_key(r.item), '') AS item_word,
    EXISTS (FROM fill_word w WHERE w.edition = edition AND w.item = box_item_key(r.item)) AS is_item,
    (SELECT any_value(w.size) FROM fill_key k JOIN fill_word w ON w.id = k.id
     WHERE k.edition = edition AND k.code = 'conductor|' || box_size_key(r.size_text)) AS size_name,
    (SELECT any_value(w.large) FROM fill_key k JOIN fill_word w ON w.id = k.id
     WHERE k.edition = edition AND k.code = 'conductor|' || box_size_key(r.size_text)) AS is_large,
    (SELECT u.clause FROM fill_rule u WHERE u.edition = edition AND u.rule = 'large_conductor') AS large_clause,
    (SELECT any_value(b.clause) FROM box b WHERE b.edition = edition) AS box_table
  FROM query_table(rows) r WHERE r.bad OR NOT box_given(r.box)
), row_flaw AS (
  SELECT k.file_row, k.box, k.space, unnest([
    CASE WHEN NOT box_given(k.box) THEN {column_name: 'box', value: '', reason: 'no box', expected: 'the name of the box that the row belongs to'} END,
    CASE WHEN k.bits IS NULL OR (k.bits >> 52) & 1 = 1 THEN CASE
      WHEN k.item_word = 'raceway' AND (k.bits >> 37) & 1 = 1 THEN {column_name: 'item', value: CAST(k.item AS VARCHAR), reason: 'no rule for raceways is held in this edition', expected: 'the box without its raceway rows, or an NEC edition'}
      WHEN k.item_word = '' THEN {column_name: 'item', value: '', reason: 'no item', expected: 'an item such as box, cable, conductor, grounding, clamp, device'}
      WHEN NOT k.is_item OR k.item_word LIKE '%_insulated' OR k.item_word = 'loop_short' THEN {column_name: 'item', value: CAST(k.item AS VARCHAR), reason: 'no such item',
        expected: 'one of box, conduit_body, cable, conductor, through, loop, pigtail, grounding, isolated_grounding, fixture_wire, fixture_grounding, clamp, stud, hickey, device, terminal_block, connector, barrier, extension, raceway'}
      WHEN k.item_word = 'box' THEN {column_name: 'size', value: k.size_text, reason: 'no such box in ' || k.box_table,
        expected: 'a box of the table, such as 4 x 1-1/2 square, or its marked volume in volume_in3 or volume_cm3'}
      WHEN k.item_word = 'raceway' THEN {column_name: 'size', value: k.size_text, reason: CASE WHEN k.size_text = '' THEN 'no size' ELSE 'no such raceway' END,
        expected: 'a trade size such as 2-1/2 or a metric designator such as 63'}
      WHEN k.item_word = 'cable' AND EXISTS (FROM fill_key c WHERE c.edition = edition
          AND regexp_full_match(box_size_key(k.size_text), '.+/[1-9]') AND c.code = 'conductor|' || left(box_size_key(k.size_text), -2)) THEN {column_name: 'size', value: k.size_text,
        reason: 'no grounding conductor is known for a cable of this size', expected: 'the conductors of the cable as rows of their own'}
      WHEN k.item_word = 'cable' THEN {column_name: 'size', value: k.size_text, reason: CASE WHEN k.size_text = '' THEN 'no size' ELSE 'no such cable' END,
        expected: 'size and number of conductors, such as 12/2; it has one bare grounding conductor besides'}
      WHEN k.size_text = '' THEN {column_name: 'size', value: '', reason: 'no size', expected: 'a conductor size such as 12, 4/0, 250 kcmil or 2.5 mm2'}
      WHEN k.size_name IS NULL THEN {column_name: CASE WHEN box_given(k.size) THEN 'size' ELSE 'conductor_size' END, value: k.size_text, reason: 'no such conductor size',
        expected: 'a conductor size such as 12, 4/0, 250 kcmil or 2.5 mm2'}
      ELSE {column_name: CASE WHEN box_given(k.size) THEN 'size' ELSE 'conductor_size' END, value: k.size_text, reason: 'no allowance printed for ' || k.size_name,
        expected: CASE WHEN k.is_large AND k.large_clause LIKE '%314.28%' AND k.item_word NOT IN ('device', 'terminal_block') THEN 'a conductor row with raceway rows, so that it is held against 314.28'
          ELSE 'a size from ' || (SELECT e.sizes[1] || ' to ' || e.sizes[-1] FROM fill_edition e WHERE e.edition = edition) END} END END,
    box_flaw(box_bad_quantity(k.pieces), 'quantity', k.quantity, 'no whole number from 0 to 9,999', 'how many, such as 3; empty is 1'),
    box_flaw(box_bad_gangs(k.gangs, k.gang_count, k.bits), 'gangs', k.gangs, 'no number of gangs', 'a whole number from 1 to 20'),
    box_flaw(box_bad_sizes(k.size, k.conductor_size, k.bits), 'conductor_size', k.conductor_size, 'differs from size ' || CAST(k.size AS VARCHAR), 'the size in one of the two columns'),
    box_flaw(box_bad_joint(k.joint, k.item), 'joint', k.joint, 'a cable is no joint', 'its conductors as rows of their own, each with its joint'),
    box_flaw(box_bad_volume(k.volume_in3, k.in3, 500000, k.bits), 'volume_in3', k.volume_in3, 'no volume', 'cubic inches above 0 and at most 500,000'),
    box_flaw(box_bad_volume(k.volume_cm3, k.cm3, 8193532, k.bits), 'volume_cm3', k.volume_cm3, 'no volume', 'cubic centimetres above 0 and at most 8,193,532'),
    box_flaw(box_bad_length(k.loop_mm, TRY_CAST(k.loop_mm AS DECIMAL(18, 6)), 0), 'loop_mm', k.loop_mm, 'no length', 'millimetres from 0 to 99,999'),
    box_flaw(box_bad_length(k.depth_mm, k.depth, 0.001), 'depth_mm', k.depth_mm, 'no length', 'millimetres above 0 and at most 99,999'),
    box_flaw(box_bad_length(k.width_mm, k.width, 0.001), 'width_mm', k.width_mm, 'no length', 'millimetres above 0 and at most 99,999'),
    box_flaw(box_bad_length(k.height_mm, k.height, 0.001), 'height_mm', k.height_mm, 'no length', 'millimetres above 0 and at most 99,999'),
    box_flaw(box_bad_length(k.distance_mm, k.distance, 0), 'distance_mm', k.distance_mm, 'no length', 'millimetres from 0 to 99,999'),
    box_flaw(box_bad_boxes(k.boxes, k.bits), 'boxes', k.boxes, 'no number of boxes', 'how many boxes alike, a whole number from 1'),
    box_flaw(box_bad_material(k.material, k.bits), 'material', k.material, 'no such material of a barrier', 'metal or nonmetallic'),
    box_flaw(box_bad_wall(k.wall, k.bits), 'wall', k.wall, 'no such wall', 'left, right, top, bottom or back'),
    box_flaw(box_bad_pull(k.pull, k.bits), 'pull', k.pull, 'no such pull', 'straight, angle, u or splice'),
    box_flaw(box_bad_conduit_body(k.bits, k.marked), 'volume_in3', '', 'a conduit body without a marked volume', 'its marked volume in volume_in3 or volume_cm3'),
    box_flaw(box_bad_space(k.space, k.bits, k.marked), 'volume_in3', '', 'a space without a volume', 'the net volume of the space in volume_in3 or volume_cm3'),
    box_flaw(box_bad_sections(k.gangs, k.gang_count, k.bits, k.marked), 'gangs', k.gangs, 'sections of a box are its quantity', 'quantity ' || CAST(k.gangs AS VARCHAR) || ' and no gangs')
  ]) AS flaw
  FROM known k
), box_row AS (
  -- what is wrong with a box as a whole stands at its first row, or at each row that it concerns
  SELECT s.box, s.space, s.problems, min(r.file_row) AS first_row,
    count(*) FILTER (((r.bits >> 61) & 1) = 1 AND r.pieces > 0) AS box_rows,
    min(r.file_row) FILTER (((r.bits >> 61) & 1) = 1 AND r.pieces > 0) AS first_box_row, coalesce(any_value(s.pull_largest), any_value(s.largest)) AS largest
  FROM query_table(state) s JOIN query_table(rows) r ON r.box = s.box AND r.space IS NOT DISTINCT FROM s.space
  WHERE s.problems & ~1 <> 0 GROUP BY ALL
)
SELECT f.file_row, f.box, f.space, f.flaw.column_name AS column_name, f.flaw.value AS value, f.flaw.reason AS reason, f.flaw.expected AS expected
FROM row_flaw f WHERE f.flaw IS NOT NULL
UNION ALL
SELECT b.first_row, b.box, b.space, 'quantity', '', 'more than 524,287 pieces in one box', 'fewer, or several boxes' FROM box_row b WHERE (b.problems & 2) <> 0
UNION ALL
SELECT b.first_row, b.box, b.space, 'volume_in3', '', 'volumes of more than 99,999,999 cm³ in one box', 'fewer or smaller volumes, or several boxes' FROM box_row b WHERE (b.problems & 1024) <> 0
UNION ALL
SELECT b.first_row, b.box, b.space, 'item', '', CASE WHEN b.space IS NULL THEN 'no box row' ELSE 'no box row for this space' END,
  CASE WHEN b.space IS NULL THEN 'one row with item box (or conduit_body)' ELSE 'a box row with the net volume of the space' END
FROM box_row b WHERE (b.problems & 4) <> 0 AND b.box_rows = 0 AND (b.problems & 256) = 0
UNION ALL
-- several box rows (all but the first), and the rows that a problem of their box comes from
SELECT p.file_row, p.box, p.space, p.what.column_name, coalesce(p.what.value, ''), p.what.reason, p.what.expected
FROM (
  SELECT r.file_row, r.box, r.space, coalesce(r.file_row = b.first_box_row, false) AS is_first, r.pieces, CASE
    WHEN (b.problems & 4) <> 0 AND b.box_rows > 1 AND (r.bits >> 61) & 1 = 1
      THEN {column_name: 'item', value: CAST(r.item AS VARCHAR), reason: 'a second box row in one box', expected: 'one; ganged sections are its quantity'}
    WHEN (b.problems & 8) <> 0 AND (r.bits & 19058917376) <> 0
      THEN {column_name: 'item', value: CAST(r.item AS VARCHAR), reason: 'no conductor with a size in the box that this could go by',
            expected: CASE WHEN (r.bits >> 34) & 1 = 1 THEN 'its conductor_size, or the conductors of the box' ELSE 'the conductors of the box, each with its size' END}
    WHEN (b.problems & 16) <> 0 AND (r.bits >> 39) & 1 = 1
      THEN {column_name: 'size', value: r.size_text, reason: 'no allowance printed for ' || w.size, expected: 'raceway rows, so that it is held against 314.28'}
    WHEN (b.problems & 32) <> 0 AND (r.bits & 9007218313658368) <> 0
      THEN {column_name: 'item', value: CAST(r.item AS VARCHAR), reason: 'goes by the largest conductor, ' || coalesce(b.largest, '4 AWG or larger') || ', for which no allowance is printed',
            expected: 'a size with an allowance: a conductor_size on devices'}
    WHEN (b.problems & 64) <> 0 AND (r.bits >> 61) & 1 = 1
      THEN {column_name: 'quantity', value: CAST(r.quantity AS VARCHAR), reason: 'this box is not made of ganged sections', expected: 'quantity 1'}
    WHEN (b.problems & 128) <> 0 AND (r.bits >> 61) & 1 = 1
      THEN {column_name: 'size', value: r.size_text, reason: 'no volume', expected: 'a table size such as 4 x 1-1/2 square, or the marked volume in volume_in3 or volume_cm3'}
    WHEN (b.problems & 512) <> 0 AND (r.bits >> 61) & 1 = 1
      THEN {column_name: 'depth_mm', value: '', reason: 'the volume of this box goes by its depth', expected: 'its inside depth in millimetres'}
    WHEN (b.problems & 256) <> 0
      THEN {column_name: 'space', value: '', reason: 'a row without a space in a box that has spaces', expected: 'the space that the row is in'} END AS what
  FROM query_table(rows) r JOIN box_row b ON b.box = r.box AND b.space IS NOT DISTINCT FROM r.space LEFT JOIN fill_word w ON w.id = r.id
) p
WHERE p.pieces > 0 AND p.what IS NOT NULL AND (p.what.reason <> 'a second box row in one box' OR NOT p.is_first);
