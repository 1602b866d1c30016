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

-- An area in mm² with as many decimals as tell it from another, one at least.
CREATE OR REPLACE MACRO mm2_beside(area, other) AS CASE
  WHEN area::DECIMAL(12, 1) <> other::DECIMAL(12, 1) THEN area::DECIMAL(12, 1)::VARCHAR
  WHEN area::DECIMAL(12, 2) <> other::DECIMAL(12, 2) THEN area::DECIMAL(12, 2)::VARCHAR
  WHEN area::DECIMAL(12, 3) <> other::DECIMAL(12, 3) THEN area::DECIMAL(12, 3)::VARCHAR
  WHEN area::DECIMAL(12, 4) <> other::DECIMAL(12, 4) THEN area::DECIMAL(12, 4)::VARCHAR
  WHEN area::DECIMAL(12, 5) <> other::DECIMAL(12, 5) THEN area::DECIMAL(12, 5)::VARCHAR
  WHEN area::DECIMAL(12, 6) <> other::DECIMAL(12, 6) THEN area::DECIMAL(12, 6)::VARCHAR
  WHEN area <> other THEN area::DECIMAL(18, 9)::VARCHAR
  ELSE area::DECIMAL(12, 1)::VARCHAR END || ' mm²';

-- One row a joint, packed: count and total (in billionths of mm²) of all and of each end, the ranks of the narrowest
-- and the widest size, and `traits`, one bit each for a size that is not in the tables, solid, stranded, flexible, copper,
-- aluminium, copper-clad, solid aluminium, ends told apart. A row of quantity 0 is none, an empty quantity is 1; a
-- conductor is solid up to 10 AWG or 6 mm², stranded above, and copper, unless said.
CREATE OR REPLACE MACRO joint_keys(joints) AS TABLE
WITH given AS (
  FROM (SELECT NULL::VARCHAR AS construction, NULL::VARCHAR AS material, NULL::INTEGER AS end_of WHERE false)
  UNION ALL BY NAME FROM query_table(joints)
), known AS (
  SELECT s.size, s.rank, (s.area_mm2::DECIMAL(28, 9) * 1000000000)::BIGINT AS nano, CASE WHEN s.area_mm2 <= 6 THEN 2 ELSE 4 END AS usual
  FROM joint_size s
), conductor AS (
  SELECT g.joint AS joint, coalesce(g.quantity, 1)::INTEGER AS quantity, k.rank AS rank, coalesce(k.nano, 0) AS nano, g.end_of AS end_of,
    CASE g.construction WHEN 'solid' THEN 2 WHEN 'stranded' THEN 4 WHEN 'flexible' THEN 8 ELSE CASE WHEN g.construction IS NULL THEN k.usual ELSE 8 END END AS made,
    CASE g.material WHEN 'aluminium' THEN 32 WHEN 'copper-clad' THEN 64 ELSE 16 END AS metal,
    CASE WHEN k.rank IS NULL THEN 1 ELSE 0 END AS unknown
  FROM given g LEFT JOIN known k
    ON k.size = CASE WHEN contains(g.size::VARCHAR, ' ') THEN g.size::VARCHAR ELSE g.size::VARCHAR || ' AWG' END
  WHERE coalesce(g.quantity, 1) > 0
)
SELECT
  c.joint AS joint,
  sum(c.quantity)::INTEGER AS conductors, sum(c.quantity * c.nano)::BIGINT AS nano,
  min(c.rank) AS low, max(c.rank) AS high,
  bit_or(c.unknown + coalesce(c.made, 0) + c.metal + CASE WHEN c.made = 2 AND c.metal = 32 THEN 128 ELSE 0 END
    + CASE WHEN c.end_of IS NOT NULL THEN 256 ELSE 0 END) AS traits,
  coalesce(sum(c.quantity) FILTER (c.end_of = 1), 0)::INTEGER AS first_conductors,
  coalesce(sum(c.quantity) FILTER (c.end_of = 2), 0)::INTEGER AS second_conductors,
  coalesce(sum(c.quantity * c.nano) FILTER (c.end_of = 1), 0)::BIGINT AS first_nano,
  coalesce(sum(c.quantity * c.nano) FILTER (c.end_of = 2), 0)::BIGINT AS second_nano
FROM conductor c GROUP BY c.joint;

-- The facts that rows of joint_keys stand for, beside the keys themselves.
CREATE OR REPLACE MACRO facts_of_keys(keys) AS TABLE
WITH spread AS (
  SELECT k.*,
    (k.nano::DECIMAL(18, 0) * 0.000000001)::DECIMAL(18, 9) AS total_mm2,
    n.size AS narrowest_size, n.area_mm2 AS narrowest_mm2, n.clamp_mm2 AS clamp_narrowest_mm2,
    w.size AS widest_size, w.area_mm2 AS widest_mm2, w.clamp_mm2 AS clamp_widest_mm2,
    k.traits & 1 > 0 AS unknown_size, k.traits & 2 > 0 AS solid, k.traits & 4 > 0 AS stranded, k.traits & 8 > 0 AS flexible,
    k.traits & 16 > 0 AS copper, k.traits & 32 > 0 AS aluminium, k.traits & 64 > 0 AS copper_clad, k.traits & 128 > 0 AS solid_aluminium,
    bit_count((k.traits >> 4) & 7) AS metals, k.traits & 256 > 0 AS ends_named,
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

-- The rule itself. `facts` names rows as joint_facts gives them; each meets every class that the demands ask for.
-- `breaks` holds one bit for each limit of the class that is broken, `family_breaks` one for each reason why the
-- family in the variant asked for takes no such joint at all; both are 0 where the class takes the joint.
CREATE OR REPLACE MACRO class_admission(facts, family := NULL, grip := NULL, location := NULL, temperature_c := NULL,
    material_mark := NULL, pass_through := false, reopenable := false, voltage := NULL) AS TABLE
WITH planned AS (
  SELECT max(v.planned_degc) FILTER (v.variant = 'general') AS general_degc, max(v.planned_degc) AS most_degc
  FROM connector_variant v
), wanted AS (
  SELECT f.*, p.most_degc,
    CASE
      WHEN location IN ('wet', 'burial') THEN 'sealed'
      WHEN pass_through THEN 'grounding'
      WHEN f.aluminium OR f.metals > 1 OR material_mark = 'al-cu' THEN 'copper-aluminium'
      WHEN temperature_c > p.general_degc THEN 'high temperature'
      ELSE 'general' END AS wanted
  FROM query_table(facts) f, planned p
), offered AS (
  SELECT m.family AS family, m.flexible AS flexible_taken, m.solid AS solid_taken, m.stranded AS stranded_taken,
    m.greatest_voltage_v AS greatest_voltage_v, v.variant AS wanted, x.variant IS NOT NULL AS is_made,
    CASE WHEN x.variant IS NULL THEN 'general' ELSE v.variant END AS variant,
    m.reopenable <> 'no' AND v.reopenable <> 'no' AS reopens
  FROM connector_family m CROSS JOIN connector_variant v
  LEFT JOIN family_variant x ON x.family = m.family AND x.variant = v.variant
), met AS (
  SELECT w.*, o.*EXCLUDE (wanted),
    CASE WHEN w.unknown_size THEN 1 ELSE 0 END
    + CASE WHEN w.solid_aluminium THEN 2 ELSE 0 END
    + CASE WHEN temperature_c > w.most_degc THEN 4 ELSE 0 END
    + CASE WHEN o.is_made THEN 0 ELSE 8 END
    + CASE WHEN material_mark = 'cu' AND (w.aluminium OR w.copper_clad) THEN 16 ELSE 0 END
    + CASE WHEN w.flexible AND o.flexible_taken = 'no' THEN 32 ELSE 0 END
    + CASE WHEN w.flexible AND (w.aluminium OR w.metals > 1 OR material_mark = 'al-cu') THEN 64 ELSE 0 END
    + CASE WHEN w.solid AND o.solid_taken = 'no' OR w.stranded AND o.stranded_taken = 'no' THEN 128 ELSE 0 END
    + CASE WHEN reopenable AND NOT o.reopens THEN 256 ELSE 0 END
    + CASE WHEN voltage > o.greatest_voltage_v THEN 512 ELSE 0 END AS family_breaks
  FROM wanted w JOIN offered o ON o.wanted = w.wanted
  WHERE family IS NULL OR o.family = family
)
SELECT n.*, c.* EXCLUDE (family, variant),
  CASE WHEN n.conductors < c.min_conductors THEN 1 ELSE 0 END
  + CASE WHEN (CASE WHEN n.family = 'crimped butt' THEN n.end_conductors ELSE n.conductors END) > c.max_conductors THEN 2 ELSE 0 END
  + CASE WHEN (CASE WHEN n.family = 'crimped butt' THEN n.least_end_mm2 ELSE n.total_mm2 END) < c.min_total_mm2 THEN 4 ELSE 0 END
  + CASE WHEN (CASE WHEN n.family = 'crimped butt' THEN n.greatest_end_mm2 ELSE n.total_mm2 END) > c.max_total_mm2 THEN 8 ELSE 0 END
  + CASE WHEN (CASE WHEN c.series = 'clamp' THEN n.clamp_narrowest_mm2 ELSE n.narrowest_mm2 END) < c.min_conductor_mm2 THEN 16 ELSE 0 END
  + CASE WHEN (CASE WHEN c.series = 'clamp' THEN n.clamp_widest_mm2 ELSE n.widest_mm2 END) > c.max_conductor_mm2 THEN 32 ELSE 0 END
  + CASE WHEN n.widest_mm2 <= c.over_run_mm2 THEN 64 ELSE 0 END
  + CASE WHEN n.family = 'crimped butt' AND n.end_conductors IS NULL THEN 128 ELSE 0 END AS breaks
FROM met n JOIN connector_class c ON c.family = n.family AND c.variant = n.variant
WHERE grip IS NULL OR c.grip = grip;

-- Every class that the demands ask for, with `admitted`, or the reason why not in words. Joints whose two ends are not
-- told apart leave out butt joints, unless that family is asked for.
CREATE OR REPLACE MACRO joint_classes(joints, family := NULL, grip := NULL, location := NULL, temperature_c := NULL,
    material_mark := NULL, pass_through := false, reopenable := false, voltage := NULL) AS TABLE
WITH facts_of_joints AS (FROM joint_facts(joints)), met AS (
  SELECT a.*, a.breaks + a.family_breaks = 0 AS admitted
  FROM class_admission('facts_of_joints', family := family, grip := grip, location := location, temperature_c := temperature_c,
    material_mark := material_mark, pass_through := pass_through, reopenable := reopenable, voltage := voltage) a
)
SELECT
  m.joint, m.class, m.family, m.size, m.ways, m.grip, m.variant, m.admitted, m.total_mm2,
  m.min_total_mm2 AS total_min_mm2, m.max_total_mm2 AS total_max_mm2, m.room_cm3, m.rank,
  CASE WHEN m.admitted AND m.family <> 'crimped butt'
    THEN ln(m.total_mm2::DOUBLE / m.min_total_mm2::DOUBLE) / ln(m.max_total_mm2::DOUBLE / m.min_total_mm2::DOUBLE) END AS margin,
  CASE
    WHEN m.admitted THEN NULL
    WHEN m.family_breaks & 1 > 0 THEN 'a size that is not in the tables'
    WHEN m.family_breaks & 2 > 0 THEN 'existing solid aluminium branch wiring gets no class: see CPSC publication 516 and ask a qualified person'
    ELSE concat_ws('; ',
      CASE WHEN m.family_breaks & 4 > 0 THEN 'no class is planned above ' || m.most_degc || ' °C' END,
      CASE WHEN m.family_breaks & 8 > 0 THEN 'no ' || m.family || ' is made in the variant ' || m.wanted || ', which is asked for' END,
      CASE WHEN m.family_breaks & 16 > 0 THEN
        CASE WHEN m.aluminium THEN 'aluminium' ELSE 'copper-clad aluminium' END || ' does not go in a connector marked CU alone' END,
      CASE WHEN m.family_breaks & 32 > 0 THEN 'a ' || m.family || ' takes no flexible conductor as it comes' END,
      CASE WHEN m.family_breaks & 64 > 0 THEN 'flexible conductors do not go in a copper-aluminium connector' END,
      CASE WHEN m.family_breaks & 128 > 0 THEN 'a ' || m.family || ' does not take this construction' END,
      CASE WHEN m.family_breaks & 256 > 0 THEN
        'a ' || CASE WHEN m.variant IN ('general', 'high temperature') THEN '' ELSE m.variant || ' ' END || m.family || ' is not made to be opened again' END,
      CASE WHEN m.family_breaks & 512 > 0 THEN 'no ' || m.family || ' is marked above ' || m.greatest_voltage_v || ' V' END,
      CASE WHEN m.breaks & 128 > 0 THEN 'the two ends of a butt joint are not told apart' END,
      CASE WHEN m.breaks & 1 > 0 THEN m.conductors || ' conductor is below the ' || m.min_conductors || ' this class needs' END,
      CASE WHEN m.breaks & 2 > 0 THEN
        CASE WHEN m.family = 'crimped butt' THEN m.end_conductors || ' conductors at one end are above the ' ELSE m.conductors || ' conductors are above the ' END
        || m.max_conductors || ' this class takes' END,
      CASE WHEN m.breaks & 4 > 0 THEN
        CASE WHEN m.family = 'crimped butt' THEN 'total ' || mm2_beside(m.least_end_mm2, m.min_total_mm2) || ' of one end is below the ' || mm2_beside(m.min_total_mm2, m.least_end_mm2)
        ELSE 'total ' || mm2_beside(m.total_mm2, m.min_total_mm2) || ' is below the ' || mm2_beside(m.min_total_mm2, m.total_mm2) END
        || ' this class needs' END,
      CASE WHEN m.breaks & 8 > 0 THEN
        CASE WHEN m.family = 'crimped butt' THEN 'total ' || mm2_beside(m.greatest_end_mm2, m.max_total_mm2) || ' of one end is above the ' || mm2_beside(m.max_total_mm2, m.greatest_end_mm2)
        ELSE 'total ' || mm2_beside(m.total_mm2, m.max_total_mm2) || ' is above the ' || mm2_beside(m.max_total_mm2, m.total_mm2) END
        || ' this class takes' END,
      CASE WHEN m.breaks & 64 > 0 THEN
        'run ' || m.widest_size || ' (' || mm2_beside(m.widest_mm2, m.over_run_mm2) || ') is not above the ' || mm2_beside(m.over_run_mm2, m.widest_mm2) || ' this class needs' END,
      CASE WHEN m.breaks & 16 > 0 THEN
        CASE WHEN m.series = 'clamp' THEN m.narrowest_size || ' (' || mm2_beside(m.clamp_narrowest_mm2, m.min_conductor_mm2) || ') is narrower than the '
          || mm2_beside(m.min_conductor_mm2, m.clamp_narrowest_mm2)
        ELSE m.narrowest_size || ' (' || mm2_beside(m.narrowest_mm2, m.min_conductor_mm2) || ') is narrower than the '
          || mm2_beside(m.min_conductor_mm2, m.narrowest_mm2) END || ' this class takes' END,
      CASE WHEN m.breaks & 32 > 0 THEN
        CASE WHEN m.series = 'clamp' THEN m.widest_size || ' (' || mm2_beside(m.clamp_widest_mm2, m.max_conductor_mm2) || ') is wider than the '
          || mm2_beside(m.max_conductor_mm2, m.clamp_widest_mm2)
        ELSE m.widest_size || ' (' || mm2_beside(m.widest_mm2, m.max_conductor_mm2) || ') is wider than the '
          || mm2_beside(m.max_conductor_mm2, m.widest_mm2) END || ' this class takes' END
    ) END AS reason
FROM met m
WHERE m.breaks & 128 = 0 OR family = 'crimped butt';

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
WITH keys_of_joints AS MATERIALIZED (FROM joint_keys(joints)),
alike AS (SELECT DISTINCT k.* EXCLUDE (joint) FROM keys_of_joints k),
facts_of_alike AS (FROM facts_of_keys('alike')),
best AS (
  SELECT a.conductors, a.nano, a.low, a.high, a.traits, a.first_conductors, a.second_conductors, a.first_nano, a.second_nano,
    a.family AS family, arg_min(a.series, a.rank) AS series, arg_min(a.class, a.rank) AS class
  FROM class_admission('facts_of_alike', family := family, grip := grip, location := location, temperature_c := temperature_c,
    material_mark := material_mark, pass_through := pass_through, reopenable := reopenable, voltage := voltage) a
  WHERE a.breaks + a.family_breaks = 0
  GROUP BY ALL
)
SELECT k.joint, b.family, b.series, b.class
FROM keys_of_joints k JOIN best b ON b.conductors = k.conductors AND b.nano = k.nano AND b.low = k.low AND b.high = k.high
  AND b.traits = k.traits AND b.first_conductors = k.first_conductors AND b.second_conductors = k.second_conductors
  AND b.first_nano = k.first_nano AND b.second_nano = k.second_nano;
