"""Many questions in one statement: each answer is the one that the question gets alone."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from jointable.errors import InputError
from jointable.explorer.answers import ANSWERS
from jointable.explorer.together import TOGETHER
from jointable.fill import fill
from jointable.fill_words import words_of
from jointable.jsonform import dumps
from jointable.known import known
from jointable.reference import Reference, database_path

#: Posted, as it is too long for an address.
LONG = "box 800 in3\n" + "conductor 14\n" * 320
JOINTS = [
    {"conductors": "3x12 + 1x14"},
    {"conductors": "2x12 + 1x18 stranded", "location": "wet"},
    {"conductors": "4x2.5 mm2 flexible", "location": "wet"},
    {"conductors": "2x10", "grip": "wide", "rank": "margin"},
    {"conductors": "2x14 | 1x12"},
    {"conductors": "1x12"},
    {"conductors": "2x12 aluminium"},
    {"conductors": "3x12", "voltage": "600"},
    {"conductors": "2x12", "voltage": "5000"},
    {"conductors": "8x12"},
    {"conductors": "rubbish"},
    {"conductors": "3x13.5"},
    {"conductors": "3x12", "location": "moon"},
]
BOXES = [
    {"items": "box 4 x 1-1/2 square\n2 cable 12/2\ndevice conductor_size=12\nclamp"},
    {"items": "box 18 in3\nconductor 14 x 9"},
    {"items": "kitchen,box,18 in3\nkitchen,conductor,12,3\nhall,box,4 x 1-1/4 round\nhall,cable,14/2,5"},
    {"items": "a|b,box,18 in3\na|b,conductor,12,3"},
    {"items": "box 18 in3\nconductor 12 location=wet\nconductor 12 material=aluminium"},
    {"items": "box 4 x 1-1/2 square\nfixture_wire 18 x 3\ngrounding 12 x 5\nstud conductor_size=12"},
    {"items": "box 300 mL\n8 conductor 14\n3 connector 14", "edition": "cec-2021"},
    {"items": "box 400 mL\n8 conductor 14\ndevice 14", "edition": "cec-2021"},
    {"items": "box 18 in3\nconductor 12 x -1"},
    {"items": "conductor 12"},
    {"items": "box no such size\nconductor 12"},
    {"items": "box 18 in3\nconductor 12 x 9999\nconductor 14 x 9999"},
    {"items": LONG},
    {"items": "rubbish"},
    {"items": "box 18 in3\nconductor 12", "edition": "nec-1999"},
]


@pytest.fixture(scope="module")
def pair() -> Iterator[tuple[Reference, Reference]]:
    """Two open databases, each with a memory of its own."""
    with Reference(database_path()) as together, Reference(database_path()) as alone:
        yield together, alone


def _said(reference: Reference, name: str, parameters: dict[str, str]) -> str:
    try:
        return dumps(ANSWERS[name](reference, parameters))
    except InputError as error:
        return f"wrong: {error}"


@pytest.mark.parametrize(("name", "asked"), [("joint", JOINTS), ("box", BOXES)])
def test_together_is_as_alone(
    pair: tuple[Reference, Reference], name: str, asked: list[dict[str, str]]
) -> None:
    together, alone = pair
    light = TOGETHER[name](together, asked)
    # What was asked together is there, so that the comparison below is one.
    kept = known(together).answers if name == "joint" else words_of(together).answers._kept
    assert len(kept) >= 5
    said = [_said(together, name, one) for one in asked]
    assert said == [_said(alone, name, one) for one in asked]
    assert 3 <= sum(s.startswith("wrong: ") for s in said) <= 7
    large = ("8x12", LONG)
    assert light == {n for n, one in enumerate(asked) if not set(one.values()) & set(large)}


def test_a_schedule_that_breaks_a_statement_stands_alone(pair: tuple[Reference, Reference]) -> None:
    """A quantity beyond all bounds is one box's error, not that of its neighbours."""
    together, _ = pair
    good = {"items": "box 18 in3\nconductor 14 x 3"}
    TOGETHER["box"](together, [{"items": "box 18 in3\nconductor 12 x 99999999999999999999"}, good])
    assert fill(together, [{"item": "box", "volume_in3": 18}, {"item": "conductor", "size": 14}])[0].passes
    assert '"passes": true' in _said(together, "box", good)
