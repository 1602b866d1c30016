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

-- One row a joint. A row of quantity 0 is none, an empty quantity is 1; a conductor is solid up to 10 AWG or 6 mm²,
-- stranded above, and copper, unless said. Without ends named, two conductors are one an end.
CREATE OR REPLACE MACRO joint_facts(joints) AS TABLE
WITH given AS (
  FROM (SELECT NULL::VARCHAR AS construction, NULL::VARCHAR AS material, NULL::INTEGER AS end_of WHERE false)
  UNION ALL BY NAME FROM query_table(joints)
), conductor AS (
  SELECT
    g.joint AS joint, coalesce(g.quantity, 1)::INTEGER AS quantity, s.size AS size, s.area_mm2 AS area_mm2, s.clamp_mm2 AS clamp_mm2,
    coalesce(g.construction, CASE WHEN s.area_mm2 <= 6 THEN 'solid' ELSE 'stranded' END) AS construction,
    coalesce(g.material, 'copper') AS material, g.end_of AS end_of
  FROM given g LEFT JOIN joint_size s
    ON s.size = CASE WHEN contains(g.size::VARCHAR, ' ') THEN g.size::VARCHAR ELSE g.size::VARCHAR || ' AWG' END
  WHERE coalesce(g.quantity, 1) > 0
), total AS (
  SELECT
    c.joint AS joint,
    sum(c.quantity)::INTEGER AS conductors,
    sum(c.quantity * c.area_mm2)::DECIMAL(18, 9) AS total_mm2,
    min(c.area_mm2) AS narrowest_mm2, max(c.area_mm2) AS widest_mm2,
    arg_min(c.size, c.area_mm2) AS narrowest_size, arg_max(c.size, c.area_mm2) AS widest_size,
    min(c.clamp_mm2) AS clamp_narrowest_mm2, max(c.clamp_mm2) AS clamp_widest_mm2,
    arg_min(c.size, c.clamp_mm2) AS clamp_narrowest_size, arg_max(c.size, c.clamp_mm2) AS clamp_widest_size,
    count(c.end_of) > 0 AS ends_named,
    sum(c.quantity) FILTER (c.end_of = 1)::INTEGER AS first_conductors,
    sum(c.quantity) FILTER (c.end_of = 2)::INTEGER AS second_conductors,
    sum(c.quantity * c.area_mm2) FILTER (c.end_of = 1)::DECIMAL(18, 9) AS first_mm2,
    sum(c.quantity * c.area_mm2) FILTER (c.end_of = 2)::DECIMAL(18, 9) AS second_mm2,
    bool_or(c.size IS NULL) AS unknown_size,
    bool_or(c.construction = 'solid') AS solid,
    bool_or(c.construction = 'stranded') AS stranded,
    bool_or(c.construction NOT IN ('solid', 'stranded')) AS flexible,
    bool_or(c.material = 'copper') AS copper,
    bool_or(c.material = 'aluminium') AS aluminium,
    bool_or(c.material = 'copper-clad') AS copper_clad,
    bool_or(c.material = 'aluminium' AND c.construction = 'solid') AS solid_aluminium
  FROM conductor c GROUP BY c.joint
)
SELECT
  t.*,
  CASE WHEN t.ends_named THEN least(t.first_mm2, t.second_mm2) WHEN t.conductors = 2 THEN t.narrowest_mm2 END AS least_end_mm2,
  CASE WHEN t.ends_named THEN greatest(t.first_mm2, t.second_mm2) WHEN t.conductors = 2 THEN t.widest_mm2 END AS greatest_end_mm2,
  CASE WHEN t.ends_named THEN greatest(t.first_conductors, t.second_conductors) WHEN t.conductors = 2 THEN 1 END AS end_conductors,
  t.copper::INTEGER + t.aluminium::INTEGER + t.copper_clad::INTEGER AS metals
FROM total t;

-- The variant that the demands on a joint name; general where none does.
CREATE OR REPLACE MACRO joint_variant(aluminium, metals, location, temperature_c, material_mark, pass_through) AS CASE
  WHEN location IN ('wet', 'burial') THEN 'sealed'
  WHEN pass_through THEN 'grounding'
  WHEN aluminium OR metals > 1 OR material_mark = 'al-cu' THEN 'copper-aluminium'
  WHEN temperature_c > (SELECT v.planned_degc FROM connector_variant v WHERE v.variant = 'general') THEN 'high temperature'
  ELSE 'general' END;

-- Which limits of a class a joint breaks, one bit each; 0 where it keeps them all.
CREATE OR REPLACE MACRO class_breaks(f, c) AS
    CASE WHEN f.conductors < c.min_conductors THEN 1 ELSE 0 END
  + CASE WHEN CASE WHEN c.family = 'crimped butt' THEN f.end_conductors ELSE f.conductors END > c.max_conductors THEN 2 ELSE 0 END
  + CASE WHEN CASE WHEN c.family = 'crimped butt' THEN f.least_end_mm2 ELSE f.total_mm2 END < c.min_total_mm2 THEN 4 ELSE 0 END
  + CASE WHEN CASE WHEN c.family = 'crimped butt' THEN f.greatest_end_mm2 ELSE f.total_mm2 END > c.max_total_mm2 THEN 8 ELSE 0 END
  + CASE WHEN CASE WHEN c.series = 'clamp' THEN f.clamp_narrowest_mm2 ELSE f.narrowest_mm2 END < c.min_conductor_mm2 THEN 16 ELSE 0 END
  + CASE WHEN CASE WHEN c.series = 'clamp' THEN f.clamp_widest_mm2 ELSE f.widest_mm2 END > c.max_conductor_mm2 THEN 32 ELSE 0 END
  + CASE WHEN f.widest_mm2 <= c.over_run_mm2 THEN 64 ELSE 0 END
  + CASE WHEN c.family = 'crimped butt' AND f.least_end_mm2 IS NULL THEN 128 ELSE 0 END;

-- Why a family in the variant asked for takes no such joint at all, one bit each; 0 where it may.
-- `has_variant` says whether the family is made in that variant.
CREATE OR REPLACE MACRO family_breaks(f, m, variant, has_variant, opens, temperature_c, material_mark, reopenable, voltage) AS
    CASE WHEN f.unknown_size THEN 1 ELSE 0 END
  + CASE WHEN f.solid_aluminium THEN 2 ELSE 0 END
  + CASE WHEN temperature_c > (SELECT max(v.planned_degc) FROM connector_variant v) THEN 4 ELSE 0 END
  + CASE WHEN has_variant THEN 0 ELSE 8 END
  + CASE WHEN material_mark = 'cu' AND (f.aluminium OR f.copper_clad) THEN 16 ELSE 0 END
  + CASE WHEN f.flexible AND (m.flexible = 'no' OR f.aluminium OR f.metals > 1 OR material_mark = 'al-cu') THEN 32 ELSE 0 END
  + CASE WHEN f.solid AND m.solid = 'no' THEN 64 ELSE 0 END
  + CASE WHEN f.stranded AND m.stranded = 'no' THEN 128 ELSE 0 END
  + CASE WHEN reopenable AND (m.reopenable = 'no' OR opens = 'no') THEN 256 ELSE 0 END
  + CASE WHEN voltage > m.greatest_voltage_v THEN 512 ELSE 0 END;
