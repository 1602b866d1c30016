"""IEC 60228 class 2 resistances against the cable types of the `pandapower` library, where it is installed."""

from __future__ import annotations

import pytest

from pipeline.conform import Conformed

pandapower = pytest.importorskip("pandapower")

#: Weak evidence: the library rounds, and gives cables by data sheets of their own.
WITHIN = 0.05
#: A low-voltage cable that the library gives 11 % below the standard's greatest resistance.
APART = {"NAYY 4x120 SE"}


def cables() -> dict[str, tuple[str, float, float]]:
    """Cable type -> column, area in mm2 and resistance in ohm/km at 20 °C; overhead lines are left out."""
    types = pandapower.std_types.available_std_types(pandapower.create_empty_network(), "line")
    return {
        str(name): (
            "r20_al_ohm_km" if name.startswith("NA") else "r20_cu_plain_ohm_km",
            row["q_mm2"],
            row["r_ohm_per_km"],
        )
        for name, row in types.iterrows()
        if row["type"] == "cs"
    }


def test_class_2_resistances(conformed: Conformed) -> None:
    """`pandapower` standard line types (Fraunhofer IEE and University of Kassel), secondary."""
    apart, compared = set(), 0
    for name, (column, area, ohm_km) in cables().items():
        ours = conformed.tables["conductor"][f"{area:g} mm2", "class 2"][column]
        compared += 1
        if abs(float(str(ours)) / ohm_km - 1) > WITHIN:
            apart.add(name)
    assert compared >= 15
    assert apart == APART
