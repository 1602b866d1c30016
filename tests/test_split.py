"""Splits: fewest connectors, then least room, held against a search that tries everything."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from decimal import Decimal

import pytest

import jointable
from jointable.errors import InputError
from jointable.notation import Joint
from jointable.split import Split
from tests.joint_oracle import Wire, takes, wire


def parts(found: Split) -> list[tuple[str, str, int]]:
    return [(c.name, c.conductors, c.jumper_ends) for c in found.connectors]


def kinds(text: str) -> Counter[str]:
    """Conductors by what they are."""
    out: Counter[str] = Counter()
    for term in Joint.parse(text).conductors:
        out[str(term).split("x", 1)[1]] += term.count
    return out


def holds(found: Split, text: str, reference: jointable.Reference) -> None:
    """Whatever the split: it holds all conductors, ties all connectors, and each class takes its own."""
    assert found.jumpers == len(found.connectors) - 1
    assert sum(c.jumper_ends for c in found.connectors) == 2 * found.jumpers
    held: Counter[str] = Counter()
    for c in found.connectors:
        assert c.jumper_ends >= 1
        held += kinds(c.conductors)
        whole = f"{c.conductors} + {c.jumper_ends}x{found.jumper}"
        assert c.name in {x.name for x in reference.connectors(whole, family=c.family).choices}
    assert held == kinds(text)


def test_eight_twelves(reference: jointable.Reference) -> None:
    answer = reference.connectors("8x12")
    assert answer.choices == ()
    assert answer.split is not None
    assert answer.split_reason is None
    assert (answer.split.jumper, answer.split.jumpers) == ("12 AWG", 1)
    assert parts(answer.split) == [("twist-on 25", "5x12 AWG", 1), ("twist-on 16", "3x12 AWG", 1)]
    holds(answer.split, "8x12", reference)


def test_no_split_where_one_connector_does(reference: jointable.Reference) -> None:
    answer = reference.connectors("3x12")
    assert answer.split is None
    assert answer.split_reason == "one twist-on connector takes the joint"


def test_the_jumper_is_as_wide_as_the_widest_and_alike(reference: jointable.Reference) -> None:
    text = "4x10 stranded + 5x14"
    found = reference.connectors(text, family="twist-on").split
    assert found is not None
    assert found.jumper == "10 AWG stranded"
    holds(found, text, reference)


@pytest.mark.parametrize("text", ["3x6", "5x6", "2x6 + 6x22"])
def test_where_there_is_no_way(reference: jointable.Reference, text: str) -> None:
    answer = reference.connectors(text, family="twist-on")
    assert answer.split is None
    assert answer.split_reason


def test_butt_joints_and_taps_are_not_split(reference: jointable.Reference) -> None:
    assert "not split" in str(reference.connectors("7x14 | 1x12").split_reason)
    assert reference.connectors("3x6", family="split bolt").split is None


def test_one_family_grip_and_variant(reference: jointable.Reference) -> None:
    lever = reference.connectors("8x12", family="screwless lever").split
    assert lever is not None
    assert {c.family for c in lever.connectors} == {"screwless lever"}
    assert sum(c.ways or 0 for c in lever.connectors) >= 10
    wet = reference.connectors("8x12", family="twist-on", location="wet").split
    assert wet is not None
    assert {c.variant for c in wet.connectors} == {"sealed"}
    wide = reference.connectors("8x12", family="twist-on", grip="wide").split
    assert wide is not None
    assert {c.grip for c in wide.connectors} == {"wide"}


@pytest.mark.parametrize("text", ["24x12", "24x14", "12x12 + 12x14", "6x10 + 6x12 + 6x14 + 6x16"])
def test_twenty_four(reference: jointable.Reference, text: str) -> None:
    found = reference.split(text)
    assert len(found.connectors) >= 6  # six wires in each: 24 + 2 * 5 = 34 of 36
    holds(found, text, reference)


def test_more_than_twenty_four(reference: jointable.Reference) -> None:
    with pytest.raises(InputError, match="25 conductors"):
        reference.split("25x12")


def test_as_json(reference: jointable.Reference) -> None:
    found = reference.connectors("8x12").to_dict()["split"]
    assert set(found) >= {"jumper", "jumpers", "connectors"}
    for c in found["connectors"]:
        assert set(c) >= {"class", "family", "size", "ways", "grip", "conductors", "jumper_ends"}


Classes = list[tuple[str, str, Decimal]]


def brute(wires: list[Wire], classes: Classes) -> tuple[int, Decimal] | None:
    """Connectors and room of the best split into two or three, by trying every way."""
    jumper = max(wires, key=lambda w: w.area)
    known: dict[tuple[str, ...], Decimal | None] = {}

    def cheapest(held: list[Wire]) -> Decimal | None:
        key = tuple(sorted(w.size for w in held))
        if key not in known:
            rooms = [room for size, grip, room in classes if takes("twist-on", size, None, grip, held)]
            known[key] = min(rooms, default=None)
        return known[key]

    for groups, ties in ((2, ((1, 1),)), (3, ((1, 1, 2), (1, 2, 1), (2, 1, 1)))):
        best: Decimal | None = None
        for places in itertools.product(range(groups), repeat=len(wires)):
            if len(set(places)) < groups:
                continue
            held = [[w for w, p in zip(wires, places, strict=True) if p == g] for g in range(groups)]
            for ends in ties:
                rooms = [cheapest(h + [jumper] * e) for h, e in zip(held, ends, strict=True)]
                whole = [r for r in rooms if r is not None]
                if len(whole) == groups and (best is None or sum(whole) < best):
                    best = sum(whole, Decimal(0))
        if best is not None:
            return groups, best
    return None


@pytest.mark.parametrize("seed", range(12))
def test_against_trying_everything(reference: jointable.Reference, seed: int) -> None:
    chosen = random.Random(seed)
    sizes = chosen.sample(["18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG", "2.5 mm2", "4 mm2", "8 AWG"], 3)
    held = [chosen.choice(sizes) for _ in range(chosen.randint(5, 7))]
    rows = reference.rows(
        "SELECT size, grip, room_cm3 FROM connector_class WHERE family = 'twist-on' AND variant = 'general'"
    )
    classes = [(str(size), grip, room) for size, grip, room in rows]
    right = brute([wire(s) for s in held], classes)
    found = reference.split(" + ".join(f"1x{s} solid" for s in held))
    if right is None:
        assert found is None or len(found.connectors) > 3
    else:
        assert found is not None
        assert (len(found.connectors), found.room_cm3) == right
