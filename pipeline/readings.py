"""The two forms that data has on its way: a printed row, and a reading of one value for one cell."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

__all__ = [
    "Derivation",
    "Input",
    "Raw",
    "RawRow",
    "Reading",
    "Tables",
    "row_key",
]

#: A published table as text: key values in schema order -> column -> value or None.
Table = Mapping[tuple[str, ...], Mapping[str, str | None]]
Tables = Mapping[str, Table]


@dataclass(frozen=True, slots=True)
class RawRow:
    """One printed row, as text.

    `cells` holds the values after the corrections ledger, `as_printed` those that it replaced.
    """

    file: str
    line: int
    cells: Mapping[str, str]
    as_printed: Mapping[str, str] = field(default_factory=dict)

    def __getitem__(self, column: str) -> str:
        return self.cells[column]

    def printed(self, column: str) -> str:
        """The text as printed, before any correction."""
        return self.as_printed.get(column, self.cells[column])

    @property
    def source(self) -> str:
        """The id of the source of the row."""
        return self.cells["source"]

    @property
    def locator(self) -> str:
        """Where in its source the row stands."""
        return self.cells["locator"]

    @property
    def access(self) -> str:
        """How the row was seen: original, secondary, memory or common practice."""
        return self.cells["access"]

    @property
    def note(self) -> str:
        """What else is known of the row."""
        return self.cells.get("note", "")


Raw = Mapping[str, list[RawRow]]


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one source for one published cell.

    `value` is published text (a decimal, a word) or None; `rank` says whether it is the value
    published (preferred) or one that is compared with it (normal) or kept only (deprecated).
    """

    table: str
    key: tuple[str, ...]
    column: str
    value: str | None
    row: RawRow
    raw_column: str
    origin: str = "quoted"
    unit: str = ""
    printed_unit: str = ""
    rank: str = "preferred"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Input:
    """A column that a formula reads, and how its rows join.

    `join` maps a column of `table` to a column of the derived table, or to a constant written
    with a leading equals sign. Where that does not say it, `condition` is SQL between a row i of
    the table read and a row r of the table computed.
    """

    table: str
    column: str
    join: Mapping[str, str] = field(default_factory=dict)
    condition: str = ""


@dataclass(frozen=True, slots=True)
class Derivation:
    """A column that one formula computes for every row."""

    table: str
    column: str
    formula: str
    inputs: tuple[Input, ...]
    compute: Callable[[Tables], Mapping[tuple[str, ...], str | None]]
    origin: str = "derived"
    note: str = ""

    @property
    def id(self) -> str:
        """The derivation's key: the table and the column it fills."""
        return f"{self.table}.{self.column}"


def row_key(values: tuple[str, ...]) -> str:
    """Key values as one CSV line, the form that `provenance` and `trace` use.

    >>> row_key(("nec-2023", "12 AWG")), row_key(("TW, THW", "1"))
    ('nec-2023,12 AWG', '"TW, THW",1')
    """
    return ",".join(
        '"' + value.replace('"', '""') + '"' if any(c in value for c in ',"\n\r') else value
        for value in values
    )
