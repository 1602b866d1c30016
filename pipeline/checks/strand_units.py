"""Strands of Table 8 in its two units."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from pipeline.checks import Comparison, Context, check
from pipeline.intervals import Printed

__all__: list[str] = []

METRIC, INCH = "nec_table_8_metric", "nec_table_8_inch"


@check(
    "table-8-strand-units",
    layer="second evidence",
    reads=(METRIC, INCH),
    what="the diameter of a strand in inches, times 25.4, is the one in millimetres",
    tolerance="half a unit of the last printed digit of each",
)
def table_8_strand_units(c: Context) -> Iterator[Comparison]:
    metric = {(row["size"], row["form"]): row for row in c.rows(METRIC)}
    for row in c.rows(INCH):
        other = metric.get((row["size"], row["form"]))
        if other is None or not row["strand_dia_in"] or not other["strand_dia_mm"]:
            continue
        true, printed = Printed(row["strand_dia_in"]) * Fraction("25.4"), Printed(other["strand_dia_mm"])
        cells = ((row, "strand_dia_in"), (other, "strand_dia_mm"))
        expected = (
            f"about {float(printed.middle / Fraction('25.4')):.4f}, as {other['strand_dia_mm']} mm beside it"
        )
        yield Comparison(cells, printed.meets(true), printed.residual(true), expected)
