"""The list of sizes, and the AWG formula against two printed wire tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import ROUND_DOWN, Decimal
from functools import cache

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import HALF_UNIT, HALF_UNIT_REASON, Departures, figures, keys_agree, place
from pipeline.tables import wire
from pipeline.tables.conductor import metric_size, printed_size

AUGHTS = {"1/0": 0, "2/0": -1, "3/0": -2, "4/0": -3}
#: ASTM B258 ends at these numbers in the tables read.
AWG_NUMBERS = range(-3, 41)
#: Pounds per kilogram and feet per metre are exact by definition.
KG_PER_LB = Decimal("0.45359237")
M_PER_KFT = Decimal("304.8")

Exact = Callable[[Decimal], Decimal]


@cache
def awg_number(text: str) -> int | None:
    """The AWG number of a size as printed; None where there is no such size."""
    number = AUGHTS.get(text, int(text) if text.isdigit() else 99)
    return number if number in AWG_NUMBERS else None


@check(
    "conductor-size-notation", layer="cross-check", reads=("conductor_size",),
    what="a size is written as the number that names it in its system, and cited to the table of that system",
)
def conductor_size_notation(c: Context) -> Iterator[Comparison]:
    for row in c.rows("conductor_size"):
        nominal, system = Decimal(row["nominal"]), row["system"]
        number = {int(v): k for k, v in AUGHTS.items()}.get(int(nominal), row["nominal"]) if system == "AWG" else row["nominal"]
        expected = f"{number} {system}" if system != "mm2" else metric_size(row["nominal"])
        yield Comparison(((row, "size"), (row, "system"), (row, "nominal")), row["size"] == expected, 0.0, expected)
        source = _source_of(system, nominal)
        yield Comparison(((row, "source"),), (row.source, row.access) == source, 0.0, f"{source[0]}, {source[1]}")


def _source_of(system: str, nominal: Decimal) -> tuple[str, str]:
    if system == "AWG":
        return "awg-table-b", "secondary"
    if system == "kcmil":
        return "nom-001-sede-2012", "secondary"
    if nominal < Decimal("0.5"):
        return "metric-practice", "common practice"
    return "iec-60228", "secondary" if nominal <= 1000 else "memory"


@check(
    "conductor-size-complete", layer="keys",
    reads=("conductor_size", "awg_table_a", "awg_table_b", "nec_table_8_metric", "iec_60228_class_2"),
    what="every AWG number from 40 to 4/0, every kcmil size of Table 8 and every IEC 60228 area is listed, in order",
)
def conductor_size_complete(c: Context) -> Iterator[Comparison]:
    rows = {(row["size"],): row for row in c.rows("conductor_size")}
    for stem in ("awg_table_a", "awg_table_b"):
        awg = {(f"{row['awg']} AWG",): row for row in c.rows(stem)}
        yield from keys_agree({k: r for k, r in rows.items() if r["system"] == "AWG"}, awg, "size" if False else "source", f"raw/{stem}.csv")
    kcmil = {(printed_size(row["size"]),): row for row in c.rows("nec_table_8_metric") if printed_size(row["size"]).endswith("kcmil")}
    yield from keys_agree({k: r for k, r in rows.items() if r["system"] == "kcmil"}, kcmil, "size", "raw/nec_table_8_metric.csv")
    metric = {(metric_size(row["mm2"]),): row for row in c.rows("iec_60228_class_2")}
    ours = {k: r for k, r in rows.items() if r["system"] == "mm2"}
    yield from keys_agree({k: r for k, r in ours.items() if Decimal("0.5") <= Decimal(r["nominal"]) <= 1000}, metric, "mm2" if False else "source", "raw/iec_60228_class_2.csv")
