-- box_fill: what each box needs, what it has, and whether it passes.
--
--   FROM box_fill('items', 'nec-2023')
--
-- One row a box, or a space of it: box, space, edition, required_in3, required_cm3, available_in3, available_cm3,
-- passes (null where the rules leave it open), largest_conductor, first_row (least file_row), boxes, note,
-- problems (0 is good; else the figures are null and box_problems says why), volume_passes, limits_pass,
-- assumptions, cautions, volume_unit (of the verdict), first_unit (what people see first), table_box.
-- Rows come in no order; ORDER BY first_row gives the order of the file. Columns not selected cost nothing.

CREATE OR REPLACE MACRO box_words(text) AS CASE WHEN text = '' THEN CAST([] AS VARCHAR[]) ELSE string_split(text, ' ') END;
CREATE OR REPLACE MACRO box_in3(e4) AS CAST(CAST(e4 AS DECIMAL(14, 0)) * 0.0001::DECIMAL(4, 4) AS DECIMAL(18, 10));
CREATE OR REPLACE MACRO box_e10(e10) AS CAST(CAST(e10 AS DECIMAL(28, 0)) * 0.0000000001::DECIMAL(10, 10) AS DECIMAL(18, 10));
CREATE OR REPLACE MACRO box_cm3_of_e4(e4) AS CAST(CAST(e4 AS HUGEINT) * 16387064 AS DECIMAL(28, 0)) * 0.0000000001::DECIMAL(10, 10);
CREATE OR REPLACE MACRO box_in3_of_e12(e12) AS
  CASE WHEN e12 % 16387064 = 0 THEN CAST(CAST(e12 // 16387064 AS DECIMAL(18, 0)) * 0.000001 AS DECIMAL(18, 10))
       ELSE CAST(CAST(CAST(e12 AS HUGEINT) * 10000 // 16387064 AS DECIMAL(28, 0)) * 0.0000000001::DECIMAL(10, 10) AS DECIMAL(18, 10)) END;

CREATE OR REPLACE MACRO box_fill_of_nec(state, edition) AS TABLE
SELECT s.box, s.space, edition AS edition,
  CASE WHEN s.problems = 0 THEN box_in3(s.required_e4) END AS required_in3,
  CASE WHEN s.problems = 0 THEN CAST(box_cm3_of_e4(s.required_e4) AS DECIMAL(18, 10)) END AS required_cm3,
  CASE WHEN s.problems = 0 THEN CASE WHEN s.plain_e4 IS NOT NULL THEN box_in3(s.plain_e4) ELSE box_in3_of_e12(s.available_e12) END END AS available_in3,
  CASE WHEN s.problems = 0 THEN CAST(CAST(s.available_e12 // 100 AS DECIMAL(28, 0)) * 0.0000000001::DECIMAL(10, 10) AS DECIMAL(18, 10)) END AS available_cm3,
  CASE WHEN s.problems = 0 THEN CASE WHEN s.divided THEN CASE WHEN s.holds THEN NULL ELSE false END ELSE s.holds END AND s.limits_pass END AS passes,
  CASE WHEN s.problems = 0 THEN coalesce(s.pull_largest, s.top_size[s.present + 1]) END AS largest_conductor,
  s.first_row, coalesce(s.boxes, 1)::INTEGER AS boxes, s.note, s.problems::INTEGER AS problems,
  CASE WHEN s.problems = 0 THEN CASE WHEN s.divided THEN CASE WHEN s.holds THEN NULL ELSE false END ELSE s.holds END END AS volume_passes,
  CASE WHEN s.problems = 0 THEN s.limits_pass END AS limits_pass,
  CASE WHEN s.problems = 0 THEN box_words(s.assumed) END AS assumptions,
  CASE WHEN s.problems = 0 THEN CAST([] AS VARCHAR[]) END AS cautions,
  'in3' AS volume_unit, 'in3' AS first_unit,
  CASE WHEN s.problems = 0 THEN s.table_box END AS table_box
FROM query_table(state) s;

CREATE OR REPLACE MACRO box_fill_nec(items, edition) AS TABLE
WITH box_f_rows AS NOT MATERIALIZED (FROM box_rows(items, edition)), 
-- what a box, an extension or a barrier carries, and how far devices project, is read from their rows alone
box_f_extra AS NOT MATERIALIZED (SELECT r.* FROM box_rows(items, edition) r
  WHERE CAST(r.item AS VARCHAR) ILIKE '%bo%' OR CAST(r.item AS VARCHAR) ILIKE '%extension%' OR CAST(r.item AS VARCHAR) ILIKE '%barrier%'),
box_f_device AS NOT MATERIALIZED (SELECT r.* FROM box_rows(items, edition) r WHERE CAST(r.item AS VARCHAR) ILIKE '%device%'),
 box_f_pull AS NOT MATERIALIZED (FROM box_rows(items, edition)),
box_f_places AS NOT MATERIALIZED (FROM box_places(items)), box_f_pulls AS NOT MATERIALIZED (FROM box_pull_lines('box_f_pull', 'box_f_places', edition)),
box_f_sums AS NOT MATERIALIZED (FROM box_sums_of_many('box_f_rows')),
box_f_state AS NOT MATERIALIZED (FROM box_state_nec('box_f_sums', 'box_f_rows', 'box_f_extra', 'box_f_device', 'box_f_pulls', 'box_f_places', edition))
FROM box_fill_of_nec('box_f_state', edition);
