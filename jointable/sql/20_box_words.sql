-- Words of a box schedule: how sizes, box names, items and numbers are read.
--
--   box_size_key('#12 AWG')           '12'          a conductor size without the ways to write it
--   box_name_key('Square 4 × 1-1/2')  '1 1/2|4|square'   a box name in any order of its parts
--   box_item_key(' Fixture wire')     'fixture_wire'
--   box_whole('3.0')                  3             a whole number; null and empty text are 1
--   box_decimal('18.00')              18.000000     a number, read to six decimals
--
-- Each is one or two calls deep: DuckDB plans deeply nested calls slowly, and a box must be answered in
-- milliseconds. What a key does not settle (fraction signs, decimals, octagonal) stands as further rows of
-- the code tables of 21_box_codes.sql.

CREATE OR REPLACE MACRO box_size_key(t) AS
  regexp_replace(lower(CAST(t AS VARCHAR)), '[\s#]|awg|\.0+$', '', 'g');

CREATE OR REPLACE MACRO box_item_key(t) AS
  regexp_replace(trim(lower(CAST(t AS VARCHAR))), '[ -]+', '_', 'g');

-- Null for text that holds anything but numbers and the words of a box.
CREATE OR REPLACE MACRO box_name_key(t) AS
  CASE WHEN regexp_full_match(lower(CAST(t AS VARCHAR)),
    '(?:[0-9./\s½¼¾⅛⅜⅝⅞"″”×()-]|square|round|octagonal|octagon|device|masonry|fs|fd|single|multiple|tandem|through|concrete|ring|gangs?|cover|box|inch|inches|x|in|mm|by|min|deep|depth)+')
  THEN array_to_string(list_sort(regexp_extract_all(replace(lower(CAST(t AS VARCHAR)), '-', ' '),
    '[0-9]+ ?[½¼¾⅛⅜⅝⅞]|[½¼¾⅛⅜⅝⅞]|[0-9]+ +[0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]*\.?[0-9]+|square|round|octagonal|octagon|device|masonry|fs|fd|single|multiple|tandem|through|concrete|ring')), '|') END;

CREATE OR REPLACE MACRO box_decimal(x) AS TRY_CAST(x AS DECIMAL(18, 6));

-- Whole columns are not parsed: typeof is settled when the query is planned. Null where there is a fraction or no number.
CREATE OR REPLACE MACRO box_whole(x) AS
  CASE WHEN typeof(x) IN ('INTEGER', 'BIGINT', 'SMALLINT', 'TINYINT', 'UTINYINT', 'USMALLINT', 'UINTEGER', '"NULL"')
         THEN coalesce(TRY_CAST(x AS BIGINT), 1)
       WHEN x IS NULL OR CAST(x AS VARCHAR) = '' THEN 1
       WHEN TRY_CAST(x AS DECIMAL(18, 6)) % 1 = 0 THEN TRY_CAST(TRY_CAST(x AS DECIMAL(18, 6)) AS BIGINT) END;

-- Whether something is given: empty text is nothing.
CREATE OR REPLACE MACRO box_given(x) AS x IS NOT NULL AND CAST(x AS VARCHAR) <> '';
