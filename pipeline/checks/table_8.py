"""NEC Chapter 9 Table 8: every printed figure from the size and the number of strands."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from fractions import Fraction

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import HALF_UNIT, HALF_UNIT_REASON, Departures, figures, keys_agree, place
from pipeline.checks._lay import MM_PER_MIL, Lay, cmil_unit, lay_of
from pipeline.readings import RawRow
from pipeline.tables import wire
from pipeline.tables.conductor import printed_size
from pipeline.tables.insulated import RUN

METRIC, INCH, ALUMINIUM = "nec_table_8_metric", "nec_table_8_inch", "nec_table_8_aluminium"

#: From 20 to 75 °C, by the temperature coefficients of annealed copper and of 61 % aluminium.
WARM_CU = 1 + Decimal("0.00393") * 55
WARM_AL = (1 + Decimal("0.00403") * 55) / Decimal("0.61")
#: Relative conductivity of tinned copper by strand diameter in mils over these limits (ASTM B33).
TINNED = (
    (Decimal(289), "97.66"),
    (Decimal(103), "97.16"),
    (Decimal("20.1"), "96.16"),
    (Decimal("11.1"), "94.16"),
)

KM_PER_KFT = Decimal("0.3048")


def _tinned(strand_mil: Decimal) -> Decimal:
    for limit, conductivity in TINNED:
        if strand_mil > limit:
            return 100 / Decimal(conductivity)
    return 100 / Decimal("93.15")


Rule = Callable[[RawRow, Lay], Decimal]
Unit = Callable[[RawRow, Decimal], Decimal]


def _large(size: str) -> bool:
    return printed_size(size).endswith("kcmil")


def _area_unit(row: RawRow, value: Decimal) -> Decimal:
    """Metal area: whole mm2 for kcmil sizes, three figures to 12 AWG, else four."""
    return place(0) if _large(row["size"]) else figures(value, 3 if value < 4 else 4)


def _overall_area_unit(row: RawRow, value: Decimal) -> Decimal:
    if _large(row["size"]):
        return place(0)
    return place(3) if value < 1 else place(2) if value < 100 else place(1)


def _overall_mm_unit(row: RawRow, value: Decimal) -> Decimal:
    """Two decimals; the solid 10 and 8 AWG are printed with three."""
    return place(3) if row["form"] == "solid" and value > Decimal("2.5") else place(2)


def _overall_mm(row: RawRow, lay: Lay) -> Decimal:
    """Large stranded ones are converted from the printed inches, small and solid ones are not."""
    mils = lay.layers * lay.strand_mil
    if lay.strands > 1 and lay.cmil > 10_000:
        mils = mils.quantize(Decimal(1))
    return mils * MM_PER_MIL


def _kft_unit(row: RawRow, value: Decimal) -> Decimal:
    return figures(value, 3)


def _cu_unit(tinned: bool) -> Unit:
    """Three figures to 12 AWG, three decimals, from 250 kcmil four (uncoated from 3/0), 1500 and 2000 kcmil five."""

    def unit(row: RawRow, value: Decimal) -> Decimal:
        if value > 5:
            return figures(value, 3)
        if row["size"] in ("1500", "2000"):
            return place(5)
        return place(4 if _large(row["size"]) or (not tinned and row["size"] in ("3/0", "4/0")) else 3)

    return unit


def _al_unit(row: RawRow, value: Decimal) -> Decimal:
    if _large(row["size"]):
        return place(4)
    return place(1 if value > 15 else 2 if value > 7 else 3)


def _ohm(warm: Decimal, tinned: bool = False, per: Decimal = Decimal(1)) -> Rule:
    def rule(row: RawRow, lay: Lay) -> Decimal:
        ohm_km = 1000 * wire.RESISTIVITY_CU * warm / lay.conducting_mm2
        return ohm_km * per * (_tinned(lay.strand_mil) if tinned else 1)

    return rule


def _column(check_id: str, stem: str, column: str, rule: Rule, unit: Unit, how: str) -> None:
    """Register the comparison of one printed column with its rule."""

    @check(
        check_id,
        layer="cross-check",
        reads=tuple(dict.fromkeys((stem, METRIC, "known_departures"))),
        what=f"{column} of raw/{stem}.csv = {how}",
        tolerance=HALF_UNIT,
        reason=HALF_UNIT_REASON,
    )
    def run(c: Context) -> Iterator[Comparison]:
        known = Departures(c, check_id)
        metric = {(row["size"], row["form"]): row for row in c.rows(METRIC)}
        for row in c.rows(stem):
            lay_row = metric.get((row["size"], row["form"]))
            lay = lay_of(row["size"], lay_row["strands"]) if lay_row is not None else None
            if not row[column]:
                continue
            if lay is None or lay_row is None:
                yield Comparison(
                    ((row, column),), False, 0.0, "a size of Table 8 with strands of concentric lay"
                )
                continue
            value = rule(row, lay)
            cells = ((row, "size"), (lay_row, "strands"))
            yield known.against(row, column, value, unit(row, value), how, cells)
        yield from known.unused()


_column(
    "table-8-cmil",
    METRIC,
    "cmil",
    lambda r, y: y.cmil,
    lambda r, v: cmil_unit(v),
    "square of the diameter rounded to 0.1 mil",
)
_column(
    "table-8-area", METRIC, "area_mm2", lambda r, y: y.metal_mm2, _area_unit, "unrounded circular mils in mm2"
)
_STRAND = "square root of circular mils / strands"
_column(
    "table-8-strand-mm",
    METRIC,
    "strand_dia_mm",
    lambda r, y: y.exact_strand_mil * MM_PER_MIL,
    lambda r, v: place(2),
    _STRAND,
)
_column(
    "table-8-strand-in",
    INCH,
    "strand_dia_in",
    lambda r, y: y.strand_mil / 1000,
    lambda r, v: place(3),
    _STRAND + ", rounded to 0.1 mil first",
)
_column(
    "table-8-overall-mm", METRIC, "overall_dia_mm", _overall_mm, _overall_mm_unit, "layers x strand, in mm"
)
_column(
    "table-8-overall-in",
    INCH,
    "overall_dia_in",
    lambda r, y: y.overall_in,
    lambda r, v: place(3),
    "layers x strand rounded to 0.1 mil, half to even",
)
_column(
    "table-8-overall-area-mm2",
    METRIC,
    "overall_area_mm2",
    lambda r, y: y.overall_mm2,
    _overall_area_unit,
    "layers^2 x printed circular mils / strands, in mm2",
)
_column(
    "table-8-overall-area-in2",
    INCH,
    "overall_area_in2",
    lambda r, y: wire.PI / 4 * y.overall_in**2,
    lambda r, v: place(3),
    "pi/4 x overall diameter in inches squared",
)
_CU = "(1000/58)(1 + 0.00393 x 55)/A, A of the rounded strands less 2 % lay"
_TIN = _CU + ", by the conductivity of tinned strands"
_AL = "(1000/58)(1 + 0.00403 x 55)/0.61/A, A of the rounded strands less 2 % lay"
for _stem, _per, _cu, _coated, _al, _unit in (
    (INCH, KM_PER_KFT, "r75_cu_uncoated_ohm_kft", "r75_cu_coated_ohm_kft", "r75_al_ohm_kft", "kft"),
    (METRIC, Decimal(1), "r75_cu_uncoated_ohm_km", "r75_cu_coated_ohm_km", "r75_al_ohm_km", "km"),
):
    _column(
        f"table-8-uncoated-{_unit}",
        _stem,
        _cu,
        _ohm(WARM_CU, False, _per),
        _kft_unit if _unit == "kft" else _cu_unit(False),
        _CU,
    )
    _column(
        f"table-8-coated-{_unit}",
        _stem,
        _coated,
        _ohm(WARM_CU, True, _per),
        _kft_unit if _unit == "kft" else _cu_unit(True),
        _TIN,
    )
    _column(
        f"table-8-aluminium-{_unit}",
        _stem,
        _al,
        _ohm(WARM_AL, False, _per),
        _kft_unit if _unit == "kft" else _al_unit,
        _AL,
    )
_column("table-8-aluminium-small-km", ALUMINIUM, "r75_al_ohm_km", _ohm(WARM_AL), _al_unit, _AL)


@check(
    "table-8-rows",
    layer="keys",
    reads=(METRIC, INCH, ALUMINIUM),
    what="metric and inch columns print the same rows; each size once solid to 8 AWG and once stranded; aluminium has "
    "one metric resistance a row",
)
def table_8_rows(c: Context) -> Iterator[Comparison]:
    metric, inch, small = (
        {(r["size"], r["form"]): r for r in c.rows(stem)} for stem in (METRIC, INCH, ALUMINIUM)
    )
    yield from keys_agree(metric, inch)
    for key, row in metric.items():
        yield Comparison(
            ((row, "r75_al_ohm_km"),),
            bool(row["r75_al_ohm_km"]) != (key in small),
            0.0,
            "one aluminium resistance a row",
        )
        yield Comparison(
            ((row, "size"),), (row["size"], "stranded") in metric, 0.0, "a stranded row of the size"
        )
        if key in inch:
            solid = inch[key]["strand_dia_in"] == ""
            yield Comparison(
                ((inch[key], "strand_dia_in"),),
                solid == (row["form"] == "solid"),
                0.0,
                "a strand diameter unless solid",
            )
        blank = _large(row["size"])
        yield Comparison(
            ((row, "cmil"),), (row["cmil"] == "") == blank, 0.0, "circular mils below 250 kcmil, none above"
        )
    yield from (
        Comparison(((row, "size"),), key in metric, 0.0, "a row of the metric columns")
        for key, row in small.items()
    )
    for size in RUN:
        row = c.rows(METRIC)[0]
        yield Comparison(
            ((row, "size"),),
            (size, "stranded") in metric,
            0.0,
            f"a stranded row for each size of the code; {size} is missing",
        )
        if size in RUN[: RUN.index("6")]:
            yield Comparison(
                ((row, "size"),), (size, "solid") in metric, 0.0, f"a solid row to 8 AWG; {size} is missing"
            )


@check(
    "table-8-strands",
    layer="cross-check",
    reads=(METRIC,),
    what="solid is one strand with no strand diameter; stranded has the strands of its run of sizes",
    reason="The numbers of concentric lay are 1 + 3k(k + 1); the code uses more layers for larger sizes.",
)
def table_8_strands(c: Context) -> Iterator[Comparison]:
    for row in c.rows(METRIC):
        strands = "1" if row["form"] == "solid" else _usual_strands(row["size"])
        yield Comparison(
            ((row, "strands"), (row, "form")), row["strands"] == strands, 0.0, f"{strands} strands"
        )
        yield Comparison(
            ((row, "strand_dia_mm"),),
            (row["strand_dia_mm"] == "") == (row["form"] == "solid"),
            0.0,
            "none for solid",
        )


def _usual_strands(size: str) -> str:
    """Class B stranding of the code: layers are added at 1 AWG, 250, 600, 1250 and 1750 kcmil."""
    at = RUN.index(size) if size in RUN else -1
    steps = (("1750", "127"), ("1250", "91"), ("600", "61"), ("250", "37"), ("1", "19"), ("18", "7"))
    return next((strands for first, strands in steps if at >= RUN.index(first)), "no")


@check(
    "table-8-units",
    layer="second evidence",
    reads=(METRIC, INCH, ALUMINIUM, "known_departures"),
    what="ohm/km = 3.28084 ohm/kft, each within half a unit of its last digit",
    tolerance="intervals of both printed figures",
    reason="The two columns are printed from different sources.",
)
def table_8_units(c: Context) -> Iterator[Comparison]:
    inch = {(r["size"], r["form"]): r for r in c.rows(INCH)}
    known = Departures(c, "table-8-units")
    for stem in (METRIC, ALUMINIUM):
        for row in c.rows(stem):
            other = inch.get((row["size"], row["form"]))
            for column in ("r75_cu_uncoated_ohm_km", "r75_cu_coated_ohm_km", "r75_al_ohm_km"):
                if other is not None and row.cells.get(column):
                    yield known.twin(row, column, other, column.replace("_km", "_kft"), Fraction(1250, 381))
    yield from known.unused()
