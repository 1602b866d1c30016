-- What each general class takes of one conductor size alone: how few and how many.
--
--   FROM class_counts()                         every general class with a total, a clamp's ways, or a run
--   FROM class_counts(family := 'twist-on') WHERE class = 'twist-on 16' ORDER BY size_rank
--
-- Two to six conductors of each size are put to the one rule of admission; no limit is written down here again.
CREATE OR REPLACE MACRO class_counts(family := NULL) AS TABLE
WITH counted AS (
  SELECT s.size || ' x' || n.quantity AS joint, s.size AS size, n.quantity AS quantity
  FROM joint_size s, (SELECT unnest(range(2, 7)) AS quantity) n
), facts_of_counted AS (FROM joint_facts('counted'))
SELECT a.class AS class, a.family AS family, c.size AS size, min(s.rank) AS size_rank,
  min(c.quantity)::INTEGER AS min_count, max(c.quantity)::INTEGER AS max_count
FROM class_admission('facts_of_counted', family := family) a
JOIN counted c ON c.joint = a.joint
JOIN joint_size s ON s.size = c.size
WHERE a.breaks + a.family_breaks = 0
GROUP BY a.class, a.family, c.size;
