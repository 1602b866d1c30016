"""The joints of a schedule: the rows of one box that carry the same name in `joint`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from jointable.demands import LOCATIONS, one_of
from jointable.errors import InputError
from jointable.geometry import default_construction
from jointable.notation import CONSTRUCTIONS, MATERIALS, Joint, Term, parse_size
from jointable.schedule import read_schedule
from jointable.schedule_form import FILE_ROW, Schedule

__all__ = ["JOINED", "ScheduleJoint", "joints_of"]

#: Items that are conductors and may end in a joint.
JOINED = (
    "conductor", "through", "loop", "pigtail", "grounding", "isolated_grounding", "fixture_wire", "fixture_grounding",
)  # fmt: skip

_ITEMS_OF_BOX = ("box", "conduit_body")


@dataclass(frozen=True, slots=True)
class ScheduleJoint:
    """One joint of one box; `joint` is None where it cannot be a joint, and `problem` says why."""

    box: str
    name: str
    joint: Joint | None
    problem: str
    location: str | None
    boxes: int
    warnings: tuple[str, ...]
    file: str | None
    row: int | None
    space: str | None = None

    def error(self, error: InputError) -> InputError:
        """An error about one of its conductors, at its first row."""
        return InputError(
            error.message,
            file=self.file,
            row=self.row,
            column="size",
            value=error.value,
            expected=error.expected,
        )


@dataclass(slots=True)
class _Box:
    location: str | None = None
    boxes: int = 1


@dataclass(slots=True)
class _Gathered:
    terms: list[Term]
    circuits: list[str]
    assumed: list[str]
    row: int | None
    file: str | None
    space: str | None = None


def joints_of(schedule: Any) -> list[ScheduleJoint]:
    """The joints of a schedule.

    Args:
        schedule: A schedule as `read_schedule` takes it.

    Returns:
        The joints in order of first appearance.

    Raises:
        InputError: A row is wrong.

    Source: none; the form is this project's.

    Example:
        >>> rows = [{"item": "conductor", "size": 12, "quantity": 3, "joint": "hot"}]
        >>> [str(j.joint) for j in joints_of(rows)]
        ['3x12 AWG']
    """
    opened = read_schedule(schedule, in_memory=True)
    boxes: dict[str, _Box] = {}
    gathered: dict[tuple[str, str], _Gathered] = {}
    for record in opened.records():
        row = _Row(opened, record)
        box = row.text("box")
        if not box:
            raise row.error("box", "the cell is empty", "the name of the box")
        held = boxes.setdefault(box, _Box())
        if row.item in _ITEMS_OF_BOX:
            held.location = row.location() or held.location
            held.boxes = row.count("boxes", 1)
        name = row.text("joint")
        if name and row.joins():
            _add(gathered, (box, name), row)
    out = [_joint(box, name, found, boxes[box]) for (box, name), found in gathered.items()]
    return [j for j in out if j.boxes]


def _add(gathered: dict[tuple[str, str], _Gathered], key: tuple[str, str], row: _Row) -> None:
    """Add a row to its joint."""
    quantity = row.count("quantity", 1)
    if not quantity:
        return
    file, number = row.place()
    found = gathered.setdefault(key, _Gathered([], [], [], number, file, row.text("space")))
    term, unsaid = row.term(quantity)
    found.terms.append(term)
    found.assumed += unsaid
    circuit = row.text("circuit")
    if circuit and circuit not in found.circuits:
        found.circuits.append(circuit)


def _joint(box: str, name: str, found: _Gathered, held: _Box) -> ScheduleJoint:
    warnings = []
    if len(found.circuits) > 1:
        warnings.append(f"box {box!r}, joint {name!r} mixes circuits {', '.join(found.circuits)}")
    joint, problem = None, ""
    try:
        joint = Joint.of(found.terms, found.assumed)
    except InputError as error:
        problem = f"{error.message}: {error.expected}"
    return ScheduleJoint(
        box,
        name,
        joint,
        problem,
        held.location,
        held.boxes,
        tuple(warnings),
        found.file,
        found.row,
        found.space,
    )


class _Row:
    """One row of the schedule, and how to complain about it."""

    def __init__(self, schedule: Schedule, record: Mapping[str, Any]) -> None:
        self.schedule = schedule
        self.record = record
        self.item = (self.text("item") or "").lower()

    def text(self, column: str) -> str | None:
        value = self.record.get(column)
        return str(value).strip() or None if value is not None else None

    def place(self) -> tuple[str | None, int | None]:
        return self.schedule.place(self.record.get(FILE_ROW))

    def error(self, column: str, message: str, expected: str) -> InputError:
        file, row = self.place()
        return InputError(
            message, file=file, row=row, column=column, value=self.text(column), expected=expected
        )

    def joins(self) -> bool:
        """Whether the row is a conductor of a joint; a connector row only names where it sits."""
        if self.item in JOINED:
            return True
        if self.item == "connector":
            return False
        if self.item == "cable":
            raise self.error(
                "joint", "a cable is in no joint by itself", "its conductors in rows of their own"
            )
        raise self.error(
            "joint", f"a {self.item or 'row'} is in no joint", "joint only on rows of conductors"
        )

    def count(self, column: str, default: int) -> int:
        text = self.text(column)
        if text is None:
            return default
        if not (text.isascii() and text.isdigit()):
            raise self.error(column, "not a whole number of 0 or more", "a count such as 2")
        return int(text)

    def location(self) -> str | None:
        return self._known("location", LOCATIONS)

    def term(self, quantity: int) -> tuple[Term, list[str]]:
        text = self.text("size") or self.text("conductor_size")
        if text is None:
            raise self.error("size", "the cell is empty", "a conductor size such as 12")
        try:
            size = parse_size(text)
        except InputError as error:
            raise self.error("size", error.message, error.expected or "") from None
        construction = self._known("construction", CONSTRUCTIONS)
        material = self._known("material", MATERIALS)
        made = construction or default_construction(size)
        unsaid = [] if construction else [f"{size} is {made}, the usual construction"]
        unsaid += [] if material else [f"{size} is copper"]
        return Term(quantity, size, made, material or "copper"), unsaid

    def _known(self, column: str, words: tuple[str, ...]) -> str | None:
        try:
            return one_of(self.text(column), words, column)
        except InputError as error:
            raise self.error(column, error.message, error.expected or "") from None
