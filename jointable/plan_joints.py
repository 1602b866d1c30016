"""The joints of a box, proposed from what enters it and its devices.

Ends that are connected to the same thing belong together. Two or more need a joint, and since a
terminal takes one wire unless its marking says more (110.14(A)), each device on a joint gets a
pigtail. Grounds of all circuits are joined together (250.148); a neutral of a multi-wire circuit
never depends on a device (300.13(B)).
"""

from __future__ import annotations

from collections.abc import Sequence

from jointable.plan_edits import apply_edits, edited
from jointable.plan_form import Entry, PlanBox
from jointable.plan_parts import (
    BOND,
    FREE_END,
    GROUND,
    GROUNDS,
    ONE_WIRE,
    SHARED,
    End,
    Place,
    Proposal,
    ProposedJoint,
    Terminal,
    add_pigtail,
    empty_terminal,
    ground_size,
    key_of,
    widest,
)

__all__ = ["End", "Proposal", "ProposedJoint", "Terminal", "propose"]


def propose(box: PlanBox, ranks: dict[str, int], metal: bool) -> Proposal:
    """The joints of a box.

    Args:
        box: What enters it, its devices and the user's own joints.
        ranks: The order of conductor sizes, thin to thick.
        metal: Whether the box is metal and so is bonded itself.

    Returns:
        Joints, what is on each terminal, and ends left free.

    Raises:
        InputError: An edit names an end or a joint that is not there.

    Source: NEC 2023, 110.14(A), 250.148, 300.13(B); the rest is common practice.

    Example:
        >>> from jointable.plan_form import Device, Entry
        >>> cables = tuple(Entry(n, "feed", "12 AWG", "12 AWG", "", ("hot", "neutral")) for n in ("in", "on"))
        >>> device = Device("receptacle", "receptacle", "", (("line", "hot"), ("neutral", "neutral")))
        >>> found = propose(PlanBox("A", cables, (device,), (), ()), {"12 AWG": 1}, False)
        >>> [(j.name, j.count) for j in found.joints]
        [('hot', 3), ('neutral', 3), ('ground', 2)]
    """
    ends = [e for entry in box.entries if entry.role != "through" for e in _ends(entry)]
    places = _places(box, metal)
    out = Proposal()
    several = len({e.entry.circuit for e in ends if not e.ground} | {c for c, n in places if n != GROUND}) > 1
    taken = edited(box, ends)
    for key in dict.fromkeys([*(key_of(e) for e in ends), *places]):
        circuit, net = key
        name = f"{circuit} {net}" if several and circuit and net != GROUND else net
        here = [e for e in ends if key_of(e) == key]
        own = [e for e in here if e.name not in taken]
        if here and not own:
            # The user's own joints take all of it; they give the terminals their pigtails below.
            out.terminals += [empty_terminal(p) for p in places.get(key, [])]
        elif net == GROUND:
            _join_grounds(out, own, places.get(key, []), box.pass_through, ranks)
        else:
            shared = net == "neutral" and _multiwire(circuit, ends)
            _join(out, name, own, places.get(key, []), shared, ranks)
    apply_edits(out, box, ends, ranks)
    return out


def _ends(entry: Entry) -> list[End]:
    nets = entry.conductors
    out = [End(entry, net, entry.size, number=nets[: n + 1].count(net)) for n, net in enumerate(nets)]
    return out + ([End(entry, GROUND, entry.ground, True)] if entry.ground else [])


def _places(box: PlanBox, metal: bool) -> dict[tuple[str, str], list[Place]]:
    out: dict[tuple[str, str], list[Place]] = {}
    for device in box.devices:
        for terminal, net in device.connect:
            key = ("", GROUND) if net == GROUND else (device.circuit, net)
            leads = (device.leads, device.lead_construction) if device.leads else None
            out.setdefault(key, []).append(Place(device.name, terminal, device.screws, leads, device.circuit))
    if metal:
        out.setdefault(("", GROUND), []).append(Place("box", "bonding screw"))
    return out


def _multiwire(circuit: str, ends: Sequence[End]) -> bool:
    hots = {e.net for e in ends if e.entry.circuit == circuit}
    return {"hot 1", "hot 2"} <= hots


def _join(
    out: Proposal,
    name: str,
    ends: list[End],
    places: list[Place],
    shared: bool,
    ranks: dict[str, int],
) -> None:
    """Decide about all that is connected to one thing."""
    if not ends and len(places) < 2:
        out.terminals += [empty_terminal(p) for p in places]
        for p in places:
            out.notes.append(f"{p.device}, {p.terminal}: nothing that enters is {name}")
        return
    if len(ends) == 1 and not places:
        out.free.append((ends[0], FREE_END))
        return
    place = places[0] if len(places) == 1 else None
    direct = place is not None and place.leads is None and len(ends) <= (1 if shared else place.screws)
    if place is not None and direct:
        wires = " and ".join(e.name for e in ends)
        out.direct += ends
        clause = ONE_WIRE if len(ends) == 1 else f"{ONE_WIRE}: marked for {place.screws} wires"
        out.terminals.append(Terminal(place.device, place.terminal, wires, False, clause))
        return
    size = widest([e.size for e in ends], ranks)
    clause = SHARED if shared and places else ONE_WIRE if places else "common practice"
    joint = ProposedJoint(name, ends, [], clause)
    for place in places:
        add_pigtail(out, joint, place, size, clause)
    out.joints.append(joint)


def _join_grounds(
    out: Proposal, ends: list[End], places: list[Place], pass_through: bool, ranks: dict[str, int]
) -> None:
    if not ends:
        for place in places:
            out.terminals.append(Terminal(place.device, place.terminal, None, False, GROUNDS))
        if places:
            out.notes.append(
                "no grounding conductor enters: how the box and devices are grounded is not planned"
            )
        return
    if len(ends) == 1 and not places:
        out.free.append((ends[0], GROUNDS))
        return
    if len(ends) == 1 and len(places) == 1 and places[0].leads is None:
        out.terminals.append(Terminal(places[0].device, places[0].terminal, ends[0].name, False, GROUNDS))
        out.direct += ends
        return
    joint = ProposedJoint(GROUND, ends, [], GROUNDS)
    rest = list(places)
    solid = [e for e in ends if not e.entry.leads]
    if pass_through and solid and any(p.leads is None for p in rest):
        place = next(p for p in rest if p.leads is None)
        rest.remove(place)
        joint.through = f"{place.device} {place.terminal}"
        wire = f"{solid[0].name}, on through the connector"
        out.terminals.append(Terminal(place.device, place.terminal, wire, False, GROUNDS))
    for place in rest:
        clause = BOND if place.device == "box" else GROUNDS
        add_pigtail(out, joint, place, ground_size(ends, place, ranks), clause)
    out.joints.append(joint)
