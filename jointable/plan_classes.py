"""The class of each joint of planned boxes, all asked about at once."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from jointable.demands import Demands
from jointable.guidance import guidance_of
from jointable.joint_kinds import Kind, admit, kinds_of
from jointable.schedule_joints import ScheduleJoint, joints_of
from jointable.split import Split, split_of

if TYPE_CHECKING:
    from jointable.carry import Carried
    from jointable.reference import Reference

__all__ = ["classes_of"]

#: What is said in place of a class where existing solid aluminium branch wiring is in a joint.
_REFERRAL = (
    "solid aluminium, taken as existing branch wiring: no class and no pigtail is offered; "
    "see CPSC publication 516 and ask a qualified person"
)


def classes_of(
    reference: Reference,
    rows: Sequence[dict[str, Any]],
    through: Collection[tuple[str, str]],
    family: str | None,
    grip: str | None,
    edition: str | None = None,
    power_limited: Collection[str] = (),
    carried: Carried | None = None,
) -> dict[tuple[str, str], dict[str, Any]]:
    """The smallest class that takes each joint.

    Args:
        reference: The open database.
        rows: The schedule of the boxes.
        through: The joints, as (box, joint), of which one conductor goes on through.
        family, grip: Of the connectors.
        edition: The edition whose clauses the advice cites.
        power_limited: The boxes in which power-limited conductors lie beside others.
        carried: What is carried, where only that may be chosen.

    Returns:
        For each (box, joint): its notation, its class or None with the reason, what the connector in
        the hand must be marked for, and the room that the class takes [cm³]; `split` where several
        connectors do it; `guidance`, the lines of advice.

    Source: definition of the size classes (this project).

    Example:
        >>> import jointable
        >>> rows = [{"box": "A", "item": "conductor", "size": "12", "quantity": "3", "joint": "hot"}]
        >>> classes_of(jointable.open(), rows, (), None, None)[("A", "hot")]["class"]
        'twist-on 10'
    """
    joints = joints_of(list(rows))
    if family is not None or carried is None:
        return _in_family(
            reference, joints, through, family or "twist-on", grip, edition, power_limited, carried
        )
    out: dict[tuple[str, str], dict[str, Any]] = {}
    for one in carried.families:
        left = [j for j in joints if not out.get((j.box, j.name), {}).get("class")]
        found = _in_family(reference, left, through, one, grip, edition, power_limited, carried)
        # What no family serves is told by the first.
        out |= {key: said for key, said in found.items() if said["class"] or key not in out}
    return out


def _in_family(
    reference: Reference,
    joints: Sequence[ScheduleJoint],
    through: Collection[tuple[str, str]],
    family: str,
    grip: str | None,
    edition: str | None,
    power_limited: Collection[str],
    carried: Carried | None,
) -> dict[tuple[str, str], dict[str, Any]]:
    out: dict[tuple[str, str], dict[str, Any]] = {}
    for passing in (False, True):
        mine = [j for j in joints if ((j.box, j.name) in through) is passing]
        demands = Demands.of(family=family, grip=grip, pass_through=passing)
        kinds = kinds_of(reference, mine)
        admit(reference, kinds, replace(demands, carried=carried))
        for kind in kinds:
            here = replace(demands, location=kind.location, carried=carried)
            said = _said(reference, kind, here)
            families = [family] if said["class"] or said.get("split") else []
            lines = {
                beside: guidance_of(reference, kind.facts, here, families, edition, beside)
                for beside in {j.box in power_limited for j in kind.joints}
            }
            for joint in kind.joints:
                out[(joint.box, joint.name)] = {
                    **said,
                    "text": str(joint.joint),
                    "guidance": lines[joint.box in power_limited],
                }
        out |= {(j.box, j.name): _none(j) for j in mine if j.joint is None}
    return out


def _none(joint: ScheduleJoint) -> dict[str, Any]:
    return {"text": None, "class": None, "room_cm3": None, "requires": [], "reason": joint.problem}


def _said(reference: Reference, kind: Kind, demands: Demands) -> dict[str, Any]:
    marks = demands.marks()
    best = next(iter(kind.classes.values()), None)
    if best is not None:
        return {"class": best["class"], "room_cm3": best["room_cm3"], "requires": marks, "reason": None}
    none = {"class": None, "room_cm3": None, "requires": marks}
    if kind.facts.conductors == 1:
        return {**none, "reason": "one conductor: an end cap, not a joint"}
    # Solid aluminium gets no class and no way around it, only the referral.
    if kind.facts.solid_aluminium:
        return {**none, "reason": _REFERRAL, "referred": True}
    joint = kind.joints[0].joint
    found, why = (
        split_of(reference, joint, kind.facts, demands, str(demands.family)) if joint else (None, None)
    )
    if found is None and demands.carried is not None:
        return {**none, "reason": _missing(reference, kind, demands)}
    if found is None:
        return {**none, "reason": why or f"no {demands.family} class takes it"}
    return {**none, "reason": _split_words(found), "split": found.to_dict()}


def _split_words(found: Split) -> str:
    names = ", ".join(f"{c.name} ({c.conductors})" for c in found.connectors)
    word = "jumper" if found.jumpers == 1 else "jumpers"
    return f"no single class takes it: {names}, tied by {found.jumpers} {word} of {found.jumper}"


def _missing(reference: Reference, kind: Kind, demands: Demands) -> str:
    """Which class is missing from what is carried."""
    alike = Kind(kind.facts, kind.location, kind.joints, {})
    admit(reference, [alike], replace(demands, carried=None))
    name = next(iter(alike.classes), None)
    return "nothing carried takes it" + (f"; {name} is missing" if name else "")
