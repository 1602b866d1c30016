"""The answer about the room of a box."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

__all__ = ["BoxRoom", "RoomJoint", "RoomLine"]

_NONE = Decimal("0.000")


@dataclass(frozen=True, slots=True)
class RoomLine:
    """What one kind of content takes: pieces, and their volume in cm3."""

    item: str
    size: str | None
    pieces: int
    room_cm3: Decimal | None

    def to_dict(self) -> dict[str, Any]:
        """The line as `--json` prints it."""
        return {n: getattr(self, n) for n in self.__slots__}


@dataclass(frozen=True, slots=True)
class RoomJoint:
    """A joint, the class it is in, and the smallest that takes it; volumes in cm3."""

    joint: str
    text: str | None
    name: str | None
    room_cm3: Decimal | None
    smallest: str | None
    smallest_cm3: Decimal | None
    problem: str | None

    @property
    def gain_cm3(self) -> Decimal:
        """What changing to the smallest class gains; 0 where there is no change to make."""
        if self.room_cm3 is None or self.smallest_cm3 is None:
            return _NONE
        return max(self.room_cm3 - self.smallest_cm3, _NONE)

    def to_dict(self) -> dict[str, Any]:
        """The joint as `--json` prints it."""
        return {
            "joint": self.joint,
            "text": self.text,
            "class": self.name,
            "room_cm3": self.room_cm3,
            "smallest": self.smallest,
            "smallest_cm3": self.smallest_cm3,
            "gain_cm3": self.gain_cm3,
            "problem": self.problem,
        }


@dataclass(frozen=True, slots=True)
class BoxRoom:
    """What is in a box, by physical volume in cm3: an estimate, and no figure of a code."""

    box: str
    space: str | None
    edition: str
    inside_cm3: Decimal | None
    lines: tuple[RoomLine, ...]
    joints: tuple[RoomJoint, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, Any], ...]
    data_version: str

    @property
    def connectors_cm3(self) -> Decimal:
        """What the connectors of the joints take."""
        return sum((j.room_cm3 for j in self.joints if j.room_cm3 is not None), _NONE)

    @property
    def contents_cm3(self) -> Decimal:
        """What all contents take."""
        return sum((x.room_cm3 for x in self.lines if x.room_cm3 is not None), self.connectors_cm3)

    @property
    def left_cm3(self) -> Decimal | None:
        """What is left of the inside; None where the inside is not known."""
        return None if self.inside_cm3 is None else self.inside_cm3 - self.contents_cm3

    @property
    def taken_percent(self) -> Decimal | None:
        """The share of the inside that is taken, in per cent at one decimal."""
        return _percent(self.contents_cm3, self.inside_cm3)

    @property
    def gain_cm3(self) -> Decimal:
        """What changing every joint to the smallest class that takes it gains."""
        return sum((j.gain_cm3 for j in self.joints), _NONE)

    @property
    def gain_percent(self) -> Decimal | None:
        """The same in per cent of what the connectors take; None where there are none."""
        return _percent(self.gain_cm3, self.connectors_cm3)

    def to_dict(self) -> dict[str, Any]:
        """The box as `--json` prints it."""
        return {
            "data_version": self.data_version,
            "box": self.box,
            "space": self.space,
            "edition": self.edition,
            "inside_cm3": self.inside_cm3,
            "contents_cm3": self.contents_cm3,
            "connectors_cm3": self.connectors_cm3,
            "left_cm3": self.left_cm3,
            "taken_percent": self.taken_percent,
            "gain_cm3": self.gain_cm3,
            "gain_percent": self.gain_percent,
            "lines": [x.to_dict() for x in self.lines],
            "joints": [j.to_dict() for j in self.joints],
            "estimate": True,
            "assumptions": list(self.assumptions),
            "cautions": [dict(c) for c in self.cautions],
        }


def _percent(part: Decimal, whole: Decimal | None) -> Decimal | None:
    return (part * 100 / whole).quantize(Decimal("0.1")) if whole else None
