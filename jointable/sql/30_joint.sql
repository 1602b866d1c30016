-- Which connector classes take a joint: the one rule of admission, for one joint and for a million.
--
-- joint_facts(joints)       one row a joint: how many conductors, their total, the narrowest, the widest, the ends
-- joint_classes(joints, …)  one row a joint and class of the variant that the demands ask for: admitted, or the reason
-- joint_choices(joints, …)  the classes that take each joint, in order of room inside a family
-- joint_choice(joints, …)   the first of these for each joint and family, without reasons, fast over many joints
--
-- `joints` names a table or view with the columns joint, size, quantity and, where wanted, construction
-- (solid, stranded, flexible), material (copper, aluminium, copper-clad) and end_of (1 or 2, the ends of a butt joint).
-- Demands: family, grip (standard, wide), location (dry, damp, wet, burial), temperature_c, material_mark (cu, al-cu),
-- pass_through, reopenable, voltage. Areas are compared as decimals, limits are inclusive.

-- How an area that breaks a limit is written: with as many decimals as tell it from the limit, one at least.
CREATE OR REPLACE MACRO mm2_beside(area, bound) AS
  round(area::DOUBLE, greatest(1, ceil(-log10(greatest(abs(area - bound), 0.000000001)::DOUBLE)))::INTEGER)::VARCHAR || ' mm²';

-- A limit, as it is defined.
CREATE OR REPLACE MACRO mm2_bound(bound) AS bound::DOUBLE::VARCHAR || ' mm²';

-- One row a joint, packed: count and total (in billionths of mm²) of all and of each end, the ranks of the narrowest
-- and the widest size, and `traits`, one bit each for a size that is not in the tables, solid, stranded, flexible, copper,
-- aluminium, copper-clad, solid aluminium, ends told apart. A row of quantity 0 is none, an empty quantity is 1; a
-- conductor is solid up to 10 AWG or 6 mm², stranded above, and copper, unless said.
CREATE OR REPLACE MACRO joint_keys(joints) AS TABLE
WITH given AS (
  FROM (SELECT NULL::VARCHAR AS construction, NULL::VARCHAR AS material, NULL::INTEGER AS end_of WHERE false)
  UNION ALL BY NAME FROM query_table(joints)
), known AS (
  SELECT unnest(CASE WHEN s.size LIKE '% AWG' THEN [s.size, left(s.size, -4)] ELSE [s.size] END) AS key, s.rank,
    (s.area_mm2::DECIMAL(28, 9) * 1000000000)::BIGINT AS nano, CASE WHEN s.area_mm2 <= 6 THEN 2 ELSE 4 END AS usual
  FROM joint_size s
), conductor AS (
  SELECT g.joint AS joint, coalesce(g.quantity, 1)::INTEGER AS quantity, k.rank AS rank, coalesce(k.nano, 0) AS nano, g.end_of AS end_of,
    CASE g.construction WHEN 'solid' THEN 2 WHEN 'stranded' THEN 4 WHEN 'flexible' THEN 8 ELSE CASE WHEN g.construction IS NULL THEN k.usual ELSE 8 END END AS made,
    CASE g.material WHEN 'aluminium' THEN 32 WHEN 'copper-clad' THEN 64 ELSE 16 END AS metal,
    CASE WHEN k.rank IS NULL THEN 1 ELSE 0 END AS unknown
  FROM given g LEFT JOIN known k ON k.key = g.size::VARCHAR
  WHERE coalesce(g.quantity, 1) > 0
)
-- The second end is what the first one leaves: a sum less over all rows.
SELECT s.* EXCLUDE (named), CASE WHEN s.named THEN s.conductors - s.first_conductors ELSE 0 END AS second_conductors,
  CASE WHEN s.named THEN s.nano - s.first_nano ELSE 0 END AS second_nano
FROM (
  SELECT
    c.joint AS joint,
    sum(c.quantity)::INTEGER AS conductors, sum(c.quantity * c.nano)::BIGINT AS nano,
    min(c.rank) AS low, max(c.rank) AS high,
    bit_or(c.unknown + coalesce(c.made, 0) + c.metal + CASE WHEN c.made = 2 AND c.metal = 32 THEN 128 ELSE 0 END
      + CASE WHEN c.end_of IS NOT NULL THEN 256 ELSE 0 END) AS traits, traits >= 256 AS named,
    coalesce(sum(c.quantity) FILTER (c.end_of = 1), 0)::INTEGER AS first_conductors,
    coalesce(sum(c.quantity * c.nano) FILTER (c.end_of = 1), 0)::BIGINT AS first_nano
  FROM conductor c GROUP BY c.joint
) s;

-- The facts that rows of joint_keys stand for, beside the keys themselves.
CREATE OR REPLACE MACRO facts_of_keys(keys) AS TABLE
WITH spread AS (
  SELECT k.*,
    (k.nano::DECIMAL(18, 0) * 0.000000001)::DECIMAL(18, 9) AS total_mm2,
    n.size AS narrowest_size, n.area_mm2 AS narrowest_mm2, n.clamp_mm2 AS clamp_narrowest_mm2,
    w.size AS widest_size, w.area_mm2 AS widest_mm2, w.clamp_mm2 AS clamp_widest_mm2,
    k.traits & 1 > 0 AS unknown_size, k.traits & 2 > 0 AS solid, k.traits & 4 > 0 AS stranded, k.traits & 8 > 0 AS flexible,
    k.traits & 16 > 0 AS copper, k.traits & 32 > 0 AS aluminium, k.traits & 64 > 0 AS copper_clad, k.traits & 128 > 0 AS solid_aluminium,
    bit_count((k.traits >> 4) & 7)::INTEGER AS metals, k.traits & 256 > 0 AS ends_named,
    (k.first_nano::DECIMAL(18, 0) * 0.000000001)::DECIMAL(18, 9) AS first_mm2,
    (k.second_nano::DECIMAL(18, 0) * 0.000000001)::DECIMAL(18, 9) AS second_mm2
  FROM query_table(keys) k LEFT JOIN joint_size n ON n.rank = k.low LEFT JOIN joint_size w ON w.rank = k.high
)
SELECT s.*,
  CASE WHEN s.ends_named THEN least(s.first_mm2, s.second_mm2) WHEN s.conductors = 2 THEN s.narrowest_mm2 END AS least_end_mm2,
  CASE WHEN s.ends_named THEN greatest(s.first_mm2, s.second_mm2) WHEN s.conductors = 2 THEN s.widest_mm2 END AS greatest_end_mm2,
  CASE WHEN s.ends_named THEN greatest(s.first_conductors, s.second_conductors) WHEN s.conductors = 2 THEN 1 END AS end_conductors
FROM spread s;

-- One row a joint: how many conductors, their total, the narrowest, the widest, the ends, what they are made of.
CREATE OR REPLACE MACRO joint_facts(joints) AS TABLE
WITH keys_of_joints AS (FROM joint_keys(joints))
SELECT f.* EXCLUDE (nano, low, high, traits, first_nano, second_nano) FROM facts_of_keys('keys_of_joints') f;

-- The rule itself. `facts` names rows as joint_facts gives them; each meets every class that the demands ask for. A demand
-- may be a column of `facts` too, and then each joint has its own.
-- `breaks` has one bit for each limit of the class that is broken, `family_breaks` one for each reason why the family in
-- the variant asked for takes no such joint at all; a class takes a joint where both are 0.
CREATE OR REPLACE MACRO class_admission(facts, family := NULL, grip := NULL, location := NULL, temperature_c := NULL,
    material_mark := NULL, pass_through := false, reopenable := false, voltage := NULL) AS TABLE
WITH met AS (
  SELECT f.*, o.*,
    CASE WHEN o.family = 'crimped butt' THEN f.end_conductors ELSE f.conductors END AS counted,
    CASE WHEN o.family = 'crimped butt' THEN f.least_end_mm2 ELSE f.total_mm2 END AS least_mm2,
    CASE WHEN o.family = 'crimped butt' THEN f.greatest_end_mm2 ELSE f.total_mm2 END AS most_mm2,
    CASE WHEN o.series = 'clamp' THEN f.clamp_narrowest_mm2 ELSE f.narrowest_mm2 END AS narrow_mm2,
    CASE WHEN o.series = 'clamp' THEN f.clamp_widest_mm2 ELSE f.widest_mm2 END AS wide_mm2
  FROM query_table(facts) f JOIN offered_class o ON o.wanted = CASE
      WHEN location IN ('wet', 'burial') THEN 'sealed'
      WHEN pass_through THEN 'grounding'
      WHEN f.aluminium OR f.metals > 1 OR material_mark = 'al-cu' THEN 'copper-aluminium'
      WHEN temperature_c > (SELECT v.planned_degc FROM connector_variant v WHERE v.variant = 'general') THEN 'high temperature'
      ELSE 'general' END
  WHERE (family IS NULL OR o.family = family) AND (grip IS NULL OR o.grip = grip)
)
SELECT m.*,
  CASE WHEN m.unknown_size THEN 1 ELSE 0 END
  + CASE WHEN m.solid_aluminium THEN 2 ELSE 0 END
  + CASE WHEN temperature_c > m.most_degc THEN 4 ELSE 0 END
  + CASE WHEN m.is_made THEN 0 ELSE 8 END
  + CASE WHEN material_mark = 'cu' AND (m.aluminium OR m.copper_clad) THEN 16 ELSE 0 END
  + CASE WHEN m.flexible AND m.flexible_taken = 'no' THEN 32 ELSE 0 END
  + CASE WHEN m.flexible AND (m.aluminium OR m.metals > 1 OR material_mark = 'al-cu') THEN 64 ELSE 0 END
  + CASE WHEN m.solid AND m.solid_taken = 'no' OR m.stranded AND m.stranded_taken = 'no' THEN 128 ELSE 0 END
  + CASE WHEN reopenable AND m.reopens = 'no' THEN 256 ELSE 0 END
  + CASE WHEN voltage > m.greatest_voltage_v THEN 512 ELSE 0 END AS family_breaks,
  CASE WHEN m.counted IS NULL THEN 1 ELSE 0 END
  + CASE WHEN m.conductors < m.min_conductors THEN 2 ELSE 0 END
  + CASE WHEN m.counted > m.max_conductors THEN 4 ELSE 0 END
  + CASE WHEN m.least_mm2 < m.min_total_mm2 THEN 8 ELSE 0 END
  + CASE WHEN m.most_mm2 > m.max_total_mm2 THEN 16 ELSE 0 END
  + CASE WHEN m.widest_mm2 <= m.over_run_mm2 THEN 32 ELSE 0 END
  + CASE WHEN m.wide_mm2 > m.max_conductor_mm2 THEN 64 ELSE 0 END
  + CASE WHEN m.narrow_mm2 < m.min_conductor_mm2 THEN 128 ELSE 0 END AS breaks
FROM met m;

-- The same in words: `admitted`, or the first reason why not. Butt joints whose two ends are not told apart are left out, unless
-- that family is asked for.
CREATE OR REPLACE MACRO classes_of_facts(facts, family := NULL, grip := NULL, location := NULL, temperature_c := NULL,
    material_mark := NULL, pass_through := false, reopenable := false, voltage := NULL) AS TABLE
SELECT
  m.joint, m.class, m.family, m.size, m.ways, m.grip, m.variant, m.breaks + m.family_breaks = 0 AS admitted,
  m.total_mm2, m.total_min_mm2, m.total_max_mm2, m.room_cm3, m.rank,
  CASE WHEN m.breaks + m.family_breaks = 0
    THEN ln((m.total_mm2 / m.total_min_mm2)::DOUBLE) / ln((m.total_max_mm2 / m.total_min_mm2)::DOUBLE) END AS margin,
  CASE
    WHEN m.breaks + m.family_breaks = 0 THEN NULL
    WHEN m.family_breaks > 0 THEN CASE m.family_breaks & -m.family_breaks
      WHEN 1 THEN 'a size that is not in the tables'
      WHEN 2 THEN 'existing solid aluminium branch wiring gets no class: see CPSC publication 516 and ask a qualified person'
      WHEN 4 THEN 'no class is planned above ' || m.most_degc || ' °C'
      WHEN 8 THEN 'no ' || m.family || ' connector is made as ' || m.wanted || ', which is asked for'
      WHEN 16 THEN 'aluminium and copper-clad aluminium do not go in a connector marked CU alone'
      WHEN 32 THEN m.family || ' connectors take no flexible conductor as it comes'
      WHEN 64 THEN 'flexible conductors do not go in a copper-aluminium connector'
      WHEN 128 THEN m.family || ' connectors do not take this construction'
      WHEN 256 THEN m.wanted || ' ' || m.family || ' connectors are not made to be opened again'
      ELSE 'no ' || m.family || ' connector is marked above ' || m.greatest_voltage_v || ' V' END
    WHEN m.first_break < 8 THEN CASE m.first_break
      WHEN 1 THEN 'the two ends of a butt joint are not told apart'
      WHEN 2 THEN m.counted || ' conductor is below the ' || m.min_conductors || ' this class needs'
      ELSE m.counted || ' conductors' || m.of_end || ' are above the ' || m.max_conductors || ' this class takes' END
    ELSE CASE m.first_break
      WHEN 8 THEN 'total ' || m.figures[1] || m.of_end || ' is below the ' || m.figures[2] || ' this class needs'
      WHEN 16 THEN 'total ' || m.figures[1] || m.of_end || ' is above the ' || m.figures[2] || ' this class takes'
      WHEN 32 THEN 'run ' || m.widest_size || ' (' || m.figures[1] || ') is not above the ' || m.figures[2] || ' this class needs'
      WHEN 64 THEN m.widest_size || ' (' || m.figures[1] || ') is wider than the ' || m.figures[2] || ' this class takes'
      ELSE m.narrowest_size || ' (' || m.figures[1] || ') is narrower than the ' || m.figures[2] || ' this class takes' END
  END AS reason
FROM (
  SELECT b.*, CASE WHEN b.first_break >= 8 THEN [mm2_beside(b.measured, b.bound), mm2_bound(b.bound)] END AS figures
  FROM (
    SELECT a.*, a.breaks & -a.breaks AS first_break, CASE WHEN a.family = 'crimped butt' THEN ' of one end' ELSE '' END AS of_end,
      CASE WHEN a.family <> 'crimped butt' THEN a.min_total_mm2 END AS total_min_mm2,
      CASE WHEN a.family <> 'crimped butt' THEN a.max_total_mm2 END AS total_max_mm2,
      CASE a.breaks & -a.breaks WHEN 8 THEN a.least_mm2 WHEN 16 THEN a.most_mm2 WHEN 32 THEN a.widest_mm2 WHEN 64 THEN a.wide_mm2 ELSE a.narrow_mm2 END AS measured,
      CASE a.breaks & -a.breaks WHEN 8 THEN a.min_total_mm2 WHEN 16 THEN a.max_total_mm2 WHEN 32 THEN a.over_run_mm2 WHEN 64 THEN a.max_conductor_mm2 ELSE a.min_conductor_mm2 END AS bound
    FROM class_admission(facts, family := family, grip := grip, location := location, temperature_c := temperature_c,
      material_mark := material_mark, pass_through := pass_through, reopenable := reopenable, voltage := voltage) a
  ) b
) m
WHERE m.breaks & 1 = 0 OR family = 'crimped butt';

CREATE OR REPLACE MACRO joint_classes(joints, family := NULL, grip := NULL, location := NULL, temperature_c := NULL,
    material_mark := NULL, pass_through := false, reopenable := false, voltage := NULL) AS TABLE
WITH facts_of_joints AS (FROM joint_facts(joints))
FROM classes_of_facts('facts_of_joints', family := family, grip := grip, location := location, temperature_c := temperature_c,
  material_mark := material_mark, pass_through := pass_through, reopenable := reopenable, voltage := voltage);

-- The classes that take each joint, in order of room inside each family.
CREATE OR REPLACE MACRO joint_choices(joints, family := NULL, grip := NULL, location := NULL, temperature_c := NULL,
    material_mark := NULL, pass_through := false, reopenable := false, voltage := NULL) AS TABLE
SELECT c.* EXCLUDE (admitted, reason)
FROM joint_classes(joints, family := family, grip := grip, location := location, temperature_c := temperature_c,
  material_mark := material_mark, pass_through := pass_through, reopenable := reopenable, voltage := voltage) c
WHERE c.admitted ORDER BY c.joint, c.family, c.rank;

-- The first choice of each joint in each family that has one. Joints alike in every fact are met with the classes once.
CREATE OR REPLACE MACRO joint_choice(joints, family := NULL, grip := NULL, location := NULL, temperature_c := NULL,
    material_mark := NULL, pass_through := false, reopenable := false, voltage := NULL) AS TABLE
WITH keys_of_joints AS MATERIALIZED (
  SELECT k.*, (least(k.conductors, 65535)::BIGINT << 44) + (k.traits::BIGINT << 34) + (coalesce(k.low, 0)::BIGINT << 24)
    + (coalesce(k.high, 0)::BIGINT << 14) + (least(k.first_conductors, 127)::BIGINT << 7) + least(k.second_conductors, 127)::BIGINT AS packed
  FROM joint_keys(joints) k
), alike AS (
  SELECT k.packed, k.nano, k.first_nano, k.second_nano, any_value(k.conductors) AS conductors, any_value(k.traits) AS traits,
    any_value(k.low) AS low, any_value(k.high) AS high, any_value(k.first_conductors) AS first_conductors, any_value(k.second_conductors) AS second_conductors
  FROM keys_of_joints k GROUP BY k.packed, k.nano, k.first_nano, k.second_nano
), facts_of_alike AS (FROM facts_of_keys('alike')),
best AS (
  SELECT a.packed, a.nano, a.first_nano, a.second_nano, a.family AS family, arg_min(a.series, a.rank) AS series, arg_min(a.class, a.rank) AS class
  FROM class_admission('facts_of_alike', family := family, grip := grip, location := location, temperature_c := temperature_c,
    material_mark := material_mark, pass_through := pass_through, reopenable := reopenable, voltage := voltage) a
  WHERE a.breaks + a.family_breaks = 0
  GROUP BY a.packed, a.nano, a.first_nano, a.second_nano, a.family
)
SELECT k.joint, b.family, b.series, b.class
FROM keys_of_joints k JOIN best b
  ON b.packed = k.packed AND b.nano = k.nano AND b.first_nano = k.first_nano AND b.second_nano = k.second_nano;
