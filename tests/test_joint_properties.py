"""Properties of admission: what must hold for any joint."""

from __future__ import annotations

import random

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import jointable
from jointable.joint import JointAnswer
from jointable.notation import Joint

SIZES = (
    "24", "22", "20", "19", "18", "16", "14", "13", "12", "10", "8", "6", "0.5mm2", "1mm2", "1.5mm2", "2.5mm2",
    "4mm2", "6mm2", "10mm2",
)  # fmt: skip
Terms = list[tuple[int, str]]
terms = st.lists(st.tuples(st.integers(1, 3), st.sampled_from(SIZES)), min_size=1, max_size=3)
some = settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def text_of(found: Terms, more: str = "") -> str:
    return " + ".join(f"{count}x{size}{more}" for count, size in found)


def twist(reference: jointable.Reference, text: str) -> JointAnswer:
    return reference.connectors(text, family="twist-on")


def verdicts(answer: JointAnswer) -> dict[str, str]:
    """Class -> reason, empty where it takes the joint."""
    return {str(c.name): "" for c in answer.choices} | {str(r.name): r.reason for r in answer.refused}


@given(terms, st.sampled_from(SIZES))
@some
def test_a_further_conductor_keeps_total_above_and_brings_no_total_below(
    reference: jointable.Reference, found: Terms, more: str
) -> None:
    if Joint.parse(text_of(found)).count == 1:
        return
    before = verdicts(twist(reference, text_of(found)))
    after = verdicts(twist(reference, f"{text_of(found)} + 1x{more}"))
    for name, reason in before.items():
        # One reason is told, the count before the totals, so a total above may hide behind a count.
        if reason.startswith("total") and " above " in reason:
            assert " above " in after[name]
        if not (reason.startswith("total") and " below " in reason):
            assert not (after[name].startswith("total") and " below " in after[name])


@given(terms, st.integers(0, 999))
@some
def test_order_does_not_matter(reference: jointable.Reference, found: Terms, seed: int) -> None:
    turned = list(found)
    random.Random(seed).shuffle(turned)
    one, other = twist(reference, text_of(found)), twist(reference, text_of(turned))
    assert str(one.joint) == str(other.joint)
    assert verdicts(one) == verdicts(other)


@given(terms)
@some
def test_solid_and_stranded_have_equal_areas_and_classes(
    reference: jointable.Reference, found: Terms
) -> None:
    solid = twist(reference, text_of(found, " solid"))
    stranded = twist(reference, text_of(found, " stranded"))
    assert verdicts(solid) == verdicts(stranded)
    assert solid.facts.total_mm2 == stranded.facts.total_mm2
    assert solid.facts.bundle_mm <= stranded.facts.bundle_mm


def test_equal_areas_give_equal_classes(reference: jointable.Reference) -> None:
    """However a total comes about, the limits on it decide alike: 4.0 mm² three ways."""
    reasons = []
    for text in ("4x1mm2", "2x1mm2 + 2x1mm2", "2x1.5mm2 + 1x1mm2"):
        answer = verdicts(twist(reference, text))
        reasons.append({n for n, r in answer.items() if r.startswith("total")})
    assert reasons[0] == reasons[1] == reasons[2]
    assert reasons[0]


@given(terms)
@some
def test_choices_keep_their_order_and_their_totals(reference: jointable.Reference, found: Terms) -> None:
    answer = reference.connectors(text_of(found))
    for family in {c.family for c in answer.choices}:
        own = [(c.ways or 0, c.room_cm3 or 0) for c in answer.choices if c.family == family]
        assert own == sorted(own)
    for c in answer.choices:
        if c.total_min_mm2 is not None and c.total_max_mm2 is not None:
            assert c.total_min_mm2 <= answer.facts.total_mm2 <= c.total_max_mm2


@given(terms)
@some
def test_where_standard_takes_a_joint_wide_takes_it_too(reference: jointable.Reference, found: Terms) -> None:
    taken = {str(c.name) for c in twist(reference, text_of(found)).choices}
    for name in taken:
        assert name.endswith("wide") or f"{name} wide" in taken
