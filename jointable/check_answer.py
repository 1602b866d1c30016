"""The answer about opened boxes: findings, what each joint becomes, and the fill before and after."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from jointable.fill_result import FillResult

__all__ = ["BoxCheck", "Check", "Finding"]


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong or to be looked at.

    Attributes:
        finding: Its name in the table `finding`.
        joint: The joint, None where it is about the box.
        when: `as found`, `after the change` or `both`.
        severity: `stop`, `wrong` or `mind`.
        what, why, do: What it is, why it matters, what to do.
        clause: Clause or source.
        detail: The figures that decided, or None.
        provenance: What `trace` takes.
    """

    finding: str
    joint: str | None
    when: str
    severity: str
    what: str
    why: str
    do: str
    clause: str
    detail: str | None
    provenance: str

    def to_dict(self) -> dict[str, Any]:
        """The finding as `--json` prints it."""
        return {n: getattr(self, n) for n in self.__slots__ if n != "provenance"} | {
            "provenance": [self.provenance]
        }


@dataclass(frozen=True, slots=True)
class BoxCheck:
    """The answer about one box; volumes in in³ and cm³, lengths in mm."""

    box: str
    title: str
    edition: str
    joints: tuple[Mapping[str, Any], ...]
    findings: tuple[Finding, ...]
    fill: FillResult | None
    fill_before: FillResult | None
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, str], ...]
    guidance: Mapping[str, list[dict[str, Any]]]

    @property
    def sound(self) -> bool:
        """Whether nothing was found that must stop or be put right."""
        return not any(f.severity in ("stop", "wrong") for f in self.findings)

    def to_dict(self) -> dict[str, Any]:
        """The answer as `--json` prints it."""
        return {
            "box": self.box,
            "title": self.title,
            "edition": self.edition,
            "sound": self.sound,
            "findings": [f.to_dict() for f in self.findings],
            "joints": [dict(j) for j in self.joints],
            "fill": self.fill.to_dict() if self.fill else None,
            "fill_before": self.fill_before.to_dict() if self.fill_before else None,
            "assumptions": list(self.assumptions),
            "cautions": [dict(c) for c in self.cautions],
            **self.guidance,
        }


@dataclass(frozen=True, slots=True)
class Check:
    """The answer about all boxes that were opened."""

    boxes: tuple[BoxCheck, ...]
    edition: str
    data_version: str

    def __iter__(self) -> Iterator[BoxCheck]:
        return iter(self.boxes)

    @property
    def sound(self) -> bool:
        """Whether nothing was found that must stop or be put right."""
        return all(b.sound for b in self.boxes)

    def to_dict(self) -> dict[str, Any]:
        """The answer as `--json` prints it."""
        return {
            "data_version": self.data_version,
            "edition": self.edition,
            "sound": self.sound,
            "boxes": [b.to_dict() for b in self.boxes],
        }
