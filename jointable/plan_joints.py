"""The joints of a box, proposed from what enters it and its devices.

Ends that are connected to the same thing belong together. Two or more need a joint, and since a
terminal takes one wire unless its marking says more (110.14(A)), each device on a joint gets a
pigtail. Grounds of all circuits are joined together (250.148); a neutral of a multi-wire circuit
never depends on a device (300.13(B)).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from jointable.errors import InputError
from jointable.plan_form import Entry, PlanBox

__all__ = ["End", "Proposal", "ProposedJoint", "Terminal", "propose"]

GROUND = "ground"

#: Why a joint or a pigtail is there.
ONE_WIRE = "NEC 110.14(A)"
GROUNDS = "NEC 250.148"
BOND = "NEC 250.148(C)"
SHARED = "NEC 300.13(B)"
FREE_END = "NEC 110.14(B)"


@dataclass(frozen=True, slots=True)
class End:
    """A conductor that ends in the box: where it comes from, and what it is connected to."""

    entry: Entry
    net: str
    size: str
    ground: bool = False
    number: int = 1

    @property
    def name(self) -> str:
        """How an edit names it, as `feed.hot`; a second hot of the feed is `feed.hot 2`."""
        return f"{self.entry.name}.{self.net}" + (f" {self.number}" if self.number > 1 else "")


@dataclass(frozen=True, slots=True)
class Terminal:
    """A terminal of a device (or the bond of a metal box) and what is on it.

    Attributes:
        wire: The wire on it: an end, or `pigtail` of a joint; None where nothing is.
        clause: Why it is so.
    """

    device: str
    terminal: str
    wire: str | None
    pigtail: bool
    clause: str


@dataclass(slots=True)
class ProposedJoint:
    """Ends and pigtails in one connector.

    Attributes:
        pigtails: (size, construction or None, what it goes to) of each.
        through: The end that goes on through the connector to a device, where there is one.
    """

    name: str
    ends: list[End]
    pigtails: list[tuple[str, str | None, str]]
    clause: str
    through: str | None = None
    edited: bool = False

    @property
    def count(self) -> int:
        """The conductors in the connector."""
        return len(self.ends) + len(self.pigtails)


@dataclass(slots=True)
class Proposal:
    """All joints and terminals of a box, its ends left free or directly on a terminal, and notes."""

    joints: list[ProposedJoint] = field(default_factory=list)
    terminals: list[Terminal] = field(default_factory=list)
    free: list[tuple[End, str]] = field(default_factory=list)
    direct: list[End] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class _Place:
    """A terminal before it is known what is on it."""

    device: str
    terminal: str
    screws: int = 1
    leads: tuple[str, str | None] | None = None
    circuit: str = ""


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
    taken = _edited(box, ends)
    for key in dict.fromkeys([*(_key(e) for e in ends), *places]):
        circuit, net = key
        name = f"{circuit} {net}" if several and circuit and net != GROUND else net
        here = [e for e in ends if _key(e) == key]
        own = [e for e in here if e.name not in taken]
        if here and not own:
            # The user's own joints take all of it; they give the terminals their pigtails below.
            out.terminals += [_empty(p) for p in places.get(key, [])]
        elif net == GROUND:
            _join_grounds(out, own, places.get(key, []), box.pass_through, ranks)
        else:
            shared = net == "neutral" and _multiwire(circuit, ends)
            _join(out, name, own, places.get(key, []), shared, ranks)
    _apply(out, box, ends, ranks)
    return out


def _empty(place: _Place) -> Terminal:
    return Terminal(place.device, place.terminal, None, False, "nothing here to connect")


def _ends(entry: Entry) -> list[End]:
    nets = entry.conductors
    out = [End(entry, net, entry.size, number=nets[: n + 1].count(net)) for n, net in enumerate(nets)]
    return out + ([End(entry, GROUND, entry.ground, True)] if entry.ground else [])


def _key(end: End) -> tuple[str, str]:
    # Grounds of all circuits in a box are joined together.
    return ("", GROUND) if end.net == GROUND else (end.entry.circuit, end.net)


def _places(box: PlanBox, metal: bool) -> dict[tuple[str, str], list[_Place]]:
    out: dict[tuple[str, str], list[_Place]] = {}
    for device in box.devices:
        for terminal, net in device.connect:
            key = ("", GROUND) if net == GROUND else (device.circuit, net)
            leads = (device.leads, device.lead_construction) if device.leads else None
            out.setdefault(key, []).append(
                _Place(device.name, terminal, device.screws, leads, device.circuit)
            )
    if metal:
        out.setdefault(("", GROUND), []).append(_Place("box", "bonding screw"))
    return out


def _multiwire(circuit: str, ends: Sequence[End]) -> bool:
    hots = {e.net for e in ends if e.entry.circuit == circuit}
    return {"hot 1", "hot 2"} <= hots


def _join(
    out: Proposal,
    name: str,
    ends: list[End],
    places: list[_Place],
    shared: bool,
    ranks: dict[str, int],
) -> None:
    """Decide about all that is connected to one thing."""
    if not ends and len(places) < 2:
        out.terminals += [_empty(p) for p in places]
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
    size = _widest([e.size for e in ends], ranks)
    clause = SHARED if shared and places else ONE_WIRE if places else "common practice"
    joint = ProposedJoint(name, ends, [], clause)
    for place in places:
        _pigtail(out, joint, place, size, clause)
    out.joints.append(joint)


def _pigtail(out: Proposal, joint: ProposedJoint, place: _Place, size: str | None, clause: str) -> None:
    """A pigtail, or the device's own lead, from a joint to a terminal."""
    to = f"{place.device} {place.terminal}"
    if place.leads is not None:
        joint.pigtails.append((place.leads[0], place.leads[1], f"{to} lead"))
        out.terminals.append(
            Terminal(place.device, place.terminal, f"own lead, {joint.name}", False, "its own lead")
        )
        return
    if size is None:
        raise InputError(
            f"{place.device}: no wire of {joint.name} enters, so its pigtails have no size",
            column="connect",
            value=joint.name,
            expected="[[enters]] with such a conductor",
        )
    joint.pigtails.append((size, None, to))
    out.terminals.append(Terminal(place.device, place.terminal, f"pigtail, {joint.name}", True, clause))


def _join_grounds(
    out: Proposal, ends: list[End], places: list[_Place], pass_through: bool, ranks: dict[str, int]
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
        _pigtail(out, joint, place, _ground_size(ends, place, ranks), clause)
    out.joints.append(joint)


def _ground_size(ends: Sequence[End], place: _Place, ranks: dict[str, int]) -> str | None:
    """A grounding pigtail is as wide as the ground of the device's circuit, that of the box as the widest."""
    cables = [e for e in ends if not e.entry.leads] or ends
    mine = [e for e in cables if place.device != "box" and e.entry.circuit == place.circuit]
    return _widest([e.size for e in mine or cables], ranks)


def _widest(sizes: Sequence[str], ranks: dict[str, int]) -> str | None:
    return max(sizes, key=lambda s: ranks.get(s, 0)) if sizes else None


def _edited(box: PlanBox, ends: Sequence[End]) -> set[str]:
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


def _apply(out: Proposal, box: PlanBox, ends: Sequence[End], ranks: dict[str, int]) -> None:
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
            size = _widest([e.size for e in joint.ends], ranks) or ""
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
    nets = {_key(e) for e in joint.ends}
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
        place = _Place(terminal.device, terminal.terminal, 1, leads, device.circuit if device else "")
        size = _widest([e.size for e in joint.ends], ranks)
        size = _ground_size(joint.ends, place, ranks) if net == GROUND else size
        _pigtail(out, joint, place, size, GROUNDS if net == GROUND else ONE_WIRE)
        out.terminals[number] = out.terminals.pop()
