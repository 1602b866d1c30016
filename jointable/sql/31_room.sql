-- What the contents of boxes take physically: an estimate of ours, never a figure of a code.
--
--   FROM box_contents('items')   one row a box, space, item and size: pieces, and what they take in cm³
--
-- `items` names rows as a schedule has them. Each conductor is a cylinder over its insulation, as long as
-- `room_parameter` says; bodies are blocks. A connector that a joint names is left out: its class decides,
-- and the class stands with the joint. Boxes, extensions, raceways and conduit bodies hold and take nothing.
CREATE OR REPLACE MACRO box_contents(items) AS TABLE
WITH model AS MATERIALIZED (
  SELECT p.item AS item,
    max(p.figure) FILTER (p.parameter = 'length_mm')::DOUBLE AS length_mm,
    max(p.figure) FILTER (p.parameter = 'insulation_mm')::DOUBLE AS insulation_mm,
    max(p.figure) FILTER (p.parameter = 'width_mm')::DOUBLE * max(p.figure) FILTER (p.parameter = 'height_mm')::DOUBLE AS face_mm2,
    max(p.figure) FILTER (p.parameter = 'depth_mm')::DOUBLE AS depth_mm,
    max(p.figure) FILTER (p.parameter = 'volume_cm3')::DOUBLE AS volume_cm3
  FROM room_parameter p GROUP BY p.item
), bare AS MATERIALIZED (
  SELECT box_size_key(s.size) AS key, s.size AS size, sqrt(4 * s.area_mm2::DOUBLE / pi()) AS bare_mm FROM joint_size s
), given AS (
  SELECT g.box AS box, CASE WHEN g.space IS NOT NULL AND CAST(g.space AS VARCHAR) <> '' THEN g.space END AS space, box_item_key(g.item) AS item,
    replace(box_size_key(CASE WHEN g.size IS NULL OR CAST(g.size AS VARCHAR) = '' THEN CAST(g.conductor_size AS VARCHAR) ELSE CAST(g.size AS VARCHAR) END), '²', '2') AS key,
    box_whole(g.quantity) AS pieces, TRY_CAST(g.loop_mm AS DOUBLE) AS loop_mm, TRY_CAST(g.depth_mm AS DOUBLE) AS depth_mm,
    greatest(box_whole(g.gangs), 1) AS gangs, g.joint IS NOT NULL AND CAST(g.joint AS VARCHAR) <> '' AS joined
  FROM box_input(items) g
), part AS (
  SELECT g.box, g.space, g.item, g.key, g.pieces, g.loop_mm, g.depth_mm, g.gangs FROM given g
  WHERE g.item <> 'cable' AND NOT (g.item = 'connector' AND g.joined)
  UNION ALL
  SELECT g.box, g.space, 'conductor', split_part(g.key, '/', -2), g.pieces * TRY_CAST(split_part(g.key, '/', -1) AS BIGINT), NULL, NULL, 1
  FROM given g WHERE g.item = 'cable'
  UNION ALL
  SELECT g.box, g.space, 'grounding', CASE WHEN b.bare_mm > t.bare_mm THEN t.key ELSE b.key END, g.pieces, NULL, NULL, 1
  FROM given g JOIN bare b ON b.key = split_part(g.key, '/', -2) JOIN bare t ON t.size = '10 AWG' WHERE g.item = 'cable'
)
SELECT p.box AS box, p.space AS space, p.item AS item, b.size AS size, sum(p.pieces * CASE WHEN m.face_mm2 IS NULL THEN 1 ELSE p.gangs END)::BIGINT AS pieces,
  round(sum(p.pieces * CASE
    WHEN m.length_mm IS NOT NULL THEN CASE WHEN p.item = 'loop' THEN coalesce(p.loop_mm, m.length_mm) ELSE m.length_mm END
      * pi() / 4 * (b.bare_mm + 2 * m.insulation_mm) ** 2 / 1000
    WHEN m.face_mm2 IS NOT NULL THEN m.face_mm2 * p.gangs * coalesce(p.depth_mm, m.depth_mm) / 1000
    ELSE m.volume_cm3 END), 3)::DECIMAL(18, 3) AS room_cm3
FROM part p JOIN model m ON m.item = p.item LEFT JOIN bare b ON b.key = p.key AND m.length_mm IS NOT NULL
WHERE p.pieces > 0
GROUP BY ALL ORDER BY ALL;
