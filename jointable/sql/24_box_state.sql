-- One row a box (or space): its sums, decoded, and everything that a verdict rests on. NEC editions.
--
-- One pass over the rows: one sum and one OR a box. What few rows carry (marked volumes, extensions,
-- barriers, depths, notes, raceways) is summed by itself and joined; a part whose columns the input lacks
-- is settled when the query is planned.
--
-- Volumes here are whole numbers: `e4` ten-thousandths of a cubic inch, `e12` millionths of millionths of a
-- cubic centimetre (1 in3 = 16.387064 cm3), `um` thousandths of a millimetre. So every comparison is exact.

-- A marked volume in e12: in cubic inches, or, where only they are given, in cubic centimetres.
CREATE OR REPLACE MACRO box_mark_e12(in3, cm3) AS
  CASE WHEN in3 IS NOT NULL THEN CAST(in3 * 1000000 AS BIGINT) * 16387064 ELSE CAST(cm3 * 1000000 AS BIGINT) * 1000000 END;

-- 314.24: the depth that devices supplied by a size need: that of the size, or projection and clearance.
CREATE OR REPLACE MACRO box_depth_need(depth_um, projection_um, clearance_um, place, projects_um) AS
  greatest(depth_um[place], CASE WHEN projects_um > projection_um[place] THEN projects_um + clearance_um[place] ELSE 0 END);

CREATE OR REPLACE MACRO box_extras(items, edition) AS TABLE
SELECT r.box, r.space,
  CAST(sum(r.mark_e12) FILTER (r.is_box) AS BIGINT) AS own_e12,
  bool_or(r.in3 IS NULL) FILTER (r.is_box AND r.marked) AS own_in_cm3,
  sum(r.width_um * r.height_um * CAST(r.deep_um AS HUGEINT)) FILTER (r.is_box) AS inside_e12,
  sum(r.pieces * coalesce(r.mark_e12, r.table_e4 * 1638706400, 0)) FILTER (r.is_extension) AS added_e12,
  bool_or(r.mark_e12 IS NULL AND r.table_e4 IS NULL) FILTER (r.is_extension) AS adds_nothing,
  sum(r.pieces * coalesce(r.mark_e12, r.barrier_e6 * 16387064, 0)) FILTER (r.is_barrier AND r.barrier_e6 IS NOT NULL) AS barrier_e12,
  CAST(sum(r.deep_um * CASE WHEN r.is_extension THEN r.pieces ELSE 1 END) FILTER (r.is_box OR r.is_extension) AS BIGINT) AS depth_um,
  bool_or(r.deep_um IS NOT NULL) FILTER (r.is_box) AS has_depth,
  max(box_depth_need(r.depths_um, r.projections_um, r.clearances_um, r.top_place[(r.bits & 127) + 1], coalesce(r.deep_um, 0)))
    FILTER ((r.bits & fill_bit(33)) <> 0 AND (r.bits & fill_bit(34)) = 0) AS sized_um,
  max(coalesce(r.deep_um, 0)) FILTER ((r.bits & fill_bit(33)) <> 0 AND (r.bits & fill_bit(34)) <> 0) AS unsized_um,
  max(box_whole(r.boxes)) FILTER (r.is_box) AS boxes
FROM (
  SELECT b.box, b.space, b.bits, b.pieces, b.in3, b.marked, b.boxes, box_um(b.width) AS width_um, box_um(b.height) AS height_um,
    box_um(b.depth) AS deep_um, (b.bits & fill_bit(61)) <> 0 AS is_box, (b.bits & fill_bit(36)) <> 0 AS is_extension,
    (b.bits & fill_bit(35)) <> 0 AS is_barrier, box_mark_e12(b.in3, b.cm3) AS mark_e12,
    e.depth_um AS depths_um, e.projection_um AS projections_um, e.clearance_um AS clearances_um, e.top_place,
    e.box_e4[list_position(e.boxes, w.table_box)] AS table_e4,
    CASE WHEN box_item_key(b.material) IN ('metal', 'metallic') THEN e.barrier_metal_e6 ELSE e.barrier_nonmetallic_e6 END AS barrier_e6
  FROM box_rows(items, edition) b CROSS JOIN (FROM fill_edition f WHERE f.edition = edition) e LEFT JOIN fill_word w ON w.id = b.id
  WHERE NOT b.bad AND b.pieces > 0 AND (
    b.volume_in3 IS NOT NULL OR b.volume_cm3 IS NOT NULL OR b.depth_mm IS NOT NULL OR b.boxes IS NOT NULL OR b.width_mm IS NOT NULL
    OR (typeof(b.depth_mm) <> '"NULL"' AND CAST(b.item AS VARCHAR) ILIKE '%device%')
    OR CAST(b.item AS VARCHAR) ILIKE '%barrier%' OR CAST(b.item AS VARCHAR) ILIKE '%extension%')
) r
GROUP BY r.box, r.space;

CREATE OR REPLACE MACRO box_state_nec(items, edition) AS TABLE
WITH summed AS (
  SELECT r.box, r.space,
    sum(CASE WHEN r.bad OR r.box IS NULL THEN 0
             ELSE r.packed * CASE WHEN r.gangs IS NOT NULL AND (r.bits & fill_bit(33)) <> 0 THEN r.pieces * r.gang_count
                                  WHEN r.pieces > 0 AND (r.bits & fill_bit(61)) <> 0 THEN r.pieces + 16384
                                  ELSE r.pieces END END) AS s,
    bit_or(CASE WHEN r.bad OR NOT box_given(r.box) THEN fill_bit(52) WHEN r.pieces = 0 THEN 0 ELSE r.bits END) AS bits
  FROM box_rows(items, edition) r GROUP BY r.box, r.space
), fields AS (
  SELECT h.box, h.space, h.bits,
    CAST(h.s & 33554431 AS BIGINT) AS own, CAST((h.s >> 25) & 524287 AS BIGINT) AS grounds,
    CAST((h.s >> 44) & 4194303 AS BIGINT) AS small, CAST((h.s >> 66) & 1048575 AS BIGINT) AS unsized,
    CAST((h.s >> 86) & 1048575 AS BIGINT) AS boxfield, CAST(h.s >> 106 AS BIGINT) AS pieces,
    e.*
  FROM summed h, (SELECT f.edition, f.year, f.top_quarters, f.top_place, f.top_size, f.depth_um AS depths_um,
    f.projection_um AS projections_um, f.clearance_um AS clearances_um, f.clamp, f.stud, f.hickey, f.grounding_e4,
    f.grounding_free, f.beyond_e4, f.isolated_e4, f.canopy_quarters, f.large_box_in3, f.empty_um, f.box_e4, f.boxes AS box_names,
    f.box_basis, f.quarters, f.sizes, f.barrier_metal_e6 FROM fill_edition f WHERE f.edition = edition) e
), counted AS (
  SELECT f.*,
    f.bits & 127 AS present,
    (f.bits >> 7) & 127 | CASE WHEN f.small > f.canopy_quarters THEN (f.bits >> 42) & 127 ELSE 0 END AS ordinary,
    CASE WHEN f.small > f.canopy_quarters THEN f.small ELSE 0 END AS small_counted,
    f.unsized + CASE WHEN (f.bits & fill_bit(28)) <> 0 THEN f.clamp ELSE 0 END
      + CASE WHEN (f.bits & fill_bit(29)) <> 0 THEN f.stud ELSE 0 END
      + CASE WHEN (f.bits & fill_bit(30)) <> 0 THEN f.hickey ELSE 0 END AS at_largest,
    CASE WHEN (f.bits >> 14) & 127 = 0 THEN 0
         ELSE f.top_quarters[((f.bits >> 14) & 127) + 1] * (f.grounding_e4 + f.beyond_e4 * greatest(0, f.grounds - f.grounding_free))
           + CASE WHEN (f.bits >> 31) & 3 = 3 THEN f.top_quarters[((f.bits >> 21) & 127) + 1] * f.isolated_e4 ELSE 0 END
    END AS grounding_sum_e4,
    (f.bits >> 55) & 63 AS place, f.boxfield & 16383 AS gangs, f.boxfield >> 14 AS box_rows
  FROM fields f
), required AS (
  SELECT c.*,
    2500 * (c.own + c.small_counted) + c.grounding_sum_e4 AS fixed_e4,
    2500 * (c.own + c.small_counted + c.at_largest * c.top_quarters[c.present + 1]) + c.grounding_sum_e4 AS required_e4,
    2500 * (c.own + c.small_counted + c.at_largest * c.top_quarters[CASE WHEN c.ordinary = 0 THEN c.present ELSE c.ordinary END + 1])
      + c.grounding_sum_e4 AS without_e4
  FROM counted c
), joined AS (
  SELECT q.*, x.own_in_cm3, x.adds_nothing, x.boxes, x.own_e12, x.added_e12, x.barrier_e12, x.unsized_um, x.sized_um,
    CASE WHEN x.has_depth THEN x.depth_um END AS box_um,
    CASE WHEN x.own_e12 IS NOT NULL THEN x.own_e12
         WHEN q.place > 0 THEN q.box_e4[q.place + 1] * CASE WHEN q.box_basis[q.place + 1] = 'gang' THEN q.gangs ELSE 1 END * 1638706400
         WHEN (q.bits & fill_bit(37)) <> 0 OR x.inside_e12 > q.large_box_in3 * 16387064000000 THEN CAST(least(x.inside_e12, 8193532000000000000) AS BIGINT)
    END AS alone_e12,
    x.own_e12 IS NULL AND q.place = 0 AND x.inside_e12 IS NOT NULL AS from_inside,
    p.fails AS pull_fails, p.open AS pull_open, p.largest AS pull_largest,
    o.first_row, n.note, z.box IS NOT NULL AND q.space IS NULL AS mixed
  FROM required q
  LEFT JOIN box_extras(items, edition) x ON x.box = q.box AND x.space IS NOT DISTINCT FROM q.space
  LEFT JOIN (SELECT r.box, CASE WHEN box_given(r.space) THEN r.space END AS space, min(r.file_row) AS first_row FROM box_input(items) r
             WHERE r.file_row IS NOT NULL GROUP BY ALL) o ON o.box = q.box AND o.space IS NOT DISTINCT FROM q.space
  LEFT JOIN (SELECT r.box, CASE WHEN box_given(r.space) THEN r.space END AS space, string_agg(r.note, '; ' ORDER BY r.file_row) AS note
             FROM box_input(items) r WHERE r.note IS NOT NULL AND r.note <> '' GROUP BY ALL) n
    ON n.box = q.box AND n.space IS NOT DISTINCT FROM q.space
  LEFT JOIN (SELECT DISTINCT r.box FROM box_input(items) r WHERE r.space IS NOT NULL AND box_given(r.space)) z ON z.box = q.box
  LEFT JOIN (SELECT l.box, l.space, bool_or(l.given_um < l.needed_um) AS fails, bool_or(l.given_um IS NULL OR l.needed_um IS NULL) AS open,
               any_value(l.largest) AS largest
             FROM box_pull_lines(items, edition) l GROUP BY l.box, l.space) p ON p.box = q.box AND p.space IS NOT DISTINCT FROM q.space
), judged AS (
  SELECT j.*,
    j.alone_e12 + coalesce(j.added_e12, 0) - CASE WHEN j.space IS NULL THEN coalesce(j.barrier_e12, 0) ELSE 0 END AS available_e12,
    CASE WHEN (j.bits & fill_bit(33)) = 0 THEN j.empty_um
         ELSE greatest(coalesce(j.sized_um, 0), CASE WHEN j.unsized_um IS NOT NULL AND j.present > 0
           THEN box_depth_need(j.depths_um, j.projections_um, j.clearances_um, j.top_place[j.present + 1], j.unsized_um) ELSE 0 END)
    END AS need_um,
    (j.bits & fill_bit(37)) <> 0 AND ((j.bits & fill_bit(39)) <> 0 OR j.present = 0) AS pulls,
    CASE WHEN (j.bits & fill_bit(52)) <> 0 THEN 1 ELSE 0 END
    + CASE WHEN j.pieces > 524287 THEN 2 ELSE 0 END
    + CASE WHEN j.box_rows <> 1 AND (j.bits & fill_bit(52)) = 0 THEN 4 ELSE 0 END
    + CASE WHEN j.at_largest > 0 AND j.present = 0 THEN 8 ELSE 0 END
    + CASE WHEN (j.bits & fill_bit(39)) <> 0 AND (j.bits & fill_bit(37)) = 0 THEN 16 ELSE 0 END
    + CASE WHEN (j.bits & fill_bit(39)) <> 0 AND (j.bits & fill_bit(37)) <> 0 AND j.at_largest > 0 THEN 32 ELSE 0 END
    + CASE WHEN j.box_rows = 1 AND j.own_e12 IS NULL AND j.place > 0 AND j.gangs > 1 AND j.box_basis[j.place + 1] <> 'gang' THEN 64 ELSE 0 END
    + CASE WHEN j.box_rows = 1 AND j.alone_e12 IS NULL AND (j.bits & fill_bit(37)) = 0 THEN 128 ELSE 0 END
    + CASE WHEN j.mixed THEN 256 ELSE 0 END AS problems
  FROM joined j
)
SELECT *,
  CASE WHEN alone_e12 IS NULL THEN CASE WHEN required_e4 = 0 THEN true END
       ELSE required_e4 < 5000000000 AND CAST(least(required_e4, 5000000000) AS HUGEINT) * 1638706400 <= available_e12 END AS holds,
  CASE WHEN alone_e12 IS NULL THEN CASE WHEN required_e4 = 0 THEN true END
       ELSE without_e4 < 5000000000 AND CAST(least(without_e4, 5000000000) AS HUGEINT) * 1638706400 <= available_e12 END AS holds_without,
  (bits & fill_bit(35)) <> 0 AND space IS NULL AS divided,
  CASE WHEN box_um < need_um OR (pulls AND coalesce(pull_fails, false)) THEN false
       WHEN pulls AND coalesce(pull_open, true) THEN NULL ELSE true END AS limits_pass
FROM judged;
