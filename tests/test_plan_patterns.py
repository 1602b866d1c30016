"""Every pattern against the count done by hand from the rules, box by box.

The counts are written out as a person would: conductors by 314.16(B)(1), clamps by (B)(2), devices
double by (B)(4), grounds by (B)(5); in Canada conductors and pairs of connectors by 12-3034 1) and
straps double by 2) c). An allowance is 2.00 in³ for 14 AWG and 2.25 in³ for 12 AWG (Table 314.16(B)),
1.5 and 1.75 in³ in Table 22. Patterns are common practice.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

import jointable
from jointable.plan_draw import plan_svg
from jointable.plan_read import pattern_names, read_pattern

#: Pattern, box, then allowances of 14 AWG and 12 AWG by clause, as (B)(1), (B)(2), (B)(4), (B)(5).
BY_HAND: dict[tuple[str, str], tuple[dict[str, Decimal], dict[str, Decimal]]] = {}


def _count(
    pattern: str,
    box: str,
    b1: int = 0,
    b2: int = 0,
    b4: int = 0,
    b5: str = "0",
    in_12: tuple[int, int] = (0, 0),
) -> None:
    """Allowances of a box: those of 14 AWG, and (conductors, devices) of 12 AWG beside them."""
    small = {"314.16(B)(1)": Decimal(b1), "314.16(B)(2)": Decimal(b2), "314.16(B)(4)": Decimal(b4)}
    large = {"314.16(B)(1)": Decimal(in_12[0]), "314.16(B)(4)": Decimal(in_12[1])}
    # Grounds go by the largest of them all.
    (large if sum(in_12) else small)["314.16(B)(5)"] = Decimal(b5)
    BY_HAND[(pattern, box)] = small, large


# Cable in with 2, leg with 2; a switch takes two; two grounds are one allowance.
_count("end-of-run-switch", "switch", b1=4, b4=2, b5="1")
# Leg with 2, clamps 1, one ground; canopy wires and their ground are left out, (B)(1) exception.
_count("end-of-run-switch", "luminaire", b1=2, b2=1, b5="1")
_count("switch-loop-with-neutral", "luminaire", b1=2 + 3, b2=1, b5="1")
_count("switch-loop-with-neutral", "switch", b1=3, b4=2, b5="1")
_count("three-way-feed-at-first-switch", "first switch", b1=2 + 3, b4=2, b5="1")
_count("three-way-feed-at-first-switch", "second switch", b1=3 + 2, b4=2, b5="1")
_count("three-way-feed-at-first-switch", "luminaire", b1=2, b2=1, b5="1")
_count("three-way-feed-and-leg-at-one-switch", "near switch", b1=2 + 2 + 4, b4=2, b5="1")
_count("three-way-feed-and-leg-at-one-switch", "far switch", b1=4, b4=2, b5="1")
_count("three-way-feed-at-luminaire", "luminaire", b1=2 + 3, b2=1, b5="1")
_count("three-way-feed-at-luminaire", "first switch", b1=3 + 4, b4=2, b5="1")
_count("three-way-feed-at-luminaire", "second switch", b1=4, b4=2, b5="1")
_count("four-way-switch", "switch", b1=3 + 3, b4=2, b5="1")
# 14 AWG: 2 in, 3 to the fan; two switches. 12 AWG: 2 in, 2 to the fan; the timer. Four grounds, one allowance.
_count("three-gang-fan-light-timer", "three gang", b1=2 + 3, b4=2 + 2, b5="1", in_12=(2 + 2, 2))
_count("receptacle-feed-through", "receptacle", b5="1", in_12=(2 + 2, 2))
_count("split-receptacle-multiwire", "receptacle", b5="1", in_12=(3 + 3, 2))
_count("ceiling-fan-brace", "fan", b1=3, b2=1, b5="1")
# Six grounds: one for the first four, a quarter for each more (since 2020).
_count("junction-many-neutrals", "junction", b1=6 * 2, b5="1.5")

#: In Canada: conductors, straps, connectors; bare bonds and clamps take nothing, connectors go in pairs.
CANADA = {
    ("end-of-run-switch", "switch"): Decimal("1.5") * (4 + 2 + 2 // 2),
    ("receptacle-feed-through", "receptacle"): Decimal("1.75") * (4 + 2 + 3 // 2),
    ("split-receptacle-multiwire", "receptacle"): Decimal("1.75") * (6 + 2 + 4 // 2),
    ("junction-many-neutrals", "junction"): Decimal("1.5") * (12 + 3 // 2),
}


def _answer(reference: jointable.Reference, pattern: str, edition: str) -> jointable.plan_answer.Plan:
    return reference.plan(read_pattern(reference, pattern), edition)


@pytest.mark.parametrize("edition", ["nec-2020", "nec-2023"])
@pytest.mark.parametrize(("pattern", "box"), BY_HAND, ids=" ".join)
def test_counts_by_hand(reference: jointable.Reference, pattern: str, box: str, edition: str) -> None:
    small, large = BY_HAND[(pattern, box)]
    found = next(b for b in _answer(reference, pattern, edition) if b.box == box).fill
    needed = 2 * sum(small.values()) + Decimal("2.25") * sum(large.values())
    assert found.required_in3 == needed
    for clause in small:
        told = sum((line.count for line in found.lines if line.clause == clause), Decimal(0))
        assert told == small[clause] + large.get(clause, 0), clause
    if "314.16(B)(5)" in large:
        told = sum((line.count for line in found.lines if line.clause == "314.16(B)(5)"), Decimal(0))
        assert told == large["314.16(B)(5)"]
    assert found.passes


@pytest.mark.parametrize(("pattern", "box"), CANADA, ids=" ".join)
def test_counts_by_hand_in_canada(reference: jointable.Reference, pattern: str, box: str) -> None:
    found = next(b for b in _answer(reference, pattern, "cec-2021") if b.box == box).fill
    assert found.required_in3 == CANADA[(pattern, box)]


def test_every_pattern_is_counted(reference: jointable.Reference) -> None:
    boxes = {(p, b.box) for p in pattern_names() for b in _answer(reference, p, "nec-2023")}
    assert boxes == set(BY_HAND)
    assert len(pattern_names()) >= 8


#: The joints of some boxes as an electrician makes them: name and conductors.
JOINTS = {
    ("end-of-run-switch", "switch"): {"neutral": "2x14 AWG", "ground": "4x14 AWG"},
    ("switch-loop-with-neutral", "switch"): {"ground": "3x14 AWG"},
    ("three-way-feed-at-first-switch", "first switch"): {"neutral": "2x14 AWG", "ground": "4x14 AWG"},
    ("three-way-feed-and-leg-at-one-switch", "near switch"): {
        "neutral": "3x14 AWG",
        "switched": "2x14 AWG",
        "ground": "5x14 AWG",
    },
    ("receptacle-feed-through", "receptacle"): {
        "hot": "3x12 AWG",
        "neutral": "3x12 AWG",
        "ground": "4x12 AWG",
    },
    # A neutral shared by two hots is joined by itself, with a pigtail: 300.13(B).
    ("split-receptacle-multiwire", "receptacle"): {
        "hot 1": "3x12 AWG",
        "hot 2": "3x12 AWG",
        "neutral": "3x12 AWG",
        "ground": "4x12 AWG",
    },
    ("junction-many-neutrals", "junction"): {"hot": "6x14 AWG", "neutral": "6x14 AWG", "ground": "7x14 AWG"},
}


@pytest.mark.parametrize(("pattern", "box"), JOINTS, ids=" ".join)
def test_joints_as_made_by_hand(reference: jointable.Reference, pattern: str, box: str) -> None:
    found = next(b for b in _answer(reference, pattern, "nec-2023") if b.box == box)
    assert {j["joint"]: j["text"] for j in found.joints} == JOINTS[(pattern, box)]


@pytest.mark.parametrize("pattern", pattern_names())
def test_each_terminal_has_one_wire_and_each_end_a_place(
    reference: jointable.Reference, pattern: str
) -> None:
    """110.14(A): one wire a terminal; no end is lost, none is in two places."""
    for box in _answer(reference, pattern, "nec-2023"):
        assert all(t["wire"] and " and " not in t["wire"] for t in box.terminals)
        placed = [name for j in box.joints for name in j["of"]]
        placed += [t["wire"] for t in box.terminals if "." in (t["wire"] or "")]
        placed += [e["end"] for e in box.to_dict()["free_ends"]]
        entering = sum(len(e.conductors) + (e.ground is not None) for e in box.given.entries)
        assert len(placed) == len(set(placed)) == entering


@pytest.mark.parametrize("pattern", pattern_names())
def test_the_schedule_is_an_ordinary_one(reference: jointable.Reference, pattern: str) -> None:
    plan = _answer(reference, pattern, "nec-2023")
    again = reference.fill(plan.schedule, "nec-2023")
    assert [r.required_in3 for r in again] == [b.fill.required_in3 for b in plan]
    served = {(s["box"], s["joint"]) for s in reference.stock(plan.schedule)["served"]}
    assert served == {(b.box, j["joint"]) for b in plan for j in b.joints if j["class"]}


@pytest.mark.parametrize("pattern", pattern_names())
def test_the_diagram_says_the_same_in_words(reference: jointable.Reference, pattern: str) -> None:
    for box in _answer(reference, pattern, "nec-2023"):
        drawn = plan_svg(box.to_dict())
        assert "currentColor" in drawn
        assert "<desc>" in drawn
        assert all(f"Joint {j['joint']}: " in drawn for j in box.joints)
        assert drawn.count("<circle") == len(box.joints)
