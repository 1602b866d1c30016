"""The list of sizes, and the formulas of round wire against two printed wire tables."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from itertools import pairwise

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import HALF_UNIT, HALF_UNIT_REASON, Departures, figures, keys_agree, place
from pipeline.readings import RawRow
from pipeline.tables import wire
from pipeline.tables.conductor import metric_size, printed_size

#: Pounds per kilogram and metres in a thousand feet are exact by definition.
KG_PER_LB = Decimal("0.45359237")
KM_PER_KFT = Decimal("0.3048")

AUGHTS = {0: "1/0", -1: "2/0", -2: "3/0", -3: "4/0"}

Exact = Callable[[str], Decimal]
Unit = Callable[[Decimal], Decimal]


@check(
    "conductor-size-notation",
    layer="cross-check",
    reads=("conductor_size",),
    what="a size is written as the number that names it in its system, and cited to the table of that system",
)
def conductor_size_notation(c: Context) -> Iterator[Comparison]:
    for row in c.rows("conductor_size"):
        expected = _written(row["system"], row["nominal"])
        cells = ((row, "size"), (row, "system"), (row, "nominal"))
        yield Comparison(cells, row["size"] == expected, 0.0, expected)
        source = _source_of(row["system"], Decimal(row["nominal"]))
        yield Comparison(
            ((row, "source"),), (row.source, row.access) == source, 0.0, " with access ".join(source)
        )


def _written(system: str, nominal: str) -> str:
    if system == "mm2":
        return metric_size(nominal)
    number = Decimal(nominal)
    if system == "AWG" and number <= 0:
        return f"{AUGHTS.get(int(number), nominal)} AWG"
    return f"{nominal} {system}"


def _source_of(system: str, nominal: Decimal) -> tuple[str, str]:
    if system == "AWG":
        return "awg-table-b", "secondary"
    if system == "kcmil":
        return "nom-001-sede-2012", "secondary"
    if nominal < Decimal("0.5"):
        return "metric-practice", "common practice"
    return "iec-60228", "secondary"


@check(
    "conductor-size-complete",
    layer="keys",
    reads=("conductor_size", "awg_table_a", "awg_table_b", "nec_table_8_metric", "iec_60228_class_2"),
    what="every AWG size of the wire tables, every kcmil size of Table 8 and every area of IEC 60228 is listed, and no other",
)
def conductor_size_complete(c: Context) -> Iterator[Comparison]:
    ours = {(row["size"],): row for row in c.rows("conductor_size")}
    for stem in ("awg_table_a", "awg_table_b"):
        printed = {(f"{row['awg']} AWG",): row for row in c.rows(stem)}
        yield from keys_agree(_of(ours, "AWG"), printed)
    printed = {(printed_size(row["size"]),): row for row in c.rows("nec_table_8_metric")}
    yield from keys_agree(_of(ours, "kcmil"), {k: r for k, r in printed.items() if k[0].endswith("kcmil")})
    metric = {k: r for k, r in _of(ours, "mm2").items() if r.source == "iec-60228"}
    yield from keys_agree(metric, {(metric_size(row["mm2"]),): row for row in c.rows("iec_60228_class_2")})


def _of(rows: dict[tuple[str], RawRow], system: str) -> dict[tuple[str], RawRow]:
    return {key: row for key, row in rows.items() if row["system"] == system}


@check(
    "conductor-size-steps",
    layer="cross-check",
    reads=("conductor_size",),
    what="metric areas step up by at most 1.79 times and come within 1.28 times of every AWG size from 30 up",
    tolerance="the widest step of the true list",
    reason="Areas outside IEC 60228 stand in no second table; a gap shows that one is missing or wrong.",
)
def conductor_size_steps(c: Context) -> Iterator[Comparison]:
    rows = c.rows("conductor_size")
    metric = sorted((row for row in rows if row["system"] == "mm2"), key=lambda r: Decimal(r["nominal"]))
    for before, row in pairwise(metric):
        low, high = Decimal(before["nominal"]), Decimal(row["nominal"])
        ok = high <= low * Decimal("1.79")
        yield Comparison(((row, "nominal"), (before, "nominal")), ok, 0.0, f"the area that follows {low} mm2")
    areas = [Decimal(row["nominal"]) for row in metric]
    for row in rows:
        if row["system"] == "AWG" and Decimal(row["nominal"]) <= 30:
            area = wire.size_area_mm2("AWG", row["nominal"])
            near = min(max(m / area, area / m) for m in areas)
            yield Comparison(
                ((row, "nominal"),), near <= Decimal("1.28"), float(near), "a size with a metric area near it"
            )


def _number(awg: str) -> str:
    """The number of an AWG size as a wire table prints it."""
    return str({text: number for number, text in AUGHTS.items()}.get(awg, awg))


def _area(awg: str) -> Decimal:
    return wire.size_area_mm2("AWG", _number(awg))


def _diameter_in(awg: str) -> Decimal:
    return wire.size_diameter_mm("AWG", _number(awg)) / wire.MM_PER_INCH


def _cmil(awg: str) -> Decimal:
    return wire.circular_mils(_area(awg))


def _ohm_kft(awg: str) -> Decimal:
    return wire.r20_cu_ohm_km(_area(awg)) * KM_PER_KFT


def _pounds_kft(awg: str) -> Decimal:
    return wire.mass_cu_kg_km(_area(awg)) * KM_PER_KFT / KG_PER_LB


def _area_in2(awg: str) -> Decimal:
    return _area(awg) / wire.MM_PER_INCH**2


def _four(value: Decimal) -> Decimal:
    return figures(value, 4)


def _cmil_unit(value: Decimal) -> Decimal:
    """The first textbook prints circular mils to tens, ones, tenths or hundredths by their size."""
    for least, unit in ((100_000, "10"), (5_200, "1"), (600, "0.1")):
        if value >= least:
            return Decimal(unit)
    return Decimal("0.01")


def _against(
    c: Context, check_id: str, stem: str, column: str, exact: Exact, unit: Unit, how: str
) -> Iterator[Comparison]:
    known = Departures(c, check_id)
    for row in c.rows(stem):
        value = exact(row["awg"]) if _number(row["awg"]).lstrip("-").isdigit() else Decimal(0)
        yield known.against(row, column, value, unit(value), how, ((row, "awg"),))
    yield from known.unused()


def _table(check_id: str, stem: str, column: str, exact: Exact, unit: Unit, how: str) -> None:
    """Register the comparison of one printed column with its formula."""

    @check(
        check_id,
        layer="cross-check",
        reads=(stem, "known_departures"),
        what=f"{column} of raw/{stem}.csv = {how}",
        tolerance=HALF_UNIT,
        reason=HALF_UNIT_REASON,
    )
    def run(c: Context) -> Iterator[Comparison]:
        return _against(c, check_id, stem, column, exact, unit, how)


_DIAMETER = "0.127 mm x 92^((36 - n)/39), in inches"
_table("awg-table-a-diameter", "awg_table_a", "dia_in", _diameter_in, lambda v: place(5), _DIAMETER)
_table(
    "awg-table-a-area", "awg_table_a", "cmil", _cmil, _cmil_unit, "square of the unrounded diameter in mils"
)
_table(
    "awg-table-a-resistance",
    "awg_table_a",
    "r20_ohm_kft",
    _ohm_kft,
    lambda v: max(place(4), _four(v)),
    "(1000/58)/A in ohm/km, a thousand feet",
)
_table("awg-table-b-diameter", "awg_table_b", "dia_in", _diameter_in, _four, _DIAMETER)
_table("awg-table-b-cmil", "awg_table_b", "cmil", _cmil, _four, "square of the unrounded diameter in mils")
_table("awg-table-b-area", "awg_table_b", "area_in2", _area_in2, _four, "area of the unrounded diameter")
_table(
    "awg-table-b-mass",
    "awg_table_b",
    "mass_lb_kft",
    _pounds_kft,
    _four,
    "8.89 g/cm3 x area, in pounds a thousand feet",
)
