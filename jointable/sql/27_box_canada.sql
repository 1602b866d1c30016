-- The box in Canada, C22.1 Rule 12-3034: state and lines of the editions cec-2015 to cec-2021.
--
-- Cubic inches and millilitres are summed each from its own printed column. Connectors are sorted by the
-- largest wire under each and paired in that order, each full pair at its larger; a device deeper than
-- 2.54 cm takes 32 mL for each centimetre of its depth instead of two conductors. Units as in box_state_nec.

-- Of n connectors in order, how many of the first k are the larger of a full pair.
CREATE OR REPLACE MACRO box_pairs(k, n) AS least((k + 1) // 2, n // 2);

-- Connectors whose size is at least that of a place: `counts` by place, those of no known size at `base`.
CREATE OR REPLACE MACRO box_from_place(counts, unknown, over, base, place) AS
  over + coalesce(list_sum(counts[place:]), 0) + CASE WHEN base >= place THEN unknown ELSE 0 END;

-- What the pairs take when each is weighed by its size (weights ascend with the place).
CREATE OR REPLACE MACRO box_pair_volume(counts, unknown, over, base, n, weights) AS
  box_pairs(box_from_place(counts, unknown, over, base, 1), n) * weights[1]
  + box_pairs(box_from_place(counts, unknown, over, base, 2), n) * (weights[2] - weights[1])
  + box_pairs(box_from_place(counts, unknown, over, base, 3), n) * (weights[3] - weights[2])
  + box_pairs(box_from_place(counts, unknown, over, base, 4), n) * (weights[4] - weights[3])
  + box_pairs(box_from_place(counts, unknown, over, base, 5), n) * (weights[5] - weights[4]);

CREATE OR REPLACE MACRO box_state_cec(rows, places, edition) AS TABLE
WITH part AS (
  SELECT r.box, r.space, r.file_row, r.note, r.bits, r.pieces, r.bad OR NOT box_given(r.box) AS bad, r.marked, r.in3, r.cm3, r.boxes, box_um(r.depth) AS depth_um,
    w.item, w.size, w.place, w.n, w.table_box, z.rank, f.quarters, f.tenths,
    w.item = 'device' AND coalesce(box_um(r.depth) > e.deep_mm * 1000, false) AS deep,
    CASE WHEN w.item IN ('grounding', 'fixture_grounding', 'fixture_grounding_insulated', 'device', 'terminal_block', 'connector') THEN NULL ELSE z.rank END AS insulated,
    e.box_e4[list_position(e.boxes, w.table_box)] AS table_e4, e.box_cm3_e4[list_position(e.boxes, w.table_box)] AS table_cm3_e4,
    e.box_basis[list_position(e.boxes, w.table_box)] AS basis, e.deep_cm3,
    (SELECT max(x.rank) FROM fill_size x WHERE x.edition = edition) AS most_rank
  FROM query_table(rows) r CROSS JOIN (FROM fill_edition x WHERE x.edition = edition) e
  LEFT JOIN fill_word w ON w.id = r.id LEFT JOIN fill_size f ON f.edition = edition AND f.place = w.place
  LEFT JOIN conductor_size z ON z.size = w.size
), valued AS (
  SELECT p.*, NOT p.bad AND p.pieces > 0 AS counts, ((p.bits >> 61) & 1) = 1 AS is_box, ((p.bits >> 36) & 1) = 1 AS is_extension,
    CASE WHEN p.marked THEN box_mark_e12(p.in3, p.cm3)
         WHEN p.basis = 'mm' THEN p.table_e4 * p.depth_um * 64516
         ELSE p.table_e4 * 1638706400 END AS volume_e12,
    CASE WHEN p.marked THEN CASE WHEN p.cm3 IS NOT NULL THEN CAST(CAST(p.cm3 AS DECIMAL(24, 6)) * 1000000 AS BIGINT) * 1000000 ELSE CAST(p.in3 * 1000000 AS BIGINT) * 16387064 END
         WHEN p.basis = 'mm' THEN p.table_cm3_e4 * p.depth_um * 100000
         ELSE p.table_cm3_e4 * 100000000 END AS ml_e12,
    -- a deep device: its millilitres, and their cubic inches rounded at the tenth decimal
    p.deep_cm3 * p.depth_um * 100000000 AS deep_e12,
    (CAST(p.deep_cm3 * p.depth_um * 100000000 AS HUGEINT) * 10000 + 8193532) // 16387064 AS deep_e10
  FROM part p
), summed AS (
  SELECT v.box, v.space, bool_or(v.bad) AS bad, bit_or(CASE WHEN v.counts THEN v.bits ELSE 0 END) AS bits, min(v.file_row) AS first_row,
    string_agg(v.note, '; ' ORDER BY v.file_row) FILTER (v.note IS NOT NULL AND v.note <> '') AS note,
    coalesce(sum(v.pieces) FILTER (v.counts), 0) AS pieces,
    coalesce(sum(v.n * v.pieces * v.quarters) FILTER (v.counts AND v.deep IS NOT TRUE AND v.item <> 'connector'), 0) AS own,
    coalesce(sum(v.n * v.pieces * v.tenths) FILTER (v.counts AND v.deep IS NOT TRUE AND v.item <> 'connector'), 0) AS own_tenths,
    coalesce(sum(v.n * v.pieces) FILTER (v.counts AND NOT v.deep AND v.item = 'device' AND v.size IS NULL), 0) AS unsized,
    coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'stud'), 0) AS studs,
    coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'hickey'), 0) AS hickeys,
    coalesce(sum(CAST(v.deep_e12 AS HUGEINT) * v.pieces) FILTER (v.counts AND v.deep), 0) AS deep_e12,
    coalesce(sum(v.deep_e10 * v.pieces) FILTER (v.counts AND v.deep), 0) AS deep_e10,
    [coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector' AND v.place = 0), 0)::BIGINT,
     coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector' AND v.place = 1), 0)::BIGINT,
     coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector' AND v.place = 2), 0)::BIGINT,
     coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector' AND v.place = 3), 0)::BIGINT,
     coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector' AND v.place = 4), 0)::BIGINT] AS connectors,
    coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector' AND v.size IS NULL), 0)::BIGINT AS unknown,
    coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector' AND v.place IS NULL AND v.rank > v.most_rank), 0)::BIGINT AS connectors_over,
    coalesce(sum(v.pieces) FILTER (v.counts AND v.item = 'connector'), 0)::BIGINT AS all_connectors,
    max(v.insulated) FILTER (v.counts) AS top_rank, max_by(v.size, v.insulated) FILTER (v.counts AND v.insulated IS NOT NULL) AS largest,
    max_by(v.place, v.insulated) FILTER (v.counts AND v.insulated IS NOT NULL AND v.place IS NOT NULL) AS top_place_of_sized,
    max(v.insulated) FILTER (v.counts AND v.place IS NOT NULL) AS top_rank_sized,
    count(*) FILTER (v.counts AND v.is_box) AS box_rows, coalesce(max(v.pieces) FILTER (v.counts AND v.is_box), 1) AS gangs,
    any_value(CASE WHEN v.marked THEN NULL ELSE v.basis END) FILTER (v.counts AND v.is_box) AS basis,
    any_value(CASE WHEN v.marked THEN NULL ELSE v.table_box END) FILTER (v.counts AND v.is_box) AS table_box,
    any_value(v.volume_e12) FILTER (v.counts AND v.is_box) AS alone_e12, any_value(v.ml_e12) FILTER (v.counts AND v.is_box) AS alone_ml_e12,
    coalesce(bool_or(v.marked AND v.in3 IS NULL) FILTER (v.counts AND v.is_box), false) AS in_ml,
    coalesce(sum(CAST(coalesce(v.volume_e12, 0) AS HUGEINT) * v.pieces) FILTER (v.counts AND v.is_extension), 0) AS added_e12,
    coalesce(sum(CAST(coalesce(v.ml_e12, 0) AS HUGEINT) * v.pieces) FILTER (v.counts AND v.is_extension), 0) AS added_ml_e12,
    bool_or(v.volume_e12 IS NULL) FILTER (v.counts AND v.is_extension) AS adds_nothing,
    max(box_whole(v.boxes)) FILTER (v.counts AND v.is_box) AS boxes
  FROM valued v GROUP BY v.box, v.space
), based AS (
  SELECT s.*, CASE WHEN s.top_rank = s.top_rank_sized THEN s.top_place_of_sized + 1 ELSE 0 END AS base,
    s.unsized + CASE WHEN e.studs_each THEN s.studs + s.hickeys ELSE least(1, s.studs + s.hickeys) END AS at_largest,
    CASE WHEN s.basis = 'gang' THEN s.gangs ELSE 1 END AS sections,
    s.alone_e12 * CASE WHEN s.basis = 'gang' THEN s.gangs ELSE 1 END + s.added_e12 AS available_e12,
    s.alone_ml_e12 * CASE WHEN s.basis = 'gang' THEN s.gangs ELSE 1 END + s.added_ml_e12 AS available_ml_e12,
    e.quarters, e.tenths, e.studs_each, e.basis AS edition_basis,
    ((s.bits >> 35) & 1) = 1 AND s.space IS NULL AS divided,
    z.box IS NOT NULL AND s.space IS NULL AS is_mixed
  FROM summed s CROSS JOIN (FROM fill_edition x WHERE x.edition = edition) e
  LEFT JOIN (SELECT DISTINCT r.box FROM query_table(places) r WHERE r.space IS NOT NULL) z ON z.box = s.box
), required AS (
  SELECT b.*, box_needs_cec(b.own, b.at_largest, b.connectors, b.unknown, b.connectors_over, b.base, b.all_connectors, b.quarters) AS need,
    box_needs_cec(b.own_tenths, b.at_largest, b.connectors, b.unknown, b.connectors_over, b.base, b.all_connectors, b.tenths) AS need_tenths
  FROM based b
)
SELECT r.*, CAST(r.need AS HUGEINT) * 4096766000000 + r.deep_e12 AS required_e12, CAST(r.need_tenths AS HUGEINT) * 100000000000 + r.deep_e12 AS required_ml_e12,
  CASE WHEN r.bad THEN 1 WHEN r.box_rows <> 1 THEN 4 WHEN r.basis <> 'gang' AND r.gangs > 1 THEN 64 WHEN r.alone_e12 IS NULL THEN CASE WHEN r.basis = 'mm' THEN 512 ELSE 128 END ELSE 0 END
    | CASE WHEN r.pieces > 524287 THEN 2 ELSE 0 END
    | CASE WHEN r.top_rank IS NULL AND (r.at_largest > 0 OR r.unknown > 0 AND r.all_connectors > 1) AND NOT r.bad THEN 8 ELSE 0 END
    | CASE WHEN r.top_rank IS NOT NULL AND r.base = 0 AND (r.at_largest > 0)
        OR box_pairs(r.connectors_over, r.all_connectors) > 0
        OR box_pairs(box_from_place(r.connectors, r.unknown, r.connectors_over, r.base, 1), r.all_connectors) < r.all_connectors // 2 AND NOT (r.top_rank IS NULL AND r.unknown > 0)
      THEN 32 ELSE 0 END
    | CASE WHEN r.is_mixed THEN 256 ELSE 0 END
    | CASE WHEN greatest(r.available_ml_e12, required_ml_e12) > 99999999000000000000 THEN 1024 ELSE 0 END AS problems,
  CASE WHEN r.in_ml THEN CAST(r.need_tenths AS HUGEINT) * 100000000000 + r.deep_e12 <= r.available_ml_e12
       ELSE CAST(r.need AS HUGEINT) * 4096766000000 + r.deep_e12 <= r.available_e12 END AS holds,
  CAST(NULL AS VARCHAR) AS pull_largest,
  concat_ws(' ',
    CASE WHEN r.edition_basis = 'inferred' THEN 'edition-inferred' END,
    CASE WHEN r.table_box IS NOT NULL THEN 'memory-table-23' END,
    CASE WHEN r.own > 0 OR r.at_largest > 0 THEN 'memory-table-22' END,
    CASE WHEN r.in_ml THEN 'verdict-in-ml' END,
    CASE WHEN holds AND required_ml_e12 > r.available_ml_e12 AND NOT r.in_ml THEN 'inches-first' END,
    CASE WHEN r.unsized > 0 THEN 'unsized-at-largest-insulated' END,
    CASE WHEN r.deep_e12 > 0 THEN 'deep-device' END,
    CASE WHEN r.all_connectors > 0 THEN 'connectors-in-pairs' END,
    CASE WHEN r.unknown > 0 THEN 'connectors-at-largest' END,
    CASE WHEN r.studs + r.hickeys > 0 THEN CASE WHEN r.studs_each THEN 'fittings-each' ELSE 'fittings-one-in-all' END END,
    CASE WHEN (r.bits >> 28) & 1 = 1 THEN 'clamps-free' END,
    CASE WHEN (r.bits >> 31) & 1 = 1 THEN 'bonds-bare' END,
    CASE WHEN (r.bits >> 49) & 1 = 1 THEN 'loop-counts-one' END,
    CASE WHEN (r.bits >> 50) & 1 = 1 THEN 'pigtails-free' END,
    CASE WHEN (r.bits >> 51) & 1 = 1 THEN 'fixture-wires-free' END,
    CASE WHEN (r.bits >> 54) & 1 = 1 THEN 'terminal-block-free' END,
    CASE WHEN (r.bits >> 40) & 1 = 1 THEN 'fitting-size-ignored' END,
    CASE WHEN r.sections > 1 THEN 'sections-multiply' END,
    CASE WHEN r.adds_nothing THEN 'extension-adds-nothing' WHEN (r.bits >> 36) & 1 = 1 THEN 'extension-memory' END,
    CASE WHEN (r.bits >> 35) & 1 = 1 THEN 'barrier-no-rule' END,
    CASE WHEN r.divided THEN 'barrier-undecided' END,
    CASE WHEN r.space IS NOT NULL THEN 'spaces-apart' END) AS assumed
FROM required r;

-- Quarters of a cubic inch or tenths of a millilitre that conductors, fittings and connectors need in all.
CREATE OR REPLACE MACRO box_needs_cec(own, at_largest, connectors, unknown, connectors_over, base, all_connectors, weights) AS
  own + at_largest * coalesce(weights[base], 0)
  + box_pair_volume(connectors, unknown, connectors_over, base, all_connectors, weights);

CREATE OR REPLACE MACRO box_fill_of_cec(state, edition) AS TABLE
SELECT s.box, s.space, edition AS edition,
  CASE WHEN s.problems = 0 THEN box_e10(CAST(s.need AS HUGEINT) * 2500000000 + s.deep_e10) END AS required_in3,
  CASE WHEN s.problems = 0 THEN box_e10(s.required_ml_e12 // 100) END AS required_cm3,
  CASE WHEN s.problems = 0 THEN box_in3_of_e12(s.available_e12) END AS available_in3,
  CASE WHEN s.problems = 0 THEN box_e10(s.available_ml_e12 // 100) END AS available_cm3,
  CASE WHEN s.problems = 0 AND NOT (s.divided AND s.holds) THEN s.holds END AS passes,
  CASE WHEN s.problems = 0 THEN s.largest END AS largest_conductor,
  s.first_row, CAST(coalesce(s.boxes, 1) AS INTEGER) AS boxes, s.note, CAST(s.problems AS INTEGER) AS problems,
  CASE WHEN s.problems = 0 AND NOT (s.divided AND s.holds) THEN s.holds END AS volume_passes,
  CASE WHEN s.problems = 0 THEN true END AS limits_pass,
  CASE WHEN s.problems = 0 THEN box_words(s.assumed) END AS assumptions, CASE WHEN s.problems = 0 THEN CAST([] AS VARCHAR[]) END AS cautions,
  CASE WHEN s.in_ml THEN 'cm3' ELSE 'in3' END AS volume_unit,
  CASE WHEN s.holds AND s.required_ml_e12 > s.available_ml_e12 THEN 'in3' ELSE 'cm3' END AS first_unit,
  CASE WHEN s.problems = 0 THEN s.table_box END AS table_box
FROM query_table(state) s;

CREATE OR REPLACE MACRO box_fill_cec(items, edition) AS TABLE
WITH box_f_rows AS NOT MATERIALIZED (FROM box_rows(items, edition)), box_f_places AS NOT MATERIALIZED (FROM box_places(items)),
box_f_state AS NOT MATERIALIZED (FROM box_state_cec('box_f_rows', 'box_f_places', edition))
FROM box_fill_of_cec('box_f_state', edition);

CREATE OR REPLACE MACRO box_lines_cec(rows, state, edition) AS TABLE
WITH part AS (
  SELECT r.box, r.space, w.item, w.size, w.n, r.pieces, box_um(r.depth) AS depth_um, s.largest, s.base, e.deep_cm3,
    w.item = 'device' AND coalesce(box_um(r.depth) > e.deep_mm * 1000, false) AS deep
  FROM query_table(rows) r JOIN query_table(state) s ON s.box = r.box AND s.space IS NOT DISTINCT FROM r.space JOIN fill_word w ON w.id = r.id
  CROSS JOIN (FROM fill_edition x WHERE x.edition = edition) e
  WHERE s.problems = 0 AND r.pieces > 0 AND w.n > 0 AND (w.place IS NOT NULL OR w.item = 'device')
    AND w.item IN ('cable', 'conductor', 'through', 'loop', 'fixture_wire', 'grounding_insulated', 'isolated_grounding', 'device')
), counted AS (
  SELECT p.box, p.space, replace(p.item, '_insulated', '') AS item, coalesce(p.size, p.largest) AS size, sum(p.n * p.pieces) AS count,
    CASE p.item WHEN 'cable' THEN 'conductor' WHEN 'fixture_wire' THEN 'conductor' ELSE p.item END AS rule
  FROM part p WHERE NOT p.deep GROUP BY ALL
  UNION ALL
  SELECT f.box, f.space, f.item, f.largest, f.count, f.item FROM (SELECT s.box, s.space, s.largest, unnest([
    {item: 'stud', count: CASE WHEN s.studs_each THEN s.studs ELSE least(1, s.studs) END},
    {item: 'hickey', count: CASE WHEN s.studs_each THEN s.hickeys ELSE CASE WHEN s.studs > 0 THEN 0 ELSE least(1, s.hickeys) END END}], recursive := true)
    FROM query_table(state) s WHERE s.problems = 0) f
  WHERE f.count > 0
  UNION ALL
  SELECT s.box, s.space, 'connector', z.size,
    box_pairs(box_from_place(s.connectors, s.unknown, s.connectors_over, s.base, z.place + 1), s.all_connectors)
    - box_pairs(box_from_place(s.connectors, s.unknown, s.connectors_over, s.base, z.place + 2), s.all_connectors) AS count, 'connector'
  FROM query_table(state) s JOIN fill_size z ON z.edition = edition WHERE s.problems = 0 AND s.all_connectors > 1
), line AS (
  SELECT c.box, c.space, c.item, c.count, c.size, z.rank, z.volume_in3 AS allowance_in3, z.volume_cm3 AS allowance_cm3,
    CAST(c.count * z.quarters AS HUGEINT) * 2500000000 AS in3_e10, CAST(c.count * z.tenths AS HUGEINT) * 1000000000 AS cm3_e10, c.rule
  FROM counted c JOIN fill_size z ON z.edition = edition AND z.size = c.size WHERE c.count > 0
  UNION ALL
  SELECT p.box, p.space, 'device', sum(p.pieces), NULL, NULL, NULL, NULL,
    sum(p.pieces * ((CAST(p.deep_cm3 * p.depth_um * 100000000 AS HUGEINT) * 10000 + 8193532) // 16387064)),
    sum(p.pieces * CAST(p.deep_cm3 * p.depth_um * 1000000 AS HUGEINT)), 'deep_device'
  FROM part p WHERE p.deep GROUP BY p.box, p.space, p.depth_um
)
SELECT l.box, l.space,
  row_number() OVER (PARTITION BY l.box, l.space ORDER BY list_position(['cable', 'conductor', 'through', 'loop', 'fixture_wire', 'grounding',
    'isolated_grounding', 'stud', 'hickey', 'connector', 'device'], l.item), l.rank DESC, l.in3_e10 DESC) AS position,
  l.item, CAST(l.count AS DECIMAL(18, 4)) AS count, l.size, l.allowance_in3, CAST(l.allowance_cm3 AS DECIMAL(18, 10)) AS allowance_cm3,
  box_e10(l.in3_e10) AS volume_in3, box_e10(l.cm3_e10) AS volume_cm3, u.clause,
  CASE WHEN l.size IS NULL THEN [] ELSE ['allowance/' || edition || ',' || l.size || '/volume_in3', 'allowance/' || edition || ',' || l.size || '/volume_cm3'] END
    || ['fill_rule/' || edition || ',' || l.rule || '/' || CASE WHEN l.rule = 'deep_device' THEN 'volume_cm3' ELSE 'allowances' END] AS provenance
FROM line l LEFT JOIN fill_rule u ON u.edition = edition AND u.rule = l.rule;

CREATE OR REPLACE MACRO box_limits_cec(state, edition) AS TABLE
SELECT s.box, s.space, row_number() OVER (PARTITION BY s.box, s.space ORDER BY u.rule) AS position, u.rule, u.clause, u.what,
  CAST(u.limit_mm AS DECIMAL(18, 3)) AS needed, CAST(NULL AS DECIMAL(18, 3)) AS given, 'mm' AS unit, CAST(NULL AS BOOLEAN) AS passes,
  ['box_limit/' || edition || ',' || u.rule || '/limit_mm'] AS provenance
FROM query_table(state) s JOIN box_limit u ON u.edition = edition
WHERE s.problems = 0 AND s.top_rank IS NOT NULL;

CREATE OR REPLACE MACRO box_remaining_cec(state, edition) AS TABLE
SELECT t.box, t.space, t.rank, t.size, CASE WHEN NOT t.holds THEN 0 WHEN t.divided THEN NULL WHEN t.room < t.first THEN 0
    ELSE CAST((t.room - t.first) // t.step + 1 AS BIGINT) END AS count
FROM (
  SELECT s.box, s.space, s.holds, s.divided, z.rank, z.size,
    CASE WHEN s.in_ml THEN (s.available_ml_e12 - s.deep_e12) // 100000000000
         ELSE CAST(floor((s.available_e12 - s.deep_e12) // 4096766000000) AS HUGEINT) END AS room,
    CASE WHEN s.in_ml THEN z.tenths ELSE z.quarters END AS step,
    CASE WHEN s.in_ml THEN z.tenths + box_needs_cec(s.own_tenths, s.at_largest, s.connectors, s.unknown, s.connectors_over, greatest(s.base, z.place + 1), s.all_connectors, s.tenths)
         ELSE z.quarters + box_needs_cec(s.own, s.at_largest, s.connectors, s.unknown, s.connectors_over, greatest(s.base, z.place + 1), s.all_connectors, s.quarters) END AS first
  FROM query_table(state) s JOIN fill_size z ON z.edition = edition WHERE s.problems = 0
) t;
