"""Joints of a schedule by kind: all that are alike are asked about once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from jointable.demands import Demands
from jointable.errors import InputError
from jointable.facts import Facts, facts_of, facts_sql
from jointable.schedule_joints import ScheduleJoint

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Kind", "admit", "kinds_of"]


@dataclass(slots=True)
class Kind:
    """Joints alike in all that decides, and the classes that take them, in order of rank."""

    facts: Facts
    location: str | None
    joints: list[ScheduleJoint]
    classes: dict[str, dict[str, Any]]

    @property
    def count(self) -> int:
        """How many joints there are, boxes alike counted."""
        return sum(j.boxes for j in self.joints)


def kinds_of(reference: Reference, joints: Sequence[ScheduleJoint]) -> list[Kind]:
    """Joints by what decides; those that are none are left out.

    Args:
        reference: The open database.
        joints: Joints of a schedule.

    Returns:
        The kinds, in order of first appearance, without their classes.

    Raises:
        InputError: A size is not in the tables.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> from jointable.schedule_joints import joints_of
        >>> rows = [{"item": "conductor", "size": 12, "quantity": 3, "joint": name} for name in "ab"]
        >>> [k.count for k in kinds_of(jointable.open(), joints_of(rows))]
        [2]
    """
    kinds: dict[tuple[str, str | None], Kind] = {}
    for joint in joints:
        if joint.joint is None:
            continue
        key = (str(joint.joint), joint.location)
        if key not in kinds:
            try:
                facts = facts_of(reference, joint.joint, bundle=False)
            except InputError as error:
                raise joint.error(error) from None
            kinds[key] = Kind(facts, joint.location, [], {})
        kinds[key].joints.append(joint)
    return list(kinds.values())


def admit(reference: Reference, kinds: Sequence[Kind], demands: Demands) -> None:
    """Ask the macro of admission for all kinds at once, each in the location of its box.

    Args:
        reference: The open database.
        kinds: The kinds; their `classes` are filled.
        demands: What is asked of the connectors.

    Source: the macro `class_admission`.
    """
    for location in dict.fromkeys(k.location for k in kinds):
        here = [k for k in kinds if k.location == location]
        facts = {n: k.facts for n, k in enumerate(here) if k.facts.conductors > 1}
        if not facts:
            continue
        given, values = facts_sql(facts, "joints_at_hand")
        rows = reference.records(
            f"WITH {given} SELECT a.joint, a.class, a.family, a.size, a.ways, "
            f"a.grip, a.variant, a.room_cm3, a.rank FROM class_admission('joints_at_hand'"
            f"{replace(demands, location=location).sql()}) a "
            "WHERE a.breaks + a.family_breaks = 0 ORDER BY a.rank",
            values,
        )
        for row in rows:
            served = [row] if demands.carried is None else demands.carried.of(row)
            here[row["joint"]].classes |= {one["class"]: one for one in served}
        if demands.carried is not None and demands.carried.listings is not None:
            _listed(here, rows, replace(demands, location=location))


def _listed(kinds: Sequence[Kind], rows: Sequence[dict[str, Any]], demands: Demands) -> None:
    """Carried listings come before classes; of their room only that of the least class is known."""
    least = {row["joint"]: row for row in reversed(rows)}
    for number, kind in enumerate(kinds):
        names = demands.carried.listed(kind.facts, demands)
        listed = {n: demands.carried.listing_row(n, least.get(number), demands.family) for n in names}
        kind.classes = listed | kind.classes
