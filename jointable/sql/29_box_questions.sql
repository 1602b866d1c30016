-- The questions a user asks of a schedule, each answered for the family of codes that the edition is of.
-- A branch whose family is not asked for is dropped when the query is planned.

CREATE OR REPLACE MACRO box_fill(items, edition) AS TABLE
FROM box_fill_nec(items, edition) WHERE edition LIKE 'nec-%'
UNION ALL FROM box_fill_cec(items, edition) WHERE edition LIKE 'cec-%';

CREATE OR REPLACE MACRO box_fill_lines(items, edition) AS TABLE
WITH box_q_rows AS MATERIALIZED (FROM box_rows(items, edition)),
box_q_pulls AS MATERIALIZED (FROM box_pull_lines('box_q_rows', 'box_q_rows', edition)),
box_q_sums AS NOT MATERIALIZED (FROM box_sums('box_q_rows')),
box_q_nec AS MATERIALIZED (FROM box_state_nec('box_q_sums', 'box_q_rows', 'box_q_rows', 'box_q_rows', 'box_q_pulls', 'box_q_rows', edition) WHERE edition LIKE 'nec-%'),
box_q_cec AS MATERIALIZED (FROM box_state_cec('box_q_rows', 'box_q_rows', edition) WHERE edition LIKE 'cec-%')
FROM box_lines_nec('box_q_rows', 'box_q_nec', edition) WHERE edition LIKE 'nec-%'
UNION ALL FROM box_lines_cec('box_q_rows', 'box_q_cec', edition) WHERE edition LIKE 'cec-%';

CREATE OR REPLACE MACRO box_limits(items, edition) AS TABLE
WITH box_q_rows AS MATERIALIZED (FROM box_rows(items, edition)),
box_q_pulls AS MATERIALIZED (FROM box_pull_lines('box_q_rows', 'box_q_rows', edition)),
box_q_sums AS NOT MATERIALIZED (FROM box_sums('box_q_rows')),
box_q_nec AS MATERIALIZED (FROM box_state_nec('box_q_sums', 'box_q_rows', 'box_q_rows', 'box_q_rows', 'box_q_pulls', 'box_q_rows', edition) WHERE edition LIKE 'nec-%'),
box_q_cec AS MATERIALIZED (FROM box_state_cec('box_q_rows', 'box_q_rows', edition) WHERE edition LIKE 'cec-%')
FROM box_limits_nec('box_q_rows', 'box_q_pulls', 'box_q_nec', edition) WHERE edition LIKE 'nec-%'
UNION ALL FROM box_limits_cec('box_q_cec', edition) WHERE edition LIKE 'cec-%';

CREATE OR REPLACE MACRO box_remaining(items, edition) AS TABLE
WITH box_q_rows AS NOT MATERIALIZED (FROM box_rows(items, edition)),
box_q_pulls AS MATERIALIZED (FROM box_pull_lines('box_q_rows', 'box_q_rows', edition)),
box_q_sums AS NOT MATERIALIZED (FROM box_sums('box_q_rows')),
box_q_nec AS MATERIALIZED (FROM box_state_nec('box_q_sums', 'box_q_rows', 'box_q_rows', 'box_q_rows', 'box_q_pulls', 'box_q_rows', edition) WHERE edition LIKE 'nec-%'),
box_q_cec AS MATERIALIZED (FROM box_state_cec('box_q_rows', 'box_q_rows', edition) WHERE edition LIKE 'cec-%')
SELECT r.box, r.space, r.size, r.count FROM box_remaining_nec('box_q_nec', edition) r WHERE edition LIKE 'nec-%'
UNION ALL SELECT r.box, r.space, r.size, r.count FROM box_remaining_cec('box_q_cec', edition) r WHERE edition LIKE 'cec-%';

CREATE OR REPLACE MACRO box_problems(items, edition) AS TABLE
WITH box_q_rows AS MATERIALIZED (FROM box_rows(items, edition)),
box_q_pulls AS MATERIALIZED (FROM box_pull_lines('box_q_rows', 'box_q_rows', edition)),
box_q_sums AS NOT MATERIALIZED (FROM box_sums('box_q_rows')),
box_q_state AS MATERIALIZED (
  SELECT s.box, s.space, s.problems, s.pull_largest, CAST(NULL AS VARCHAR) AS largest FROM box_state_nec('box_q_sums', 'box_q_rows', 'box_q_rows', 'box_q_rows', 'box_q_pulls', 'box_q_rows', edition) s WHERE edition LIKE 'nec-%'
  UNION ALL SELECT s.box, s.space, s.problems, NULL, s.largest FROM box_state_cec('box_q_rows', 'box_q_rows', edition) s WHERE edition LIKE 'cec-%')
FROM box_problem_rows('box_q_rows', 'box_q_state', edition);

-- Everything about each box in one statement: box_fill with lines, limits and remaining as lists.
CREATE OR REPLACE MACRO box_answer_nec(items, edition) AS TABLE
WITH box_q_rows AS MATERIALIZED (FROM box_rows(items, edition)),
box_q_pulls AS MATERIALIZED (FROM box_pull_lines('box_q_rows', 'box_q_rows', edition)),
box_q_sums AS NOT MATERIALIZED (FROM box_sums('box_q_rows')),
box_q_state AS MATERIALIZED (FROM box_state_nec('box_q_sums', 'box_q_rows', 'box_q_rows', 'box_q_rows', 'box_q_pulls', 'box_q_rows', edition))
SELECT f.*, l.lines, m.limits, n.remaining
FROM box_fill_of_nec('box_q_state', edition) f
LEFT JOIN (SELECT x.box, x.space, list(x ORDER BY x.position) AS lines FROM box_lines_nec('box_q_rows', 'box_q_state', edition) x GROUP BY x.box, x.space) l
  ON l.box = f.box AND l.space IS NOT DISTINCT FROM f.space
LEFT JOIN (SELECT x.box, x.space, list(x ORDER BY x.position) AS limits FROM box_limits_nec('box_q_rows', 'box_q_pulls', 'box_q_state', edition) x GROUP BY x.box, x.space) m
  ON m.box = f.box AND m.space IS NOT DISTINCT FROM f.space
LEFT JOIN (SELECT x.box, x.space, list({size: x.size, count: x.count} ORDER BY x.rank) AS remaining FROM box_remaining_nec('box_q_state', edition) x GROUP BY x.box, x.space) n
  ON n.box = f.box AND n.space IS NOT DISTINCT FROM f.space;

CREATE OR REPLACE MACRO box_answer_cec(items, edition) AS TABLE
WITH box_q_rows AS MATERIALIZED (FROM box_rows(items, edition)),
box_q_state AS MATERIALIZED (FROM box_state_cec('box_q_rows', 'box_q_rows', edition))
SELECT f.*, l.lines, m.limits, n.remaining
FROM box_fill_of_cec('box_q_state', edition) f
LEFT JOIN (SELECT x.box, x.space, list(x ORDER BY x.position) AS lines FROM box_lines_cec('box_q_rows', 'box_q_state', edition) x GROUP BY x.box, x.space) l
  ON l.box = f.box AND l.space IS NOT DISTINCT FROM f.space
LEFT JOIN (SELECT x.box, x.space, list(x ORDER BY x.position) AS limits FROM box_limits_cec('box_q_state', edition) x GROUP BY x.box, x.space) m
  ON m.box = f.box AND m.space IS NOT DISTINCT FROM f.space
LEFT JOIN (SELECT x.box, x.space, list({size: x.size, count: x.count} ORDER BY x.rank) AS remaining FROM box_remaining_cec('box_q_state', edition) x GROUP BY x.box, x.space) n
  ON n.box = f.box AND n.space IS NOT DISTINCT FROM f.space;

CREATE OR REPLACE MACRO box_answer(items, edition) AS TABLE
FROM box_answer_nec(items, edition) WHERE edition LIKE 'nec-%'
UNION ALL FROM box_answer_cec(items, edition) WHERE edition LIKE 'cec-%';
