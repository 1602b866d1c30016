"""IEC 60228: classes against one another, copper against aluminium, diameters against an older standard."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import (
    HALF_UNIT,
    HALF_UNIT_REASON,
    Departures,
    figures,
    increasing,
    keys_agree,
    meets,
    place,
)
from pipeline.intervals import Interval, Printed
from pipeline.readings import RawRow
from pipeline.tables import wire

CLASS_1, LARGE, CLASS_2, CLASS_5, CLASS_6 = (
    "iec_60228_class_1",
    "iec_60228_class_1_large",
    "iec_60228_class_2",
    "iec_60228_class_5",
    "iec_60228_class_6",
)
DIAMETER, OLDER, FICTITIOUS = "iec_60228_diameter", "gost_22483_diameter", "iec_60502_diameter"
PLAIN, COATED, AL = "r20_cu_plain_ohm_km", "r20_cu_coated_ohm_km", "r20_al_ohm_km"

#: Concentric lay of circular conductors, and what compacting makes of it.
CIRCULAR = ("7", "19", "37", "61", "91")
COMPACT = ("6", "12", "15", "18", "30", "34", "53")
#: Wire diameters of flexible conductors, in mm.
FLEXIBLE = ("0.16", "0.21", "0.26", "0.31", "0.41", "0.51", "0.61")


def _area(row: RawRow) -> Decimal:
    return Decimal(row["mm2"])


def _rows(c: Context, *stems: str) -> list[RawRow]:
    return sorted((row for stem in stems for row in c.rows(stem)), key=_area)


def _by_size(c: Context, *stems: str) -> dict[tuple[str, ...], RawRow]:
    return {(row["mm2"],): row for row in _rows(c, *stems)}


def _same(row: RawRow, other: RawRow, column: str, other_column: str, what: str) -> Comparison:
    same = row[column] == other[other_column]
    return Comparison(
        ((row, column), (other, other_column)),
        same,
        0.0 if same else 1.0,
        f"{other[other_column] or 'none'}, as {what}",
    )


@check(
    "iec-60228-sizes",
    layer="keys",
    reads=(CLASS_1, LARGE, CLASS_2, CLASS_5, CLASS_6, DIAMETER, OLDER, FICTITIOUS),
    what="the tables run through the same nominal areas, each as far as its class goes",
)
def iec_sizes(c: Context) -> Iterator[Comparison]:
    all_sizes = _by_size(c, CLASS_2)
    yield from keys_agree(all_sizes, _by_size(c, CLASS_1, LARGE))
    yield from keys_agree(all_sizes, _by_size(c, DIAMETER))
    for stem, least, most in (
        (CLASS_5, "0.5", "630"),
        (CLASS_6, "0.5", "300"),
        (OLDER, "0.5", "185"),
        (FICTITIOUS, "1.5", "1000"),
        (CLASS_1, "0.5", "16"),
        (LARGE, "25", "1000"),
    ):
        run = {k: r for k, r in all_sizes.items() if Decimal(least) <= _area(r) <= Decimal(most)}
        yield from keys_agree(_by_size(c, stem), run)


@check(
    "iec-60228-printed",
    layer="keys",
    reads=(CLASS_1, LARGE, CLASS_2, DIAMETER, OLDER),
    what="each column is printed over its own run of sizes and nowhere else",
)
def iec_printed(c: Context) -> Iterator[Comparison]:
    runs = (
        (CLASS_1, COATED, "0", "16"),
        (CLASS_1, AL, "10", "16"),
        (LARGE, PLAIN, "25", "400"),
        (LARGE, AL, "25", "1000"),
        (LARGE, COATED, "1", "0"),
        (CLASS_2, "wires_al_circular", "10", "1000"),
        (CLASS_2, "wires_cu_compact", "1.5", "1000"),
        (CLASS_2, "wires_al_compact", "10", "1000"),
        (CLASS_2, "wires_cu_shaped", "25", "630"),
        (CLASS_2, "wires_al_shaped", "25", "630"),
        (CLASS_2, AL, "10", "1000"),
        (DIAMETER, "class_1_mm", "0.5", "400"),
        (DIAMETER, "class_5_6_mm", "0.5", "630"),
        (OLDER, "class_1_mm", "0.5", "150"),
        (OLDER, "class_5_6_mm", "0.5", "150"),
    )
    for stem, column, least, most in runs:
        for row in c.rows(stem):
            wanted = Decimal(least) <= _area(row) <= Decimal(most)
            yield Comparison(
                ((row, column),),
                bool(row[column]) == wanted,
                0.0,
                "a figure" if wanted else "no figure at this size",
            )


@check(
    "iec-60228-class-1-2",
    layer="second evidence",
    reads=(CLASS_1, LARGE, CLASS_2, "known_departures"),
    what="class 1 has the resistances of class 2: copper to 150 mm2, aluminium in all; above, copper = 18.6/A",
    tolerance="equal text; above 150 mm2 " + HALF_UNIT,
    reason=HALF_UNIT_REASON,
)
def iec_class_1_2(c: Context) -> Iterator[Comparison]:
    known = Departures(c, "iec-60228-class-1-2")
    stranded = _by_size(c, CLASS_2)
    for key, row in _by_size(c, CLASS_1, LARGE).items():
        other = stranded.get(key)
        if other is None:
            continue
        for column in (PLAIN, COATED, AL):
            if not row[column]:
                continue
            if column == PLAIN and _area(row) > 150:
                value = Decimal("18.6") / _area(row)
                yield known.against(row, column, value, figures(value, 3), "18.6/A", ((row, "mm2"),))
            else:
                yield _same(row, other, column, column, "class 2")
    yield from known.unused()


@check(
    "iec-60228-class-5-6",
    layer="second evidence",
    reads=(CLASS_5, CLASS_6),
    what="classes 5 and 6 have the same resistances; a class 6 wire is no thicker than a class 5 wire",
)
def iec_class_5_6(c: Context) -> Iterator[Comparison]:
    flexible = _by_size(c, CLASS_5)
    for key, row in _by_size(c, CLASS_6).items():
        other = flexible.get(key)
        if other is not None:
            for column in (PLAIN, COATED):
                yield _same(row, other, column, column, "class 5")
            ok = Decimal(row["strand_max_mm"]) <= Decimal(other["strand_max_mm"])
            yield Comparison(
                ((row, "strand_max_mm"), (other, "strand_max_mm")), ok, 0.0, "no more than in class 5"
            )


@check(
    "iec-60228-ratios",
    layer="cross-check",
    reads=(CLASS_2, CLASS_5, CLASS_6),
    what="from 25 mm2 coated copper = 1.010 plain in class 2 and 1.020 in classes 5 and 6, aluminium = 1.657 copper in class 2",
    tolerance="intervals of the printed figures and of the factor",
    reason="The standard derives the columns from one another and rounds each.",
)
def iec_ratios(c: Context) -> Iterator[Comparison]:
    for stem, column, factor in (
        (CLASS_2, COATED, "1.010"),
        (CLASS_5, COATED, "1.020"),
        (CLASS_6, COATED, "1.020"),
        (CLASS_2, AL, "1.657"),
    ):
        for row in c.rows(stem):
            if _area(row) >= 25 and row[column]:
                expected = Printed(row[PLAIN]) * Printed(factor)
                yield meets(row, column, expected, f"{factor} times {row[PLAIN]}", ((row, PLAIN),))


@check(
    "iec-60228-falling",
    layer="cross-check",
    reads=(CLASS_1, LARGE, CLASS_2, CLASS_5, CLASS_6),
    what="resistance falls strictly with size; coated is no less than plain; class 5 is no less than class 2 but at 50 mm2",
    reason="Class 5 lies below class 2 at 50 mm2 in the standard itself.",
)
def iec_falling(c: Context) -> Iterator[Comparison]:
    for stems in ((CLASS_1, LARGE), (CLASS_2,), (CLASS_5,), (CLASS_6,)):
        rows = _rows(c, *stems)
        for column in (PLAIN, COATED, AL):
            if rows and column in rows[0].cells:
                yield from increasing(rows, column, falling=True)
        for row in rows:
            if row[COATED] and row[PLAIN]:
                ok = Decimal(row[COATED]) >= Decimal(row[PLAIN])
                yield Comparison(((row, COATED), (row, PLAIN)), ok, 0.0, f"no less than {row[PLAIN]}, plain")
    stranded = _by_size(c, CLASS_2)
    for key, row in _by_size(c, CLASS_5).items():
        if key in stranded:
            above = Decimal(row[PLAIN]) >= Decimal(stranded[key][PLAIN])
            yield Comparison(
                ((row, PLAIN), (stranded[key], PLAIN)),
                above != (key == ("50",)),
                0.0,
                "no less than class 2, at 50 mm2 less",
            )


@check(
    "iec-60228-conductance",
    layer="cross-check",
    reads=(CLASS_1, LARGE, CLASS_2, CLASS_5, CLASS_6),
    what="resistance x nominal area of plain copper lies between 17.6 and 20.0 ohm mm2/km",
    tolerance="the range of the standard",
    reason="The standard allows each construction its own effective area; there is no one rule.",
)
def iec_conductance(c: Context) -> Iterator[Comparison]:
    for row in _rows(c, CLASS_1, LARGE, CLASS_2, CLASS_5, CLASS_6):
        if row[PLAIN]:
            low, high = Fraction("17.6") / Fraction(row["mm2"]), Fraction(20) / Fraction(row["mm2"])
            yield meets(row, PLAIN, Interval(low, high), "17.6/A to 20.0/A", ((row, "mm2"),))


@check(
    "iec-60228-figures",
    layer="cross-check",
    reads=(CLASS_1, LARGE, CLASS_2, CLASS_5, CLASS_6, DIAMETER, OLDER),
    what="resistances are printed with three figures, diameters with one decimal",
)
def iec_figures(c: Context) -> Iterator[Comparison]:
    for row in _rows(c, CLASS_1, LARGE, CLASS_2, CLASS_5, CLASS_6):
        for column in (PLAIN, COATED, AL):
            if row.cells.get(column):
                three = len(row[column].replace(".", "").lstrip("0")) == 3
                yield Comparison(((row, column),), three, 0.0, "a resistance of three figures")
    for row in _rows(c, DIAMETER, OLDER):
        for column in ("class_1_mm", "class_2_mm", "class_5_6_mm"):
            if row[column]:
                yield Comparison(
                    ((row, column),), row[column][-2:-1] == ".", 0.0, "a diameter with one decimal"
                )


@check(
    "iec-60228-wires",
    layer="cross-check",
    reads=(CLASS_2,),
    what="least numbers of wires are those of concentric lay or of compacting, never fall with size, are alike for copper and "
    "aluminium in circular conductors, and in shaped ones as in compacted ones",
)
def iec_wires(c: Context) -> Iterator[Comparison]:
    rows = _rows(c, CLASS_2)
    for metal in ("cu", "al"):
        for shape, allowed in (("circular", CIRCULAR), ("compact", COMPACT), ("shaped", COMPACT)):
            column = f"wires_{metal}_{shape}"
            yield from increasing(rows, column, strictly=False)
            for row in rows:
                if row[column]:
                    yield Comparison(
                        ((row, column),), row[column] in allowed, 0.0, "one of " + ", ".join(allowed)
                    )
    for row in rows:
        if row["wires_al_circular"]:
            yield _same(row, row, "wires_al_circular", "wires_cu_circular", "copper")
        for metal in ("cu", "al"):
            if row[f"wires_{metal}_shaped"]:
                yield _same(row, row, f"wires_{metal}_shaped", f"wires_{metal}_compact", "compacted")
        if row["wires_al_compact"] and row["wires_cu_compact"]:
            ok = int(row["wires_al_compact"]) <= int(row["wires_cu_compact"]) <= int(row["wires_cu_circular"])
            cells = ((row, "wires_cu_compact"), (row, "wires_al_compact"), (row, "wires_cu_circular"))
            yield Comparison(cells, ok, 0.0, "no less than aluminium and no more than the circular conductor")


@check(
    "iec-60228-flexible-wires",
    layer="cross-check",
    reads=(CLASS_5, CLASS_6),
    what="wire diameters of flexible conductors are those of the standard's series and never fall with size",
)
def iec_flexible_wires(c: Context) -> Iterator[Comparison]:
    for stem in (CLASS_5, CLASS_6):
        rows = _rows(c, stem)
        yield from increasing(rows, "strand_max_mm", strictly=False)
        for row in rows:
            yield Comparison(
                ((row, "strand_max_mm"),),
                row["strand_max_mm"] in FLEXIBLE,
                0.0,
                "one of " + ", ".join(FLEXIBLE),
            )


@check(
    "iec-60228-diameters",
    layer="second evidence",
    reads=(DIAMETER, OLDER, "known_departures"),
    what="greatest diameters are those of the older standard, where it goes",
    tolerance=HALF_UNIT,
    reason=HALF_UNIT_REASON,
)
def iec_diameters(c: Context) -> Iterator[Comparison]:
    known = Departures(c, "iec-60228-diameters")
    newer = _by_size(c, DIAMETER)
    for key, row in _by_size(c, OLDER).items():
        for column in ("class_1_mm", "class_2_mm", "class_5_6_mm"):
            if row[column] and key in newer:
                other = newer[key]
                yield known.against(
                    row, column, Decimal(other[column] or "0"), place(1), "as IEC 60228", ((other, column),)
                )
    yield from known.unused()


@check(
    "iec-60228-diameter-ratios",
    layer="cross-check",
    reads=(DIAMETER, FICTITIOUS),
    what="greatest diameters rise with size; class 2 is 1.145 to 1.19 of the nominal diameter, and from 35 mm2 1.16 to 1.182 of "
    "class 1 and 0.82 to 0.865 of class 5 and 6",
    tolerance="the range of the standard",
    reason="The lay factors are nearly constant for large sizes; the standard gives no formula.",
)
def iec_diameter_ratios(c: Context) -> Iterator[Comparison]:
    rows = _rows(c, DIAMETER)
    nominal = _by_size(c, FICTITIOUS)
    for column in ("class_1_mm", "class_2_mm", "class_5_6_mm"):
        yield from increasing(rows, column)
    for row in rows:
        own = Printed(row["class_2_mm"])
        if _area(row) < 35:
            continue
        bounds = [
            (nominal.get((row["mm2"],)), "fictitious_dia_mm", "1.14", "1.19"),
            (row, "class_1_mm", "1.16", "1.182"),
            (row, "class_5_6_mm", "0.82", "0.865"),
        ]
        for other, column, low, high in bounds:
            if other is not None and other[column] and own.low > 0:
                expected = Printed(other[column]) * Interval(Fraction(low), Fraction(high))
                yield meets(
                    row, "class_2_mm", expected, f"{low} to {high} of {other[column]}", ((other, column),)
                )


@check(
    "iec-60502-diameter",
    layer="cross-check",
    reads=(FICTITIOUS,),
    what="fictitious diameter = sqrt(4 A/pi), to a tenth of a millimetre",
    tolerance=HALF_UNIT,
    reason="The standard takes the conductor as one solid round wire.",
)
def iec_fictitious(c: Context) -> Iterator[Comparison]:
    for row in c.rows(FICTITIOUS):
        value = wire.size_diameter_mm("mm2", row["mm2"])
        off = abs(Decimal(row["fictitious_dia_mm"]) - value) / place(1)
        yield Comparison(
            ((row, "fictitious_dia_mm"), (row, "mm2")),
            off <= Decimal("0.5"),
            float(off) * 2,
            f"{value:.1f}, sqrt(4 A/pi)",
        )
