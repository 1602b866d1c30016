"""Ideas for an overfull box, each written down as the box after the change; none is computed here."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.fill_result import FillResult

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = [
    "BOXES",
    "Idea",
    "Row",
    "StandardBox",
    "ideas_for",
    "item_of",
    "sections",
    "standard_boxes",
    "whole",
]

#: The items that say what the box is.
BOXES = ("box", "conduit_body")

#: The items that are conductors; others are named beside their size.
_CONDUCTORS = ("conductor", "through", "loop", "grounding", "isolated_grounding", "pigtail")

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Idea:
    """A change not yet tried: the rows of the box after it."""

    kind: str
    text: str
    rows: list[Row]
    #: Of the ideas of one group only the first that passes is told.
    group: str


@dataclass(frozen=True, slots=True)
class StandardBox:
    """A standard box; boxes of one face differ in their depth alone."""

    name: str
    face: str
    shape: str
    volume: Decimal
    per_gang: bool


def ideas_for(result: FillResult, rows: list[Row], tables: Sequence[StandardBox]) -> Iterator[Idea]:
    """What might bring a box under, the simplest change first.

    Args:
        result: The answer for the box as it is.
        rows: All rows of the box, of its other spaces too.
        tables: The standard boxes of the edition.

    Yields:
        Ideas, none of them tried yet.

    Source: the table `box`, by way of `tables`.

    Example:
        >>> import jointable
        >>> rows = [{"item": "box", "volume_in3": 4}, {"item": "clamp"},
        ...         {"item": "conductor", "size": 12, "quantity": 2}]
        >>> reference = jointable.open()
        >>> [idea.kind for idea in ideas_for(reference.fill(rows)[0], rows, [])]
        ['clamps', 'box', 'extension']
    """
    here = [r for r in rows if r.get("space") in (None, result.space)]
    if any(item_of(r) == "clamp" for r in here):
        rest = [r for r in rows if r not in here or item_of(r) != "clamp"]
        yield Idea("clamps", "no internal clamps", rest, "clamps")
    yield from _box_ideas(result, rows, here, tables)
    yield from _extension_ideas(result, rows, tables)
    for joint in dict.fromkeys(r["joint"] for r in here if r.get("joint")):
        moved = [r for r in here if r.get("joint") == joint]
        rest = [r for r in rows if r not in moved]
        yield Idea("joint", f"the joint {joint!r} in another box ({_content(moved)})", rest, f"joint {joint}")


def _box_ideas(
    result: FillResult, rows: list[Row], here: list[Row], tables: Sequence[StandardBox]
) -> Iterator[Idea]:
    own = next((r for r in here if item_of(r) in BOXES), None)
    # Where the fill itself passes, no volume helps: the box fails a limit.
    if own is None or result.available_in3 is None or result.required_in3 <= result.available_in3:
        return

    def instead(**cells: Any) -> list[Row]:
        return [{**r, **cells} if r is own else r for r in rows]

    table = next((t for t in tables if t.name == result.table_box), None)
    if table is None:
        marked = {"volume_in3": result.required_in3, "volume_cm3": None, "size": None}
        text = f"a box marked with {result.required_in3.normalize():f} in³ or more"
        yield Idea("box", text, instead(**marked), "box")
        return
    larger = sorted((t for t in tables if t.volume > table.volume), key=lambda t: t.volume)
    for word, fits in (("a deeper box", _same_face), ("a larger box", _same_shape)):
        for other in larger:
            if fits(other, table):
                yield Idea("box", f"{word}: {other.name}", instead(size=other.name), "box")


def _same_face(one: StandardBox, other: StandardBox) -> bool:
    return one.face == other.face


def _same_shape(one: StandardBox, other: StandardBox) -> bool:
    return one.shape == other.shape and one.per_gang == other.per_gang


def _extension_ideas(result: FillResult, rows: list[Row], tables: Sequence[StandardBox]) -> Iterator[Idea]:
    if result.available_in3 is None or result.required_in3 <= result.available_in3:
        return
    row: Row = {"item": "extension", "quantity": 1, "space": result.space}
    table = next((t for t in tables if t.name == result.table_box), None)
    if table is not None and not table.per_gang:
        for other in sorted(tables, key=lambda t: t.volume):
            if _same_face(other, table):
                text = f"an extension made of a box {other.name}"
                yield Idea("extension", text, [*rows, {**row, "size": other.name}], "extension")
    missing = result.required_in3 - result.available_in3
    text = f"a ring, cover or extension marked with {missing.normalize():f} in³ or more"
    yield Idea("extension", text, [*rows, {**row, "volume_in3": missing}], "extension marked")


def _content(rows: Iterable[Row]) -> str:
    """The rows of a joint in a few words."""
    words = []
    for row in rows:
        item = item_of(row)
        word = f"{whole(row.get('quantity'))}x{row.get('size')}"
        words.append(word if item in _CONDUCTORS else f"{word} {item}")
    return " + ".join(words)


def item_of(row: Row) -> str:
    """The item of a row, however it is written.

    Args:
        row: A row of a schedule.

    Returns:
        The item in schedule words.

    Source: none; the form is this project's.

    Example:
        >>> item_of({"item": " Terminal block"})
        'terminal_block'
    """
    return re.sub(r"[ -]+", "_", str(row.get("item") or "").strip().lower())


def whole(text: Any) -> int:
    """A count of a schedule; what is no count is left to the checks of `fill`.

    Args:
        text: The cell.

    Returns:
        The count, 1 where none is given.

    Source: none; the form is this project's.

    Example:
        >>> whole("3"), whole(None)
        (3, 1)
    """
    return int(text) if text is not None and str(text).isdecimal() else 1


def sections(table: StandardBox, gangs: int) -> int:
    """How many sections of a box are ganged for so many gangs of devices.

    Args:
        table: The box.
        gangs: Gangs that the devices need.

    Returns:
        The number of sections.

    Source: NEC Table 314.16(A), rows whose volume is per gang.

    Example:
        >>> sections(StandardBox("", "", "", Decimal(1), per_gang=True), 3)
        3
    """
    return gangs if table.per_gang else 1


def standard_boxes(reference: Reference, edition: str) -> list[StandardBox]:
    """The standard boxes of an edition whose volume does not hang on a depth, the smallest first.

    Args:
        reference: The open database.
        edition: A known edition.

    Returns:
        The boxes, with volume [in³].

    Source: the table `box`.

    Example:
        >>> import jointable
        >>> standard_boxes(jointable.open(), "nec-2023")[0].name
        '3 x 2 x 1-1/2 device'
    """
    rows = reference.rows(
        "SELECT box, face, kind, volume_in3, volume_basis = 'gang' OR kind = 'device' FROM box "
        "WHERE edition = $1 AND volume_basis <> 'mm' ORDER BY volume_in3, box",
        [edition],
    )
    return [StandardBox(name, _cast(face), _cast(shape), *rest) for name, face, shape, *rest in rows]


def _cast(word: str) -> str:
    """FS and FD are one kind of box in two depths."""
    return re.sub(r"^F[SD]\b", "FS or FD", word)
