"""The envelope of a connector class: how much room its body takes, an estimate of ours.

No standard gives body sizes or strip lengths, so the envelope follows from geometry: the bundle
that fills the class to its greatest total, the wall, the strip length, the skirt. Every parameter
is a row of `envelope_parameter`. The result is never mixed with a figure of a code.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal

__all__ = ["Envelope", "envelope"]

_EXACT = Context(prec=40, rounding=ROUND_HALF_EVEN)
_PI = Decimal("3.141592653589793238462643383279502884197")

#: Enclosing circle of three equal circles, in their diameters.
_THREE = 1 + 2 / _EXACT.sqrt(Decimal(3))

Parameters = Mapping[str, Decimal]


@dataclass(frozen=True, slots=True)
class Envelope:
    """The body of a connector.

    Args:
        length_mm: Length in mm.
        width_mm: Greatest width in mm.
        room_cm3: Volume in cm3.

    Source: none; a model of this project.

    Example:
        >>> Envelope(Decimal("25"), Decimal("10"), Decimal("1.2")).room_cm3
        Decimal('1.2')
    """

    length_mm: Decimal
    width_mm: Decimal
    room_cm3: Decimal


def envelope(
    series: str,
    size_mm2: Decimal,
    parameters: Parameters,
    *,
    ways: int | None = None,
    wide: bool = False,
    sealed: bool = False,
) -> Envelope:
    """The envelope of a class.

    Args:
        series: `twist-on`, `crimped`, `clamp` or `tap`.
        size_mm2: Size of the class in mm2.
        parameters: The figures of `envelope_parameter` for the family, by name.
        ways: Ways of a clamp.
        wide: Whether the grip is wide.
        sealed: Whether sealant is added all round.

    Returns:
        Length and width in mm at two decimals, volume in cm3 at three.

    Raises:
        KeyError: The series or a parameter is not known.

    Source: definition of this project; area of a circle, volume of a cone cut short.

    Example:
        >>> tap = {"insulation_mm": Decimal("0.5"), "wall_mm": Decimal(4), "sealed_wall_mm": Decimal(3),
        ...        "depth_per_bore": Decimal(3), "wide_length_factor": Decimal(1)}
        >>> envelope("tap", Decimal(16), tap)
        Envelope(length_mm=Decimal('16.54'), width_mm=Decimal('19.03'), room_cm3=Decimal('4.253'))
    """
    added = parameters["sealed_wall_mm"] if sealed else Decimal(0)
    longer = parameters["wide_length_factor"] if wide else Decimal(1)
    length, width, height, tip = _SHAPES[series](size_mm2, parameters, ways or 1)
    length, width, height = length * longer + 2 * added, width + 2 * added, height + 2 * added
    volume = _cone(length, width, tip + 2 * added) if tip else length * width * height
    return Envelope(_at(length, 2), _at(max(width, height), 2), _at(volume / 1000, 3))


def _at(value: Decimal, decimals: int) -> Decimal:
    return _EXACT.quantize(value, Decimal(1).scaleb(-decimals))


def _diameter(area: Decimal) -> Decimal:
    return _EXACT.sqrt(_EXACT.divide(4 * area, _PI))


def _cone(length: Decimal, mouth: Decimal, tip: Decimal) -> Decimal:
    """Volume in mm3 of a cone cut short."""
    return _PI / 12 * length * (mouth * mouth + mouth * tip + tip * tip)


#: Length, width and height in mm, and the diameter of the tip where the body is a cone.
_Shape = tuple[Decimal, Decimal, Decimal, Decimal]


def _bundle(size: Decimal, p: Parameters, _: int) -> _Shape:
    """A shell over the bundle of so many alike: a mouth for the insulated ends, a tip for the bare."""
    count = p["reference_conductors"]
    factor = _THREE if count == 3 else Decimal(1)
    bare = _diameter(size / count)
    bore, mouth = factor * bare, factor * (bare + 2 * p["insulation_mm"])
    strip = p["strip_mm"] + p["strip_per_bore"] * bore
    tip = bore + 2 * (p["grip_mm"] + p["wall_mm"])
    wide = max(mouth + 2 * p["wall_mm"], tip)
    if count == 1:  # a barrel with an end at either side
        return 2 * (strip + p["skirt_mm"]) + p["end_mm"], wide, wide, wide
    return strip + p["skirt_mm"] + p["end_mm"], wide, wide, tip


def _clamp(size: Decimal, p: Parameters, ways: int) -> _Shape:
    """A block of ways side by side."""
    bare = _diameter(size)
    way = bare + 2 * p["insulation_mm"] + p["wall_mm"]
    depth = p["depth_mm"] + p["depth_per_bore"] * bare
    return depth, way * ways + p["wall_mm"], way * p["height_factor"], Decimal(0)


def _tap(size: Decimal, p: Parameters, _: int) -> _Shape:
    """A block over the run and a tap as wide, side by side."""
    run = _diameter(size) + 2 * p["insulation_mm"]
    return p["depth_per_bore"] * run, run + 2 * p["wall_mm"], 2 * run + 2 * p["wall_mm"], Decimal(0)


_SHAPES: Mapping[str, Callable[[Decimal, Parameters, int], _Shape]] = {
    "twist-on": _bundle,
    "crimped": _bundle,
    "clamp": _clamp,
    "tap": _tap,
}
