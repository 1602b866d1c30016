"""What a schedule of boxes is made of: its columns, its rows in memory, and what is wrong in it."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from jointable.errors import InputError

__all__ = [
    "COLUMNS",
    "FILE_ROW",
    "HIDDEN",
    "REQUIRED",
    "Problem",
    "Scan",
    "Schedule",
    "bad_space",
    "closest",
    "hidden_problem",
    "text_of",
]

REQUIRED = ("box", "item", "size", "quantity")

#: Every column a schedule may have, in the order in which the documentation lists them.
COLUMNS = (
    *REQUIRED,
    "conductor_size",
    "gangs",
    "volume_in3",
    "volume_cm3",
    "loop_mm",
    "depth_mm",
    "insulation",
    "material",
    "construction",
    "space",
    "joint",
    "location",
    "circuit",
    "boxes",
    "note",
    "wall",
    "row",
    "pull",
    "run",
    "width_mm",
    "height_mm",
    "distance_mm",
)

#: The column of ours that carries the row of the file; a schedule's own `row` is a row of raceways.
FILE_ROW = "file_row"

#: Characters that look like a space or like nothing, and make two equal words differ.
HIDDEN = {
    "\u00a0": "a non-breaking space",
    "\u2007": "a figure space",
    "\u202f": "a narrow non-breaking space",
    "\u2009": "a thin space",
    "\u200b": "a zero-width space",
    "\u200d": "a zero-width joiner",
    "\ufeff": "a byte order mark",
    "\x00": "a NUL character",
}


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong in a schedule: where, what, and what would be right."""

    file_row: int | None
    box: str | None
    column: str | None
    value: str | None
    reason: str
    expected: str | None = None

    def error(self, name: str | None) -> InputError:
        """The problem as the one line that a user sees; `name` is what the schedule is called."""
        reason = self.reason
        # What concerns no one cell, or no known row, is told by the name of its box.
        if self.box is not None and (self.file_row is None or self.value is None):
            reason = f"box {self.box!r}: {reason}"
        return InputError(
            reason,
            file=name,
            row=self.file_row,
            column=self.column,
            value=self.value,
            expected=self.expected,
        )

    @property
    def text(self) -> str:
        """What is wrong and what would be right, on one line, without the place."""
        whole = f"{self.reason}; {self.expected}" if self.expected else self.reason
        return " ".join(whole.split())


@dataclass(frozen=True, slots=True)
class Scan:
    """Rows that stay where they are: files or a frame, read by DuckDB as it computes.

    Args:
        kind: `parquet`, `csv` or `object`.
        paths: The files of the first two kinds.
        source: The frame of the last.
        rows: The number of rows of each Parquet file.
    """

    kind: str
    paths: tuple[str, ...] = ()
    source: Any = None
    rows: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Schedule:
    """A schedule that was opened: either its cells as text in memory, or a scan.

    Args:
        name: What messages call it; None for rows given from Python.
        columns: The schedule columns it has.
        cells: One list a column, as text (None where empty), with the file row of each.
        scan: Where the rows are, if they are too many for memory.
        bad_rows: Rows that could not be read as rows; the boxes they name are bad.
        size: Number of rows, where it is known.
        parts: The files of a schedule of several, with the number of rows of each.
    """

    name: str | None
    columns: tuple[str, ...]
    cells: Mapping[str, Sequence[Any]] | None = None
    scan: Scan | None = None
    bad_rows: tuple[Problem, ...] = field(default=())
    size: int | None = None
    parts: tuple[tuple[str, int], ...] = ()

    def error(self, problem: Problem) -> InputError:
        """A problem of this schedule as the one line that a user sees."""
        name, row = self.place(problem.file_row)
        return replace(problem, file_row=row).error(name)

    def place(self, row: int | None) -> tuple[str | None, int | None]:
        """The file and the row in it of a row that is numbered over all files."""
        left = row
        for name, rows in self.parts:
            if left is not None and left <= rows:
                return name, left
            left = None if left is None else left - rows
        return self.name, row

    def records(self) -> list[dict[str, Any]]:
        """The rows as mappings from column to text, with the file row of each.

        Raises:
            InputError: A row could not be read as a row, or the rows are not in memory.
        """
        if self.bad_rows:
            raise self.error(self.bad_rows[0])
        if self.cells is None:
            raise InputError("too many rows to hold in memory", file=self.name)
        return [dict(zip(self.cells, row, strict=True)) for row in zip(*self.cells.values(), strict=True)]


def closest(word: str, words: Iterable[str]) -> str | None:
    """The most alike of some words, or None where none is alike.

    Args:
        word: What was written.
        words: What could have been meant.

    Returns:
        One of `words`, or None.

    Source: none; likeness as of Python's `difflib`.

    Example:
        >>> closest("qty", COLUMNS)
        'quantity'
    """
    found = difflib.get_close_matches(word.strip().lower(), list(words), n=1, cutoff=0.5)
    return found[0] if found else None


def bad_space(text: str) -> str | None:
    """Name the hidden character in a cell, if it holds one.

    Args:
        text: The cell.

    Returns:
        The character in words, or None.

    Source: none; the names are those of the Unicode Standard.

    Example:
        >>> bad_space("12\\u00a0AWG")
        'a non-breaking space'
    """
    if text.isascii() and "\x00" not in text:
        return None
    return next((name for mark, name in HIDDEN.items() if mark in text), None)


def hidden_problem(row: int | None, box: str | None, column: str, text: str | None, what: str) -> Problem:
    """What is wrong with a row of which a cell holds a hidden character.

    Args:
        row: The row.
        box: The box it names.
        column: The column of the cell.
        text: The cell.
        what: The character in words, as `bad_space` names it.

    Returns:
        The problem.

    Source: none; the form is this project's.

    Example:
        >>> hidden_problem(2, "A", "size", "12\\u00a0", "a non-breaking space").text
        'the cell holds a non-breaking space; plain spaces only'
    """
    return Problem(row, box, column, text, f"the cell holds {what}", "plain spaces only")


def text_of(value: Any) -> str | None:
    """A value from Python as the text a schedule would hold.

    Args:
        value: Text, a number or None.

    Returns:
        The text, or None for nothing; a whole float is written as an integer.

    Source: none; the form is this project's.

    Example:
        >>> [text_of(v) for v in (12, 2.0, Decimal("30.30"), float("nan"), "  ")]
        ['12', '2', '30.30', None, None]
    """
    if value is None or value != value:
        return None
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, Decimal):
        return format(value, "f")
    return str(value).strip() or None
