"""Plans against published worked examples that start from cables and devices and reach a volume.

Sources: named beside each answer below; found as transcriptions (access secondary). Each has at most
four grounding conductors, so that 314.16(B)(5) counts them the same before and since 2020.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

import jointable
from jointable.exercise import published

#: What each source states, and whether the box that it names holds it.
STATED = {
    # EC&M, Quizzes on the Code (J. Stallcup), Q1: nine allowances of 14 AWG, octagon box 2-1/8 deep.
    "octagon-stud-hickey": ("18.0", "4 x 2-1/8 round", "4 x 1-1/2 round"),
    # Stallcup's education blog, Sizing octagon box: 18.75 in³, octagon box 2-1/8 deep.
    "octagon-mixed": ("18.75", "4 x 2-1/8 round", "4 x 1-1/2 round"),
    # ElectricianTalk, thread 63352: 7.5 + 2.5 + 10.
    "dryer-receptacle": ("20.0", None, None),
    # DIY Chatroom, thread 102858: nine allowances of 2 in³, exactly the 18 in³ of the box.
    "three-14-2-receptacle": ("18.0", None, None),
    # Terry Love forum, thread 14381.
    "three-12-2-device": ("20.25", None, None),
    # DoItYourself forum, thread 401391: fits in 21 in³.
    "three-12-2-receptacle": ("20.25", None, None),
    # Electrical-Contractor.net, post 95184: eleven allowances of 2.25 in³.
    "four-12-2-device": ("24.75", None, None),
}


@pytest.mark.parametrize("edition", ["nec-2017", "nec-2023"])
@pytest.mark.parametrize("example", published(), ids=lambda e: e["id"])
def test_plan_reaches_the_published_volume(
    reference: jointable.Reference, example: dict[str, object], edition: str
) -> None:
    stated, holds, too_small = STATED[str(example["id"])]
    plan = dict(example["plan"])  # type: ignore[call-overload]
    found = reference.plan(plan, edition).boxes[0].fill
    assert found.required_in3 == Decimal(stated) == example["stated_in3"]
    assert found.passes
    if holds:
        assert reference.plan({**plan, "size": holds}, edition).passes
        assert not reference.plan({**plan, "size": too_small}, edition).passes


def test_at_least_six_examples_with_a_source() -> None:
    assert len(published()) >= 6
    assert {e["id"] for e in published()} == set(STATED)
    assert all(e["source"] for e in published())
