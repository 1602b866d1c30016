-- One row a box (or space): its sums, decoded, and everything that a verdict rests on. NEC editions.
--
-- One pass over the rows: one sum and one OR a box. What few rows carry (marked volumes, extensions,
-- barriers, depths, notes, raceways) is summed by itself and joined; a part whose columns the input lacks
-- is settled when the query is planned. `rows` names what box_rows gives.
--
-- Volumes here are whole numbers: `e4` ten-thousandths of a cubic inch, `e12` millionths of millionths of a
-- cubic centimetre (1 in3 = 16.387064 cm3), `um` thousandths of a millimetre. So every comparison is exact.

-- A marked volume in e12: in cubic inches, or, where only they are given, in cubic centimetres.
CREATE OR REPLACE MACRO box_mark_e12(in3, cm3) AS
  CASE WHEN in3 IS NOT NULL THEN CAST(in3 * 1000000 AS BIGINT) * 16387064 ELSE CAST(CAST(cm3 AS DECIMAL(24, 6)) * 1000000 AS BIGINT) * 1000000 END;

-- 314.24: the depth that devices supplied by a size need: that of the size, or projection and clearance.
CREATE OR REPLACE MACRO box_depth_need(depth_um, projection_um, clearance_um, place, projects_um) AS
  greatest(depth_um[place], CASE WHEN projects_um > projection_um[place] THEN projects_um + clearance_um[place] ELSE 0 END);

CREATE OR REPLACE MACRO box_extras(rows, edition) AS TABLE
SELECT r.box, r.space,
  max(r.mark_e12) FILTER (r.is_box) AS own_e12,
  bool_or(r.in3 IS NULL) FILTER (r.is_box AND r.marked) AS own_in_cm3,
  sum(r.width_um * r.height_um * CAST(r.deep_um AS HUGEINT)) FILTER (r.is_box) AS inside_e12,
  sum(CAST(r.pieces AS HUGEINT) * coalesce(r.mark_e12, r.table_e4 * 1638706400, 0)) FILTER (r.is_extension) AS added_e12,
  bool_or(r.mark_e12 IS NULL AND r.table_e4 IS NULL) FILTER (r.is_extension) AS adds_nothing,
  sum(CAST(r.pieces AS HUGEINT) * coalesce(r.mark_e12, r.barrier_e6 * 16387064)) FILTER (r.is_barrier AND r.barrier_e6 IS NOT NULL) AS barrier_e12,
  bool_or(r.mark_e12 IS NULL) FILTER (r.is_barrier) AS barrier_default,
  CAST(sum(r.deep_um * CASE WHEN r.is_extension THEN r.pieces ELSE 1 END) FILTER (r.is_box OR r.is_extension) AS BIGINT) AS depth_um,
  bool_or(r.deep_um IS NOT NULL) FILTER (r.is_box) AS has_depth,
  max(box_whole(r.boxes)) FILTER (r.is_box) AS boxes
FROM (
  SELECT b.box, b.space, b.pieces, b.in3, b.marked, b.boxes, box_um(b.width) AS width_um, box_um(b.height) AS height_um,
    box_um(b.depth) AS deep_um, ((b.bits >> 61) & 1) = 1 AS is_box, ((b.bits >> 36) & 1) = 1 AS is_extension,
    ((b.bits >> 35) & 1) = 1 AS is_barrier,
    box_mark_e12(b.in3, b.cm3) AS mark_e12,
    e.box_e4[list_position(e.boxes, w.table_box)] AS table_e4,
    CASE WHEN box_item_key(b.material) IN ('metal', 'metallic') THEN e.barrier_metal_e6 ELSE e.barrier_nonmetallic_e6 END AS barrier_e6
  FROM query_table(rows) b CROSS JOIN (FROM fill_edition f WHERE f.edition = edition) e LEFT JOIN fill_word w ON w.id = b.id
  WHERE NOT b.bad AND b.pieces > 0 AND (
    b.volume_in3 IS NOT NULL OR b.volume_cm3 IS NOT NULL OR b.depth_mm IS NOT NULL OR b.boxes IS NOT NULL OR b.width_mm IS NOT NULL
    OR CAST(b.item AS VARCHAR) ILIKE '%barrier%' OR CAST(b.item AS VARCHAR) ILIKE '%extension%')
) r
GROUP BY r.box, r.space;

-- 314.24: what the devices of boxes need; those without a size by themselves. Asked only where the input has depths.
CREATE OR REPLACE MACRO box_device_depths(rows, edition) AS TABLE
SELECT d.box, d.space,
  max(box_depth_need(d.depths_um, d.projections_um, d.clearances_um, d.place, d.deep_um)) FILTER (d.place > 0) AS sized_um,
  max(d.deep_um) FILTER (d.place = 0) AS unsized_um
FROM (
  SELECT r.box, r.space, coalesce(box_um(r.depth), 0) AS deep_um, e.top_place[(r.bits & 127) + 1] AS place,
    e.depth_um AS depths_um, e.projection_um AS projections_um, e.clearance_um AS clearances_um
  FROM query_table(rows) r CROSS JOIN (FROM fill_edition f WHERE f.edition = edition) e
  WHERE NOT r.bad AND r.pieces > 0 AND (r.bits >> 33) & 1 = 1
    AND typeof(r.depth_mm) <> '"NULL"'
) d
GROUP BY d.box, d.space;

-- What the rows of a box come to.
CREATE OR REPLACE MACRO box_sums(rows) AS TABLE
SELECT r.box, r.space, sum(r.adds) AS s, sum(r.adds_more) AS more, bit_or(r.flags) AS bits, min(r.file_row) AS first_row
FROM query_table(rows) r GROUP BY r.box, r.space;

-- The same for millions of rows: where no input has spaces, groups are told by one column, and the other branch is dropped
-- when the query is planned.
CREATE OR REPLACE MACRO box_sums_of_many(rows) AS TABLE
SELECT r.box, NULL AS space, sum(r.adds) AS s, sum(r.adds_more) AS more, bit_or(r.flags) AS bits, min(r.file_row) AS first_row
FROM query_table(rows) r WHERE typeof(r.space) = '"NULL"' GROUP BY r.box
UNION ALL
FROM box_sums(rows) b WHERE typeof(b.space) <> '"NULL"';

-- `sums` names what box_sums gives, `rows`, `extra` and `device` what box_rows gives, `places` what box_places gives, `pulls` what box_pull_lines gives:
-- one and the same rows for a few boxes, each read of its own for millions, so that a reader takes no more than it needs.
CREATE OR REPLACE MACRO box_state_nec(sums, rows, extra, device, pulls, places, edition) AS TABLE
WITH summed AS (
  FROM query_table(sums)
), fields AS (
  SELECT h.box, h.space, h.bits, h.first_row, h.bits & 127 AS present, (h.bits >> 7) & 127 AS plain, (h.bits >> 14) & 127 AS tally,
    (h.bits >> 21) & 127 AS isolated, (h.bits >> 42) & 127 AS small_sizes, (h.bits >> 55) & 63 AS place,
    ((h.bits >> 37) & 1) = 1 AS has_raceways, ((h.bits >> 39) & 1) = 1 AS has_large,
    h.low & 33554431 AS own, h.low >> 25 AS grounds, h.high & 4194303 AS small, h.high >> 22 AS unsized, h.boxfield, h.pieces
  FROM (SELECT x.box, x.space, x.bits, x.first_row, CAST(x.s & 17592186044415 AS BIGINT) AS low, CAST(x.s >> 44 AS BIGINT) AS pieces,
          CAST(x.more & 4398046511103 AS BIGINT) AS high, CAST(x.more >> 42 AS BIGINT) AS boxfield FROM summed x) h
), required AS (
  SELECT f.box, f.space, f.bits, f.first_row, f.present, f.place, f.has_raceways, f.has_large, f.pieces, f.boxfield & 16383 AS gangs, f.boxfield >> 14 AS box_rows,
    f.tally, f.isolated, f.grounds, f.small > e.canopy_quarters AS small_counted,
    f.unsized + ((f.bits >> 28) & 1) * e.clamp + ((f.bits >> 29) & 1) * e.stud + ((f.bits >> 30) & 1) * e.hickey AS at_largest,
    CASE WHEN f.plain = 0 AND (f.small <= e.canopy_quarters OR f.small_sizes = 0) THEN f.present
         WHEN f.small > e.canopy_quarters THEN f.plain | f.small_sizes ELSE f.plain END AS ordinary,
    2500 * (f.own + CASE WHEN f.small > e.canopy_quarters THEN f.small ELSE 0 END)
      + e.top_quarters[f.tally + 1] * (e.grounding_e4 + e.beyond_e4 * greatest(0, f.grounds - e.grounding_free))
      + CASE WHEN (f.bits >> 31) & 3 = 3 THEN e.top_quarters[f.isolated + 1] * e.isolated_e4 ELSE 0 END AS fixed_e4
  FROM fields f, (FROM fill_edition x WHERE x.edition = edition) e
), joined AS (
  SELECT q.*, x.own_in_cm3, x.adds_nothing, x.barrier_default, x.boxes, x.own_e12, CASE WHEN x.has_depth THEN x.depth_um END AS box_um,
    coalesce(x.added_e12, 0) - CASE WHEN q.space IS NULL THEN coalesce(x.barrier_e12, 0) ELSE 0 END AS change_e12,
    y.unsized_um, x.inside_e12, e.year, e.basis, e.top_size,
    CASE WHEN q.place > 0 AND x.own_e12 IS NULL THEN e.boxes[q.place + 1] END AS table_box,
    q.fixed_e4 + 2500 * q.at_largest * e.top_quarters[q.present + 1] AS required_e4,
    q.fixed_e4 + 2500 * q.at_largest * e.top_quarters[q.ordinary + 1] AS without_e4,
    CASE WHEN x.box IS NULL AND q.place > 0 THEN e.box_e4[q.place + 1] * CASE WHEN e.box_basis[q.place + 1] = 'gang' THEN q.gangs ELSE 1 END END AS plain_e4,
    CASE WHEN x.own_e12 IS NOT NULL THEN x.own_e12
         WHEN q.place > 0 THEN e.box_e4[q.place + 1] * CASE WHEN e.box_basis[q.place + 1] = 'gang' THEN q.gangs ELSE 1 END * 1638706400
         WHEN q.has_raceways OR x.inside_e12 > e.large_box_in3 * 16387064000000 
           -- without all three dimensions there is no volume: a least of nothing would be the most that a box may have
           THEN CASE WHEN x.inside_e12 IS NOT NULL THEN CAST(least(x.inside_e12, 8193532000000000000) AS BIGINT) END
    END AS alone_e12,
    q.place > 0 AND q.gangs > 1 AND x.own_e12 IS NULL AND e.box_basis[q.place + 1] <> 'gang' AS is_ganged,
    CASE WHEN ((q.bits >> 33) & 1) = 0 THEN e.empty_um
         ELSE greatest(coalesce(y.sized_um, 0), CASE WHEN y.unsized_um IS NOT NULL AND q.present > 0
           THEN box_depth_need(e.depth_um, e.projection_um, e.clearance_um, e.top_place[q.present + 1], y.unsized_um) ELSE 0 END)
    END AS need_um,
    q.has_raceways AND (q.has_large OR q.present = 0) AS pulls, q.place > 0 AND x.own_e12 < e.box_e4[q.place + 1] * 1638706400 AS below_table,
    p.fails AS pull_fails, p.open AS pull_open, p.largest AS pull_largest, q.first_row, o.note,
    z.box IS NOT NULL AND q.space IS NULL AS is_mixed
  FROM required q CROSS JOIN (FROM fill_edition f WHERE f.edition = edition) e
  LEFT JOIN box_extras(extra, edition) x ON x.box = q.box AND x.space IS NOT DISTINCT FROM q.space
  LEFT JOIN box_device_depths(device, edition) y ON y.box = q.box AND y.space IS NOT DISTINCT FROM q.space
  LEFT JOIN (SELECT r.box, r.space, string_agg(CAST(r.note AS VARCHAR), '; ' ORDER BY r.file_row) AS note
             FROM query_table(places) r WHERE r.note IS NOT NULL AND CAST(r.note AS VARCHAR) <> '' GROUP BY r.box, r.space) o
    ON o.box = q.box AND o.space IS NOT DISTINCT FROM q.space
  LEFT JOIN (SELECT DISTINCT r.box FROM query_table(places) r WHERE r.space IS NOT NULL) z ON z.box = q.box
  LEFT JOIN (SELECT l.box, l.space, bool_or(l.given_um < l.needed_um) AS fails, bool_or(l.given_um IS NULL OR l.needed_um IS NULL) AS open,
               any_value(l.largest) AS largest
             FROM query_table(pulls) l GROUP BY l.box, l.space) p ON p.box = q.box AND p.space IS NOT DISTINCT FROM q.space
)
SELECT j.*, CASE WHEN j.plain_e4 IS NULL THEN j.alone_e12 + j.change_e12 ELSE j.alone_e12 END AS available_e12,
  -- 1 a bad row, 2 too many pieces, 4 not one box row, 8 nothing to size a fitting or device by, 16 a large conductor
  -- without raceways, 32 a fitting or device that would go by a large one, 64 ganged, 128 no volume, 256 rows without space,
  -- 1024 a volume too great to be shown
  CASE WHEN ((j.bits >> 52) & 1) = 1 THEN 1 WHEN j.box_rows <> 1 THEN 4 WHEN j.is_ganged THEN 64
       WHEN j.alone_e12 IS NULL AND NOT j.has_raceways THEN 128 ELSE 0 END
    | CASE WHEN j.pieces > 524287 THEN 2 ELSE 0 END
    | CASE WHEN j.at_largest > 0 AND (j.present = 0 OR j.has_large)
           THEN CASE WHEN j.has_large THEN CASE WHEN j.has_raceways THEN 32 ELSE 0 END WHEN ((j.bits >> 52) & 1) = 1 THEN 0 ELSE 8 END ELSE 0 END
    | CASE WHEN j.has_large AND NOT j.has_raceways THEN 16 ELSE 0 END
    | CASE WHEN j.is_mixed THEN 256 ELSE 0 END
    | CASE WHEN j.alone_e12 + j.change_e12 > 99999999000000000000 THEN 1024 ELSE 0 END AS problems,
  CASE WHEN j.plain_e4 IS NOT NULL THEN j.required_e4 <= j.plain_e4
       WHEN j.alone_e12 IS NULL THEN CASE WHEN j.required_e4 = 0 THEN true END
       ELSE CAST(j.required_e4 AS HUGEINT) * 1638706400 <= j.alone_e12 + j.change_e12 END AS holds,
  CASE WHEN j.plain_e4 IS NOT NULL THEN j.without_e4 <= j.plain_e4
       WHEN j.alone_e12 IS NULL THEN CASE WHEN j.required_e4 = 0 THEN true END
       ELSE CAST(j.without_e4 AS HUGEINT) * 1638706400 <= j.alone_e12 + j.change_e12 END AS holds_without,
  ((j.bits >> 35) & 1) = 1 AND j.space IS NULL AS divided,
  CASE WHEN j.box_um < j.need_um OR (j.pulls AND coalesce(j.pull_fails, false)) THEN false
       WHEN j.pulls AND coalesce(j.pull_open, true) THEN NULL ELSE true END AS limits_pass,
  -- ids of table assumption
  concat_ws(' ',
    CASE WHEN j.basis = 'inferred' THEN 'edition-inferred' END,
    CASE WHEN holds <> holds_without THEN 'verdict-turns' WHEN j.at_largest > 0 AND j.required_e4 <> j.without_e4 THEN 'largest-of-all' END,
    CASE WHEN (j.bits >> 34) & 1 = 1 THEN 'unsized-at-largest' END,
    CASE WHEN (j.bits >> 49) & 1 = 1 THEN 'loop-counts-two' END,
    CASE WHEN (j.bits >> 50) & 1 = 1 THEN 'pigtails-free' END,
    CASE WHEN j.small_counted THEN 'canopy-over-four' WHEN (j.bits >> 51) & 1 = 1 THEN 'canopy-left-out' END,
    CASE WHEN j.tally = 0 THEN NULL WHEN j.year < 2020 THEN CASE WHEN (j.bits >> 31) & 3 = 3 THEN 'grounding-sets' WHEN j.grounds > 1 THEN 'grounding-once' END
         WHEN (j.bits >> 32) & 1 = 1 THEN 'grounding-one-tally' WHEN j.grounds > 4 THEN 'grounding-quarters' END,
    CASE WHEN (j.bits >> 54) & 1 = 1 AND j.year < 2023 THEN 'terminal-block-free' END,
    CASE WHEN (j.bits >> 53) & 1 = 1 THEN 'connectors-free' END,
    CASE WHEN (j.bits >> 40) & 1 = 1 THEN 'fitting-size-ignored' END,
    CASE WHEN j.own_e12 IS NOT NULL AND j.own_in_cm3 THEN 'volume-from-cm3' END,
    CASE WHEN j.own_e12 IS NOT NULL AND j.place > 0 THEN CASE WHEN j.below_table THEN 'mark-below-table' ELSE 'mark-wins' END END,
    CASE WHEN j.own_e12 IS NULL AND j.place = 0 AND j.inside_e12 IS NOT NULL THEN 'inside-dimensions' WHEN j.alone_e12 IS NULL THEN 'volume-not-given' END,
    CASE WHEN j.table_box IS NOT NULL AND j.gangs > 1 THEN 'sections-multiply' END,
    CASE WHEN j.adds_nothing THEN 'extension-adds-nothing' WHEN (j.bits >> 36) & 1 = 1 THEN 'extension-adds' END,
    CASE WHEN (j.bits >> 35) & 1 = 0 THEN NULL WHEN j.space IS NOT NULL THEN 'barrier-in-spaces'
         WHEN j.year < 2017 THEN 'barrier-before-2017' WHEN j.barrier_default THEN 'barrier-default' ELSE 'barrier-marked' END,
    CASE WHEN divided THEN 'barrier-undecided' END,
    CASE WHEN j.space IS NOT NULL THEN 'spaces-apart' END,
    CASE WHEN j.has_raceways THEN CASE WHEN NOT j.pulls THEN 'pull-rules-not-asked' WHEN j.has_large THEN 'large-conductors-apart' END END
  ) AS assumed
FROM joined j;
