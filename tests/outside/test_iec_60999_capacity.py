"""Capacity of clamping units: which conductors each must accept.

Source: IEC 60998-2-1:2002, clause 10.102 and its examples a) to c), seen in an excerpt: the rated
capacity and at least the two next smaller sizes (1 takes 0.5, 0.75 and 1; 10 takes 4, 6 and 10;
25 takes 10, 16 and 25). IEC 60999-1:1999 goes by the same ladder. Access: secondary.
"""

from __future__ import annotations

import pytest

import jointable
from tests.joint_oracle import CLAMPS


def taken(reference: jointable.Reference, size: str, family: str) -> set[str]:
    return {str(c.name) for c in reference.connectors(f"2x{size}mm2", family=family).choices}


@pytest.mark.parametrize("family", CLAMPS)
@pytest.mark.parametrize(
    ("capacity", "sizes", "below"),
    [("1", ("0.5", "0.75", "1"), "0.34"), ("10", ("4", "6", "10"), "2.5"), ("25", ("10", "16", "25"), "6")],
)
def test_the_examples_of_the_standard(
    reference: jointable.Reference, family: str, capacity: str, sizes: tuple[str, ...], below: str
) -> None:
    name = f"{family} {capacity} x2"
    for size in sizes:
        assert {name, f"{name} wide"} <= taken(reference, size, family)
    assert name not in taken(reference, below, family)


@pytest.mark.parametrize("family", CLAMPS)
def test_every_capacity_takes_its_two_next_smaller_sizes(reference: jointable.Reference, family: str) -> None:
    rows = reference.rows("SELECT size_mm2 FROM class_size WHERE series = 'clamp' ORDER BY 1")
    ladder = [format(r[0].normalize(), "f") for r in rows]
    compared = 0
    for at in range(2, len(ladder)):
        for size in ladder[at - 2 : at + 1]:
            assert f"{family} {ladder[at]} x2" in taken(reference, size, family)
            compared += 1
    assert compared == 30
