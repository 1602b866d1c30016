-- Sizes as areas and back: scalar macros that need no table, so they answer from an attached file too.
--
--   awg_mm2(12), awg_mm2('#12'), awg_mm2('12 AWG')   3.308772876   mm² of a size, at nine decimals
--   awg_mm2(-3), awg_mm2('4/0'), awg_mm2('0000')     107.219302577
--   kcmil_mm2(250), kcmil_mm2('250 kcmil')           126.676869774
--   mm2_awg(2.5), mm2_awg('2.5 mm2')                 13 AWG        the nearest size that is not smaller
--
-- AWG goes by its unrounded diameter, 0.127 mm times 92^((36 - n)/39) (ASTM B258); a circular mil is the area
-- of a circle of 0.0254 mm. 0 to -3 count on as 1/0 to 4/0. What is no such size is null, never a guess.

CREATE OR REPLACE MACRO awg_mm2(size) AS
  CAST(pi() / 4 * 0.016129 * pow(92, (36 - CAST(
    CASE WHEN regexp_full_match(regexp_replace(lower(trim(CAST(size AS VARCHAR))), '^#|\s*awg$|\.0+$', '', 'g'), '[1-9]|[123][0-9]|40|-[123]')
           THEN regexp_replace(lower(trim(CAST(size AS VARCHAR))), '^#|\s*awg$|\.0+$', '', 'g')
         WHEN regexp_full_match(regexp_replace(lower(trim(CAST(size AS VARCHAR))), '^#|\s*awg$|\.0+$', '', 'g'), '[1-4]/0')
           THEN CAST(1 - CAST(regexp_extract(CAST(size AS VARCHAR), '([1-4])/0', 1) AS INTEGER) AS VARCHAR)
         WHEN regexp_full_match(regexp_replace(lower(trim(CAST(size AS VARCHAR))), '^#|\s*awg$|\.0+$', '', 'g'), '0{1,4}')
           THEN CAST(1 - length(regexp_extract(CAST(size AS VARCHAR), '0+')) AS VARCHAR)
    END AS INTEGER)) / 19.5) AS DECIMAL(18, 9));

-- The area of a thousand circular mils, pi/4 * 0.0254² * 1000 mm², at twenty decimals; exact to the ninth of the product.
CREATE OR REPLACE MACRO kcmil_mm2(kcmil) AS
  CAST(CASE WHEN TRY_CAST(regexp_replace(lower(CAST(kcmil AS VARCHAR)), '\s*(kcmil|mcm)?\s*$', '') AS DECIMAL(15, 6)) > 0
    THEN TRY_CAST(regexp_replace(lower(CAST(kcmil AS VARCHAR)), '\s*(kcmil|mcm)?\s*$', '') AS DECIMAL(15, 6)) END
    * CAST('0.50670747909749775143' AS DECIMAL(21, 20)) AS DECIMAL(18, 9));

-- Half of the ninth decimal is taken off, so that the area of a size, as held, gives that size. What is thinner than
-- 40 AWG (0.005010 mm²) is set to a little under it, since 40 AWG is the nearest that is not smaller.
CREATE OR REPLACE MACRO mm2_awg(area) AS
  (CAST(range(40, 0, -1) AS VARCHAR[]) || ['1/0', '2/0', '3/0', '4/0'])[41 - CAST(floor(36 - 19.5 * ln(
    CASE WHEN TRY_CAST(regexp_replace(lower(CAST(area AS VARCHAR)), '\s*(mm2|mm²)?\s*$', '') AS DECIMAL(18, 9)) > 0
      THEN greatest(CAST(TRY_CAST(regexp_replace(lower(CAST(area AS VARCHAR)), '\s*(mm2|mm²)?\s*$', '') AS DECIMAL(18, 9)) AS DOUBLE) - 0.0000000005, 0.005) END
    / (pi() / 4 * 0.016129)) / ln(92)) AS BIGINT)] || ' AWG';
