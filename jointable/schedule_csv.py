"""Schedules written as CSV."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Collection, Iterable, Iterator, Sequence
from typing import Any

from jointable.errors import InputError
from jointable.schedule_form import (
    FILE_ROW,
    Problem,
    Schedule,
    bad_space,
    hidden_problem,
)
from jointable.schedule_header import checked_header

__all__ = ["csv_header", "csv_problems", "csv_rows", "decoded", "from_csv"]

#: First bytes of files that are no text, and what to do about each.
_SIGNATURES = (
    (b"PK\x03\x04", "a workbook or archive, not text", "save the sheet as CSV UTF-8"),
    (b"\xd0\xcf\x11\xe0", "a workbook, not text", "save the sheet as CSV UTF-8"),
    (b"%PDF", "a PDF, not text", "a CSV file"),
    (codecs.BOM_UTF16_LE, "UTF-16 text", "save it as CSV UTF-8"),
    (codecs.BOM_UTF16_BE, "UTF-16 text", "save it as CSV UTF-8"),
)


def from_csv(data: bytes, name: str) -> Schedule:
    """Read a CSV schedule.

    Args:
        data: The bytes of the file, UTF-8, with or without a byte order mark.
        name: What messages call the file.

    Returns:
        A schedule with its cells in memory; rows of the wrong length are its `bad_rows`.

    Raises:
        InputError: It is empty, no UTF-8 text, wrongly quoted, or its header is wrong.

    Source: none; the form is this project's, on RFC 4180 (2005).

    Example:
        >>> from_csv(b"box,item,size,quantity\\nA,conductor,12,2\\n", "a.csv").cells["size"]
        ['12']
    """
    text = decoded(data, name)
    records = _records(text, name)
    row, header = next(records, (1, []))
    columns = checked_header(header, name, row)
    kept: list[Sequence[str | None]] = []
    rows: list[int] = []
    bad: list[Problem] = []
    for row, record in records:
        problem = _row_problem(columns, row, record)
        if problem:
            bad.append(problem)
            continue
        kept.append([cell.strip() or None for cell in record])
        rows.append(row)
    if not kept and not bad:
        raise InputError("no rows below the header", file=name, row=row, expected="a row for each item")
    return _in_memory(name, columns, rows, kept, bad)


def _in_memory(
    name: str,
    columns: tuple[str, ...],
    rows: list[int],
    records: Sequence[Sequence[str | None]],
    bad: Iterable[Problem],
) -> Schedule:
    across = list(zip(*records, strict=True)) if records else [()] * len(columns)
    cells: dict[str, Sequence[Any]] = {c: list(v) for c, v in zip(columns, across, strict=True)}
    cells[FILE_ROW] = rows
    return Schedule(name, columns, cells, bad_rows=tuple(bad), size=len(rows))


def csv_problems(lines: Iterable[bytes], name: str) -> tuple[list[Problem], int]:
    """Look through a CSV file that is too large for memory for rows that are no rows.

    Args:
        lines: Its lines, as bytes.
        name: What messages call the file.

    Returns:
        A problem for each row of the wrong length or with a hidden character, and how many rows have none.

    Raises:
        InputError: It is no UTF-8 text, wrongly quoted, or its header is wrong.

    Source: none; the form is this project's.

    Example:
        >>> found, rows = csv_problems([b"box,item,size,quantity\\n", b"A,box\\n", b"A,clamp,,\\n"], "a.csv")
        >>> [p.file_row for p in found], rows
        ([2], 1)
    """
    records = _streamed(lines, name)
    row, header = next(records, (1, []))
    columns = checked_header(header, name, row)
    found: list[Problem] = []
    good = 0
    for row, record in records:
        problem = _row_problem(columns, row, record)
        if problem:
            found.append(problem)
        else:
            good += 1
    return found, good


def csv_rows(lines: Iterable[bytes], name: str, boxes: Collection[str | None]) -> Schedule:
    """Take the rows of some boxes out of a CSV file that is too large for memory.

    Args:
        lines: Its lines, as bytes.
        name: What messages call the file.
        boxes: The boxes; None for rows that name none.

    Returns:
        A schedule of these rows, numbered as in the file; rows that are no rows are left out.

    Raises:
        InputError: It is no UTF-8 text, wrongly quoted, or its header is wrong.

    Source: none; the form is this project's.

    Example:
        >>> lines = [b"box,item,size,quantity\\n", b"A,box,4,1\\n", b"B,box,4,1\\n"]
        >>> csv_rows(lines, "a.csv", {"B"}).cells["file_row"]
        [3]
    """
    records = _streamed(lines, name)
    row, header = next(records, (1, []))
    columns = checked_header(header, name, row)
    at = columns.index("box")
    kept = [
        (row, [cell.strip() or None for cell in record])
        for row, record in records
        if _row_problem(columns, row, record) is None and (record[at].strip() or None) in boxes
    ]
    return _in_memory(name, columns, [row for row, _ in kept], [record for _, record in kept], ())


def csv_header(lines: Iterable[bytes], name: str) -> tuple[str, ...]:
    """Read no more than the header of a CSV file.

    Args:
        lines: Its lines, as bytes.
        name: What messages call the file.

    Returns:
        The schedule columns it has.

    Raises:
        InputError: It is no UTF-8 text, or its header is wrong.

    Source: none; the form is this project's.

    Example:
        >>> csv_header([b"box,item,size,quantity\\n"], "a.csv")
        ('box', 'item', 'size', 'quantity')
    """
    row, header = next(_streamed(lines, name), (1, []))
    return checked_header(header, name, row)


def _streamed(lines: Iterable[bytes], name: str) -> Iterator[tuple[int, list[str]]]:
    return _parsed((_decoded_line(line, number, name) for number, line in enumerate(lines, 1)), name)


def _decoded_line(line: bytes, number: int, name: str) -> str:
    try:
        return line.decode("utf-8-sig" if number == 1 else "utf-8")
    except UnicodeDecodeError as error:
        raise _not_utf8(line, error.start, number, name) from None


def decoded(data: bytes, name: str) -> str:
    """The text of a file, or one line about why it has none.

    Args:
        data: The bytes of the file.
        name: What messages call the file.

    Returns:
        The text, without a byte order mark.

    Raises:
        InputError: It is empty or no UTF-8 text.

    Source: none; the form is this project's.

    Example:
        >>> decoded(b"box", "a.csv")
        'box'
    """
    for signature, what, right in _SIGNATURES:
        if data.startswith(signature):
            raise InputError(f"this is {what}", file=name, expected=right)
    if not data.strip(b"\xef\xbb\xbf \t\r\n"):
        raise InputError(
            "the file is empty",
            file=name,
            expected="the line box,item,size,quantity and a row for each item",
        )
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        # The codec numbers bytes after the mark, so the place is looked up without it.
        body = data.removeprefix(codecs.BOM_UTF8)
        start = body.rfind(b"\n", 0, error.start) + 1
        end = body.find(b"\n", error.start)
        line = body[start : end if end >= 0 else len(body)]
        raise _not_utf8(line, error.start - start, body.count(b"\n", 0, start) + 1, name) from None


def _not_utf8(line: bytes, at: int, number: int, name: str) -> InputError:
    before = line[:at].decode("utf-8", "replace")
    cell = (before.rsplit(",", 1)[-1] + line[at:].decode("latin-1").split(",", 1)[0]).strip()
    return InputError(
        f"byte 0x{line[at]:02x} is not UTF-8",
        file=name,
        row=number,
        column=f"column {before.count(',') + 1}",
        value=cell,
        expected="save it as CSV UTF-8",
    )


def _records(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    return _parsed(io.StringIO(text, newline=""), name)


def _parsed(lines: Iterable[str], name: str) -> Iterator[tuple[int, list[str]]]:
    """Number the records from 1, as a spreadsheet does, and leave out the empty ones."""
    row = 0
    reader = csv.reader(lines, strict=True)
    while True:
        row += 1
        try:
            record = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            what = str(error).splitlines()[0]
            raise InputError(
                f"this row cannot be read: {what}",
                file=name,
                row=row,
                expected='a cell with a comma or quote stands in double quotes, "" for one quote',
            ) from None
        if any(cell.strip() for cell in record):
            yield row, record


def _row_problem(columns: Sequence[str], row: int, record: Sequence[str]) -> Problem | None:
    at = columns.index("box")
    box = (record[at].strip() or None) if at < len(record) else None
    if len(record) < len(columns):
        return Problem(
            row,
            box,
            columns[len(record)],
            None,
            f"the row has {len(record)} cells and the header {len(columns)}",
            "a cell, empty if need be, for each column",
        )
    if len(record) > len(columns):
        return Problem(
            row,
            box,
            f"column {len(columns) + 1}",
            record[len(columns)],
            f"the row has {len(record)} cells and the header {len(columns)}",
            "a cell with a comma in it stands in double quotes",
        )
    for column, cell in zip(columns, record, strict=True):
        hidden = bad_space(cell) if column != "note" else None
        if hidden:
            return hidden_problem(row, box, column, cell, hidden)
    return None
