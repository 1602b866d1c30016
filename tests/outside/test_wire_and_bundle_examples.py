"""Wire, bundle and pull-force figures against published worked examples.

Sources: author or publisher, title and year of each stand in published_examples.jsonl. A figure is
held to half a unit of the last digit printed; a table that truncates, to one unit.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

import jointable
from jointable.bundle import enclosing_circle
from jointable.geometry import awg_area_mm2, kcmil_area_mm2
from tests.outside.examples import examples

LBF_IN_NEWTON = Fraction("4.4482216152605")  # by definition: pound 0.45359237 kg, 9.80665 m/s2
SQUARE_MIL_MM2 = Fraction("0.0254") ** 2
RESISTANCES = {"ex-088": 12, "ex-089": 0, "ex-092": 18, "ex-094": 12}
RATIOS = ("ex-100", "ex-101", "ex-102")
DENSITIES = ("ex-105", "ex-106")


def example(name: str) -> dict[str, Any]:
    (found,) = (row for row in examples(("wire-arith", "bundle", "pull-test")) if row["id"] == name)
    return found


def unit(printed: object) -> float:
    """One unit of the last digit printed."""
    return float(10.0 ** -len(str(printed).partition(".")[2]))


def test_circular_mil() -> None:
    """NEETS Module 4: 4 mil is 16 circular mils, 19 strands 304; 1 circular mil 0.7854 sq mil."""
    strand, wire = example("ex-087"), example("ex-085")
    ratio = strand["published"]["value"]["ratio"]
    circular_mil = Fraction(str(kcmil_area_mm2(1))) / 1000
    assert abs(float(circular_mil / SQUARE_MIL_MM2) - ratio) <= unit(ratio) / 2
    diameter_mil = strand["inputs"]["dia_mil"]
    of_circle = math.pi / 4 * (diameter_mil * 0.0254) ** 2
    assert of_circle / float(circular_mil) == pytest.approx(strand["published"]["value"]["cmil"], rel=1e-8)
    strands, inches = wire["inputs"]["strands"], wire["inputs"]["strand_dia_in"]
    assert strands * (inches * 1000) ** 2 == pytest.approx(wire["published"]["value"])


def _resistance(row: dict[str, Any], number: int) -> tuple[float, float]:
    """Resistance in ohm with our area, and the room that the printed figures leave."""
    inputs = row["inputs"]
    metres = inputs["length_m"] if "length_m" in inputs else inputs["length_ft"] * 0.3048
    printed = inputs["dia_mm"] if "dia_mm" in inputs else inputs["dia_in"]
    ours = inputs["rho"] * metres / (float(awg_area_mm2(number)) * 1e-6)
    return ours, ours * unit(printed) / printed + unit(row["published"]["value"]) / 2


@pytest.mark.parametrize("name", RESISTANCES)
def test_area_in_a_resistance(name: str) -> None:
    row = example(name)
    ours, room = _resistance(row, RESISTANCES[name])
    assert (abs(ours - row["published"]["value"]) <= room) is row["published_is_right"]
    assert abs(ours - row["recomputed"]) <= room


@pytest.mark.parametrize("name", RATIOS)
def test_ratio_of_a_bundle(name: str) -> None:
    """Bundle over wire diameter, equal circles; the printed table truncates."""
    row = example(name)
    ours = enclosing_circle([1.0] * row["inputs"]["n"]).diameter
    assert abs(ours - row["published"]["value"]) <= unit(row["published"]["value"])


@pytest.mark.parametrize("name", DENSITIES)
def test_density_of_a_bundle(name: str) -> None:
    """The printed densities are wrong: they were computed from a truncated radius."""
    row = example(name)
    n = row["inputs"]["n"]
    ours = n / enclosing_circle([1.0] * n).diameter ** 2
    assert abs(ours - row["recomputed"]) <= unit(row["recomputed"])
    assert abs(ours - row["published"]["value"]) > unit(row["published"]["value"])


@pytest.mark.parametrize(("name", "newton_is_rounded"), [("ex-108", True), ("ex-109", False)])
def test_pull_force(reference: jointable.Reference, name: str, newton_is_rounded: bool) -> None:
    """NASA-STD-8739.4: the force is held as printed; 22 AWG prints 57 N where 13 lbf is 57.8 N."""
    row = example(name)
    force = row["published"]["value"]
    held = reference.rows(
        "SELECT value, unit FROM connector_test WHERE test_id = ?",
        [f"NASA-STD-8739.4 chg 6 pull force on crimped lead {row['inputs']['awg']} AWG"],
    )
    assert held == [(f"{force['N']} ({force['lbf']})", "N (lbf)")]
    assert (round(force["lbf"] * LBF_IN_NEWTON) == force["N"]) is newton_is_rounded


def test_every_example_runs_or_says_why_not() -> None:
    every = examples(("wire-arith", "bundle", "pull-test"))
    run = {"ex-085", "ex-087", *RESISTANCES, *RATIOS, *DENSITIES, "ex-108", "ex-109"}
    assert {row["id"] for row in every if not row.get("not_run")} == run
