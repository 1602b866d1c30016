"""What changed between two states of the published tables, cell by cell, and the reasons for it."""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from pipeline.frames import Row, canonical_csv
from pipeline.readings import row_key
from pipeline.schema import TableSchema

__all__ = [
    "Change",
    "Reason",
    "State",
    "changes_between",
    "read_reasons",
    "read_state",
    "state_of",
    "with_reasons",
    "write_state",
]

#: Keyed rows of one table: key as one CSV line -> column -> text.
Rows = dict[str, dict[str, str]]

#: What of the provenance of a value a release tells of when it changes.
_ORIGIN = ("source_id", "locator", "origin", "access", "printed_value")
_STAMP = (1980, 1, 1, 0, 0, 0)
_ANY = "*"
REASON_COLUMNS = ("table_name", "row_key", "column_name", "reason")


@dataclass(frozen=True, slots=True)
class State:
    """The reference tables at one time: their columns, their rows, and the provenance of their cells."""

    columns: Mapping[str, tuple[str, ...]]
    rows: Mapping[str, Rows]
    origins: Mapping[tuple[str, str, str], str]


@dataclass(frozen=True, slots=True)
class Change:
    """One difference. A whole row has the column `*`, a whole table or column the row `*`."""

    table: str
    row: str
    column: str
    old: str | None
    new: str | None
    kind: str
    reason: str = ""

    def __str__(self) -> str:
        return (
            f"{self.table}: {self.row}: {self.column}: {self.old or '-'} -> {self.new or '-'} ({self.kind})"
        )


@dataclass(frozen=True, slots=True)
class Reason:
    """Why something changes; `*` stands for any row or column."""

    line: int
    table: str
    row: str
    column: str
    text: str

    def covers(self, change: Change) -> bool:
        """Whether it speaks of a change."""
        pairs = ((self.table, change.table), (self.row, change.row), (self.column, change.column))
        return all(mine in (_ANY, theirs) for mine, theirs in pairs)

    @property
    def exactness(self) -> int:
        """How many of its three parts are named; the most exact reason wins."""
        return sum(part != _ANY for part in (self.table, self.row, self.column))


def state_of(tables: Mapping[str, list[Row]], schemas: Mapping[str, TableSchema]) -> State:
    """The state that assembled tables are in."""
    texts = {
        name: canonical_csv(tables[name], schema).decode("utf-8")
        for name, schema in schemas.items()
        if _counts(schema) and name in tables
    }
    return _state(texts, {name: schemas[name].primary_key for name in texts})


def _counts(schema: TableSchema) -> bool:
    return bool(schema.primary_key) and (schema.kind == "reference" or schema.name == "provenance")


def _state(texts: Mapping[str, str], keys: Mapping[str, tuple[str, ...]]) -> State:
    columns, rows, origins = {}, {}, {}
    for name, text in texts.items():
        reader = csv.DictReader(io.StringIO(text, newline=""))
        found = list(reader)
        if name == "provenance":
            origins = {
                (r["table_name"], r["row_key"], r["column_name"]): "; ".join(r[c] for c in _ORIGIN if r[c])
                for r in found
                if r["reading"] == "1"
            }
            continue
        columns[name] = tuple(reader.fieldnames or ())
        rows[name] = {row_key(tuple(r[k] for k in keys[name])): r for r in found}
    return State(columns, rows, origins)


def write_state(path: Path, tables: Mapping[str, list[Row]], schemas: Mapping[str, TableSchema]) -> None:
    """Keep the tables of a release for the comparison of the next; equal tables give equal bytes."""
    with zipfile.ZipFile(path, "w") as archive:
        for name, schema in sorted(schemas.items()):
            if _counts(schema):
                archive.writestr(_entry(f"{name}.csv"), canonical_csv(tables[name], schema))
                archive.writestr(_entry(f"{name}.key"), ",".join(schema.primary_key))


def _entry(name: str) -> zipfile.ZipInfo:
    entry = zipfile.ZipInfo(name, _STAMP)
    entry.compress_type = zipfile.ZIP_DEFLATED
    return entry


def read_state(path: Path) -> State:
    """The state that a release was in."""
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name).decode("utf-8") for name in archive.namelist()}
    texts = {n.removesuffix(".csv"): text for n, text in parts.items() if n.endswith(".csv")}
    return _state(texts, {name: tuple(parts[f"{name}.key"].split(",")) for name in texts})


def changes_between(old: State, new: State) -> list[Change]:
    """Every difference of two states, in order of table, row and column.

    Args:
        old: The last release.
        new: The tables now.

    Returns:
        The changes without reasons. A new table or column is one change, not one a row.
    """
    found: list[Change] = []
    for name in sorted({*old.rows, *new.rows}):
        if name not in old.rows:
            found.append(Change(name, _ANY, _ANY, None, f"{len(new.rows[name])} rows", "added"))
        elif name not in new.rows:
            found.append(Change(name, _ANY, _ANY, f"{len(old.rows[name])} rows", None, "withdrawn"))
        else:
            found += _in_table(name, old, new)
    return found


def _in_table(name: str, old: State, new: State) -> Iterator[Change]:
    before, after = old.columns[name], new.columns[name]
    for column in sorted({*before} ^ {*after}):
        if column in after:
            yield Change(name, _ANY, column, None, "a column", "added")
        else:
            yield Change(name, _ANY, column, "a column", None, "withdrawn")
    shared = [c for c in after if c in before]
    for key in sorted({*old.rows[name], *new.rows[name]}):
        one, other = old.rows[name].get(key), new.rows[name].get(key)
        if one is None or other is None:
            yield Change(name, key, _ANY, _line(one), _line(other), "withdrawn" if one else "added")
            continue
        for column in shared:
            if one[column] != other[column]:
                yield Change(name, key, column, one[column] or None, other[column] or None, "changed")
            else:
                yield from _moved(name, key, column, old, new)
    for column in shared:
        yield from _moved(name, _ANY, column, old, new)


def _moved(name: str, key: str, column: str, old: State, new: State) -> Iterator[Change]:
    """The value stands, but it comes from elsewhere."""
    one, other = (s.origins.get((name, key, column)) for s in (old, new))
    if one != other:
        yield Change(name, key, column, one, other, "provenance")


def _line(row: Mapping[str, str] | None) -> str | None:
    return row_key(tuple(row.values())) if row else None


def read_reasons(path: Path) -> list[Reason]:
    """The reasons that were written down since the last release."""
    if not path.is_file():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        reader = csv.DictReader(lines)
        if tuple(reader.fieldnames or ()) != REASON_COLUMNS:
            raise ValueError(f"{path.name}:1: the header is not {','.join(REASON_COLUMNS)}")
        return [Reason(reader.line_num, *(r[c].strip() for c in REASON_COLUMNS)) for r in reader]


def with_reasons(
    changes: Iterable[Change], reasons: list[Reason]
) -> tuple[list[Change], list[Change], list[Reason]]:
    """Changes with their reasons, changes without one, and reasons of nothing.

    The most exact reason of a change counts; of two equally exact ones the later.
    """
    told, untold, used = [], [], set()
    for change in changes:
        fitting = [r for r in reasons if r.text and r.covers(change)]
        if not fitting:
            untold.append(change)
            continue
        best = max(fitting, key=lambda r: (r.exactness, r.line))
        used.update(fitting)
        told.append(
            Change(change.table, change.row, change.column, change.old, change.new, change.kind, best.text)
        )
    return told, untold, [r for r in reasons if r not in used]
