"""The room of whole boxes: what their contents take physically, and what smaller connectors gain.

An estimate of this project, with its parameters in the tables `room_parameter` and
`envelope_parameter`. It stands beside the fill of a code and is never added to it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import closing
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.batch import cells_query, load_cells
from jointable.cover import trade_off
from jointable.demands import Demands, plain
from jointable.errors import InputError
from jointable.fill import fill
from jointable.joint_kinds import Kind, admit, kinds_of
from jointable.known import known
from jointable.room_answer import BoxRoom, RoomJoint, RoomLine
from jointable.schedule import read_schedule
from jointable.schedule_form import Schedule, closest
from jointable.schedule_joints import ScheduleJoint, joints_of

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["room"]

#: A box, and its space where it has several.
_Place = tuple[str, str | None]

#: A class by name, or one for each (box, joint).
Present = str | Mapping[tuple[str, str], str] | None

#: Up to so many rows go with the query; beyond, into a temporary table.
_INLINE_ROWS = 400


def room(
    reference: Reference,
    schedule: Any,
    *,
    edition: str | None = None,
    family: str | None = None,
    grip: str | None = None,
    present: Present = None,
) -> list[BoxRoom]:
    """What the contents of each box take physically, and what smaller connectors would gain.

    Args:
        reference: The open database.
        schedule: A schedule as `read_schedule` takes it; rows of one box with equal `joint` are a joint.
        edition: The code edition whose tables give the inside volume of a box without a mark.
        family: The family of the connectors, twist-on unless said.
        grip: `standard` or `wide`; both unless said.
        present: The class that the joints are in: one name for every joint that it takes, or a name
            for each (box, joint). Unsaid, the joints of a box are in the fewest classes that serve them.

    Returns:
        A `BoxRoom` for each box and space, in order of first appearance; volumes in cm3.

    Raises:
        InputError: The schedule, the edition or a class is wrong.

    Source: an estimate of this project (tables `room_parameter` and `envelope_parameter`); the free
        length is that of NEC 2023, 300.14.

    Example:
        >>> import jointable
        >>> rows = [{"item": "box", "size": "4 x 1-1/2 square"},
        ...         {"item": "conductor", "size": 12, "quantity": 3, "joint": "hot"}]
        >>> answer, = room(jointable.open(), rows, present="twist-on 25 wide")
        >>> answer.joints[0].smallest, answer.gain_cm3 > 0
        ('twist-on 10', True)
    """
    opened = read_schedule(schedule, in_memory=True)
    filled = fill(reference, opened, edition)
    joints = joints_of(opened)
    kinds = kinds_of(reference, joints)
    demands = Demands.of(family=family or "twist-on", grip=grip)
    admit(reference, kinds, demands)
    made = _Joints(reference, kinds, present)
    lines = _contents(reference, opened)
    held: dict[_Place, list[ScheduleJoint]] = {}
    for joint in joints:
        held.setdefault((joint.box, joint.space), []).append(joint)
    assumed = _assumed(reference, demands, present)
    table = known(reference)
    cautions = tuple(
        {"id": c["id"], "text": c["text"], "clause": c["clause"]}
        for c in table.cautions
        if c["shown_when"] == "always"
    )
    out = []
    for result in filled:
        place = (str(result.box), result.space)
        inside = result.available_cm3
        out.append(
            BoxRoom(
                result.box,
                result.space,
                result.edition,
                None if inside is None else Decimal(inside),
                tuple(lines.get(place, ())),
                tuple(made.of(held.get(place, ()))),
                assumed,
                cautions,
                reference.data_version,
            )
        )
    return out


class _Joints:
    """The joints of boxes with their classes; boxes with alike joints are searched once."""

    def __init__(self, reference: Reference, kinds: Sequence[Kind], present: Present) -> None:
        self.kinds = kinds
        self.kind_of = {(j.box, j.name): n for n, k in enumerate(kinds) for j in k.joints}
        self.present = present
        self.rooms = dict(reference.rows("SELECT class, room_cm3 FROM connector_class"))
        self.fewest: dict[tuple[int, ...], dict[int, str]] = {}
        named = {present} if isinstance(present, str) else set((present or {}).values())
        for name in named - self.rooms.keys():
            raise InputError(
                "no such class",
                column="class",
                value=name,
                expected=f"a class such as {closest(str(name), tuple(self.rooms)) or 'twist-on 16'}",
            )
        if isinstance(present, Mapping):
            for box, joint in present.keys() - self.kind_of.keys():
                raise InputError(
                    "no such joint in the schedule",
                    column="joint",
                    value=f"{box} {joint}",
                    expected="a box and joint of the schedule",
                )

    def of(self, joints: Sequence[ScheduleJoint]) -> list[RoomJoint]:
        """The joints of one box."""
        numbers = [self.kind_of[(j.box, j.name)] for j in joints if j.joint is not None]
        usual = self._usual(tuple(sorted(n for n in numbers if self.kinds[n].classes)))
        return [self._joint(j, usual) for j in joints]

    def _usual(self, numbers: tuple[int, ...]) -> dict[int, str]:
        """For each kind of joint its class, where a box is served by the fewest classes."""
        if self.present is not None:
            return {}
        if numbers not in self.fewest:
            self.fewest[numbers] = self._search(numbers)
        return self.fewest[numbers]

    def _search(self, numbers: tuple[int, ...]) -> dict[int, str]:
        each = sorted(set(numbers))
        names = sorted({c for n in each for c in self.kinds[n].classes})
        at = {name: i for i, name in enumerate(names)}
        costs = [
            {
                at[c]: int(row["room_cm3"] * 1000) * numbers.count(n)
                for c, row in self.kinds[n].classes.items()
            }
            for n in each
        ]
        plans = trade_off(costs)
        chosen = {names[c] for c in plans[0][1]} if plans else set()
        # The classes of a kind stand in order of rank: the first of those chosen takes least room.
        return {n: next(c for c in self.kinds[n].classes if c in chosen) for n in each}

    def _joint(self, joint: ScheduleJoint, usual: Mapping[int, str]) -> RoomJoint:
        if joint.joint is None:
            return RoomJoint(joint.name, None, None, None, None, None, joint.problem)
        number = self.kind_of[(joint.box, joint.name)]
        kind = self.kinds[number]
        smallest = next(iter(kind.classes), None)
        name, problem = smallest, None
        if isinstance(self.present, str):
            name = self.present if self.present in kind.classes else smallest
            if smallest is not None and name != self.present:
                problem = f"{self.present} does not take it"
        elif self.present is not None:
            name = self.present.get((joint.box, joint.name), smallest)
            if name is not None and name not in kind.classes:
                problem = f"{name} does not take it"
        elif smallest is not None:
            name = usual[number]
        if smallest is None:
            problem = "one conductor: an end cap, not a joint" if kind.facts.conductors == 1 else problem
            problem = problem or "no class takes it; its connector is not in the figures"
        return RoomJoint(
            joint.name,
            str(joint.joint),
            name,
            self.rooms.get(name),
            smallest,
            self.rooms.get(smallest),
            problem,
        )


def _contents(reference: Reference, schedule: Schedule) -> dict[_Place, list[RoomLine]]:
    """What the macro says of all boxes at once."""
    prefix, parameters = "", None
    with closing(reference.connection.cursor()) as cursor:
        if (schedule.size or 0) > _INLINE_ROWS:
            load_cells(cursor, schedule)
        else:
            query, parameters = cells_query(schedule)
            prefix = f"WITH items AS ({query}) "
        rows = cursor.execute(
            f"{prefix}SELECT box, space, item, size, pieces, room_cm3 FROM box_contents('items')", parameters
        ).fetchall()
    out: dict[_Place, list[RoomLine]] = {}
    for box, space, *line in rows:
        out.setdefault((str(box), space), []).append(RoomLine(*line))
    return out


def _assumed(reference: Reference, demands: Demands, present: Present) -> tuple[str, ...]:
    figures = {
        (item, parameter): plain(figure)
        for item, parameter, figure in reference.rows("SELECT item, parameter, figure FROM room_parameter")
    }
    body = " x ".join(figures[("device", side)] for side in ("width_mm", "height_mm", "depth_mm"))
    out = [
        "room is an estimate of ours, beside the fill of the code and never part of it",
        f"each conductor reaches {figures[('conductor', 'length_mm')]} mm into the box, "
        f"one that passes through {figures[('through', 'length_mm')]} mm, a loop "
        f"{figures[('loop', 'length_mm')]} mm unless stated",
        f"insulation is {figures[('conductor', 'insulation_mm')]} mm thick; grounding conductors are bare",
        f"a device is {body} mm a gang, unless its depth is stated",
        f"every joint of the schedule is in a {demands.family} connector; the space between round bodies "
        "is not counted as taken, the part of a conductor inside a connector is counted in both",
    ]
    if present is None:
        out.append("before any change the joints of a box are in the fewest classes that serve them")
    elif isinstance(present, str):
        out.append(f"before any change every joint that {present} takes is in it")
    return tuple(out)
