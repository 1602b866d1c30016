"""A small CSV table that the user keyed: every cell is read, and what is wrong is told in one line."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from jointable.errors import InputError
from jointable.schedule_csv import decoded
from jointable.schedule_form import closest

__all__ = ["read_user_table"]


def read_user_table(
    path: Path | str, columns: Sequence[str], required: Mapping[str, str], what: str
) -> tuple[tuple[int, dict[str, str]], ...]:
    """Read a CSV file whose columns may stand in any order.

    Args:
        path: The file.
        columns: The columns that it may have.
        required: Those that it must have and that must be filled in, each with what to write there.
        what: What the file is, such as `a CSV file of prices`.

    Returns:
        The rows with their numbers, the header being row 1; columns left out are empty.

    Raises:
        InputError: The file cannot be read, the header is wrong, or a required cell is empty.

    Source: RFC 4180 (2005).

    Example:
        >>> read_user_table("no-such-file.csv", ["class"], {"class": "a class"}, "a CSV file of prices")
        Traceback (most recent call last):
        ...
        jointable.errors.InputError: no-such-file.csv: there is no such file; a CSV file of prices
    """
    name = str(path)
    try:
        data = Path(path).read_bytes()
    except FileNotFoundError:
        raise InputError("there is no such file", file=name, expected=what) from None
    except OSError as error:
        raise InputError(f"cannot be read: {error.strerror or error}", file=name, expected=what) from None
    wanted = f"the line {','.join(columns)} and a row below it"
    records = _records(decoded(data, name), name)
    row, header = next(records, (1, []))
    if not header:
        raise InputError("the file is empty", file=name, expected=wanted)
    found = _header(header, row, name, columns, required)
    rows = tuple((n, _cells(n, cells, found, columns, required, name)) for n, cells in records)
    if not rows:
        raise InputError("no rows below the header", file=name, row=row, expected=wanted)
    return rows


def _records(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    row = 0
    while True:
        row += 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise InputError(
                f"this row cannot be read: {error}", file=name, row=row, expected="well-formed CSV"
            ) from None
        if any(cell.strip() for cell in cells):
            yield row, cells


def _header(
    cells: list[str], row: int, name: str, columns: Sequence[str], required: Mapping[str, str]
) -> tuple[str, ...]:
    found = tuple(c.strip().lower() for c in cells)
    for column in found:
        if column not in columns:
            guess = closest(column, columns) if column else None
            right = f"did you mean {guess!r}?" if guess else f"one of {', '.join(columns)}"
            raise InputError(
                "unknown column", file=name, row=row, column=column or "-", value=column, expected=right
            )
        if found.count(column) > 1:
            raise InputError(
                "the column stands twice", file=name, row=row, column=column, expected="each column once"
            )
    for column in required:
        if column not in found:
            raise InputError(
                "the column is missing",
                file=name,
                row=row,
                column=column,
                expected=f"the header {','.join(columns)}",
            )
    return found


def _cells(
    row: int,
    cells: list[str],
    header: tuple[str, ...],
    columns: Sequence[str],
    required: Mapping[str, str],
    name: str,
) -> dict[str, str]:
    if len(cells) != len(header):
        raise InputError(
            f"the row has {len(cells)} cells and the header {len(header)}",
            file=name,
            row=row,
            expected="a cell, empty if need be, for each column; one with a comma in it in double quotes",
        )
    cell = dict.fromkeys(columns, "") | {c: text.strip() for c, text in zip(header, cells, strict=True)}
    for column, right in required.items():
        if not cell[column]:
            raise InputError("the cell is empty", file=name, row=row, column=column, expected=right)
    return cell
