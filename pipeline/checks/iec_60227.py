"""Cables of IEC 60227: twin types, the geometry of their make-up, and the limits of the overall diameter."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import increasing, keys_agree, meets
from pipeline.intervals import Interval, Printed
from pipeline.readings import RawRow
from pipeline.tables import wire

READ, MEMORY = "iec_60227_flexible", "iec_60227_memory"
SIZES, DIAMETER = "iec_60228_class_2", "iec_60228_diameter"

#: Diameter of a bundle of equal cores in core diameters, as IEC 60719 lays them up.
LAID_UP = {
    "1": Fraction(1),
    "2": Fraction(2),
    "3": Fraction("2.16"),
    "4": Fraction("2.42"),
    "5": Fraction("2.70"),
}
#: The harmonised code of a type with its class of conductor, and the standard that gives it.
CODES = {
    ("60227 IEC 01", "1"): ("H07V-U", "iec-60227-3"),
    ("60227 IEC 01", "2"): ("H07V-R", "iec-60227-3"),
    ("60227 IEC 02", "5"): ("H07V-K", "iec-60227-3"),
    ("60227 IEC 10", "1/2"): ("", "iec-60227-4"),
    ("60227 IEC 53", "5"): ("H05VV-F", "iec-60227-5"),
    ("60227 IEC 57", "5"): ("", "gost-r-iec-60227-5-2009"),
}
#: Smallest and largest area and numbers of cores of each type.
SPANS = {
    ("60227 IEC 01", "1"): ("1.5", "10", "1"),
    ("60227 IEC 01", "2"): ("1.5", "400", "1"),
    ("60227 IEC 02", "5"): ("1.5", "240", "1"),
    ("60227 IEC 10", "1/2"): ("1.5", "6", "2345"),
    ("60227 IEC 53", "5"): ("0.75", "2.5", "2345"),
    ("60227 IEC 57", "5"): ("0.75", "2.5", "2345"),
}
DIMENSIONS = ("insulation_mm", "sheath_mm", "overall_min_mm", "overall_max_mm")


@check(
    "iec-60227-twins",
    layer="second evidence",
    reads=(READ, MEMORY),
    what="types 53 and 57 of IEC 60227 have the same dimensions",
)
def iec_60227_twins(c: Context) -> Iterator[Comparison]:
    read, memory = (
        {(r["cores"], r["mm2"]): r for r in c.rows(stem) if r["type"] in ("60227 IEC 57", "60227 IEC 53")}
        for stem in (READ, MEMORY)
    )
    yield from keys_agree(read, memory)
    for key, row in read.items():
        other = memory.get(key)
        if other is not None:
            for column in DIMENSIONS:
                same = row[column] == other[column]
                yield Comparison(
                    ((row, column), (other, column)), same, float(not same), f"{other[column]}, as type 53"
                )


@check(
    "iec-60227-rows",
    layer="keys",
    reads=(READ, MEMORY, SIZES),
    what="each type runs through the areas of IEC 60228 from its least to its greatest, with its code, source and columns",
)
def iec_60227_rows(c: Context) -> Iterator[Comparison]:
    rows = [*c.rows(READ), *c.rows(MEMORY)]
    areas = [row["mm2"] for row in c.rows(SIZES)]
    found = {(row["type"], row["conductor_class"], row["cores"], row["mm2"]) for row in rows}
    wanted = {
        (*kind, cores, mm2)
        for kind, (least, most, counts) in SPANS.items()
        for cores in counts
        for mm2 in areas
        if Decimal(least) <= Decimal(mm2) <= Decimal(most)
    }
    for row in rows:
        key = (row["type"], row["conductor_class"], row["cores"], row["mm2"])
        cells = ((row, "mm2"), (row, "cores"), (row, "type"), (row, "conductor_class"))
        yield Comparison(cells, key in wanted, 0.0, "a size and number of cores in which the type is made")
        code, source = CODES.get((row["type"], row["conductor_class"]), ("none", "none"))
        yield Comparison(((row, "code"), (row, "type")), row["code"] == code, 0.0, code or "no code")
        yield Comparison(((row, "source"), (row, "type")), row.source == source, 0.0, source)
        for column, printed in (
            ("insulation_mm", code or "57" in row["type"]),
            ("sheath_mm", row["type"][-2:] in ("53", "57")),
        ):
            yield Comparison(
                ((row, column),),
                bool(row[column]) == bool(printed),
                0.0,
                "a figure" if printed else "no figure",
            )
    for key in sorted(wanted - found):
        yield Comparison(((rows[-1], "type"),), False, 0.0, f"a row {' '.join(key)}")


@check(
    "iec-60227-insulation",
    layer="cross-check",
    reads=(READ, MEMORY),
    what="cables of one area have one thickness of insulation, whatever the class of conductor; it never falls with the area",
    reason="Non-sheathed single cores and sheathed flexible cores follow the same thicknesses up to 2.5 mm2.",
)
def iec_60227_insulation(c: Context) -> Iterator[Comparison]:
    for types in (("60227 IEC 01", "60227 IEC 02"), ("60227 IEC 53", "60227 IEC 57")):
        rows = [row for stem in (READ, MEMORY) for row in c.rows(stem) if row["type"] in types]
        rows.sort(key=lambda r: Decimal(r["mm2"]))
        first: dict[str, RawRow] = {}
        for row in rows:
            other = first.setdefault(row["mm2"], row)
            if other is not row:
                same = row["insulation_mm"] == other["insulation_mm"]
                yield Comparison(
                    ((row, "insulation_mm"), (other, "insulation_mm")),
                    same,
                    0.0,
                    f"{other['insulation_mm']}, as the others",
                )
        yield from increasing(rows, "insulation_mm", strictly=False)


@check(
    "iec-60227-limits",
    layer="cross-check",
    reads=(READ, MEMORY),
    what="upper limit of the overall diameter = 1.21 times the lower for single cores, 1.235 to 1.27 for types 53 and 57, "
    "1.25 to 1.34 for type 10; both rise with size and number of cores",
    tolerance="intervals of both printed figures over the range of the factor",
    reason="IEC 60719 gives both limits as multiples of one computed diameter and rounds each to a tenth, for type 10 to a half.",
)
def iec_60227_limits(c: Context) -> Iterator[Comparison]:
    groups: dict[tuple[str, str, str, str], list[RawRow]] = {}
    for row in (*c.rows(READ), *c.rows(MEMORY)):
        number = row["type"][-2:]
        low, high = {"01": ("1.21", "1.21"), "02": ("1.21", "1.21"), "10": ("1.25", "1.34")}.get(
            number, ("1.235", "1.27")
        )
        expected = Printed(row["overall_min_mm"]) * Interval(Fraction(low), Fraction(high))
        yield meets(
            row,
            "overall_max_mm",
            expected,
            f"{low} to {high} of {row['overall_min_mm']}",
            ((row, "overall_min_mm"),),
        )
        for column in DIMENSIONS:
            one = row[column] == "" or row[column][-2:-1] == "."
            yield Comparison(((row, column),), one, 0.0, "one decimal")
        if number == "10":
            ok = row["overall_max_mm"][-1] in "05"
            yield Comparison(((row, "overall_max_mm"),), ok, 0.0, "a multiple of half a millimetre")
        groups.setdefault((row["type"], row["conductor_class"], "cores", row["cores"]), []).append(row)
        groups.setdefault((row["type"], row["conductor_class"], "mm2", row["mm2"]), []).append(row)
    for (_, _, fixed, _), rows in groups.items():
        varying = "mm2" if fixed == "cores" else "cores"
        rows.sort(key=lambda r: Decimal(r[varying]))
        for column in ("overall_min_mm", "overall_max_mm"):
            yield from increasing(rows, column)
        yield from increasing(rows, "sheath_mm", strictly=False)


@check(
    "iec-60227-geometry",
    layer="cross-check",
    reads=(READ, MEMORY, DIAMETER),
    what="k (d + 2 insulation) + 2 sheath overlaps the limits of the overall diameter, d from the nominal to the "
    "greatest diameter",
    tolerance="the span of the conductor's diameter and of the printed limits",
    reason="The limits leave room for the make of the conductor.",
)
def iec_60227_geometry(c: Context) -> Iterator[Comparison]:
    greatest = {row["mm2"]: row for row in c.rows(DIAMETER)}
    for row in (*c.rows(READ), *c.rows(MEMORY)):
        other, factor = greatest.get(row["mm2"]), LAID_UP.get(row["cores"])
        column = {"1": "class_1_mm", "2": "class_2_mm", "5": "class_5_6_mm"}.get(row["conductor_class"])
        if other is None or factor is None or column is None or not row["insulation_mm"] or not other[column]:
            continue
        sheath = Fraction(row["sheath_mm"] or "0")
        nominal = Fraction(wire.size_diameter_mm("mm2", row["mm2"]).quantize(Decimal("0.000001")))
        low, high = sorted((nominal, Fraction(other[column])))
        core = Interval(low, high) + 2 * Fraction(row["insulation_mm"])
        inside = core * factor + 2 * sheath
        limits = Interval(
            Fraction(row["overall_min_mm"]),
            max(Fraction(row["overall_min_mm"]), Fraction(row["overall_max_mm"])),
        )
        cells = (
            (row, "insulation_mm"),
            (row, "sheath_mm"),
            (row, "overall_min_mm"),
            (row, "overall_max_mm"),
            (other, column),
        )
        span = f"{float(inside.low):.2f} to {float(inside.high):.2f} mm"
        said = f"a make-up of {span} within {row['overall_min_mm']} to {row['overall_max_mm']}"
        yield Comparison(cells, inside.meets(limits), 0.0, said)
