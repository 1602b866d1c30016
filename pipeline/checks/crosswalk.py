"""AWG and metric sizes: printed pairs against the neighbours by area, terminal gauges against the conductor."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from decimal import Decimal

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import HALF_UNIT, HALF_UNIT_REASON, Departures, increasing, place
from pipeline.tables import wire
from pipeline.tables.conductor import printed_size
from pipeline.tables.insulated import RUN

USUAL, IEC, RCBO, BOOK, GUIDE, SIZES = (
    "usual_metric_pair",
    "iec_60947_1_size",
    "iec_61009_size",
    "awg_metric_textbook",
    "awg_metric_substitute",
    "conductor_size",
)
GAUGE, GAUGE_LARGE = "iec_60947_1_gauge", "iec_60947_1_gauge_large"
#: The sizes of each printed list.
SMALL = ["24", "22", "20"]
LISTS = {
    USUAL: ["20", "18", "16", "14", "12", "10", "8", "6", "4"],
    IEC: [*SMALL, *(s for s in RUN[: RUN.index("600") + 1] if s != "3")],
    RCBO: ["18", "16", "8", "6"],
    BOOK: ["18", "16", "14", "12", "10", "8", "6"],
    GUIDE: ["20", "18", "16", "14", "12", "10", "9", "7", "5", "3", "1", "1/0", "3/0", "4/0", "250", "350"],
    GAUGE: [*SMALL, *["18", "16", "14", "12", "10", "8"]],
    GAUGE_LARGE: ["6", "4", "2"],
}
#: A gauge leaves five per cent of room round the conductor.
ROOM = Decimal("1.05")

Choose = Callable[[Decimal, list[Decimal]], Decimal]


def _area(size: str) -> Decimal:
    """Area of an AWG or kcmil size as printed; zero where there is none."""
    if size.endswith("/0") and size[0] in "1234":
        return wire.size_area_mm2("AWG", str(1 - int(size[0])))
    if not size.isdigit() or int(size) == 0:
        return Decimal(0)
    return wire.size_area_mm2("kcmil" if printed_size(size).endswith("kcmil") else "AWG", size)


def _nearest(area: Decimal, metric: list[Decimal]) -> Decimal:
    return min(metric, key=lambda m: max(m / area, area / m))


def _larger(area: Decimal, metric: list[Decimal]) -> Decimal:
    return min((m for m in metric if m >= area), default=Decimal(0))


def _smaller(area: Decimal, metric: list[Decimal]) -> Decimal:
    return max((m for m in metric if m <= area), default=Decimal(0))


@check(
    "crosswalk-sizes",
    layer="keys",
    reads=(USUAL, IEC, RCBO, BOOK, GUIDE, GAUGE, GAUGE_LARGE),
    what="each list runs through its own sizes; IEC 60947-1 leaves out the metric size at 1, 4/0 AWG and 400 kcmil",
)
def crosswalk_sizes(c: Context) -> Iterator[Comparison]:
    for stem, sizes in LISTS.items():
        found = [row["size"] for row in c.rows(stem)]
        for row in c.rows(stem):
            yield Comparison(((row, "size"),), row["size"] in sizes, 0.0, "one of " + ", ".join(sizes))
        for size in sizes:
            yield Comparison(((c.rows(stem)[0], "size"),), size in found, 0.0, f"a row for {size}")
    for row in c.rows(IEC):
        blank = row["size"] in ("1", "4/0", "400")
        yield Comparison(
            ((row, "metric_mm2"),),
            (row["metric_mm2"] == "") == blank,
            0.0,
            "no metric size" if blank else "a metric size",
        )


@check(
    "crosswalk-pairs",
    layer="cross-check",
    reads=(USUAL, IEC, RCBO, BOOK, GUIDE, SIZES),
    what="usual pairs, IEC 60947-1 and the textbook name the nearest metric size by ratio, IEC 61009-1 the next "
    "larger, the guide of substitutes the next smaller",
)
def crosswalk_pairs(c: Context) -> Iterator[Comparison]:
    metric = [
        Decimal(row["nominal"])
        for row in c.rows(SIZES)
        if row["system"] == "mm2" and Decimal(row["nominal"]) > 0
    ]
    rules: tuple[tuple[str, Choose, str], ...] = (
        (USUAL, _nearest, "nearest"),
        (IEC, _nearest, "nearest"),
        (BOOK, _nearest, "nearest"),
        (RCBO, _larger, "next larger"),
        (GUIDE, _smaller, "next smaller"),
    )
    for stem, choose, word in rules:
        for row in c.rows(stem):
            if row["metric_mm2"]:
                area = _area(row["size"])
                expected = choose(area, metric) if area else Decimal(0)
                text = row["metric_mm2"].strip("()")
                same = text.replace(".", "", 1).isdigit() and Decimal(text) == expected
                yield Comparison(
                    ((row, "metric_mm2"), (row, "size")), same, 0.0, f"{expected}, the {word} metric size"
                )
    for row in c.rows(BOOK):
        ok = re.fullmatch(r"\(\d+(\.\d+)?\)", row["metric_mm2"]) is not None
        yield Comparison(((row, "metric_mm2"),), ok, 0.0, "a size in parentheses, being only near")


def _equivalent_unit(value: Decimal) -> Decimal:
    if value < Decimal("0.6"):
        return place(3)
    if value < 1:
        return place(2)
    return place(1) if value < 110 else place(0)


@check(
    "crosswalk-equivalent",
    layer="cross-check",
    reads=(IEC, "known_departures"),
    what="equivalent area of IEC 60947-1 = area of the AWG or kcmil size",
    tolerance=HALF_UNIT,
    reason=HALF_UNIT_REASON,
)
def crosswalk_equivalent(c: Context) -> Iterator[Comparison]:
    known = Departures(c, "crosswalk-equivalent")
    for row in c.rows(IEC):
        area = _area(row["size"])
        yield known.against(
            row, "equivalent_mm2", area, _equivalent_unit(area), "area of the size", ((row, "size"),)
        )
    yield from known.unused()


@check(
    "crosswalk-gauges",
    layer="cross-check",
    reads=(GAUGE, GAUGE_LARGE, "known_departures"),
    what="greatest diameters at a terminal = 1.05 x diameter of the solid conductor, and of its class B stranding",
    tolerance=HALF_UNIT,
    reason=HALF_UNIT_REASON,
)
def crosswalk_gauges(c: Context) -> Iterator[Comparison]:
    known = Departures(c, "crosswalk-gauges")
    for row in (*c.rows(GAUGE), *c.rows(GAUGE_LARGE)):
        solid = (4 * _area(row["size"]) / wire.PI).sqrt()
        yield known.against(
            row, "solid_mm", ROOM * solid, place(2), "1.05 x solid diameter", ((row, "size"),)
        )
        stranded = solid * 3 / Decimal(7).sqrt()
        yield known.against(
            row, "class_b_mm", ROOM * stranded, place(2), "1.05 x diameter of seven strands", ((row, "size"),)
        )
    yield from known.unused()


@check(
    "crosswalk-gauge-order",
    layer="cross-check",
    reads=(GAUGE, GAUGE_LARGE),
    what="diameters at a terminal rise with size; flexible conductors take 1.165 to 1.335 times the solid one",
    tolerance="the range of the table",
    reason="Flexible conductors are rope laid; the table gives no formula for them.",
)
def crosswalk_gauge_order(c: Context) -> Iterator[Comparison]:
    rows = sorted((*c.rows(GAUGE), *c.rows(GAUGE_LARGE)), key=lambda r: _area(r["size"]))
    for column in ("solid_mm", "class_b_mm", "class_ikm_mm"):
        yield from increasing(rows, column)
    for row in rows:
        yield Comparison(((row, "class_ikm_mm"),), row["class_ikm_mm"][-3:-2] == ".", 0.0, "two decimals")
        solid = Decimal(row["solid_mm"])
        ok = Decimal("1.165") * solid <= Decimal(row["class_ikm_mm"]) <= Decimal("1.335") * solid
        yield Comparison(
            ((row, "class_ikm_mm"), (row, "solid_mm")), ok, 0.0, "1.165 to 1.335 times the solid conductor"
        )
