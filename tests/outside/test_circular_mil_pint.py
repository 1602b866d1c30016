"""Circular mils, mm2 and inches against the unit definitions of the `pint` library."""

from __future__ import annotations

import math

import pytest

from pipeline.conform import Conformed

pint = pytest.importorskip("pint")


@pytest.fixture(scope="module")
def units():
    return pint.UnitRegistry()


def test_circular_mils(conformed: Conformed, units) -> None:
    """`pint` defines the circular mil as pi/4 square mils: both columns say the same area."""
    compared = 0
    for row in conformed.tables["conductor_size"].values():
        cmil = float(str(row["circular_mils"])) * units.circular_mil
        area = float(str(row["area_mm2"]))
        # Columns are rounded to four and nine decimals; each bounds the comparison.
        allowed = 0.5e-9 + 0.5e-4 * float((1 * units.circular_mil).to("mm**2").magnitude) * (1 + 1e-9)
        assert abs(cmil.to("mm**2").magnitude - area) <= allowed + 1e-14 * area, row["size"]
        compared += 1
    assert compared == 89


def test_kcmil_sizes(conformed: Conformed, units) -> None:
    """A kcmil size has so many thousand circular mils, exactly."""
    sizes = [row for row in conformed.tables["conductor_size"].values() if row["system"] == "kcmil"]
    assert len(sizes) == 15
    for row in sizes:
        area = (float(str(row["nominal"])) * 1000 * units.circular_mil).to("mm**2").magnitude
        assert math.isclose(area, float(str(row["area_mm2"])), rel_tol=0, abs_tol=0.5e-9 + 1e-14 * area)


def test_inches(conformed: Conformed, units) -> None:
    """Diameters in mm and in inches agree by the definition of the inch."""
    rows = conformed.tables["conductor_size"].values()
    for row in rows:
        inches = (float(str(row["diameter_mm"])) * units.mm).to("inch").magnitude
        assert math.isclose(inches, float(str(row["diameter_in"])), rel_tol=0, abs_tol=0.6e-9)
    assert len(rows) == 89
