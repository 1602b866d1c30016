"""Admission said once more, straight from the definitions, in exact fractions and without the database.

Ladders, limits and pairs are typed again here; the tests hold the macro against them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal, localcontext
from fractions import Fraction

TWIST_ON = ("1", "1.6", "2.5", "4", "6.3", "10", "16", "25", "35")
CRIMPED = ("0.4", "0.63", *TWIST_ON)
CLAMP_STEPS = ("0.2", "0.34", "0.5", "0.75", "1", "1.5", "2.5", "4", "6", "10", "16", "25")
TAP = ("6.3", "10", "16", "25", "40", "63", "100", "160", "250")
CLAMPS = ("screwless push-in", "screwless lever", "screw clamp")
PAIRS = {20: "0.5", 18: "0.75", 16: "1.5", 14: "2.5", 12: "4", 10: "6", 8: "10", 6: "16", 4: "25"}


def awg_area(number: int) -> Fraction:
    """Nine decimals of the area in mm2 of an AWG number (1/0 is 0, 4/0 is -3), worked out to fifty digits."""
    with localcontext() as context:
        context.prec = 50
        pi = Decimal("3.14159265358979323846264338327950288419716939937511")
        diameter = Decimal("0.127") * Decimal(92) ** (Decimal(36 - number) / 39)
        area = pi / 4 * diameter * diameter
    return Fraction(area.quantize(Decimal("0.000000001")))


@dataclass(frozen=True)
class Wire:
    """One conductor: its area in mm2, and the area by which a clamp counts it."""

    size: str
    area: Fraction
    clamp: Fraction


def wire(size: str) -> Wire:
    """A conductor by its size as printed back; AWG and metric."""
    number, unit = size.split(" ")
    if unit == "mm2":
        return Wire(size, Fraction(number), Fraction(number))
    n = 1 - int(number[0]) if number.endswith("/0") else int(number)
    area = awg_area(n)
    return Wire(size, area, Fraction(PAIRS[n]) if n in PAIRS else area)


def classes() -> list[tuple[str, str, int | None, str]]:
    """Every class as family, size, ways, grip."""
    grips, sleeves = ("standard", "wide"), ("crimped closed end", "crimped pigtail", "crimped butt")
    out: list[tuple[str, str, int | None, str]] = []
    out += [("twist-on", s, None, g) for s in TWIST_ON for g in grips]
    out += [(f, s, w, g) for f in CLAMPS for s in CLAMP_STEPS[2:] for w in range(2, 7) for g in grips]
    out += [(f, s, None, "standard") for f in sleeves for s in CRIMPED]
    out += [(f, s, None, "standard") for f in ("split bolt", "insulation-piercing") for s in TAP]
    return out


def takes(
    family: str,
    size: str,
    ways: int | None,
    grip: str,
    wires: Sequence[Wire],
    ends: Sequence[Sequence[Wire]] = (),
) -> bool:
    """Whether a class takes a joint; `ends` are those of a butt joint."""
    s = Fraction(size)
    if family == "twist-on":
        total = sum(w.area for w in wires)
        least = s / (4 if grip == "standard" else 16)
        return (
            2 <= len(wires) <= 6
            and least <= total <= s
            and max(w.area for w in wires) <= min(s / 2, Fraction(16))
            and min(w.area for w in wires) >= s / 50
        )
    if family in CLAMPS:
        assert ways is not None
        low = Fraction(CLAMP_STEPS[CLAMP_STEPS.index(size) - 2]) if grip == "standard" else s / 16
        return 2 <= len(wires) <= ways and all(low <= w.clamp <= s for w in wires)
    if family == "crimped butt":
        return len(ends) == 2 and all(_crimped(s, end, 1) for end in ends)
    if family.startswith("crimped"):
        return _crimped(s, wires, 2)
    if len(wires) != 2:
        return False
    tap, run = sorted(w.area for w in wires)
    return s / 4 < run <= s and s / 16 <= tap <= run


def _crimped(s: Fraction, wires: Sequence[Wire], least: int) -> bool:
    return (
        least <= len(wires) <= 6
        and s / Fraction("2.5") <= sum(w.area for w in wires) <= s
        and all(s / 50 <= w.area <= min(s, Fraction(16)) for w in wires)
    )
