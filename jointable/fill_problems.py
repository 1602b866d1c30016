"""What is wrong in a schedule that is read where it lies; only the rows of bad boxes are looked at again."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

import duckdb

from jointable.batch import ITEMS, Batch, cells_query, uncomputed
from jointable.schedule_csv import csv_rows
from jointable.schedule_form import Problem, Schedule

__all__ = ["problem_of", "problems_of_bad_boxes", "unexplained", "without_consequences"]


def problem_of(record: Mapping[str, Any]) -> Problem:
    """A row of `box_problems` as a problem.

    Args:
        record: The row, by column.

    Returns:
        The problem.

    Source: the macro `box_problems`.

    Example:
        >>> row = {"file_row": 2, "box": "A", "column_name": "size", "value": "13", "reason": "no size",
        ...        "expected": "such as 12"}
        >>> print(problem_of(row).error("a.csv"))
        a.csv:2: size: '13': no size; such as 12
    """
    box, value = record["box"], record["value"]
    return Problem(
        record["file_row"],
        None if box is None else str(box),
        record["column_name"],
        None if value is None or value == "" else str(value),
        record["reason"],
        record["expected"],
    )


def problems_of_bad_boxes(batch: Batch, schedule: Schedule, edition: str) -> list[Problem]:
    """Everything that is wrong in the boxes that stand in `work.bad`.

    Args:
        batch: The open batch, with a table `work.bad (box)`.
        schedule: Its schedule.
        edition: A known edition.

    Returns:
        The problems, in no order.

    Source: the macro `box_problems`.

    Example:
        >>> import jointable
        >>> from jointable.batch import open_batch
        >>> from jointable.schedule import read_schedule
        >>> rows = read_schedule([{"item": "bx"}])
        >>> with open_batch(jointable.open(), rows) as batch:
        ...     _ = batch.run("CREATE TABLE work.bad AS SELECT 'box 1' AS box")
        ...     problems_of_bad_boxes(batch, rows, "nec-2023")[0].value
        'bx'
    """
    if not batch.run("FROM work.bad LIMIT 1"):
        return []
    if _is_csv(schedule):
        # Blank lines and line ends within quotes make the reader's numbers differ from the file's rows.
        boxes = {None if box is None else str(box) for (box,) in batch.run("FROM work.bad")}
        with Path(str(schedule.name)).open("rb") as lines:
            rows = csv_rows(lines, str(schedule.name), boxes)
        query, parameters = cells_query(rows)
        batch.run(f"CREATE OR REPLACE TEMP TABLE bad_items AS {query}", parameters)
    else:
        batch.run(
            f"CREATE OR REPLACE TEMP TABLE bad_items AS FROM {ITEMS} AS i WHERE EXISTS "
            "(FROM work.bad AS b WHERE CAST(b.box AS VARCHAR) IS NOT DISTINCT FROM CAST(i.box AS VARCHAR))"
        )
    try:
        cursor = batch.connection.execute(f"FROM box_problems('temp.main.bad_items', '{edition}')")
    except duckdb.Error as error:
        raise uncomputed(schedule, error) from error
    names = [column[0] for column in cursor.description or ()]
    found = [problem_of(dict(zip(names, row, strict=True))) for row in cursor.fetchall()]
    return [*found, *unexplained((box for (box,) in batch.run("FROM work.bad")), found)]


def without_consequences(problems: Iterable[Problem], bad_rows: Iterable[Problem]) -> list[Problem]:
    """Leave out what a box lacks where one of its rows could not be read: it may stand in that row.

    Args:
        problems: What the macro says.
        bad_rows: The rows that are no rows.

    Returns:
        The problems that stand by themselves.

    Source: none; the form is this project's.

    Example:
        >>> row = Problem(3, "A", "size", None, "the row has 2 cells and the header 4")
        >>> without_consequences([Problem(2, "A", "item", None, "no box row")], [row])
        []
    """
    torn = {p.box for p in bad_rows}
    return [p for p in problems if p.value is not None or p.box not in torn]


def unexplained(boxes: Iterable[Any], problems: Iterable[Problem]) -> list[Problem]:
    """A problem for each bad box that the macro gives no reason for, so that none is left out silently.

    Args:
        boxes: The names of the bad boxes; None for rows that name none.
        problems: The problems that have a reason.

    Returns:
        A problem without a row for each box that has none.

    Source: none; the form is this project's.

    Example:
        >>> [p.text for p in unexplained(["A"], [])]
        ['the box cannot be computed; a size, volume and depth that the edition has a rule for']
    """
    told = {p.box for p in problems}
    names = dict.fromkeys(None if box is None else str(box) for box in boxes)
    right = "a size, volume and depth that the edition has a rule for"
    return [
        Problem(None, name, "box", None, "the box cannot be computed", right)
        for name in names
        if name not in told
    ]


def _is_csv(schedule: Schedule) -> bool:
    return schedule.scan is not None and schedule.scan.kind == "csv"
