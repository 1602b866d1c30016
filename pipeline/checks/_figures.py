"""How a printed figure is held against the figure that a rule gives.

A rule gives an exact value and the place of the last digit that the table prints; the printed figure must
lie within half a unit of that digit. Where print is known to differ, `raw/known_departures.csv` says by
how many units, with the reason: the comparison is then made around that place and is no wider.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import TypeVar

from pipeline.checks import Cell, Comparison, Context
from pipeline.intervals import Interval, Printed, half_unit
from pipeline.readings import RawRow, row_key
from pipeline.schema import load_raw_schemas

__all__ = [
    "HALF_UNIT",
    "HALF_UNIT_REASON",
    "Departures",
    "figures",
    "increasing",
    "key_of",
    "keys_agree",
    "meets",
    "place",
    "said",
]

Key = TypeVar("Key", bound=tuple[str, ...])

HALF = Decimal("0.5")
HALF_UNIT = "half a unit of the last printed digit"
HALF_UNIT_REASON = "The table rounds the rule's value; cells where print is known to differ stand in raw/known_departures.csv."


def figures(value: Decimal, count: int) -> Decimal:
    """Unit of the last of so many significant figures of a value.

    >>> figures(Decimal("0.0123"), 2), figures(Decimal("167806"), 4)
    (Decimal('0.001'), Decimal('1E+2'))
    """
    return Decimal(1).scaleb(value.adjusted() - count + 1)


def place(decimals: int) -> Decimal:
    """Unit of so many decimals."""
    return Decimal(1).scaleb(-decimals)


def key_of(row: RawRow) -> str:
    """Primary key of a raw row as one CSV line."""
    return row_key(tuple(row[c] for c in load_raw_schemas()[row.file].primary_key))


@dataclass(slots=True)
class Departures:
    """The known departures of one check, and which of them were met with."""

    context: Context
    check: str
    rows: dict[tuple[str, str, str], RawRow] = field(default_factory=dict)
    used: set[tuple[str, str, str]] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.rows = {
            (r["file"], r["key"], r["column"]): r
            for r in self.context.rows("known_departures")
            if r["check"] == self.check
        }

    def against(
        self, row: RawRow, column: str, exact: Decimal, unit: Decimal, how: str, inputs: Iterable[Cell] = ()
    ) -> Comparison:
        """Compare a printed figure with the exact value of a rule, half a unit either way.

        Args:
            row: The printed row.
            column: The printed column.
            exact: What the rule gives, unrounded.
            unit: Unit of the last digit that the table prints.
            how: The rule in words.
            inputs: Other printed cells that the rule reads.
        """
        known = self._units(row, column)
        printed = Decimal(row[column])
        off = abs((printed - exact) / unit - known)
        # A figure beyond the last place that the table prints is a slip too, however small.
        ok = off <= HALF and printed % unit == 0
        return Comparison(((row, column), *inputs), ok, float(off) * 2, said(exact + known * unit, unit, how))

    def twin(
        self, row: RawRow, column: str, other: RawRow, other_column: str, factor: Fraction
    ) -> Comparison:
        """Compare a printed figure with a factor times another: the two intervals must meet.

        A departure moves the figure by its units first.
        """
        unit = 2 * half_unit(row[column])
        moved = Printed(row[column]) - Fraction(self._units(row, column)) * unit
        expected = Printed(other[other_column]) * factor
        how = f"{float(factor):.6g} times {other[other_column]}"
        bounds = f"between {float(expected.low):.6g} and {float(expected.high):.6g}, {how}"
        return Comparison(
            ((row, column), (other, other_column)), moved.meets(expected), moved.residual(expected), bounds
        )

    def _units(self, row: RawRow, column: str) -> Decimal:
        if not self.rows:
            return Decimal(0)
        cell = (row.file, key_of(row), column)
        if cell not in self.rows:
            return Decimal(0)
        self.used.add(cell)
        return Decimal(self.rows[cell]["units"])

    def unused(self) -> Iterator[Comparison]:
        """A departure whose cell this check never saw is a slip in the departure itself."""
        for cell, row in self.rows.items():
            if cell not in self.used:
                yield Comparison(((row, "key"),), False, 1.0, f"a cell that {self.check} compares")


def said(value: Decimal, unit: Decimal, how: str) -> str:
    """A value at its last digit, and the rule that gives it."""
    return f"{value.quantize(unit, ROUND_HALF_UP):f}, {how}"


def meets(row: RawRow, column: str, expected: Interval, how: str, inputs: Iterable[Cell] = ()) -> Comparison:
    """Whether the interval of a printed figure meets the interval that a rule allows."""
    printed = Printed(row[column])
    bounds = f"between {float(expected.low):.6g} and {float(expected.high):.6g}, {how}"
    return Comparison(((row, column), *inputs), printed.meets(expected), printed.residual(expected), bounds)


def increasing(
    rows: Iterable[RawRow], column: str, *, strictly: bool = True, falling: bool = False
) -> Iterator[Comparison]:
    """Each printed figure of a column against the one before it; rows that print none are passed over.

    The rows come in the order of their sizes, whatever the order of the file.
    """
    before: RawRow | None = None
    for row in rows:
        if not row[column]:
            continue
        if before is not None:
            step = Decimal(row[column]) - Decimal(before[column])
            step = -step if falling else step
            word = "less" if falling else "more"
            yield Comparison(
                ((row, column), (before, column)),
                step > 0 or (step == 0 and not strictly),
                0.0,
                f"{word} than {before[column]} of the size before" + ("" if strictly else ", or equal to it"),
            )
        before = row


def keys_agree(one: Mapping[Key, RawRow], other: Mapping[Key, RawRow]) -> Iterator[Comparison]:
    """Two files that print the same rows have the same keys; `one` and `other` hold them by a common key."""
    for rows, against in ((one, other), (other, one)):
        name = next((f"raw/{row.file}.csv" for row in against.values()), "the other file")
        for key, row in rows.items():
            cells = tuple((row, column) for column in load_raw_schemas()[row.file].primary_key)
            yield Comparison(cells, key in against, 0.0, f"a row that {name} has too")
