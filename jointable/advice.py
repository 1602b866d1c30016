"""What to do about a box: the standard boxes that hold the items, and what brings a full one under.

Nothing is computed here. Each idea is written down as a box of a schedule, all ideas are filled
in one go by the same macros, and those that pass are told.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.advice_ideas import (
    BOXES,
    Row,
    ideas_for,
    item_of,
    sections,
    standard_boxes,
    whole,
)
from jointable.errors import InputError
from jointable.fill import FillResult, fill, known_edition
from jointable.schedule import read_schedule
from jointable.schedule_form import FILE_ROW
from jointable.schedule_rows import from_records

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["BoxChoice", "Change", "smallest_box", "what_changes_it"]


@dataclass(frozen=True, slots=True)
class BoxChoice:
    """A standard box that holds the items.

    Attributes:
        box: Its name in the table `box`.
        gangs: How many sections of it are ganged.
        left_in3, left_cm3: The volume that remains [in³, cm³].
        result: The whole answer of `fill` for it.
    """

    box: str
    gangs: int
    left_in3: Decimal
    left_cm3: Decimal
    result: FillResult

    def to_dict(self) -> dict[str, Any]:
        """The choice as the form that JSON prints."""
        return {
            "box": self.box,
            "gangs": self.gangs,
            "left_in3": self.left_in3,
            "left_cm3": self.left_cm3,
            **{
                name: value
                for name, value in self.result.to_dict().items()
                if name in ("available_in3", "available_cm3", "required_in3", "required_cm3", "remaining")
            },
            "data_version": self.result.data_version,
        }


@dataclass(frozen=True, slots=True)
class Change:
    """One change that brings a box under.

    Attributes:
        box, space: The box, and its space where it has several.
        kind: `clamps`, `box`, `extension` or `joint`.
        text: The change in words.
        required_in3, available_in3: What the box needs and has after it [in³].
    """

    box: str
    space: str | None
    kind: str
    text: str
    required_in3: Decimal
    available_in3: Decimal

    def to_dict(self) -> dict[str, Any]:
        """The change as the form that JSON prints."""
        return {name: getattr(self, name) for name in self.__slots__}


def smallest_box(reference: Reference, items: Any, edition: str | None = None) -> list[BoxChoice]:
    """The standard boxes that hold some items, the smallest first.

    Boxes that are ganged (device, masonry, FS, FD) are taken with as many sections as the devices
    need, at least one.

    Args:
        reference: The open database.
        items: A schedule of one box, in any form that `fill` takes; its own box row is left aside.
        edition: The code edition; by default nec-2023.

    Returns:
        The boxes that pass, by volume [in³, cm³], each with what remains.

    Raises:
        InputError: An item is wrong, or there is more than one box.

    Source: the table `box` of the edition.

    Example:
        >>> import jointable
        >>> items = [{"item": "cable", "size": "12/2", "quantity": 2}, {"item": "device"}]
        >>> smallest_box(jointable.open(), items)[0].box
        '3 x 2 x 3-1/2 device'
    """
    edition = known_edition(reference, edition)
    schedule = read_schedule(items, in_memory=True)
    rows, places = _one_box(schedule.records())
    gangs = max(
        1, sum(whole(r.get("quantity")) * whole(r.get("gangs")) for r in rows if item_of(r) == "device")
    )
    tables = standard_boxes(reference, edition)
    candidates = {
        table.name: [{"item": "box", "size": table.name, "quantity": sections(table, gangs)}, *rows]
        for table in tables
    }
    # Each row by its own number, so that what is wrong is told where it stands.
    tried = from_records(_named(candidates), schedule.name, [1, *places] * len(candidates))
    results = {r.box: r for r in fill(reference, tried, edition)}
    choices = []
    for table in tables:
        result = results[table.name]
        if result.passes and result.available_in3 is not None and result.available_cm3 is not None:
            choices.append(
                BoxChoice(
                    table.name,
                    sections(table, gangs),
                    result.available_in3 - result.required_in3,
                    result.available_cm3 - result.required_cm3,
                    result,
                )
            )
    return sorted(choices, key=lambda c: (c.left_in3, c.box))


def what_changes_it(reference: Reference, items: Any, edition: str | None = None) -> list[Change]:
    """Which single change brings an overfull box under.

    Tried are: no internal clamps; a deeper box of the same face, else a larger one of its shape; an
    extension of a table size or marked with its volume; a box marked with more; and one joint moved
    to another box with its conductors.

    Args:
        reference: The open database.
        items: A schedule, in any form that `fill` takes.
        edition: The code edition; by default nec-2023.

    Returns:
        The changes that suffice, box by box; none for boxes that pass or stay undecided.

    Raises:
        InputError: The schedule is wrong.

    Source: the table `box` and the rules of the edition.

    Example:
        >>> import jointable
        >>> items = [{"item": "box", "size": "4 x 1-1/2 round"}, {"item": "cable", "size": "14/2", "quantity": 3},
        ...          {"item": "clamp"}]
        >>> [c.kind for c in what_changes_it(jointable.open(), items)][0]
        'clamps'
    """
    edition = known_edition(reference, edition)
    schedule = read_schedule(items, in_memory=True)
    results = fill(reference, schedule, edition)
    return changes_for(reference, schedule.records(), results, edition)


def changes_for(
    reference: Reference, records: Iterable[Row], results: Sequence[FillResult], edition: str
) -> list[Change]:
    """The changes for results that are there already; see `what_changes_it`."""
    failing = [r for r in results if r.passes is False]
    by_box: dict[str, list[Row]] = {r.box: [] for r in failing}
    for record in records:
        if record["box"] in by_box:
            by_box[record["box"]].append({k: v for k, v in record.items() if k != FILE_ROW})
    tables = standard_boxes(reference, edition)
    ideas = [(r, idea) for r in failing for idea in ideas_for(r, by_box[r.box], tables)]
    if not ideas:
        return []
    tried = fill(reference, _named({str(n): idea.rows for n, (_, idea) in enumerate(ideas)}), edition)
    outcome = {(t.box, t.space): t for t in tried}
    found: list[Change] = []
    told: set[tuple[str, str | None, str]] = set()
    for number, (result, idea) in enumerate(ideas):
        after = outcome.get((str(number), result.space))
        place = (result.box, result.space, idea.group)
        if after is None or not after.passes or after.available_in3 is None or place in told:
            continue
        told.add(place)
        found.append(
            Change(result.box, result.space, idea.kind, idea.text, after.required_in3, after.available_in3)
        )
    return found


def _named(boxes: Mapping[str, list[Row]]) -> list[Row]:
    return [{**row, "box": name} for name, rows in boxes.items() for row in rows]


def _one_box(records: Iterable[Row]) -> tuple[list[Row], list[int]]:
    """The items of a box without its own row, and the number of the row of each."""
    kept = [(r, {k: v for k, v in r.items() if k != FILE_ROW}) for r in records]
    if len({r.get("box") for r, _ in kept}) > 1 or any(r.get("space") for r, _ in kept):
        raise InputError("more than one box or space", column="box", expected="the items of one box")
    items = [(r[FILE_ROW], row) for r, row in kept if item_of(row) not in BOXES]
    return [row for _, row in items], [place for place, _ in items]
