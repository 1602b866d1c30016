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

from markupsafe import Markup

from jointable.report_bar import DIGITS, hatches, segments, shown

__all__ = ["Axis", "Fullness", "axis_of", "clauses_of", "fullness", "span_of", "unit_of"]

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
        values = [(step * Decimal(10) ** decade, step) for decade in decades for step in _STEPS]
        inside = [(v, step) for v, step in values if self.low * 1.02 < v < self.high * 0.98]
        if len(inside) > 8:  # on a wide axis only the decades fit
            inside = [(v, step) for v, step in inside if step == 1]
        return [(self.at(v), shown(v)) for v, _ in inside]


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
    """A volume as people read it; only converted and measured ones are rounded."""
    return shown(volume, DIGITS[unit])


Span = tuple[Any, Any, list[Any]]


def span_of(choice: Mapping[str, Any], limits: Mapping[str, Any]) -> Span:
    """From where to where a class takes, and the areas of the joint that this is held against.

    Args:
        choice: A choice of the answer of `joint`.
        limits: Limits by class, where the answer gives them.

    Returns:
        Least and greatest area [mm²]; the areas, empty where the total of the joint is meant. A class
        without totals (a clamp, a tap) goes by its conductors.
    """
    if choice["total_max_mm2"] is not None:
        return choice["total_min_mm2"], choice["total_max_mm2"], []
    known = limits.get(choice["class"])
    if known is None:
        return None, None, []
    if known["max_total_mm2"] is not None:
        return known["min_total_mm2"], known["max_total_mm2"], list(known["areas"])
    return known["min_conductor_mm2"], known["max_conductor_mm2"], list(known["areas"])


def span_of_class(row: Mapping[str, Any]) -> tuple[Any, Any, str, str]:
    """From where to where a class takes, and the columns that say so."""
    if row["max_total_mm2"] is not None:
        return row["min_total_mm2"], row["max_total_mm2"], "min_total_mm2", "max_total_mm2"
    return row["min_conductor_mm2"], row["max_conductor_mm2"], "min_conductor_mm2", "max_conductor_mm2"


def areas_of(joint: Mapping[str, Any]) -> list[Any]:
    """The total of a joint, as the one area to mark."""
    return [joint["total_mm2"]]


def axis_for(
    choices: Iterable[Mapping[str, Any]], limits: Mapping[str, Any], joint: Mapping[str, Any]
) -> Axis:
    """One axis for all classes of a family."""
    areas: list[Any] = []
    for choice in choices:
        low, high, marks = span_of(choice, limits)
        areas += [low, high, *(marks or areas_of(joint))]
    return axis_of(areas)


def axis_of_classes(rows: Iterable[Mapping[str, Any]]) -> Axis:
    """One axis for the classes of a family."""
    return axis_of(area for row in rows for area in span_of_class(row)[:2])


def words_of(choice: Mapping[str, Any], span: Span) -> str:
    """What the bar of a class says, in words."""
    if span[0] is None:
        return f"{choice['class']}: by size of conductor"
    what = "conductors" if choice["total_max_mm2"] is None else "a total"
    return f"{choice['class']}: {what} from {shown(span[0])} to {shown(span[1])} mm²"


def hatches_of(clauses: Sequence[str]) -> Markup:
    """The hatches of a page."""
    return Markup(hatches(clauses))


def most_room(curve: Iterable[Mapping[str, Any]]) -> Decimal:
    """The greatest room of a curve."""
    return max((Decimal(str(p["room_cm3"])) for p in curve), default=Decimal(1))


def share(part: Any, whole: Decimal) -> str:
    """A part of a whole in per cent."""
    return f"{Decimal(str(part)) / (whole or 1) * 100:.2f}%"
