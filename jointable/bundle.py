"""A bundle of conductors: the smallest circle found round it, where each lies, and which are hidden."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache

from jointable.bundle_search import Places, enlarge, search
from jointable.errors import InputError

__all__ = [
    "MOST_CONDUCTORS",
    "Bundle",
    "bundle_of",
    "effort",
    "enclosing_circle",
    "hidden_among",
    "hidden_conductors",
    "three_circles",
]

#: More conductors than this are no joint of this project.
MOST_CONDUCTORS = 24

Spot = tuple[float, float]

#: Seeds of the search with scipy, tried in turn until two agree.
_SEEDS = (1, 2, 3, 4)

#: Openings narrower than this (radians) are where circles touch, not gaps.
_TOUCHING = math.radians(1)


@dataclass(frozen=True, slots=True)
class Bundle:
    """Conductors in a circle.

    Args:
        diameter: Diameter of the circle in mm, an upper bound of the smallest.
        positions: Centres in mm about the middle of the circle, in the order of the conductors.
        diameters: Diameters of the conductors in mm.

    Source: none; this is a form of this project.

    Example:
        >>> enclosing_circle([2.0, 2.0]).diameter
        4.0
    """

    diameter: float
    positions: tuple[Spot, ...]
    diameters: tuple[float, ...]


def enclosing_circle(diameters: Sequence[float], *, exact: bool = False) -> Bundle:
    """The smallest circle found round circles that may not overlap.

    Args:
        diameters: Diameters in mm, 1 to 24 of them, each above 0; their order does not matter.
        exact: Search with scipy (the extra `exact`) until two seeds agree on the best found: still
            an upper bound, since nobody can prove more, but the figure that the tables are made of.

    Returns:
        The bundle. One, two and three circles by closed form; more by a seeded search whose
        result is an upper bound, within 0.5 % of the best known for up to twelve. A conductor
        that lies loose is put as near to the middle as it goes.

    Raises:
        InputError: There are none or more than 24, one is not above 0, or scipy is not installed
            where `exact` asks for it.

    Source: closed forms of two and three circles (elementary geometry; the outer Soddy circle).

    Example:
        >>> round(enclosing_circle([2.0] * 7).diameter, 4)
        6.0
    """
    _check(diameters)
    if exact and len(diameters) > 3:
        return _best_found(diameters)
    order = sorted(range(len(diameters)), key=lambda i: (-diameters[i], i))
    widest = diameters[order[0]] / 2
    radii = [diameters[i] / 2 / widest for i in order]
    radius, places = _smallest(radii)
    positions: list[Spot] = [(0.0, 0.0)] * len(order)
    for i, z in zip(order, places, strict=True):
        positions[i] = (z.real * widest, z.imag * widest)
    return Bundle(2 * radius * widest, tuple(positions), tuple(float(d) for d in diameters))


def _best_found(diameters: Sequence[float]) -> Bundle:
    """The search with scipy: the best of its seeds, two of which agree, or of all of them."""
    try:
        from jointable.packing import confirmed, pack
    except ImportError as error:
        raise InputError(
            f"the exact search needs scipy: {error}",
            column="exact",
            expected="pip install 'jointable[exact]', or leave exact out (within 0.5 %)",
        ) from None
    found = confirmed(diameters, _SEEDS) or min(
        (pack(diameters, seed) for seed in _SEEDS), key=lambda p: p.diameter
    )
    spots = tuple((float(x), float(y)) for x, y in found.positions)
    return Bundle(found.diameter, spots, tuple(float(d) for d in diameters))


def hidden_conductors(bundle: Bundle) -> tuple[int, ...]:
    """The conductors that others hide from the connector: lay these outside.

    Args:
        bundle: A bundle as drawn.

    Returns:
        Indices of the conductors round which a ring of the others closes in the bundle as drawn
        (from its middle no way out is seen), or that fit under the common tangent of two
        touching wider ones: d <= ab/(sqrt(a) + sqrt(b))^2.

    Source: elementary geometry (Descartes' theorem with a straight line); the rule is a
        definition of this project.

    Example:
        >>> hidden_conductors(enclosing_circle([2.588, 2.588, 0.511]))
        (2,)
        >>> hidden_conductors(enclosing_circle([2.053, 2.053, 1.024]))
        ()
    """
    return tuple(
        i for i in range(len(bundle.diameters)) if _under_tangent(bundle, i) or _ring_closes(bundle, i)
    )


@lru_cache(maxsize=1024)
def bundle_of(diameters: tuple[Decimal, ...]) -> Bundle:
    """The bundle of bare diameters in mm, widest first; the same set is searched once."""
    return enclosing_circle([float(d) for d in diameters])


def hidden_among(diameters: tuple[Decimal, ...]) -> tuple[int, ...]:
    """The conductors that others hide, searched only where one could be.

    Args:
        diameters: Bare diameters in mm, widest first.

    Returns:
        Indices, as `hidden_conductors` of their bundle gives them.

    Raises:
        InputError: As `enclosing_circle`.

    Source: as `hidden_conductors`.

    Example:
        >>> hidden_among((Decimal("2.588"), Decimal("2.588"), Decimal("0.511")))
        (2,)
    """
    plain = tuple(float(d) for d in diameters)
    if not any(_could_hide(i, plain) for i in range(len(plain))):
        return ()
    return hidden_conductors(bundle_of(diameters))


def three_circles(a: float, b: float, c: float) -> float:
    """The radius of the smallest circle round three circles.

    Args:
        a: The widest radius, any unit.
        b: The middle radius.
        c: The thinnest radius.

    Returns:
        a + b where the thinnest fits beside the two, c <= ab(a + b)/(a^2 + ab + b^2), else the
        radius of the outer Soddy circle, in the same unit.

    Source: Descartes' theorem on four touching circles.

    Example:
        >>> three_circles(3, 2, 1), round(three_circles(1, 1, 1), 6)
        (5, 2.154701)
    """
    if c * (a * a + a * b + b * b) <= a * b * (a + b):
        return a + b
    bends = 1 / a + 1 / b + 1 / c
    root = math.sqrt(1 / (a * b) + 1 / (b * c) + 1 / (c * a))
    return 1 / (2 * root - bends)


def _check(diameters: Sequence[float]) -> None:
    if not 1 <= len(diameters) <= MOST_CONDUCTORS:
        raise InputError(
            "not a number of conductors that a bundle is computed for",
            column="conductors", value=len(diameters), expected=f"1 to {MOST_CONDUCTORS}",
        )  # fmt: skip
    for diameter in diameters:
        if not (math.isfinite(diameter) and diameter > 0):
            raise InputError(
                "not a diameter", column="diameter", value=diameter, expected="a length in mm above 0"
            )


def _smallest(radii: list[float]) -> tuple[float, Places]:
    if len(radii) == 1:
        return radii[0], [0j]
    if len(radii) == 2:
        return radii[0] + radii[1], [complex(-radii[1]), complex(radii[0])]
    if len(radii) == 3:
        return _three(radii)
    radius, places = search(radii, *effort(len(radii)))
    settled, reach = enlarge(_inward(places, radii, radius), radii)
    return (reach, settled) if reach <= radius * (1 + 1e-9) else (radius, places)


def effort(count: int) -> tuple[int, int]:
    """Starts, and fruitless moves a start: enough for the accuracy, few enough for the wait."""
    if count <= 6:
        return 8, 30
    return (32, 60) if count <= 12 else (4, 40)


def _three(radii: list[float]) -> tuple[float, Places]:
    a, b, c = radii
    radius = three_circles(a, b, c)
    first = complex(a - radius)
    if radius <= a + b:
        second = complex(radius - b)
        third = _corner(first, a + c, second, b + c)[0]
    else:
        second = _corner(first, a + b, 0j, radius - b)[0]
        third = max(_corner(first, a + c, 0j, radius - c), key=lambda z: abs(z - second))
    return radius, [first, second, third]


def _corner(one: complex, reach: float, other: complex, other_reach: float) -> list[complex]:
    """The points at two distances from two points: two, or none."""
    between = other - one
    apart = abs(between)
    slack = 1e-12 * apart
    if apart < 1e-12 or not abs(reach - other_reach) - slack <= apart <= reach + other_reach + slack:
        return []
    along = (apart * apart + reach * reach - other_reach * other_reach) / (2 * apart)
    aside = math.sqrt(max(0.0, reach * reach - along * along))
    way = between / apart
    return [one + way * complex(along, aside), one + way * complex(along, -aside)]


def _inward(places: Places, radii: list[float], radius: float) -> Places:
    """Loose circles moved as near to the middle as they go, from wide to thin."""
    out = places[:]
    for _ in range(2):
        for i in range(len(radii)):
            spots = [z for z in _held(i, out, radii, radius) if abs(z) < abs(out[i]) - 1e-6]
            if spots:
                out[i] = min(spots, key=lambda z: (round(abs(z), 9), z.real, z.imag))
    return out


def _held(i: int, places: Places, radii: list[float], radius: float) -> list[complex]:
    """The free places of one circle: the middle, and where two others, or one and the wall, hold it."""
    others = [(z, radii[i] + r) for j, (z, r) in enumerate(zip(places, radii, strict=True)) if j != i]
    inside = radius - radii[i]
    spots = [0j]
    for at, (z, reach) in enumerate(others):
        spots += _corner(z, reach, 0j, inside)
        for other, other_reach in others[at + 1 :]:
            spots += _corner(z, reach, other, other_reach)
    return [
        s
        for s in spots
        if abs(s) <= inside * (1 + 1e-10) and all(abs(s - z) >= reach * (1 - 1e-10) for z, reach in others)
    ]


def _could_hide(index: int, diameters: tuple[float, ...]) -> bool:
    """Whether a conductor can be hidden at all: the others touching it all round would close a ring.

    A necessary condition that spares the search for a bundle where nothing can be hidden.
    """
    own = diameters[index]
    others = sorted((d for i, d in enumerate(diameters) if i != index), reverse=True)
    if len(others) < 2:
        return False
    a, b = others[:2]
    if own <= a * b / (math.sqrt(a) + math.sqrt(b)) ** 2 * (1 + 1e-9):
        return True
    seen = sum(2 * math.degrees(math.asin(d / (d + own))) for d in others)
    return seen >= 360 - 2 * len(others)


def _under_tangent(bundle: Bundle, index: int) -> bool:
    others = sorted((d for i, d in enumerate(bundle.diameters) if i != index), reverse=True)
    if len(others) < 2:
        return False
    a, b = others[:2]
    limit = a * b / (math.sqrt(a) + math.sqrt(b)) ** 2
    return bundle.diameters[index] <= limit * (1 + 1e-9)


def _ring_closes(bundle: Bundle, index: int) -> bool:
    """Whether the others, seen from the middle of one, leave no opening."""
    x, y = bundle.positions[index]
    arcs = []
    for i, ((ox, oy), diameter) in enumerate(zip(bundle.positions, bundle.diameters, strict=True)):
        if i != index:
            distance = math.hypot(ox - x, oy - y)
            middle = math.atan2(oy - y, ox - x) % (2 * math.pi)
            half = math.asin(min(1.0, diameter / 2 / distance))
            arcs.append((middle - half, middle + half))
    arcs += [(low + 2 * math.pi, high + 2 * math.pi) for low, high in arcs]
    arcs.sort()
    if len(arcs) < 6:  # two circles never close a ring, and every circle stands here twice
        return False
    reach = arcs[0][1]
    for low, high in arcs[1:]:
        if low > reach + _TOUCHING:
            return False
        reach = max(reach, high)
    return reach >= arcs[0][0] + 2 * math.pi - _TOUCHING
