"""Bars on one logarithmic axis of area, and how full a box is: as figures in per cent of the width.

Only places are computed here; the templates draw them. Places in per cent keep the text of a drawing
readable at any width, where a drawing of fixed size would shrink it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from jointable.report_bar import segments, shown

__all__ = ["Axis", "axis_of", "fullness"]

#: Marks within a decade.
_STEPS = (Decimal(1), Decimal(2), Decimal(5))


@dataclass(frozen=True, slots=True)
class Axis:
    """A logarithmic axis of area [mm²]."""

    low: float
    high: float

    def at(self, area: Any) -> str:
        """Where an area lies, as `12.34%`; areas beyond an end lie at it."""
        place = math.log(float(area) / self.low) / math.log(self.high / self.low)
        return f"{min(1.0, max(0.0, place)) * 100:.2f}%"

    def width(self, low: Any, high: Any) -> str:
        """The length of a bar, as `12.34%`."""
        return f"{float(self.at(high)[:-1]) - float(self.at(low)[:-1]):.2f}%"

    def marks(self) -> list[tuple[str, str]]:
        """Place and text of each mark inside the axis."""
        decades = range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1)
        values = [step * Decimal(10) ** decade for decade in decades for step in _STEPS]
        inside = [v for v in values if self.low * 1.02 < v < self.high * 0.98]
        # On a wide axis only the decades fit.
        if len(inside) > 8:
            inside = [v for v in inside if v.as_tuple().digits == (1,)]
        return [(self.at(v), shown(v)) for v in inside]


def axis_of(areas: Iterable[Any]) -> Axis:
    """An axis that holds all areas with some room at both ends.

    Args:
        areas: Areas [mm²]; None is left out.

    Returns:
        The axis; a decade about 1 mm² where nothing is given.

    Example:
        >>> axis = axis_of([1, 100])
        >>> axis.at(10)
        '50.00%'
    """
    known = [float(a) for a in areas if a is not None and float(a) > 0] or [0.5, 5.0]
    return Axis(min(known) / 1.4, max(known) * 1.4)


@dataclass(frozen=True, slots=True)
class Fullness:
    """How full a box is, as places along one bar."""

    unit: str
    required: str
    available: str
    limit_at: str
    limit_right: bool
    required_at: str
    required_right: bool
    #: Clause, volume, place, width and the number of its hatch.
    parts: tuple[tuple[str, str, str, str, int], ...]


def fullness(result: Mapping[str, Any], clauses: Sequence[str]) -> Fullness:
    """Where the segments of a box lie.

    Args:
        result: One answer of `fill`.
        clauses: All clauses of the page, in the order of its hatches.

    Returns:
        Places in per cent.

    Example:
        >>> box = {"edition": "nec-2023", "lines": [{"clause": "a", "volume_in3": 9}], "required_in3": 9,
        ...        "available_in3": 18}
        >>> fullness(box, ["a"]).parts[0][3]
        '46.30%'
    """
    suffix, unit = unit_of(result)
    parts = segments(result, f"volume_{suffix}")
    required = Decimal(str(result[f"required_{suffix}"] or 0))
    limit = result[f"available_{suffix}"]
    whole = max(required, Decimal(str(limit or 0)), Decimal("0.001")) * Decimal("1.08")

    def at(volume: Decimal) -> str:
        return f"{volume / whole * 100:.2f}%"

    drawn, start = [], Decimal(0)
    for clause, volume in parts:
        drawn.append((clause, figure(volume, unit), at(start), at(volume), clauses.index(clause)))
        start += volume
    there = Decimal(str(limit)) if limit is not None else None
    return Fullness(
        unit,
        figure(required, unit),
        "" if there is None else figure(there, unit),
        "" if there is None else at(there),
        there is not None and there > whole / 2,
        at(min(required, whole)),
        required > whole / 2,
        tuple(drawn),
    )


def unit_of(result: Mapping[str, Any]) -> tuple[str, str]:
    """Suffix and name of the unit that people see first."""
    canada = str(result["edition"]).startswith("cec")
    first = result.get("shown_unit") or result.get("first_unit") or ("mL" if canada else "in³")
    return ("in3", "in³") if first in ("in³", "in3") else ("cm3", "mL" if canada else "cm³")


def clauses_of(results: Iterable[Mapping[str, Any]]) -> list[str]:
    """Every clause of the results, once, in order."""
    return list(dict.fromkeys(c for r in results for c, _ in segments(r, f"volume_{unit_of(r)[0]}")))


def figure(volume: Decimal, unit: str) -> str:
    """A volume as people read it; only converted ones are rounded."""
    return shown(volume, 1 if unit == "cm³" else None)
