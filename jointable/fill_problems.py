"""What is wrong in a schedule that is read where it lies; only the rows of bad boxes are looked at again."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import duckdb

from jointable.batch import ITEMS, Batch, cells_query, scan_query
from jointable.errors import InputError
from jointable.schedule_csv import csv_problems, csv_rows
from jointable.schedule_form import Problem, Schedule

__all__ = ["problem_of", "problems_of_bad_boxes", "skip_bad_rows"]


def problem_of(record: Mapping[str, Any]) -> Problem:
    """A row of `box_problems` as a problem."""
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
    """
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
    cursor = batch.connection.execute(f"FROM box_problems('temp.main.bad_items', '{edition}')")
    names = [column[0] for column in cursor.description or ()]
    return [problem_of(dict(zip(names, row, strict=True))) for row in cursor.fetchall()]


def skip_bad_rows(batch: Batch, schedule: Schedule, error: duckdb.Error) -> list[Problem]:
    """Make a batch pass over the rows of its CSV file that are no rows.

    Args:
        batch: The open batch.
        schedule: Its schedule.
        error: What DuckDB said of them.

    Returns:
        The rows that are passed over.

    Raises:
        InputError: The error has another reason.
    """
    bad: list[Problem] = []
    if _is_csv(schedule) and schedule.scan is not None:
        with Path(str(schedule.name)).open("rb") as lines:
            bad = list(csv_problems(lines, str(schedule.name)))
    if not bad or schedule.scan is None:
        said = [line for line in str(error).splitlines() if line.strip()]
        what = said[0] if said else "no reason given"
        raise InputError(f"cannot be computed: {what}", file=schedule.name) from error
    scan = scan_query(batch.connection, schedule, schedule.scan, skip_bad=True)
    batch.run(f"CREATE OR REPLACE TEMP VIEW items AS {scan}")
    return bad


def _is_csv(schedule: Schedule) -> bool:
    return schedule.scan is not None and schedule.scan.kind == "csv"
