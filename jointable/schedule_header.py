"""The names of the columns of a schedule as written, and what is wrong with them."""

from __future__ import annotations

from collections.abc import Sequence

from jointable.errors import InputError
from jointable.schedule_form import COLUMNS, REQUIRED, closest

__all__ = ["checked_header", "unknown_column"]


def checked_header(
    names: Sequence[str],
    file: str | None,
    row: int | None = None,
    required: Sequence[str] = REQUIRED,
) -> tuple[str, ...]:
    """Check the column names of a schedule.

    Args:
        names: The names as written.
        file: What messages call the schedule.
        row: The row they stand in.

    Returns:
        The names as the rest of the library writes them.

    Raises:
        InputError: A name is unknown, doubled or missing.

    Source: none; the form is this project's.

    Example:
        >>> checked_header(["Box", "item", "size", "quantity"], "a.csv")
        ('box', 'item', 'size', 'quantity')
    """
    found = tuple(name.strip().lower() for name in names)
    # Two of the four names: a row of items can hold the word `box` too.
    if len(set(found) & set(REQUIRED)) < 2:
        raise InputError(
            "no header line",
            file=file,
            row=row,
            value=",".join(names)[:60],
            expected=_separator_hint(names) or f"the first line is {','.join(REQUIRED)}",
        )
    for name, written in zip(found, names, strict=True):
        if name not in COLUMNS:
            raise unknown_column(written, file, row, found.index(name) + 1)
        if found.count(name) > 1:
            raise InputError(
                "the column stands twice",
                file=file,
                row=row,
                column=name,
                expected="each column once",
            )
    for name in REQUIRED:
        if name not in found:
            raise InputError(
                "the column is missing",
                file=file,
                row=row,
                column=name,
                expected=f"a header with {','.join(REQUIRED)}",
            )
    return found


def unknown_column(written: str, file: str | None, row: int | None, number: int = 1) -> InputError:
    """The error for a column that no schedule has.

    Args:
        written: Its name as written.
        file: What messages call the schedule.
        row: The row it stands in.
        number: Which column it is, counted from 1.

    Returns:
        The error.

    Source: none; the form is this project's.

    Example:
        >>> print(unknown_column("qty", "a.csv", 1))
        a.csv:1: qty: 'qty': unknown column; did you mean 'quantity'?
    """
    guess = closest(written, COLUMNS)
    return InputError(
        "unknown column" if written.strip() else "a column without a name",
        file=file,
        row=row,
        column=written.strip() or f"column {number}",
        value=written,
        expected=f"did you mean {guess!r}?" if guess else f"the columns are {', '.join(COLUMNS)}",
    )


def _separator_hint(names: Sequence[str]) -> str | None:
    for mark, word in ((";", "semicolons"), ("\t", "tabs"), ("|", "bars")):
        if len(names) == 1 and mark in names[0]:
            return f"the columns are parted by {word}; save it with commas"
    return None
