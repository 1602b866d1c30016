"""What enters a box and which devices sit in it, as a person writes it down, and its defaults.

What a role or a device means, where nothing else is said, is common practice and stands in two
tables below; every conductor can be named by hand instead.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jointable.plan_where import NOWHERE, Where

__all__ = [
    "DEVICES",
    "ENTRY_KEYS",
    "ROLES",
    "Device",
    "Edit",
    "Entry",
    "PlanBox",
]

#: What the insulated conductors of a cable are, by the role of the cable and their number.
ROLES: Mapping[str, Mapping[int, tuple[str, ...]]] = {
    "feed": {2: ("hot", "neutral"), 3: ("hot 1", "hot 2", "neutral")},
    "feed through": {2: ("hot", "neutral"), 3: ("hot 1", "hot 2", "neutral")},
    "switched leg": {2: ("switched", "neutral"), 3: ("switched 1", "switched 2", "neutral")},
    "switch loop": {2: ("hot", "switched"), 3: ("hot", "switched", "neutral")},
    "travellers": {2: ("traveller 1", "traveller 2"), 3: ("traveller 1", "traveller 2", "neutral")},
    "luminaire": {2: ("switched", "neutral"), 3: ("switched 1", "switched 2", "neutral")},
    "fan": {2: ("switched", "neutral"), 3: ("switched 1", "switched 2", "neutral")},
    "wires": {},
    "through": {},
}

#: The terminals of a device, and what each is connected to.
DEVICES: Mapping[str, Mapping[str, str]] = {
    "switch": {"line": "hot", "load": "switched", "ground": "ground"},
    "three-way switch": {
        "common": "hot",
        "traveller 1": "traveller 1",
        "traveller 2": "traveller 2",
        "ground": "ground",
    },
    "four-way switch": {
        "in 1": "traveller 1",
        "in 2": "traveller 2",
        "out 1": "traveller 3",
        "out 2": "traveller 4",
        "ground": "ground",
    },
    "receptacle": {"line": "hot", "neutral": "neutral", "ground": "ground"},
    "split receptacle": {
        "upper line": "hot 1",
        "lower line": "hot 2",
        "neutral": "neutral",
        "ground": "ground",
    },
    "timer": {"line": "hot", "load": "switched", "neutral": "neutral", "ground": "ground"},
    "dimmer": {"line": "hot", "load": "switched", "ground": "ground"},
    "sensor": {"line": "hot", "load": "switched", "neutral": "neutral", "ground": "ground"},
}

#: The keys of each table of a plan.
ENTRY_KEYS: Mapping[str, tuple[str, ...]] = {
    "box": (
        "name", "size", "volume_in3", "volume_cm3", "quantity", "location", "boxes", "metal", "fittings",
        "grounding", "title", "note", "enters", "device", "joint", "item",
    ),
    "enters": (
        "name", "role", "size", "circuit", "conductors", "ground", "construction", "material", "canopy",
        "quantity", "power_limited",
    ),
    "device": ("name", "kind", "circuit", "connect", "gangs", "screws", "leads", "size", "depth_mm"),
    "joint": ("name", "of", "pigtails"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Entry:
    """A cable, a luminaire's leads or loose wires that enter the box.

    Attributes:
        name, role: What it is called, and what it is for.
        size: The size of its insulated conductors, as printed back.
        ground: The size of its equipment grounding conductor, None where it has none.
        circuit: Its circuit, or an empty text.
        conductors: What each insulated conductor is connected to.
        construction, material: Of its conductors, where stated.
        domed: Whether the leads come from a domed canopy, 314.16(B)(1) exception.
        power_limited: Whether its conductors are those of a power-limited circuit.
    """

    name: str
    role: str
    size: str
    ground: str | None
    circuit: str
    conductors: tuple[str, ...]
    construction: str | None = None
    material: str | None = None
    domed: bool = False
    power_limited: bool = False

    @property
    def leads(self) -> bool:
        """Whether these are leads of a luminaire or a fan, which end in the box as they come."""
        return self.role in ("luminaire", "fan")


@dataclass(frozen=True, slots=True)
class Device:
    """A device on a yoke: its terminals, and the conductor size where it is stated.

    Attributes:
        screws: How many wires a terminal takes by its marking; one unless stated, 110.14(A).
        leads: Size of its own leads where it has leads in place of terminals.
        connect: Each terminal with what it is connected to.
    """

    name: str
    kind: str
    circuit: str
    connect: tuple[tuple[str, str], ...]
    gangs: int = 1
    screws: int = 1
    leads: str | None = None
    lead_construction: str | None = None
    size: str | None = None
    depth_mm: str | None = None


@dataclass(frozen=True, slots=True)
class Edit:
    """A joint as the user wants it: the ends in it (None leaves them), and pigtails beside them."""

    name: str
    of: tuple[str, ...] | None
    pigtails: int | None


@dataclass(frozen=True, slots=True)
class PlanBox:
    """One box as the user describes it.

    Attributes:
        cells: What the box itself is (a table size or a marked volume); empty where it is to be chosen.
        extra: Further cells of its row of the schedule.
        metal: Whether it is metal, None where that is not said.
        pass_through: Whether one grounding conductor goes on through its connector.
        items: Further rows of the schedule, as they come.
        kind: A number that boxes alike in all but the name share.
        where, item_where: Where it and its further rows stand, for messages.
    """

    name: str
    entries: tuple[Entry, ...]
    devices: tuple[Device, ...]
    edits: tuple[Edit, ...]
    items: tuple[Mapping[str, Any], ...]
    cells: Mapping[str, Any] = field(default_factory=dict)
    extra: Mapping[str, Any] = field(default_factory=dict)
    metal: bool | None = None
    pass_through: bool = False
    fittings: tuple[str, ...] = ()
    boxes: int = 1
    title: str = ""
    kind: int = 0
    where: Where = NOWHERE
    item_where: tuple[Where, ...] = ()

    @property
    def gangs(self) -> int:
        """The gangs that the devices need."""
        return sum(d.gangs for d in self.devices)

    @property
    def power_limited(self) -> bool:
        """Whether power-limited conductors lie beside others."""
        return len({e.power_limited for e in self.entries}) > 1

    @property
    def sized(self) -> bool:
        """Whether the box itself is said."""
        return bool(self.cells)
