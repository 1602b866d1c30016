"""Schedules as rows from Python, and one box written by hand in TOML."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from jointable.errors import InputError
from jointable.schedule_csv import decoded
from jointable.schedule_form import (
    COLUMNS,
    FILE_ROW,
    Problem,
    Schedule,
    bad_space,
    hidden_problem,
    text_of,
)
from jointable.schedule_header import unknown_column

__all__ = ["from_records", "from_table", "from_toml"]


def from_records(
    records: Iterable[Mapping[str, Any]], name: str | None = None, places: Sequence[int] | None = None
) -> Schedule:
    """Take a schedule as rows from Python.

    Args:
        records: One mapping an item, with schedule columns as keys; a key left out is empty. Rows
            none of which names a box are one box.
        name: What messages call it.
        places: The number that messages give each row; by default they are numbered from 1.

    Returns:
        A schedule with its cells in memory; rows with a hidden character are its `bad_rows`.

    Raises:
        InputError: There are no rows, or a key is no column.

    Source: none; the form is this project's.

    Example:
        >>> from_records([{"item": "conductor", "size": 12, "quantity": 2}]).cells["box"]
        ['box 1']
    """
    rows = list(records)
    if not rows:
        raise InputError("the schedule is empty", file=name, expected="a row for each item")
    numbers = list(places or range(1, len(rows) + 1))
    kept: list[tuple[int, dict[str, str | None]]] = []
    bad: list[Problem] = []
    named: set[str] = set()
    for number, record in zip(numbers, rows, strict=True):
        read = _row(record, name, number)
        named |= read.keys()
        hidden = _hidden(record, read, number)
        if hidden:
            bad.append(hidden)
        else:
            kept.append((number, read))
    if "item" not in named:
        raise InputError(
            "no row names its item",
            file=name,
            column="item",
            expected="an item such as 'conductor'",
        )
    columns = tuple(c for c in COLUMNS if c in named or c == "box")
    cells: dict[str, Sequence[Any]] = {c: [read.get(c) for _, read in kept] for c in columns}
    if "box" not in named:
        cells["box"] = ["box 1"] * len(kept)
    cells[FILE_ROW] = [number for number, _ in kept]
    return Schedule(name, columns, cells, bad_rows=tuple(bad), size=len(kept))


def _row(record: Any, name: str | None, number: int) -> dict[str, str | None]:
    """A row by column, as text."""
    if not isinstance(record, Mapping):
        raise InputError(
            "not a row",
            file=name,
            row=number,
            value=record,
            expected="a mapping such as {'item': 'conductor', …}",
        )
    read: dict[str, str | None] = {}
    for key, value in record.items():
        column = str(key).strip().lower()
        if column not in COLUMNS:
            raise unknown_column(str(key), name, number)
        if isinstance(value, (Mapping, list, tuple, set, bytes, bool)):
            raise InputError("not text or a number", file=name, row=number, column=column, value=value)
        read[column] = text_of(value)
    return read


def _hidden(record: Mapping[str, Any], read: Mapping[str, str | None], number: int) -> Problem | None:
    """What is wrong with a row that holds a hidden character, which makes equal words differ."""
    for key, value in record.items():
        column = str(key).strip().lower()
        what = bad_space(value) if isinstance(value, str) and column != "note" else None
        if what:
            return hidden_problem(number, read.get("box"), column, value, what)
    return None


def from_toml(data: bytes, name: str) -> Schedule:
    """Read one box written by hand in TOML.

    The columns of the box's own row stand at the top (`box` is its name, `size` or `volume_in3`
    what it is); `items` is a list of tables, one an item.

    Args:
        data: The bytes of the file.
        name: What messages call the file.

    Returns:
        A schedule with its cells in memory: row 1 is the box, then the items in order.

    Raises:
        InputError: It is no TOML, or has a key that is no column.

    Source: none; the form is this project's, on TOML 1.0.

    Example:
        >>> box = b'box = "A"\\nsize = "4 x 1-1/2 square"\\nitems = [{item = "cable", size = "12/2"}]'
        >>> from_toml(box, "a.toml").cells["item"]
        ['box', 'cable']
    """
    text = decoded(data, name)
    try:
        table = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"\(at line (\d+)", str(error))
        what = str(error).split(" (at ")[0]
        row = int(place[1]) if place else None
        raise InputError(
            f"no TOML: {what}", file=name, row=row, expected='lines such as size = "12/2"'
        ) from None
    return from_table(table, name, _toml_rows(text))


def _toml_rows(text: str) -> list[int]:
    """The line of the first key of the box, then of each item.

    The TOML reader tells no lines; as all values are plain, every brace or `[[items]]` outside of
    strings and comments begins an item.
    """
    rows = [next((n for n, line in enumerate(text.splitlines(), 1) if re.match(r"\s*\w", line)), 1)]
    for found in _TOML_TOKEN.finditer(text):
        if found.lastgroup == "item":
            rows.append(text.count("\n", 0, found.start()) + 1)
    return rows


#: Strings and comments, so as to pass over them, and what begins an item.
_TOML_TOKEN = re.compile(
    "|".join(
        (
            r'"""(?:[^\\]|\\.)*?"""',
            r"'''.*?'''",
            r'"(?:[^"\\\n]|\\.)*"',
            r"'[^'\n]*'",
            r"#[^\n]*",
            r"(?P<item>\{|\[\[\s*items\s*\]\])",
        )
    ),
    re.DOTALL,
)


def from_table(table: Mapping[str, Any], name: str | None, places: Sequence[int] | None = None) -> Schedule:
    """Take one box as a table: the keys of the box's row, and `items`.

    Args:
        table: The table.
        name: What messages call it.
        places: The line of the box and of each item, where they are known.

    Returns:
        A schedule with its cells in memory.

    Raises:
        InputError: It has no items, or a key that is no column.

    Source: none; the form is this project's.

    Example:
        >>> from_table({"size": "4 x 1-1/2 square", "items": [{"item": "clamp"}]}, None).size
        2
    """
    own = {key: value for key, value in table.items() if key != "items"}
    items = table.get("items")
    if not isinstance(items, list) or not items:
        raise InputError(
            "the box has no items",
            file=name,
            column="items",
            expected='items = [{item = "cable", size = "12/2", quantity = 2}]',
        )
    box = own.get("box") or "box 1"
    rows: list[Mapping[str, Any]] = [{"item": "box", **own, "box": box}]
    for number, item in enumerate(items, 1):
        if not isinstance(item, Mapping):
            raise InputError(
                f"item {number} is no table",
                file=name,
                column="items",
                value=item,
                expected='{item = "cable", size = "12/2"}',
            )
        rows.append({"box": box, **item})
    return from_records(rows, name, places if places and len(places) == len(rows) else None)
