"""Laid-up cores beside the smallest circle, and the class 5 diameters that bundles are computed with."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from jointable.geometry import CLASS_5_MAX_MM
from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import figures, increasing

EQUAL, LAY, DIAMETER = "packing_equal", "assembly_coefficient", "iec_60228_diameter"

#: Cores of the inner layer of a lay of two layers, by all its cores; the second layer adds two diameters.
INNER = {
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


@check(
    "assembly-coefficient",
    layer="cross-check",
    reads=(LAY, EQUAL),
    what="Up to six cores the coefficient is the ratio of the smallest circle, of ten to nineteen that of the inner layer and two diameters; any lay is at least as wide as the smallest circle.",
    tolerance="one unit of the last printed digit",
    reason="The standard rounds some coefficients up and others down.",
)
def assembly_coefficient(c: Context) -> Iterator[Comparison]:
    ratios = {row["circles"]: Decimal(row["ratio"]) for row in c.rows(EQUAL)}
    for row in c.rows(LAY):
        cores, printed = row["cores"], Decimal(row["coefficient"])
        inner = INNER.get(cores)
        unit = figures(printed, 3)
        if cores not in ratios:
            yield Comparison(((row, "cores"),), False, 1.0, "a number of circles that packing_equal has")
        elif int(cores) <= 6 or inner:
            expected = ratios[inner] + 2 if inner else ratios[cores]
            off = abs(printed - expected) / unit
            yield Comparison(
                ((row, "coefficient"), (row, "cores")),
                off <= 1 and printed % unit == 0,
                float(off),
                f"{expected:.2f}",
            )
        else:
            least = ratios[cores] - unit / 2
            yield Comparison(
                ((row, "coefficient"), (row, "cores")), printed >= least, 0.0, f"at least {ratios[cores]:.2f}"
            )


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
