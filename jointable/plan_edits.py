"""The user's own joints in place of the proposed ones, or beside them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from jointable.errors import InputError
from jointable.plan_form import PlanBox
from jointable.plan_parts import (
    GROUND,
    GROUNDS,
    ONE_WIRE,
    End,
    Place,
    Proposal,
    ProposedJoint,
    Terminal,
    add_pigtail,
    ground_size,
    key_of,
    widest,
)

__all__ = ["apply_edits", "edited"]


def edited(box: PlanBox, ends: Sequence[End]) -> set[str]:
    """The ends that the user's own joints take, each once."""
    known = {e.name for e in ends}
    taken = Counter(name for edit in box.edits for name in edit.of or ())
    for name, times in taken.items():
        if name not in known:
            raise InputError(
                f"box {box.name!r}: no such end",
                column="of",
                value=name,
                expected=f"some of {', '.join(sorted(known))}",
            )
        if times > 1:
            raise InputError(
                f"box {box.name!r}: the end is in two joints",
                column="of",
                value=name,
                expected="each end once",
            )
    return set(taken)


def apply_edits(out: Proposal, box: PlanBox, ends: Sequence[End], ranks: dict[str, int]) -> None:
    """Put the user's own joints in place of the proposed ones, or beside them."""
    by_name = {e.name: e for e in ends}
    for edit in box.edits:
        joint = next((j for j in out.joints if j.name == edit.name), None)
        if edit.of is not None:
            if joint is not None:
                joint.name = f"{joint.name} rest"
            joint = ProposedJoint(edit.name, [by_name[n] for n in edit.of], [], "as you planned it")
            out.joints.append(joint)
            if edit.pigtails is None:
                _repigtail(out, box, joint, ranks)
        elif joint is None:
            names = ", ".join(j.name for j in out.joints) or "none"
            raise InputError(
                f"box {box.name!r}: no such joint was proposed, so what is in it must be said",
                column="joint",
                value=edit.name,
                expected=f"of = [ends], or one of {names}",
            )
        joint.edited = True
        if edit.pigtails is not None:
            size = widest([e.size for e in joint.ends], ranks) or ""
            kept = joint.pigtails[: edit.pigtails]
            more = range(len(kept) + 1, edit.pigtails + 1)
            joint.pigtails = kept + [(size, None, f"pigtail {n}") for n in more]
            _unpigtailed(out, joint)


def _unpigtailed(out: Proposal, joint: ProposedJoint) -> None:
    """Terminals whose pigtail the user took away are told as empty."""
    kept = {to for _, _, to in joint.pigtails}
    for number, t in enumerate(out.terminals):
        if t.wire == f"pigtail, {joint.name}" and f"{t.device} {t.terminal}" not in kept:
            out.terminals[number] = Terminal(t.device, t.terminal, None, False, "its pigtail was taken away")
            out.notes.append(f"{t.device}, {t.terminal}: nothing is on it, since its pigtail was taken away")


def _repigtail(out: Proposal, box: PlanBox, joint: ProposedJoint, ranks: dict[str, int]) -> None:
    """An empty terminal that belongs to the user's joint gets a pigtail from it."""
    nets = {key_of(e) for e in joint.ends}
    devices = {d.name: d for d in box.devices}
    for number, terminal in enumerate(out.terminals):
        if terminal.wire is not None:
            continue
        device = devices.get(terminal.device)
        net = dict(device.connect)[terminal.terminal] if device else GROUND
        key = ("", GROUND) if net == GROUND or device is None else (device.circuit, net)
        if key not in nets:
            continue
        leads = (device.leads, device.lead_construction) if device and device.leads else None
        place = Place(terminal.device, terminal.terminal, 1, leads, device.circuit if device else "")
        size = widest([e.size for e in joint.ends], ranks)
        size = ground_size(joint.ends, place, ranks) if net == GROUND else size
        add_pigtail(out, joint, place, size, GROUNDS if net == GROUND else ONE_WIRE)
        out.terminals[number] = out.terminals.pop()
