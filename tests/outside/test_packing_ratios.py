"""Bundles against closed forms and the published ratios of equal circles in a circle.

Sources: a published table of equal circles packed in a circle, three decimals cut off (three circles
rounded), with proofs by Graham 1968 (5, 6), Pirl 1969 (8 to 10), Melissen 1994 (11), Fodor 2000, 2003 and
1999 (12, 13, 19); Descartes' theorem for the outer Soddy circle. The figures are typed here again.
"""

from __future__ import annotations

import math

import pytest

from jointable.bundle import three_circles
from jointable.geometry import enclosing_circle
from jointable.packing import pack

PUBLISHED = {
    1: "1", 2: "2", 3: "2.155", 4: "2.414", 5: "2.701", 6: "3", 7: "3", 8: "3.304", 9: "3.613", 10: "3.813",
    11: "3.923", 12: "4.029", 13: "4.236", 14: "4.328", 15: "4.521", 16: "4.615", 17: "4.792", 18: "4.863",
    19: "4.863", 20: "5.122",
}  # fmt: skip

CLOSED = {
    3: 1 + 2 / math.sqrt(3),
    4: 1 + math.sqrt(2),
    5: 1 + math.sqrt(2 * (1 + 1 / math.sqrt(5))),
    6: 3.0,
    7: 3.0,
    8: 1 + 1 / math.sin(math.pi / 7),
    9: 1 + math.sqrt(2 * (2 + math.sqrt(2))),
    11: 1 + 1 / math.sin(math.pi / 9),
    13: 2 + math.sqrt(5),
    18: 1 + math.sqrt(2) + math.sqrt(6),
    19: 1 + math.sqrt(2) + math.sqrt(6),
}


def test_something_is_compared() -> None:
    assert set(PUBLISHED) == set(range(1, 21))
    assert set(CLOSED) < set(PUBLISHED)


@pytest.mark.parametrize("count", PUBLISHED)
def test_search_with_scipy_reaches_the_published_ratio(count: int) -> None:
    """The printed ratio is cut off or rounded: ours lies less than a unit of its last digit away."""
    found = min(pack([1.0] * count, seed, 16).diameter for seed in (1, 2))
    assert abs(found - float(PUBLISHED[count])) < 0.001


@pytest.mark.parametrize("count", CLOSED)
def test_search_with_scipy_reaches_the_closed_form(count: int) -> None:
    found = min(pack([1.0] * count, seed, 16).diameter for seed in (1, 2))
    assert math.isclose(found, CLOSED[count], rel_tol=1e-9)


@pytest.mark.parametrize("count", PUBLISHED)
def test_the_library_comes_near_the_published_ratio(count: int) -> None:
    """Half a per cent up to twelve, as promised; above that one per cent is seen, not promised."""
    found = enclosing_circle([1.0] * count).diameter
    cut_off = float(PUBLISHED[count])
    assert cut_off - 0.001 < found <= (cut_off + 0.001) * (1.005 if count <= 12 else 1.01)


#: Radii and radius of the enclosing circle, from the closed form written out.
THREE = [
    ((1, 1, 1), 1 + 2 / math.sqrt(3)),
    ((2, 1, 1), 1 / (2 * math.sqrt(0.5 + 0.5 + 1) - 2.5)),
    ((3, 2, 1), 5),
    ((1, 1, 2 / 3), 2),
    ((5, 4, 2.95), 9),
    ((5, 4, 2.96), 9.00004977),
    ((10, 1, 1), 11.002282641),
]


@pytest.mark.parametrize(("radii", "radius"), THREE)
def test_three_circles(radii: tuple[float, float, float], radius: float) -> None:
    """Outer Soddy circle, or the two largest where c <= ab(a + b)/(a^2 + ab + b^2)."""
    assert math.isclose(three_circles(*radii), radius, rel_tol=1e-9)
    assert math.isclose(enclosing_circle([2 * r for r in radii]).diameter, 2 * radius, rel_tol=1e-9)
    assert math.isclose(pack([2 * r for r in radii], 1).diameter, 2 * radius, rel_tol=1e-8)


@pytest.mark.parametrize("count", [3, 4, 5, 6, 8, 9])
def test_a_core_that_its_ring_just_holds(count: int) -> None:
    """Core r(1/sin(pi/n) - 1) in n circles of radius r: radius core + 2r; found by both searches."""
    core = 1 / math.sin(math.pi / count) - 1
    radius = core + 2
    diameters = [2 * core, *[2.0] * count]
    assert math.isclose(min(pack(diameters, seed).diameter for seed in (1, 2)), 2 * radius, rel_tol=1e-7)
    assert enclosing_circle(diameters).diameter <= 2 * radius * 1.005


@pytest.mark.parametrize("thin", [0.2, 0.5, 2 / 3])
def test_two_large_and_two_small(thin: float) -> None:
    """The two large ones govern while the small ones are at most two thirds of them."""
    assert math.isclose(enclosing_circle([2.0, 2.0, 2 * thin, 2 * thin]).diameter, 4.0, rel_tol=1e-6)
    assert math.isclose(pack([2.0, 2.0, 2 * thin, 2 * thin], 1).diameter, 4.0, rel_tol=1e-9)


#: Insulated radii in mm of nylon-jacketed building wire: 14, 12 and 10 AWG of NEC Chapter 9 Table 5.
BUILDING_WIRE = [
    ((1.41, 1.41, 1.651), 3.225021489),
    ((1.41, 1.41, 1.651, 1.651), 3.691597001),
    ((2.083, 1.651, 1.651, 1.41, 1.41), 4.431946205),
    ((1.41, 1.41, 1.41, 1.41, 1.651, 1.651), 4.471),
]


@pytest.mark.parametrize(("radii", "radius"), BUILDING_WIRE)
def test_insulated_building_wire(radii: tuple[float, ...], radius: float) -> None:
    """Recorded results of an earlier numerical search."""
    diameters = [2 * r for r in radii]
    assert math.isclose(min(pack(diameters, seed).diameter for seed in (1, 2)), 2 * radius, rel_tol=1e-8)
    assert enclosing_circle(diameters).diameter <= 2 * radius * 1.005


def test_fewer_circles_do_not_reach_a_ratio_by_chance() -> None:
    """The comparison can fail: a circle more is wider by more than it allows."""
    assert abs(pack([1.0] * 5, 1).diameter - float(PUBLISHED[4])) > 0.001
