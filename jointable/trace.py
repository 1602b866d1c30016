"""Where a published value comes from: the chain back to the printed figures."""

from __future__ import annotations

import csv
import difflib
import io
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.errors import InputError

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Trace", "trace"]

#: A formula may read a whole table; past this many inputs the rest is only counted.
MOST_INPUTS = 40


@dataclass(slots=True)
class Trace:
    """One value and what it comes from.

    `inputs` are the values that its formula reads, each with its own chain; an input that was
    already shown is named again without its chain.
    """

    table: str
    key: str
    column: str
    value: Any
    unit: str | None = None
    origin: str | None = None
    access: str | None = None
    source: str | None = None
    locator: str | None = None
    printed: str | None = None
    formula: str | None = None
    inputs: list[Trace] = field(default_factory=list)
    checks: list[dict[str, Any]] = field(default_factory=list)
    evidence: int | None = None
    corrections: list[dict[str, Any]] = field(default_factory=list)
    title: str | None = None
    edition: str | None = None
    raw_file: str | None = None
    note: str | None = None
    other_readings: list[dict[str, Any]] = field(default_factory=list)
    more_inputs: int = 0

    @property
    def id(self) -> str:
        """The provenance id of the value."""
        return f"{self.table}/{self.key}/{self.column}"

    def _repr_html_(self) -> str:
        """The chain as notebooks show it."""
        from jointable.notebook import html_trace

        return html_trace(self.to_dict())

    def to_dict(self) -> dict[str, Any]:
        """The chain as nested dictionaries, the form that `--json` prints."""
        out = {name: getattr(self, name) for name in self.__slots__ if name != "inputs"}
        out["inputs"] = [i.to_dict() for i in self.inputs]
        return out


def trace(reference: Reference, table: str, key: str | tuple[str, ...], column: str) -> Trace:
    """Follow a published value to the figures it was printed as.

    Args:
        reference: The open database.
        table: The published table.
        key: The primary key of the row in schema order: values, or one CSV line of them.
        column: A column outside the key.

    Returns:
        The value with its source, or with its formula and, nested, the inputs of that.

    Raises:
        InputError: There is no such table, row or column.

    Source: the tables `provenance`, `derivation`, `derivation_input` and `check_cell`.

    Example:
        >>> import jointable
        >>> trace(jointable.open(), "allowance", "nec-2023,12 AWG", "volume_in3").printed
        '2.25'
    """
    return _Tracer(reference).follow(table, key, column)


class _Tracer:
    """Follows chains in one database; remembers what it has shown."""

    def __init__(self, reference: Reference) -> None:
        self.reference = reference
        self.seen: set[str] = set()
        self.keys: dict[str, list[str]] = {}

    def follow(self, table: str, key: str | tuple[str, ...], column: str) -> Trace:
        names = self.key_columns(table)
        values = tuple(_values(key)) if isinstance(key, str) else key
        if len(values) != len(names):
            raise InputError(
                f"{len(values)} key values, not {len(names)}",
                column="KEY",
                value=key if isinstance(key, str) else _line(values),
                expected=f"values of {', '.join(names)} as one CSV line",
            )
        self._known_column(table, column, names)
        condition = " AND ".join(f'CAST("{n}" AS VARCHAR) = ?' for n in names)
        rows = self.reference.rows(f'SELECT "{column}" FROM "{table}" WHERE {condition}', list(values))
        if not rows:
            raise InputError(
                f"no such row in {table}",
                column="KEY",
                value=_line(values),
                expected=self._near(table, names, values),
            )
        return self.chain(table, values, column, rows[0][0])

    def chain(self, table: str, values: tuple[str, ...], column: str, value: Any) -> Trace:
        found = Trace(table, _line(values), column, value)
        record = self._provenance(found)
        if record is None:
            return found
        self._describe(found, record)
        if found.id in self.seen:
            return found
        self.seen.add(found.id)
        if record["derivation_id"]:
            self._inputs(found, record["derivation_id"], values)
        return found

    def key_columns(self, table: str) -> list[str]:
        if table not in self.keys:
            rows = self.reference.rows(
                "SELECT constraint_column_names FROM duckdb_constraints() "
                "WHERE table_name = ? AND constraint_type = 'PRIMARY KEY'",
                [table],
            )
            if not rows:
                raise InputError("no such table", column="TABLE", value=table, expected=self._tables(table))
            self.keys[table] = list(rows[0][0])
        return self.keys[table]

    def _tables(self, wanted: str) -> str:
        names = [r[0] for r in self.reference.rows("SELECT DISTINCT table_name FROM provenance ORDER BY 1")]
        near = difflib.get_close_matches(wanted, names, 3, 0.5)
        return "did you mean " + " or ".join(near) + "?" if near else "one of " + ", ".join(names)

    def _known_column(self, table: str, column: str, keys: list[str]) -> None:
        names = [
            r[0]
            for r in self.reference.rows(
                "SELECT column_name FROM duckdb_columns() WHERE table_name = ? ORDER BY column_index", [table]
            )
        ]
        if column in names and column not in keys:
            return
        reason = (
            "a column of the key names the row and has no source of its own"
            if column in keys
            else f"no such column in {table}"
        )
        data = [n for n in names if n not in keys]
        raise InputError(reason, column="COLUMN", value=column, expected="one of " + ", ".join(data))

    def _near(self, table: str, names: list[str], values: tuple[str, ...]) -> str:
        expression = ", ".join(f'CAST("{n}" AS VARCHAR)' for n in names)
        lines = [_line(row) for row in self.reference.rows(f'SELECT {expression} FROM "{table}" LIMIT 5000')]
        near = difflib.get_close_matches(_line(values), lines, 3, 0.6) or lines[:1]
        return "such as " + " or ".join(near)

    def _provenance(self, found: Trace) -> dict[str, Any] | None:
        rows = self.reference.records(
            "SELECT p.*, s.title, s.edition AS source_edition, d.formula FROM provenance p "
            "LEFT JOIN source s USING (source_id) LEFT JOIN derivation d USING (derivation_id) "
            "WHERE p.table_name = ? AND p.column_name = ? AND p.row_key IN (?, '*') ORDER BY p.reading",
            [found.table, found.column, found.key],
        )
        if not rows:
            return None
        found.other_readings = [
            {
                "source": r["source_id"],
                "locator": r["locator"],
                "printed": r["printed_value"],
                "value": r["value"],
                "rank": r["rank"],
            }
            for r in rows[1:]
        ]
        return rows[0]

    def _describe(self, found: Trace, record: dict[str, Any]) -> None:
        found.unit, found.origin, found.access = (
            record["unit"] or self._unit(found),
            record["origin"],
            record["access"],
        )
        found.source, found.locator, found.printed = (
            record["source_id"],
            record["locator"],
            record["printed_value"],
        )
        found.title, found.edition, found.note = record["title"], record["source_edition"], record["note"]
        found.formula, found.evidence, found.raw_file = (
            record["formula"],
            record["evidence"],
            record["raw_file"],
        )
        found.checks = self.reference.records(
            "SELECT check_id, residual FROM check_cell WHERE table_name = ? AND row_key = ? AND column_name = ? ORDER BY 1",
            [found.table, found.key, found.column],
        )
        if record["raw_file"]:
            found.corrections = self.reference.records(
                "SELECT printed_value AS printed, corrected_value AS corrected, reason, evidence FROM correction "
                "WHERE raw_file = ? AND raw_key = ? AND raw_column = ?",
                [record["raw_file"], record["raw_key"], record["raw_column"]],
            )

    def _unit(self, found: Trace) -> str | None:
        rows = self.reference.rows(
            "SELECT regexp_extract(comment, '\\[([^\\]]+)\\]$', 1) FROM duckdb_columns() "
            "WHERE table_name = ? AND column_name = ?",
            [found.table, found.column],
        )
        return (rows[0][0] or None) if rows else None

    def _inputs(self, found: Trace, derivation: str, values: tuple[str, ...]) -> None:
        ours = " AND ".join(f'CAST("{n}" AS VARCHAR) = ?' for n in self.key_columns(found.table))
        for table, column, join in self.reference.rows(
            "SELECT table_name, column_name, join_condition FROM derivation_input WHERE derivation_id = ? ORDER BY position",
            [derivation],
        ):
            keys = self.key_columns(table)
            wanted = ", ".join(f'CAST(i."{k}" AS VARCHAR)' for k in keys)
            rows = self.reference.rows(
                f'SELECT DISTINCT {wanted}, i."{column}" FROM "{table}" i, (SELECT * FROM "{found.table}" WHERE {ours}) r '
                f'WHERE {join or "true"} AND i."{column}" IS NOT NULL ORDER BY ALL',
                list(values),
            )
            room = max(0, MOST_INPUTS - len(found.inputs))
            found.more_inputs += max(0, len(rows) - room)
            found.inputs += [self.chain(table, tuple(row[:-1]), column, row[-1]) for row in rows[:room]]


def _values(line: str) -> list[str]:
    return next(csv.reader(io.StringIO(line)), [])


def _line(values: tuple[Any, ...]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow([str(v) for v in values])
    return text.getvalue()


def plain(value: Any) -> str:
    """A value as people read it: a decimal without padding zeros."""
    if isinstance(value, Decimal):
        text = format(value, "f")
        return text.rstrip("0").rstrip(".") if "." in text else text
    return "" if value is None else str(value)
