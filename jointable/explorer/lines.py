"""Item lines: the content of one box as a person writes it, turned into rows of a schedule.

A line is one of

    box 4 x 1-1/2 square            item and size
    2 cable 12/2                    a count in front
    conductor 12 AWG x 4            or behind
    box 18 in3                      a marked volume, also in cm3 or mL
    device conductor_size=12 gangs=2   other columns by name
    conductor,14,3                  the columns item,size,quantity
    kitchen,conductor,14,3          or box,item,size,quantity

or the text is a whole schedule with its header line. `;` parts lines too; `#` begins a remark, unless a
digit follows it (`#12` is a size).
"""

from __future__ import annotations

import csv
import re
import shlex
from collections.abc import Iterator

from jointable.errors import InputError
from jointable.schedule_form import COLUMNS, REQUIRED, bad_space, closest

__all__ = ["ITEMS", "rows_of"]

#: What a line may begin with.
ITEMS = (
    "box",
    "conduit_body",
    "cable",
    "conductor",
    "through",
    "loop",
    "pigtail",
    "grounding",
    "isolated_grounding",
    "fixture_wire",
    "fixture_grounding",
    "clamp",
    "stud",
    "hickey",
    "device",
    "terminal_block",
    "connector",
    "barrier",
    "extension",
    "raceway",
)

#: Items whose number behind can only be a count.
_SIZELESS = ("clamp", "stud", "hickey")
#: Items with a face and a depth, whose `x 2` is a measure.
_BOXES = ("box", "conduit_body", "extension")
_FORMS = "a line such as `2 cable 12/2`, `conductor 12 x 3` or `device conductor_size=12`"
_COUNT_FIRST = re.compile(r"^(\d+)\s*[x×]?\s+(?=[A-Za-z])", re.IGNORECASE)
_COUNT_LAST = re.compile(r"(?:^|\s)[x×]\s*(\d+)$", re.IGNORECASE)
_NUMBER_LAST = re.compile(r"(?:^|\s)(\d+)$")
_REMARK = re.compile(r"(?:^|\s)#(?!\d).*")
_INCHES = re.compile(r"(\d+(?:\.\d+)?)\s*(?:in3|in³|cu\.?\s?in\.?)", re.IGNORECASE)
_CENTIMETRES = re.compile(r"(\d+(?:\.\d+)?)\s*(?:cm3|cm³|ml)", re.IGNORECASE)

Row = dict[str, str]


def rows_of(text: str) -> tuple[list[Row], list[int]]:
    """Read the content of one box.

    Args:
        text: Item lines, or a schedule with its header.

    Returns:
        Rows of a schedule (column to text; a column left out is empty), and the line of each.

    Raises:
        InputError: A line is none of the forms; `row` is its number.

    Source: none; the form is this project's.

    Example:
        >>> rows_of("box 18 in3\\n2 cable 12/2")
        ([{'item': 'box', 'volume_in3': '18'}, {'item': 'cable', 'size': '12/2', 'quantity': '2'}], [1, 2])
    """
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), "")
    found = list(_schedule(lines) if _is_header(first) else _lines(lines))
    if not found:
        raise InputError("no items", column="items", expected=_FORMS)
    return [row for row, _ in found], [number for _, number in found]


def _lines(lines: list[str]) -> Iterator[tuple[Row, int]]:
    for number, line in enumerate(lines, 1):
        for part in _REMARK.sub("", line).split(";"):
            if part.strip():
                yield _row(part.strip(), number), number


def _is_header(line: str) -> bool:
    names = [name.strip().lower() for name in line.split(",")]
    return len(names) > 1 and len(set(names) & set(REQUIRED)) >= 2 and set(names) <= set(COLUMNS)


def _schedule(lines: list[str]) -> Iterator[tuple[Row, int]]:
    names: list[str] = []
    for number, cells in enumerate(csv.reader(lines), 1):
        if not any(cell.strip() for cell in cells):
            continue
        if not names:
            names = [cell.strip().lower() for cell in cells]
            continue
        if len(cells) > len(names):
            raise InputError(
                "more cells than the header has",
                row=number,
                value=",".join(cells),
                expected=f"{len(names)} cells",
            )
        yield {name: cell.strip() for name, cell in zip(names, cells, strict=False) if cell.strip()}, number


def _row(line: str, number: int) -> Row:
    hidden = bad_space(line)
    if hidden:
        raise InputError(f"the line holds {hidden}", row=number, value=line, expected="plain spaces only")
    if "," in line and (found := _cells(line, number)):
        return found
    return _words(line, number)


def _cells(line: str, number: int) -> Row | None:
    """A line of commas, with or without the name of its box in front."""
    cells = [cell.strip() for cell in next(csv.reader([line]))]
    if _item(cells[0]) is None and (len(cells) < 2 or _item(cells[1]) is None):
        return None
    names: tuple[str, ...] = REQUIRED if _item(cells[0]) is None or _is_box_name(cells) else REQUIRED[1:]
    row: Row = {}
    for place, cell in enumerate(cells):
        name, sign, value = cell.partition("=")
        if sign:
            row[_column(name, line, number)] = value.strip()
        elif place < len(names):
            row[names[place]] = cell
        elif cell:
            raise InputError(
                "more cells than columns",
                row=number,
                value=line,
                expected="item,size,quantity and then column=value",
            )
    row["item"] = _item(row.get("item", "")) or row.get("item", "")
    return {name: value for name, value in row.items() if value}


def _is_box_name(cells: list[str]) -> bool:
    """Whether the first of two item words is the name of a box: `box,cable,12/2,2`."""
    return len(cells) > 1 and _item(cells[1]) is not None


def _item(word: str) -> str | None:
    plain = re.sub(r"[\s-]+", "_", word.strip().lower())
    for form in (plain, plain.removesuffix("s"), plain.removesuffix("es")):
        if form in ITEMS:
            return form
    return None


def _column(name: str, line: str, number: int) -> str:
    plain = name.strip().lower()
    if plain not in COLUMNS:
        guess = closest(plain, COLUMNS)
        raise InputError(
            "unknown column",
            row=number,
            column=plain,
            value=line,
            expected=f"did you mean {guess!r}?"
            if guess
            else "a column of the schedule, such as conductor_size=12",
        )
    return plain


def _words(line: str, number: int) -> Row:
    try:
        tokens = shlex.split(line.replace("'", "’"))
    except ValueError:
        raise InputError("a quotation mark is left open", row=number, value=line, expected=_FORMS) from None
    row: Row = {}
    plain = []
    for token in tokens:
        name, sign, value = token.partition("=")
        if sign and name:
            row[_column(name, line, number)] = value
        else:
            plain.append(token)
    item, size, quantity = _taken_apart(" ".join(plain), line, number)
    if quantity and row.get("quantity") not in (None, quantity):
        raise InputError("two counts", row=number, value=line, expected="one count")
    named = {
        "item": item,
        "size": row.pop("size", "") or size,
        "quantity": row.pop("quantity", "") or quantity,
    }
    return {name: value for name, value in (_marked(named) | row).items() if value}


def _marked(row: Row) -> Row:
    """A size that is a volume is the marked one."""
    for pattern, column in ((_INCHES, "volume_in3"), (_CENTIMETRES, "volume_cm3")):
        if found := pattern.fullmatch(row["size"]):
            return row | {"size": "", column: found[1]}
    return row


def _taken_apart(text: str, line: str, number: int) -> tuple[str, str, str]:
    """Item, size and count of words such as `2 conductors 12 AWG`."""
    quantity = ""
    if found := _COUNT_FIRST.match(text):
        quantity, text = found[1], text[found.end() :]
    words = text.split()
    item, rest = None, ""
    for length in (2, 1):
        item = _item(" ".join(words[:length])) if len(words) >= length else None
        if item:
            rest = " ".join(words[length:])
            break
    if item is None:
        guess = closest(words[0], ITEMS) if words else None
        raise InputError(
            "no such item",
            row=number,
            column="items",
            value=line,
            expected=f"did you mean {guess!r}?" if guess else _FORMS,
        )
    if item in _BOXES or quantity:
        return item, rest, quantity
    behind = _COUNT_LAST.search(rest) or (_NUMBER_LAST.search(rest) if _has_count(item, rest) else None)
    return (item, rest[: behind.start()].strip(), behind[1]) if behind else (item, rest, "")


def _has_count(item: str, rest: str) -> bool:
    """Whether a number at the end is a count: after a size, or where no size is asked for."""
    return item in _SIZELESS or len(rest.split()) > 1
