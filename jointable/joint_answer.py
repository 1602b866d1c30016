"""The answer about a joint: choices, refusals, a split, and what goes with them."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.facts import Facts
from jointable.notation import Joint

if TYPE_CHECKING:
    from jointable.split import Split

__all__ = ["Choice", "JointAnswer", "Refusal"]


@dataclass(frozen=True, slots=True)
class Choice:
    """A class that takes the joint, or a listing of the user's own.

    `requires` is what must be marked or listed on the connector in the hand; `margin` is how far the
    total lies from the least (0) to the greatest (1) the class takes, by ratio.
    """

    name: str | None
    family: str | None
    size: Decimal | None
    ways: int | None
    grip: str | None
    variant: str | None
    total_min_mm2: Decimal | None = None
    total_max_mm2: Decimal | None = None
    margin: float | None = None
    room_cm3: Decimal | None = None
    requires: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()
    listing: dict[str, Any] | None = None
    provenance: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """The choice as `--json` prints it."""
        return {
            "class": self.name,
            "family": self.family,
            "size": self.size,
            "ways": self.ways,
            "grip": self.grip,
            "variant": self.variant,
            "total_min_mm2": self.total_min_mm2,
            "total_max_mm2": self.total_max_mm2,
            "margin": self.margin,
            "room_cm3": self.room_cm3,
            "requires": list(self.requires),
            "notes": list(self.notes),
            "reasons": list(self.reasons),
            "listing": self.listing,
            "provenance": list(self.provenance),
        }


@dataclass(frozen=True, slots=True)
class Refusal:
    """A class that does not take the joint, and why; `near_miss` says what change would make it fit."""

    name: str | None
    family: str | None
    size: Decimal | None
    ways: int | None
    grip: str | None
    reason: str
    near_miss: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """The refusal as `--json` prints it."""
        return {
            "class": self.name,
            "family": self.family,
            "size": self.size,
            "ways": self.ways,
            "grip": self.grip,
            "reason": self.reason,
            "near_miss": self.near_miss,
        }


@dataclass(frozen=True, slots=True)
class JointAnswer:
    """The answer about a joint."""

    joint: Joint
    facts: Facts
    data_version: str
    choices: tuple[Choice, ...] = ()
    refused: tuple[Refusal, ...] = ()
    split: Split | None = None
    split_reason: str | None = None
    assumptions: tuple[str, ...] = ()
    cautions: tuple[dict[str, Any], ...] = ()
    #: Lines of advice by topic: make-up, old aluminium, what the mix means electrically, wet places.
    guidance: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    #: Whether what is carried serves it, what could be done with it, and what is missing.
    carry: dict[str, Any] | None = None
    #: What the macro of admission said of each class, for drawings.
    rows: tuple[dict[str, Any], ...] = field(default=(), repr=False)

    def svg(self) -> str:
        """The bundle to scale and the ranges of the classes: an SVG file with a style of its own."""
        from jointable.drawing import joint_svg

        return joint_svg(self.to_dict(), self.rows)

    def bundle_svg(self) -> str:
        """The bundle to scale: an SVG element for a page, without a style."""
        from jointable.drawing import bundle_svg

        return bundle_svg(self.to_dict())

    def _repr_html_(self) -> str:
        """The answer as notebooks show it."""
        from jointable.notebook import html_joint

        return html_joint(self.to_dict(), self.bundle_svg() if self.choices else "")

    def to_dict(self) -> dict[str, Any]:
        """The answer as `--json` prints it: numbers are decimals, exact and unrounded."""
        return {
            "data_version": self.data_version,
            "joint": self.facts.to_dict(),
            "choices": [c.to_dict() for c in self.choices],
            "refused": [r.to_dict() for r in self.refused],
            "split": self.split.to_dict() if self.split else None,
            "split_reason": self.split_reason,
            "assumptions": list(self.assumptions),
            "cautions": [dict(c) for c in self.cautions],
            **self.guidance,
            **({} if self.carry is None else {"carry": self.carry}),
        }
