"""The answer about planned boxes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from jointable.fill_result import FillResult
from jointable.plan_form import PlanBox
from jointable.plan_joints import Proposal
from jointable.plan_takeoff import added

__all__ = ["BoxPlan", "Plan"]


@dataclass(frozen=True, slots=True)
class BoxPlan:
    """The answer about one box.

    Attributes:
        box, edition, data_version: Its name, and what it was computed from.
        given: What was planned.
        proposal: Joints, terminals and free ends.
        classes: For each joint its notation, class and demands.
        fill: The answer of `fill` [in³, cm³].
        smallest_box: The smallest standard box that suits and holds it, None where there is none.
        room: The answer of `room` [cm³], an estimate; None where it was not asked.
        take_off: Connectors, pigtails [mm] and end caps.
        assumptions, cautions: What it rests on, and what must be minded.
        guidance: Lines of advice by topic: make-up, aluminium, electrical, wet places.
    """

    box: str
    edition: str
    data_version: str
    given: PlanBox
    proposal: Proposal
    classes: Mapping[str, Mapping[str, Any]]
    fill: FillResult
    smallest_box: dict[str, Any] | None
    room: Mapping[str, Any] | None
    take_off: Mapping[str, Any]
    rows_of_kind: tuple[dict[str, Any], ...]
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, str], ...]
    guidance: Mapping[str, list[dict[str, Any]]]

    def named(self, name: str) -> BoxPlan:
        """The same answer for a box alike under another name."""
        room = None if self.room is None else {**self.room, "box": name}
        return replace(self, box=name, fill=replace(self.fill, box=name), room=room)

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The box as rows of an ordinary schedule."""
        return [{**row, "box": self.box} for row in self.rows_of_kind]

    @property
    def joints(self) -> list[dict[str, Any]]:
        """Each joint with what is in it, its class and why it is there."""
        out = []
        for joint in self.proposal.joints:
            said = self.classes.get(joint.name, {})
            out.append(
                {
                    "joint": joint.name,
                    "text": said.get("text"),
                    "of": [e.name for e in joint.ends],
                    "pigtails": [{"size": s, "to": to} for s, _, to in joint.pigtails],
                    "on_through_to": joint.through,
                    "class": said.get("class"),
                    "room_cm3": said.get("room_cm3"),
                    "requires": said.get("requires", []),
                    "reason": said.get("reason"),
                    "split": said.get("split"),
                    "clause": joint.clause,
                    "edited": joint.edited,
                }
            )
        return out

    @property
    def terminals(self) -> list[dict[str, Any]]:
        """Each terminal, what is on it, and whether that is a pigtail."""
        return [{n: getattr(t, n) for n in t.__slots__} for t in self.proposal.terminals]

    def to_dict(self) -> dict[str, Any]:
        """The answer as `--json` prints it."""
        return {
            "box": self.box,
            "title": self.given.title,
            "edition": self.edition,
            "data_version": self.data_version,
            "joints": self.joints,
            "terminals": self.terminals,
            "free_ends": [{"end": e.name, "size": e.size, "clause": c} for e, c in self.proposal.free],
            "fill": self.fill.to_dict(),
            "smallest_box": self.smallest_box,
            "room": None if self.room is None else dict(self.room),
            "take_off": dict(self.take_off),
            "schedule": self.rows,
            "notes": list(self.proposal.notes),
            "assumptions": list(self.assumptions),
            "cautions": [dict(c) for c in self.cautions],
            **self.guidance,
        }


@dataclass(frozen=True, slots=True)
class Plan:
    """The answer about a whole job."""

    boxes: tuple[BoxPlan, ...]
    edition: str
    data_version: str

    def __iter__(self) -> Iterator[BoxPlan]:
        return iter(self.boxes)

    @property
    def passes(self) -> bool:
        """Whether every box passes its fill."""
        return all(b.fill.passes for b in self.boxes)

    @property
    def schedule(self) -> list[dict[str, Any]]:
        """All boxes as rows of an ordinary schedule, as `fill` and `stock` take it."""
        return [row for box in self.boxes for row in box.rows]

    @property
    def take_off(self) -> dict[str, Any]:
        """Connectors, pigtails [mm] and end caps of the job."""
        return added(b.take_off for b in self.boxes)

    def to_dict(self) -> dict[str, Any]:
        """The answer as `--json` prints it."""
        return {
            "data_version": self.data_version,
            "edition": self.edition,
            "boxes": [b.to_dict() for b in self.boxes],
            "take_off": self.take_off,
        }
