"""Where a published value comes from: the chain back to the printed figures."""

from __future__ import annotations

import csv
import difflib
import io
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.errors import InputError
from jointable.trace_records import key_line, records_of

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Trace", "trace"]

#: A formula may read a whole table; past this many inputs the rest is only counted.
MOST_INPUTS = 40

#: How a value is known, the best first.
ACCESS = ("original", "secondary", "common practice", "memory")


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
        self.records = records_of(reference)
        self.nodes: list[Trace] = []
        self.first: dict[str, Trace] = {}

    def follow(self, table: str, key: str | tuple[str, ...], column: str) -> Trace:
        names = self._key_columns(table)
        values = tuple(_values(key)) if isinstance(key, str) else key
        if len(values) != len(names):
            raise InputError(
                f"{len(values)} key values, not {len(names)}",
                column="KEY",
                value=key if isinstance(key, str) else key_line(values),
                expected=f"values of {', '.join(names)} as one CSV line",
            )
        self._known_column(table, column, names)
        condition = " AND ".join(f'CAST("{n}" AS VARCHAR) = ?' for n in names)
        rows = self.reference.rows(f'SELECT "{column}" FROM "{table}" WHERE {condition}', list(values))
        if not rows:
            raise InputError(
                f"no such row in {table}",
                column="KEY",
                value=key_line(values),
                expected=self._near(table, names, values),
            )
        (found,) = self._chains(table, column, [(*values, rows[0][0])])
        self._checked()
        _settle_access(found, self.first, {})
        return found

    def _chains(self, table: str, column: str, rows: list[tuple[Any, ...]]) -> list[Trace]:
        """Values of one column, each with its chain; a row is its key and the value."""
        found = [Trace(table, key_line(row[:-1]), column, row[-1]) for row in rows]
        provenance = self.records.provenance(table, column, [f.key for f in found])
        for one, row in zip(found, rows, strict=True):
            self.nodes.append(one)
            readings = provenance.get(one.key)
            if not readings:
                continue
            self._describe(one, readings)
            if one.id not in self.first:
                self.first[one.id] = one
                if readings[0]["derivation_id"]:
                    self._inputs(one, readings[0]["derivation_id"], row[:-1])
        return found

    def _inputs(self, found: Trace, derivation: str, values: tuple[str, ...]) -> None:
        for table, column, join in self.records.inputs.get(derivation, ()):
            rows = self.records.input_rows(found.table, values, table, column, join)
            room = max(0, MOST_INPUTS - len(found.inputs))
            found.more_inputs += max(0, len(rows) - room)
            found.inputs += self._chains(table, column, rows[:room])

    def _describe(self, found: Trace, readings: list[dict[str, Any]]) -> None:
        record, *others = readings
        found.unit = record["unit"] or self.records.units.get((found.table, found.column))
        found.origin, found.access, found.note = record["origin"], record["access"], record["note"]
        found.source, found.locator, found.printed = (
            record["source_id"],
            record["locator"],
            record["printed_value"],
        )
        found.title, found.edition = self.records.sources.get(record["source_id"], (None, None))
        found.formula = self.records.formulas.get(record["derivation_id"])
        found.evidence, found.raw_file = record["evidence"], record["raw_file"]
        found.corrections = self.records.corrections.get(
            (record["raw_file"], record["raw_key"], record["raw_column"]), []
        )
        found.other_readings = [
            {
                "source": r["source_id"],
                "locator": r["locator"],
                "printed": r["printed_value"],
                "value": r["value"],
                "rank": r["rank"],
            }
            for r in others
        ]

    def _checked(self) -> None:
        checks = self.records.checks([(n.table, n.key, n.column) for n in self.nodes])
        for node in self.nodes:
            node.checks = checks.get((node.table, node.key, node.column), [])

    def _key_columns(self, table: str) -> list[str]:
        if table not in self.records.keys:
            raise InputError("no such table", column="TABLE", value=table, expected=self._tables(table))
        return self.records.keys[table]

    def _tables(self, wanted: str) -> str:
        names = [r[0] for r in self.reference.rows("SELECT DISTINCT table_name FROM provenance ORDER BY 1")]
        near = difflib.get_close_matches(wanted, names, 3, 0.5)
        return "did you mean " + " or ".join(near) + "?" if near else "one of " + ", ".join(names)

    def _known_column(self, table: str, column: str, keys: list[str]) -> None:
        names = self.records.columns[table]
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
        lines = [
            key_line(row) for row in self.reference.rows(f'SELECT {expression} FROM "{table}" LIMIT 5000')
        ]
        near = difflib.get_close_matches(key_line(values), lines, 3, 0.6) or lines[:1]
        return "such as " + " or ".join(near)


def _settle_access(found: Trace, first: dict[str, Trace], known: dict[str, str | None]) -> str | None:
    """The access of a computed value: the worst of what it was computed from.

    The database states it for a whole computed column; here it is that of the one value. Where not
    every input is shown, the word for the column stands.
    """
    if found.id not in known:
        shown = first.get(found.id, found)
        known[found.id] = shown.access
        words = [_settle_access(i, first, known) for i in shown.inputs]
        if words and not shown.more_inputs and all(w in ACCESS for w in words):
            known[found.id] = max((w for w in words if w), key=ACCESS.index)
    found.access = known[found.id]
    return found.access


def _values(line: str) -> list[str]:
    try:
        return next(csv.reader(io.StringIO(line, newline=""), strict=True), [])
    except csv.Error:
        raise InputError(
            "not one line of CSV",
            column="KEY",
            value=line,
            expected="the key values parted by commas, one that holds a comma or a quote in quotes",
        ) from None


def plain(value: Any) -> str:
    """A value as people read it: a decimal without padding zeros."""
    if isinstance(value, Decimal):
        text = format(value, "f")
        return text.rstrip("0").rstrip(".") if "." in text else text
    return "" if value is None else str(value)
