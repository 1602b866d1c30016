"""Opening a schedule of boxes, whatever it comes as: a file, many files, a frame, or rows."""

from __future__ import annotations

import glob
import os
import sys
from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import duckdb

from jointable.errors import InputError
from jointable.schedule_csv import csv_header, from_csv
from jointable.schedule_form import COLUMNS, REQUIRED, Problem, Scan, Schedule
from jointable.schedule_header import checked_header
from jointable.schedule_rows import from_records, from_table, from_toml

__all__ = ["COLUMNS", "REQUIRED", "Problem", "Schedule", "read_schedule"]

#: Up to here a schedule is held as text in memory; beyond, DuckDB reads it as it computes.
TEXT_ROWS = 100_000
TEXT_BYTES = 16 * 2**20

_FORMS = "a path, '-', a frame, a relation, or a list of rows"


def read_schedule(source: Any, *, in_memory: bool = False) -> Schedule:
    """Open a schedule of boxes.

    Args:
        source: The path of a CSV, TOML or Parquet file; a folder or a pattern (`*`, `?`, `[`) of
            Parquet files; `-` for CSV on standard input; an Arrow table, a polars or pandas frame, a
            DuckDB relation; a list of mappings; one mapping with `items`; or a `Schedule`.
        in_memory: Read all rows into memory, however many.

    Returns:
        A `Schedule` whose header is known to be right.

    Raises:
        InputError: It is not there, cannot be read, is empty, or its header is wrong.

    Source: none; the form is this project's.

    Example:
        >>> read_schedule([{"box": "A", "item": "conductor", "size": 12, "quantity": 2}]).columns
        ('box', 'item', 'size', 'quantity')
    """
    if isinstance(source, Schedule):
        return source
    if isinstance(source, (str, os.PathLike)):
        return _from_path(os.fspath(source), in_memory)
    if isinstance(source, Mapping):
        return from_table(source, None)
    if isinstance(source, duckdb.DuckDBPyRelation):
        return _from_relation(source, in_memory)
    if _is_frame(source):
        return _from_frame(source, in_memory)
    if isinstance(source, Iterable) and not isinstance(source, (bytes, bytearray)):
        return from_records(source)
    raise InputError("not a schedule", value=type(source).__name__, expected=_FORMS)


def _from_path(place: str, in_memory: bool) -> Schedule:
    if place == "-":
        return from_csv(sys.stdin.buffer.read(), "standard input")
    path = Path(place)
    try:
        if path.is_dir():
            return _from_parquet(place, sorted(str(p) for p in path.rglob("*.parquet")), in_memory)
        if not path.exists() and glob.has_magic(place):
            return _from_parquet(place, sorted(glob.glob(place, recursive=True)), in_memory)
        if not path.exists():
            raise InputError("there is no such file", file=place, expected="the path of a schedule")
        with path.open("rb") as stream:
            start = stream.read(4)
        if start == b"PAR1":
            return _from_parquet(place, [place], in_memory)
        if path.suffix.lower() in (".parquet", ".pq"):
            what = "the file is empty" if not start else "this is no Parquet file"
            raise InputError(what, file=place, expected="Parquet data")
        if path.suffix.lower() == ".toml":
            return from_toml(path.read_bytes(), place)
        if path.stat().st_size > TEXT_BYTES and not in_memory:
            return _from_large_csv(path)
        return from_csv(path.read_bytes(), place)
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror or error}", file=place) from error


def _from_large_csv(path: Path) -> Schedule:
    """Take the header of a CSV file that stays where it is; its rows are looked at later."""
    with path.open("rb") as stream:
        columns = csv_header(stream, str(path))
    return Schedule(str(path), columns, scan=Scan("csv", (str(path),)))


def _from_parquet(place: str, paths: list[str], in_memory: bool) -> Schedule:
    files = [p for p in paths if os.path.isfile(p)]
    if not files:
        raise InputError(
            "no Parquet file there", file=place, expected="a folder or pattern of *.parquet files"
        )
    with duckdb.connect(":memory:") as connection:
        try:
            relation = connection.read_parquet(files, union_by_name=True, hive_partitioning=False)
            columns = checked_header(relation.columns, place)
            parts = tuple((p, _row_count(connection, p)) for p in files)
            count = sum(rows for _, rows in parts)
            if not count:
                raise InputError("no rows", file=place, expected="a row for each item")
            if count <= TEXT_ROWS or in_memory:
                held = _held(place, columns, relation.fetchall())
                return replace(held, parts=parts if len(parts) > 1 else ())
        except duckdb.Error as error:
            what = str(error).splitlines()[0]
            raise InputError(f"cannot be read as Parquet: {what}", file=place) from error
    scan = Scan("parquet", tuple(files), rows=tuple(rows for _, rows in parts))
    return Schedule(place, columns, scan=scan, size=count, parts=parts if len(parts) > 1 else ())


def _row_count(connection: duckdb.DuckDBPyConnection, path: str) -> int:
    """The number of rows that a Parquet file states; nothing but its footer is read."""
    return int(connection.read_parquet(path).aggregate("count(*)").fetchall()[0][0])


def _is_frame(source: Any) -> bool:
    library = type(source).__module__.partition(".")[0]
    return library in ("polars", "pandas", "pyarrow") or hasattr(source, "__arrow_c_stream__")


def _from_frame(source: Any, in_memory: bool) -> Schedule:
    if hasattr(source, "read_next_batch"):
        # A reader of Arrow batches can be read once only, and it must be looked at before it is used.
        source = source.read_all()
    with duckdb.connect(":memory:") as connection:
        try:
            connection.register("given", source)
            relation = connection.sql("FROM given")
        except (duckdb.Error, ImportError) as error:
            what = str(error).splitlines()[0]
            raise InputError(f"this frame cannot be read: {what}", value=type(source).__name__) from error
        return _from_relation(relation, in_memory, source)


def _from_relation(relation: duckdb.DuckDBPyRelation, in_memory: bool, source: Any = None) -> Schedule:
    columns = checked_header(relation.columns, None)
    rows = relation.fetchall() if in_memory else relation.limit(TEXT_ROWS + 1).fetchall()
    if not rows:
        raise InputError("no rows", expected="a row for each item")
    if len(rows) <= TEXT_ROWS or in_memory:
        return _held(None, columns, rows)
    return Schedule(None, columns, scan=Scan("object", source=relation if source is None else source))


def _held(name: str | None, columns: tuple[str, ...], rows: list[tuple[Any, ...]]) -> Schedule:
    return from_records((dict(zip(columns, row, strict=True)) for row in rows), name)
