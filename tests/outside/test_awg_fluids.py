"""AWG diameters against the wire gauge table of the `fluids` library."""

from __future__ import annotations

from decimal import Decimal

import pytest

from pipeline.conform import Conformed

piping = pytest.importorskip("fluids.piping")

#: The library writes the aughts as fractions: 4/0, 3/0, 2/0 and 1/0.
AUGHTS = {0.25: -3, 0.33: -2, 0.5: -1, 0.0: 0}
#: It gives 38 AWG as 0.00396 in, cut off: 0.003965 rounds to 0.00397.
CUT_OFF = {38}


def unit(inches: Decimal) -> Decimal:
    """Unit of the last digit that the library prints: four decimals, below 0.01 in five."""
    return Decimal("0.0001") if inches >= Decimal("0.01") else Decimal("0.00001")


def diameters() -> dict[int, Decimal]:
    """AWG number, 4/0 being -3, and its diameter in inches; larger and finer sizes are left out."""
    gauges = {
        AUGHTS.get(gauge, int(gauge)): Decimal(repr(inches))
        for gauge, inches in zip(piping.AWG_gauges, map(float, piping.AWG_inch), strict=True)
        if gauge in AUGHTS or 1 <= gauge <= 40
    }
    assert len(gauges) == 44
    return gauges


def test_awg_diameters(conformed: Conformed) -> None:
    """`fluids.piping` (C. Bell and contributors): 43 of 44 sizes lie within half its last digit."""
    ours = {
        int(Decimal(str(row["nominal"]))): Decimal(str(row["diameter_in"]))
        for row in conformed.tables["conductor_size"].values()
        if row["system"] == "AWG"
    }
    outside = {n for n, inches in diameters().items() if abs(ours[n] - inches) > unit(inches) / 2}
    assert outside == CUT_OFF
