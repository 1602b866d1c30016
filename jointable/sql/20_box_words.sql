-- Words of a box schedule: how sizes, box names and items are read, and the code tables made of them.
--
-- Scalar macros (usable by themselves):
--   box_size_key('#12 AWG')            '12'             a conductor size without the ways to write it
--   box_name_key('Square 4 × 1½')      'square|1.5000,4.0000'   a box name in any order of its parts
--   box_number('2-1/2')                2.5000           one dimension: fraction, decimal, inch or mm
--   box_item_key(' Fixture wire')      'fixture_wire'
--   box_whole('3.0')                   3                a whole number from 0 to 9,999; null is 1
--   box_decimal('18.00')               18.000000        a number with at most six decimals
--
-- Tables that this file derives from `edition`, `allowance`, `box`, `fill_rule`, `box_limit` and
-- `conductor_size` (hidden: they hold no figure of their own):
--   fill_code     edition, item, size (one way to write it) -> what a row of it adds to its box
--   fill_edition  edition -> the figures of its rules in one row
-- Every figure of the calculation reaches it through them.

CREATE OR REPLACE MACRO box_size_key(t) AS
  regexp_replace(regexp_replace(
    replace(replace(replace(
      translate(lower(CAST(t AS VARCHAR)), ' #' || chr(9) || chr(160), ''),
      'awg', ''), '²', '2'), 'mcm', 'kcmil'),
    '(\.[0-9]*?)0+($|[a-z/])', '\1\2'), '\.($|[a-z/])', '\1');

-- Inches as decimals: fraction signs and `1-1/2` become 1.5. Leading and trailing space is kept.
CREATE OR REPLACE MACRO box_decimals(t) AS
  replace(replace(replace(replace(replace(replace(replace(replace(
  replace(replace(replace(replace(replace(replace(replace(
    regexp_replace(
      replace(replace(replace(replace(replace(replace(replace(replace(
        ' ' || lower(CAST(t AS VARCHAR)) || ' ',
        '½', ' 1/2'), '¼', ' 1/4'), '¾', ' 3/4'), '⅛', ' 1/8'), '⅜', ' 3/8'), '⅝', ' 5/8'), '⅞', ' 7/8'),
        '⁄', '/'),
      '[ "″”“×–-]+', ' ', 'g'),
    ' 1/16', '.0625'), ' 3/16', '.1875'), ' 5/16', '.3125'), ' 7/16', '.4375'),
    ' 9/16', '.5625'), ' 11/16', '.6875'), ' 13/16', '.8125'), ' 15/16', '.9375'),
    ' 1/8', '.125'), ' 3/8', '.375'), ' 5/8', '.625'), ' 7/8', '.875'),
    ' 1/4', '.25'), ' 3/4', '.75'), ' 1/2', '.5');

-- The words of a box name, sorted; octagonal is round, and words that tell nothing apart are dropped.
CREATE OR REPLACE MACRO box_name_words(decimals) AS
  array_to_string(list_sort(list_distinct(string_split(trim(regexp_replace(regexp_replace(
    replace(replace(regexp_replace(decimals, '[^a-z]+', '  ', 'g'), 'octagonal', 'round'), 'octagon', 'round'),
    '\b(x|in|inch|inches|mm|by|box|boxes|gang|gangs|cover|min|deep|depth)\b', ' ', 'g'), ' +', ' ', 'g')), ' '))), ' ');

CREATE OR REPLACE MACRO box_name_numbers(decimals) AS
  array_to_string(list_sort(TRY_CAST(regexp_extract_all(decimals, '[0-9]*\.?[0-9]+') AS DECIMAL(9, 4)[])), ',');

CREATE OR REPLACE MACRO box_name_key(t) AS
  box_name_words(box_decimals(t)) || '|' || box_name_numbers(box_decimals(t));

CREATE OR REPLACE MACRO box_number(t) AS
  TRY_CAST(regexp_extract(box_decimals(t), '^ ?([0-9]*\.?[0-9]+) ?(mm|in|inch|inches)? ?$', 1) AS DECIMAL(9, 4));

CREATE OR REPLACE MACRO box_item_key(t) AS
  regexp_replace(trim(lower(CAST(t AS VARCHAR))), '[ -]+', '_', 'g');

-- Text and numbers alike; typeof is settled when the query is planned, so whole columns cost no parsing.
CREATE OR REPLACE MACRO box_is_whole_type(x) AS
  typeof(x) IN ('TINYINT', 'SMALLINT', 'INTEGER', 'BIGINT', 'UTINYINT', 'USMALLINT', 'UINTEGER', '"NULL"');

CREATE OR REPLACE MACRO box_whole(x) AS
  CASE WHEN x IS NULL THEN 1
       WHEN box_is_whole_type(x) THEN CASE WHEN TRY_CAST(x AS BIGINT) BETWEEN 0 AND 9999 THEN TRY_CAST(x AS BIGINT) END
       WHEN trim(CAST(x AS VARCHAR)) = '' THEN 1
       WHEN regexp_full_match(trim(CAST(x AS VARCHAR)), '\+?0*[0-9]{1,4}(\.0*)?')
         THEN TRY_CAST(TRY_CAST(x AS DECIMAL(18, 6)) AS BIGINT)
  END;

CREATE OR REPLACE MACRO box_blank(x) AS
  x IS NULL OR (typeof(x) = 'VARCHAR' AND trim(CAST(x AS VARCHAR)) = '');

-- At most six decimals, so that every later step is exact; a float column is taken as the decimal it prints.
CREATE OR REPLACE MACRO box_decimal(x) AS
  CASE WHEN typeof(x) <> 'VARCHAR' OR regexp_full_match(trim(CAST(x AS VARCHAR)), '\+?[0-9]{0,9}\.?[0-9]{0,6}0*')
       THEN TRY_CAST(x AS DECIMAL(18, 6)) END;
