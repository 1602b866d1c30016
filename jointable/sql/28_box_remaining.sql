-- box_remaining: how many more conductors of each size a box takes.
--
--   FROM box_remaining('items', 'nec-2023')
--
-- box, space, size, count: the largest number for which the box with that many more `conductor` rows of the
-- size still passes. A size larger than any in the box also raises what goes by the largest conductor: clamps,
-- fittings, devices without a size, and the depth of 314.24. 0 where the box fails, null where it is undecided.

CREATE OR REPLACE MACRO box_remaining_nec(state, edition) AS TABLE
SELECT s.box, s.space, z.rank, z.size,
  CASE WHEN s.divided OR s.limits_pass IS NULL OR s.holds IS NULL THEN CASE WHEN NOT s.holds OR NOT s.limits_pass THEN 0 END
       WHEN NOT s.holds OR NOT s.limits_pass THEN 0
       -- one more would have to be held against a volume that is not given
       WHEN s.available_e12 IS NULL THEN 0
       WHEN s.box_um < CASE WHEN ((s.bits >> 33) & 1) = 1 AND s.unsized_um IS NOT NULL
         THEN box_depth_need(e.depth_um, e.projection_um, e.clearance_um, greatest(z.place + 1, coalesce(e.top_place[s.present + 1], 0)), s.unsized_um) ELSE 0 END THEN 0
       ELSE greatest(0, CAST((s.available_e12 // 1638706400
         - s.fixed_e4 - 2500 * s.at_largest * greatest(z.quarters, e.top_quarters[s.present + 1])) // (2500 * z.quarters) AS BIGINT)) END AS count
FROM query_table(state) s CROSS JOIN (FROM fill_edition x WHERE x.edition = edition) e JOIN fill_size z ON z.edition = edition
WHERE s.problems = 0;
