"""The formulas of round wire beside those of the library, in exact or forty-digit decimals."""

from __future__ import annotations

from decimal import ROUND_HALF_EVEN, Decimal, localcontext
from functools import cache

from jointable.gauge import CMIL_MM2, EXACT, PI, awg_series_mm, round_area_mm2, round_diameter_mm

__all__ = [
    "MM_PER_INCH",
    "PI",
    "RESISTIVITY_CU",
    "awg_series_mm",
    "circular_mils",
    "mass_cu_kg_km",
    "quantised",
    "r20_cu_ohm_km",
    "size_area_mm2",
    "size_diameter_mm",
]

DIGITS = EXACT.prec
MM_PER_INCH = Decimal("25.4")
#: Annealed copper at 20 °C, 58 m/(ohm mm2), the international standard of 1913.
RESISTIVITY_CU = Decimal(1) / Decimal(58)
#: g/cm3, of the same standard.
DENSITY_CU = Decimal("8.89")


@cache
def size_area_mm2(system: str, nominal: str) -> Decimal:
    """Unrounded area in mm2 of a size given by its system and number.

    >>> size_area_mm2("mm2", "2.5"), size_area_mm2("AWG", "12").quantize(Decimal("0.000000001"))
    (Decimal('2.5'), Decimal('3.308772876'))
    """
    if system == "AWG":
        return round_area_mm2(awg_series_mm(int(Decimal(nominal))))
    if system == "kcmil":
        return EXACT.multiply(Decimal(nominal) * 1000, CMIL_MM2)
    return Decimal(nominal)


@cache
def size_diameter_mm(system: str, nominal: str) -> Decimal:
    """Unrounded diameter in mm of one solid round wire of the size."""
    if system == "AWG":
        return awg_series_mm(int(Decimal(nominal)))
    return round_diameter_mm(size_area_mm2(system, nominal))


def circular_mils(area_mm2: Decimal) -> Decimal:
    """Area in circular mils of an area in mm2."""
    return EXACT.divide(area_mm2, CMIL_MM2)


def r20_cu_ohm_km(area_mm2: Decimal) -> Decimal:
    """Resistance in ohm/km of annealed copper at 20 °C, for an area in mm2."""
    with localcontext() as context:
        context.prec = DIGITS
        return 1000 / (58 * area_mm2)


def mass_cu_kg_km(area_mm2: Decimal) -> Decimal:
    """Mass in kg/km of copper, for an area in mm2."""
    return DENSITY_CU * area_mm2


def quantised(value: Decimal, decimals: int) -> str:
    """Text of a value at so many decimals."""
    with localcontext() as context:
        context.prec = 2 * DIGITS
        return format(value.quantize(Decimal(1).scaleb(-decimals), ROUND_HALF_EVEN), "f")
