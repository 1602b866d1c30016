"""What differs between two releases, value by value, and the reasons given for it."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

from pipeline.frames import Row, canonical_csv
from pipeline.readings import row_key
from pipeline.schema import TableSchema

__all__ = ["Change", "Reason", "Snapshot", "breaking", "compare", "give_reasons", "read_reasons"]

_LAYOUT = "layout.json"
#: The earliest date that the archive form can hold, so that equal tables give equal bytes.
_DATE = (1980, 1, 1, 0, 0, 0)
_EVIDENCE = ("origin", "access", "source_id", "locator", "printed_value", "printed_unit", "derivation_id")


@dataclass(frozen=True, slots=True)
class Change:
    """One published value that is not what it was; an asterisk stands for a whole row or column."""

    table: str
    row: str
    column: str
    old: str | None
    new: str | None
    kind: str
    reason: str = ""

    def __str__(self) -> str:
        return f"{self.table}: {self.row}: {self.column}: {self.kind}: {self.old!r} to {self.new!r}"


@dataclass(frozen=True, slots=True)
class Reason:
    """Why values changed; table, row and column may hold `*`."""

    line: int
    table: str
    row: str
    column: str
    reason: str

    def fits(self, change: Change) -> bool:
        """Whether it speaks of a change."""
        return (
            fnmatchcase(change.table, self.table)
            and fnmatchcase(change.row, self.row)
            and fnmatchcase(change.column, self.column)
        )


@dataclass(frozen=True)
class Snapshot:
    """The reference tables of one release and where their values come from.

    `layout` holds the key of each table and the type and unit of each column; `rows` the values by key;
    `evidence` the preferred provenance of a cell, or of a column (row `*`), in words.
    """

    layout: Mapping[str, Mapping[str, Any]]
    rows: Mapping[str, Mapping[str, Mapping[str, str | None]]]
    evidence: Mapping[tuple[str, str, str], str]
    files: Mapping[str, bytes]

    @classmethod
    def of(cls, tables: Mapping[str, list[Row]], schemas: Mapping[str, TableSchema]) -> Snapshot:
        """The snapshot of a build."""
        kept = {n: s for n, s in schemas.items() if s.kind == "reference" or n == "provenance"}
        layout = {
            name: {"key": list(s.primary_key), "columns": {f.name: [f.sql_type, f.unit] for f in s.fields}}
            for name, s in sorted(kept.items())
        }
        files = {f"{name}.csv": canonical_csv(tables[name], s) for name, s in sorted(kept.items())}
        return cls._read(files | {_LAYOUT: json.dumps(layout, indent=1).encode()})

    @classmethod
    def load(cls, path: Path) -> Snapshot:
        """Read the archive of a release."""
        with zipfile.ZipFile(path) as archive:
            return cls._read({name: archive.read(name) for name in archive.namelist()})

    @classmethod
    def _read(cls, files: Mapping[str, bytes]) -> Snapshot:
        layout = json.loads(files[_LAYOUT])
        evidence = {}
        for row in _records(files["provenance.csv"]):
            if row["reading"] == "1":
                place = (str(row["table_name"]), str(row["row_key"]), str(row["column_name"]))
                evidence[place] = ", ".join(str(row[name]) for name in _EVIDENCE if row[name])
        rows = {
            name: {
                row_key(tuple(r[k] or "" for k in about["key"])): r for r in _records(files[f"{name}.csv"])
            }
            for name, about in layout.items()
            if name != "provenance"
        }
        return cls(layout, rows, evidence, files)

    def save(self, path: Path) -> None:
        """Write the archive; equal snapshots give equal bytes."""
        with zipfile.ZipFile(path, "w", zipfile.ZIP_LZMA) as archive:
            for name, data in sorted(self.files.items()):
                archive.writestr(zipfile.ZipInfo(name, _DATE), data, zipfile.ZIP_LZMA)

    @property
    def memory_values(self) -> int:
        """How many printed or defined values were known from memory only."""
        return sum(
            "memory" in text.split(", ")[:2] for (_, row, _), text in self.evidence.items() if row != "*"
        )


def _records(data: bytes) -> list[dict[str, str | None]]:
    reader = csv.DictReader(io.StringIO(data.decode("utf-8"), newline=""))
    return [{k: v or None for k, v in row.items()} for row in reader]


def compare(old: Snapshot, new: Snapshot) -> list[Change]:
    """Every value that differs, in the order of table, row and column.

    A row or a table that came or went is one change; so is a column.
    """
    found: dict[tuple[str, str, str], Change] = {}
    for change in (*_values(old, new), *_provenance(old, new)):
        found.setdefault((change.table, change.row, change.column), change)
    return [found[place] for place in sorted(found)]


def _values(old: Snapshot, new: Snapshot) -> Iterator[Change]:
    for table in old.rows.keys() - new.rows.keys():
        yield Change(table, "*", "*", table, None, "withdrawn")
    for table in new.rows.keys() - old.rows.keys():
        yield Change(table, "*", "*", None, table, "added")
    for table in old.rows.keys() & new.rows.keys():
        before, after = old.rows[table], new.rows[table]
        columns = {n: s.layout[table]["columns"].keys() for n, s in (("old", old), ("new", new))}
        for name in columns["old"] - columns["new"]:
            yield Change(table, "*", name, name, None, "withdrawn")
        for name in columns["new"] - columns["old"]:
            yield Change(table, "*", name, None, name, "added")
        for key in before.keys() - after.keys():
            yield Change(table, key, "*", _line(before[key]), None, "withdrawn")
        for key in after.keys() - before.keys():
            yield Change(table, key, "*", None, _line(after[key]), "added")
        for key in before.keys() & after.keys():
            for name in columns["old"] & columns["new"]:
                if before[key][name] != after[key][name]:
                    yield Change(table, key, name, before[key][name], after[key][name], "changed")


def _provenance(old: Snapshot, new: Snapshot) -> Iterator[Change]:
    """Cells and columns that are in both releases and come from somewhere else."""
    for place in old.evidence.keys() | new.evidence.keys():
        table, row, column = place
        before, after = old.evidence.get(place), new.evidence.get(place)
        if before != after and all(_holds(s, table, row, column) for s in (old, new)):
            yield Change(table, row, column, before, after, "provenance")


def _holds(snapshot: Snapshot, table: str, row: str, column: str) -> bool:
    there = table in snapshot.rows and column in snapshot.layout[table]["columns"]
    return there and (row == "*" or row in snapshot.rows[table])


def _line(row: Mapping[str, str | None]) -> str:
    return row_key(tuple(value or "" for value in row.values()))


def breaking(old: Snapshot, new: Snapshot) -> list[str]:
    """What in the layout of the tables would break a reader of the old one; one line each."""
    out = []
    for table, before in sorted(old.layout.items()):
        after = new.layout.get(table)
        if after is None:
            out.append(f"{table}: the table is gone")
            continue
        if after["key"] != before["key"]:
            out.append(f"{table}: the key is {', '.join(after['key'])}, was {', '.join(before['key'])}")
        for name, about in before["columns"].items():
            now = after["columns"].get(name)
            if now is None:
                out.append(f"{table}: {name}: the column is gone")
            elif list(now) != list(about):
                out.append(f"{table}: {name}: {' '.join(now)}, was {' '.join(about)}")
    return out


def read_reasons(path: Path) -> list[Reason]:
    """The reasons given for the next release."""
    if not path.is_file():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        return [
            Reason(n, r["table_name"], r["row_key"], r["column_name"], r["reason"].strip())
            for n, r in enumerate(csv.DictReader(lines), 2)
        ]


def give_reasons(
    changes: Iterable[Change], reasons: list[Reason], file: str
) -> tuple[list[Change], list[str]]:
    """Changes with the first reason that speaks of each, and one line for each that is missing.

    Args:
        changes: The changes.
        reasons: The reasons in their order.
        file: The name of their file, for the lines.

    Returns:
        The changes that have a reason, and the complaints: a change without a reason, a reason that
        is empty, a reason that speaks of no change.
    """
    done, wrong, used = [], [], set()
    for change in changes:
        reason = next((r for r in reasons if r.reason and r.fits(change)), None)
        if reason is None:
            wrong.append(f"{change}: no reason; add a row to {file}")
        else:
            used.add(reason.line)
            done.append(
                Change(
                    change.table,
                    change.row,
                    change.column,
                    change.old,
                    change.new,
                    change.kind,
                    reason.reason,
                )
            )
    for r in reasons:
        if not r.reason:
            wrong.append(f"{file}:{r.line}: reason: '': a reason in words")
        elif r.line not in used:
            place = f"{r.table}, {r.row}, {r.column}"
            wrong.append(f"{file}:{r.line}: {place}: no such value changed; take the row out or correct it")
    return done, wrong
