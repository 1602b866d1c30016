"""Schedules too large for memory: the same macros in an instance of DuckDB that may read files.

The serving connection is locked and may not touch files, and all connections to one database file in
one process share its settings; so a batch opens an instance of its own and attaches the database.
"""

from __future__ import annotations

import tempfile
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

from jointable.errors import InputError
from jointable.progress import Progress
from jointable.schedule_csv import csv_problems
from jointable.schedule_form import FILE_ROW, Problem, Scan, Schedule
from jointable.schedule_scan import as_read, hidden_rows, holds_hidden

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["ITEMS", "Batch", "load_cells", "open_batch"]

#: The full name of the items, as the macros of an attached database must be told it.
ITEMS = "temp.main.items"

#: What a batch may hold in memory; beyond, it spills beside its output.
MEMORY = "2500MB"


class Batch:
    """A connection that may read the schedule's files, with the published macros in reach.

    Args:
        connection: The connection.
        folder: A folder of its own beside the output, gone when the batch ends.
        progress: Told the step and its percentage while a query runs, or None.
    """

    def __init__(
        self, connection: duckdb.DuckDBPyConnection, folder: Path, progress: Progress | None
    ) -> None:
        self.connection = connection
        self.folder = folder
        self.progress = progress
        #: The part of the whole step that the next query is, in per cent.
        self.span = (0.0, 100.0)
        #: Rows of a CSV file that are no rows, and were passed over.
        self.bad_rows: list[Problem] = []

    def run(self, query: str, parameters: Any = None, step: str = "") -> list[tuple[Any, ...]]:
        """Run a query to its end and return its rows, telling how far it is.

        Raises:
            InputError: The query failed because of its input or the disk.
        """
        if self.progress is None or not hasattr(self.connection, "query_progress"):
            return self._rows(query, parameters)
        found: list[list[tuple[Any, ...]]] = []
        failed: list[BaseException] = []

        def work() -> None:
            try:
                found.append(self._rows(query, parameters))
            except BaseException as error:
                failed.append(error)

        thread = threading.Thread(target=work, daemon=True)
        thread.start()
        try:
            while thread.is_alive():
                thread.join(0.2)
                self._tell(step, max(0.0, float(self.connection.query_progress())))
        except KeyboardInterrupt:
            self.connection.interrupt()
            thread.join()
            raise
        if failed:
            raise failed[0]
        self._tell(step, 100.0)
        return found[0]

    def _tell(self, step: str, percentage: float) -> None:
        low, high = self.span
        if self.progress is not None and step:
            self.progress(step, low + (high - low) * percentage / 100)

    def _rows(self, query: str, parameters: Any) -> list[tuple[Any, ...]]:
        cursor = self.connection.execute(query, parameters)
        return cursor.fetchall() if cursor.description else []


@contextmanager
def open_batch(
    reference: Reference,
    schedule: Schedule,
    beside: Path | None = None,
    progress: Progress | None = None,
) -> Iterator[Batch]:
    """Open an instance of its own with the schedule as the view `items`.

    Args:
        reference: The open database.
        schedule: The schedule.
        beside: A folder with room for what spills; by default the system's.
        progress: Told the step and its percentage, or None.

    Yields:
        A `Batch`.

    Raises:
        InputError: There is no room, or a file cannot be read.

    Source: none; this is a form of this project.

    Example:
        >>> import jointable
        >>> from jointable.schedule import read_schedule
        >>> rows = read_schedule([{"item": "conductor", "size": 12, "quantity": 2}])
        >>> with open_batch(jointable.open(), rows) as batch:
        ...     batch.run(f"SELECT count(*) FROM {ITEMS}")
        [(1,)]
    """
    try:
        holder = tempfile.TemporaryDirectory(prefix=".jointable-", dir=beside)
    except OSError as error:
        raise InputError(
            f"no temporary folder can be made there: {error.strerror}", file=str(beside)
        ) from None
    with holder as name, attached(reference, name) as connection:
        connection.execute(f"ATTACH {quoted(str(Path(name) / 'work.duckdb'))} AS work")
        # Without these two, a connection does not know how far its query is.
        connection.execute("SET enable_progress_bar = true")
        connection.execute("SET enable_progress_bar_print = false")
        batch = Batch(connection, Path(name), progress)
        _bring(batch, schedule)
        yield batch


@contextmanager
def attached(reference: Reference, folder: str | None = None) -> Iterator[duckdb.DuckDBPyConnection]:
    """An instance of DuckDB of its own with the published database in use.

    Args:
        reference: The open database.
        folder: Where it may spill; by default nowhere.

    Yields:
        A connection; it fetches nothing: a missing extension is an error, not a download.
    """
    settings: dict[str, Any] = {
        "autoinstall_known_extensions": False,
        "autoload_known_extensions": False,
        "memory_limit": MEMORY,
        "temp_directory": folder or "",
    }
    with duckdb.connect(":memory:", config=settings) as connection:
        connection.execute(f"ATTACH {quoted(str(reference.path))} AS published (READ_ONLY)")
        connection.execute("USE published")
        yield connection


def quoted(text: str) -> str:
    """A text as a literal of SQL."""
    return "'" + text.replace("'", "''") + "'"


def _bring(batch: Batch, schedule: Schedule) -> None:
    """Make `items`: the schedule with the number of each row, the first row being 1, in CSV 2.

    A macro scans its input more than once. Parquet stays where it is, since a scan reads only the
    columns it needs; what is dear to read, or can be read only once, is copied beside the output.
    """
    if schedule.cells is not None:
        load_cells(batch.connection, schedule)
        return
    if schedule.scan is None:
        raise InputError("a schedule without rows", file=schedule.name)
    if schedule.scan.kind == "csv":
        _copy_csv(batch, schedule, schedule.scan)
    elif schedule.scan.kind == "parquet":
        batch.run(f"CREATE TEMP VIEW given AS {_parquet(schedule.scan)}")
    else:
        batch.connection.register("held", schedule.scan.source)
        batch.run(f"CREATE TABLE work.given AS SELECT *, row_number() OVER () AS {FILE_ROW} FROM held")
    _read(batch, schedule, "given" if schedule.scan.kind == "parquet" else "work.given")


def _read(batch: Batch, schedule: Schedule, given: str) -> None:
    """Make `items` of the rows as they are read; those with hidden characters are no rows."""
    cells = as_read(batch.connection, given, schedule.name)
    hidden = holds_hidden(batch.connection, given)
    rows = f"SELECT {cells} FROM {given}"
    if batch.run(f"SELECT 1 FROM {given} WHERE {hidden} LIMIT 1", step="reading"):
        rows += f" WHERE NOT {hidden}"
        if schedule.scan is None or schedule.scan.kind != "csv":
            batch.bad_rows = hidden_rows(batch.connection, given)
        elif not batch.bad_rows:
            batch.bad_rows, _ = _looked_through(schedule.scan)
    batch.run(f"CREATE TEMP VIEW items AS {rows}")


def _looked_through(scan: Scan) -> tuple[list[Problem], int]:
    """The rows of a CSV file that are no rows, numbered as in the file, and how many are rows.

    Blank lines and line ends within quotes make the numbers of DuckDB's reader differ from these.
    """
    with Path(scan.paths[0]).open("rb") as lines:
        return csv_problems(lines, scan.paths[0])


def _parquet(scan: Scan) -> str:
    # The numbers come from the reader: counting rows by itself would keep a scan to one thread.
    return (
        f"SELECT * EXCLUDE (filename, file_row_number), file_row_number + {_first_rows(scan)} AS {FILE_ROW} "
        f"FROM read_parquet({_paths(scan)}, union_by_name = true, hive_partitioning = false, "
        "filename = true, file_row_number = true)"
    )


def _copy_csv(batch: Batch, schedule: Schedule, scan: Scan) -> None:
    columns = ", ".join(f"{quoted(c)}: 'VARCHAR'" for c in schedule.columns)
    # A row of empty cells is no row, as in a file that is held in memory.
    cells = ", ".join(f"nullif(trim(\"{c}\"), '')" for c in schedule.columns)

    def copy(skip_bad: bool) -> None:
        batch.run(
            f"CREATE OR REPLACE TABLE work.given AS FROM (SELECT *, row_number() OVER () + 1 AS {FILE_ROW} "
            f"FROM read_csv({_paths(scan)}, header = true, auto_detect = false, delim = ',', quote = '\"', "
            f"escape = '\"', strict_mode = true, null_padding = false, ignore_errors = {skip_bad}, "
            f"columns = {{{columns}}})) WHERE coalesce({cells}) IS NOT NULL",
            step="reading",
        )

    try:
        copy(skip_bad=False)
    except duckdb.Error as error:
        batch.bad_rows, good = _looked_through(scan)
        try:
            copy(skip_bad=True)
        except duckdb.Error as again:
            raise uncomputed(schedule, again) from again
        hidden = holds_hidden(batch.connection, "work.given")
        # A line of spaces is no row to either; whatever else only one of them reads would be lost in silence.
        if batch.run(f"SELECT count(*) FROM work.given WHERE NOT {hidden}") != [(good,)]:
            raise uncomputed(schedule, error) from error


def uncomputed(schedule: Schedule, error: duckdb.Error) -> InputError:
    """What DuckDB said of a schedule, as one line."""
    said = [line for line in str(error).splitlines() if line.strip()]
    return InputError(f"cannot be computed: {said[0] if said else 'no reason given'}", file=schedule.name)


def _paths(scan: Scan) -> str:
    return "[" + ", ".join(quoted(path) for path in scan.paths) + "]"


def _first_rows(scan: Scan) -> str:
    """The number of the first row of each file, running over all of them."""
    if len(scan.paths) == 1:
        return "1"
    first, cases = 1, []
    for path, rows in zip(scan.paths, scan.rows, strict=True):
        cases.append(f"WHEN {quoted(path)} THEN {first}")
        first += rows
    return f"CASE filename {' '.join(cases)} END"


def load_cells(connection: duckdb.DuckDBPyConnection, schedule: Schedule) -> None:
    """Put cells that are in memory into the temporary table `items`.

    Args:
        connection: The connection.
        schedule: The schedule, with its cells in memory.

    Returns:
        Nothing; the table is there.

    Source: none; the form is this project's.

    Example:
        >>> from jointable.schedule import read_schedule
        >>> connection = duckdb.connect()
        >>> load_cells(connection, read_schedule([{"item": "clamp"}]))
        >>> connection.execute("SELECT item FROM items").fetchall()
        [('clamp',)]
    """
    query, parameters = cells_query(schedule)
    connection.execute(f"CREATE OR REPLACE TEMP TABLE items AS {query}", parameters)


def cells_query(schedule: Schedule) -> tuple[str, Sequence[Any]]:
    """A query that gives the cells of a schedule, and its parameters."""
    cells = schedule.cells or {}
    parts = ", ".join(
        f'unnest(${number}::{"BIGINT" if name == FILE_ROW else "VARCHAR"}[]) AS "{name}"'
        for number, name in enumerate(cells, 1)
    )
    return f"SELECT {parts}", [list(column) for column in cells.values()]
