"""The parts of a proposal: ends, terminals, joints, and what is alike in all ways to come to them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from jointable.errors import InputError
from jointable.plan_form import Entry

__all__ = [
    "GROUND", "End", "Place", "Proposal", "ProposedJoint", "Terminal", "add_pigtail", "empty_terminal", "ground_size",
    "key_of", "widest",
]  # fmt: skip

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
class Place:
    """A terminal before it is known what is on it."""

    device: str
    terminal: str
    screws: int = 1
    leads: tuple[str, str | None] | None = None
    circuit: str = ""


def empty_terminal(place: Place) -> Terminal:
    return Terminal(place.device, place.terminal, None, False, "nothing here to connect")


def key_of(end: End) -> tuple[str, str]:
    # Grounds of all circuits in a box are joined together.
    return ("", GROUND) if end.net == GROUND else (end.entry.circuit, end.net)


def add_pigtail(out: Proposal, joint: ProposedJoint, place: Place, size: str | None, clause: str) -> None:
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


def ground_size(ends: Sequence[End], place: Place, ranks: dict[str, int]) -> str | None:
    """A grounding pigtail is as wide as the ground of the device's circuit, that of the box as the widest."""
    cables = [e for e in ends if not e.entry.leads] or ends
    mine = [e for e in cables if place.device != "box" and e.entry.circuit == place.circuit]
    return widest([e.size for e in mine or cables], ranks)


def widest(sizes: Sequence[str], ranks: dict[str, int]) -> str | None:
    return max(sizes, key=lambda s: ranks.get(s, 0)) if sizes else None
