"""Laid-up cores beside the smallest circle, and the class 5 diameters that bundles are computed with."""

from __future__ import annotations

import math
from collections.abc import Iterator
from decimal import Decimal

from jointable.geometry import CLASS_5_MAX_MM
from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import increasing

EQUAL, LAY, DIAMETER = "packing_equal", "assembly_coefficient", "iec_60228_diameter"

#: Cores of the inner layer of a lay of two layers, by all its cores; the second layer adds two diameters.
INNER = {
    "7": "1",
    "10": "2",
    "11": "2",
    "12": "3",
    "13": "4",
    "14": "4",
    "15": "5",
    "16": "5",
    "17": "6",
    "18": "6",
    "19": "6",
}


#: The kinds of lay of each number of cores, where it is not the usual one alone.
KINDS = {
    "7": ("one layer", "two layers"),
    "8": ("one layer", "two layers"),
    "9": ("one layer", "two layers"),
    "10": ("usual", "two layers"),
    "12": ("usual", "two layers"),
}
UNIT = Decimal("0.01")
#: A ring that nothing fills is laid up wider than the smallest ring by less than this.
SLACK = Decimal("0.1")


@check(
    "assembly-coefficient-kinds",
    layer="cross-check",
    reads=(LAY,),
    what="Two to twenty cores stand once for each kind of lay: seven to nine in one layer and two, ten and twelve as usual and in two.",
)
def assembly_coefficient_kinds(c: Context) -> Iterator[Comparison]:
    kinds = [(str(n), kind) for n in range(2, 21) for kind in KINDS.get(str(n), ("usual",))]
    found = {(row["cores"], row["arrangement"]): row for row in c.rows(LAY)}
    for key, row in found.items():
        yield Comparison(
            ((row, "arrangement"), (row, "cores")), key in kinds, 0.0, "a kind of lay of so many cores"
        )
    for cores, kind in kinds:
        if (cores, kind) not in found:
            yield Comparison(((c.rows(LAY)[0], "cores"),), False, 1.0, f"a row of {cores} cores, {kind}")


@check(
    "assembly-coefficient",
    layer="cross-check",
    reads=(LAY, EQUAL),
    what="Up to six cores the coefficient is the ratio of the smallest circle, from ten to nineteen that of the inner layer and two diameters; one layer of seven to nine is at least its ring and less than a tenth of a diameter more.",
    tolerance="one unit of the last printed digit",
    reason="The standard rounds some coefficients up and others down; a ring that nothing fills is laid up with some slack.",
)
def assembly_coefficient(c: Context) -> Iterator[Comparison]:
    ratios = {row["circles"]: Decimal(row["ratio"]) for row in c.rows(EQUAL)}
    for row in c.rows(LAY):
        least, most = _bounds(row["cores"], row["arrangement"], ratios)
        printed = Decimal(row["coefficient"])
        off = max(least - printed, printed - most, Decimal(0)) / UNIT
        written = len(row["coefficient"].partition(".")[2]) == 2
        expected = f"{least:.2f}" if least == most else f"{least:.2f} to {most:.2f}"
        yield Comparison(((row, "coefficient"), (row, "cores")), written and off <= 1, float(off), expected)


def _bounds(cores: str, arrangement: str, ratios: dict[str, Decimal]) -> tuple[Decimal, Decimal]:
    """Least and greatest coefficient of a lay."""
    if int(cores) <= 6:
        return ratios[cores], ratios[cores]
    if arrangement == "one layer":
        ring = Decimal(1 + 1 / math.sin(math.pi / int(cores)))
        return ring, ring + SLACK
    if cores in INNER:
        outer = ratios[INNER[cores]] + 2
        return outer, outer
    # Eight, nine and twenty: no layer is full, and two layers leave twice the slack of one.
    return ratios[cores], ratios[cores] + 2 * SLACK


@check(
    "assembly-coefficient-order",
    layer="cross-check",
    reads=(LAY,),
    what="More cores are never narrower in one kind of lay, and seven to nine cores in one layer are wider than in two.",
)
def assembly_coefficient_order(c: Context) -> Iterator[Comparison]:
    rows = sorted(c.rows(LAY), key=lambda row: int(row["cores"]))
    for skipped in ("two layers", "one layer"):
        yield from increasing([r for r in rows if r["arrangement"] != skipped], "coefficient", strictly=False)
    two = {row["cores"]: row for row in rows if row["arrangement"] == "two layers"}
    for row in rows:
        if row["arrangement"] == "one layer":
            other = two.get(row["cores"])
            wider = other is not None and Decimal(row["coefficient"]) > Decimal(other["coefficient"])
            yield Comparison(((row, "coefficient"),), wider, 0.0, "more than in two layers")


@check(
    "flexible-diameters",
    layer="cross-check",
    reads=(DIAMETER,),
    what="The greatest class 5 diameters that the library computes bundles of flexible conductors with are the printed ones.",
)
def flexible_diameters(c: Context) -> Iterator[Comparison]:
    printed = {row["mm2"]: row for row in c.rows(DIAMETER) if row["class_5_6_mm"]}
    for area, row in printed.items():
        known = CLASS_5_MAX_MM.get(area)
        yield Comparison(
            ((row, "class_5_6_mm"), (row, "mm2")), row["class_5_6_mm"] == known, 0.0, known or "no figure"
        )
    for area in CLASS_5_MAX_MM:
        if area not in printed:
            yield Comparison(((c.rows(DIAMETER)[0], "mm2"),), False, 1.0, f"a row of {area} mm2")
