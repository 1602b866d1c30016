"""Joints that packages commonly print, held against the generic classes.

Source: common practice of the trade; no single text. The outcomes must hold, but a class of this
project is a plan, not a listing.
"""

from __future__ import annotations

import pytest

import jointable
from pipeline.readings import Raw


def taken(reference: jointable.Reference, text: str, family: str = "twist-on") -> set[str]:
    return {str(c.name) for c in reference.connectors(text, family=family).choices}


@pytest.mark.parametrize(
    ("one", "other", "standard"),
    [
        ("3x22", "2x16", False),
        ("3x20", "3x16", True),
        ("2x18", "2x14", False),
        ("2x18", "4x12", False),
        ("2x20", "3x10", False),
        ("1x6 + 2x8", "3x8", True),
        ("3x12", "3x8", True),
        ("3x12", "1x6 + 2x8", True),
    ],
)
def test_two_joints_in_one_class(
    reference: jointable.Reference, one: str, other: str, standard: bool
) -> None:
    both = taken(reference, one) & taken(reference, other)
    assert both
    assert not standard or any(not name.endswith("wide") for name in both)


def test_class_by_class(reference: jointable.Reference) -> None:
    first = {
        text: reference.connectors(text, family="twist-on", grip="standard").choices[0].size
        for text in ("3x12", "4x12", "3x10", "4x10")
    }
    ladder = reference.rows("SELECT size_mm2 FROM class_size WHERE series = 'twist-on' ORDER BY 1")
    step = {size: n for n, (size,) in enumerate(ladder)}
    assert step[first["4x12"]] == step[first["3x12"]] + 1
    assert step[first["3x10"]] == step[first["3x12"]] + 1
    assert step[first["4x10"]] == step[first["3x10"]] + 1


def test_wide_sixteen_reaches_from_two_twenties_to_three_tens(reference: jointable.Reference) -> None:
    assert "twist-on 16 wide" in taken(reference, "2x20") & taken(reference, "3x10")


def test_a_wide_class_whose_standard_form_refuses_the_least(reference: jointable.Reference) -> None:
    wide = {n for n in taken(reference, "2x18") & taken(reference, "4x12") if n.endswith("wide")}
    assert wide
    assert any(name.removesuffix(" wide") not in taken(reference, "2x20") for name in wide)


@pytest.mark.parametrize("text", ["3x8", "2x8 + 1x6", "3x12"])
def test_large_and_small_in_standard_35(reference: jointable.Reference, text: str) -> None:
    assert "twist-on 35" in taken(reference, text)


def test_eight_twelves_in_none(reference: jointable.Reference) -> None:
    assert reference.connectors("8x12").choices == ()


@pytest.mark.parametrize("size", [22, 20, 18, 16, 14, 12, 10])
def test_small_sleeves_from_22_to_10(reference: jointable.Reference, size: int) -> None:
    assert taken(reference, f"1x{size} | 1x{size}", family="crimped butt")


@pytest.mark.parametrize("text", ["3x12", "2x14", "4x10", "2x12 + 1x18"])
def test_grounding_takes_what_the_general_one_takes(reference: jointable.Reference, text: str) -> None:
    through = reference.connectors(text, family="twist-on", pass_through=True).choices
    assert {f"{name} grounding" for name in taken(reference, text)} == {c.name for c in through}


def test_usual_temperatures_in_both_units(reference: jointable.Reference) -> None:
    """105 degrees Celsius are 221 Fahrenheit, 150 are 302: the usual general and high ratings."""
    planned = dict(reference.rows("SELECT variant, planned_degc FROM connector_variant"))
    assert planned["general"] * 9 / 5 + 32 == 221
    assert planned["high temperature"] * 9 / 5 + 32 == 302
    rated = reference.rows(
        "SELECT value FROM temperature_rating WHERE category = 'connector' AND unit = 'degC'"
    )
    assert {"75", "90", "105", "150"} <= {r[0] for r in rated}


def test_the_build_holds_its_classes_against_such_outcomes(raw: Raw) -> None:
    assert len(raw["class_outcome"]) > 80
    assert {r["taken"] for r in raw["class_outcome"]} == {"yes", "no"}
