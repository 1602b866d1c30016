"""Cables: make-up against grounding rules, twin types, geometry and the limits of one another."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import increasing, keys_agree, meets
from pipeline.intervals import Interval, Printed
from pipeline.readings import RawRow
from pipeline.tables.insulated import RUN

NM, GROUNDING, SCOPE, BS = "nm_cable", "nm_grounding", "cable_scope", "bs_6004_cable"
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
    "nm-cable-grounding",
    layer="second evidence",
    reads=(NM, GROUNDING),
    what="the grounding conductor of a non-metallic cable is the one that the rule by circuit conductor gives, the same size to "
    "10 AWG, and rises with the circuit conductor",
)
def nm_cable_grounding(c: Context) -> Iterator[Comparison]:
    rule = {row["circuit_size"]: row for row in c.rows(GROUNDING)}
    for row in c.rows(NM):
        other = rule.get(row["size"])
        expected = other["grounding_size"] if other is not None else "none"
        cells = (
            (row, "grounding_size"),
            (row, "size"),
            *(((other, "grounding_size"),) if other is not None else ()),
        )
        yield Comparison(cells, row["grounding_size"] == expected, 0.0, f"{expected}, by raw/{GROUNDING}.csv")
    for size in ("14", "12", "10", "8", "6", "4", "3", "2"):
        first = c.rows(GROUNDING)[0]
        yield Comparison(((first, "circuit_size"),), size in rule, 0.0, f"a row for {size} AWG")
    ordered = sorted(
        c.rows(GROUNDING), key=lambda r: -int(r["circuit_size"]) if r["circuit_size"].isdigit() else 0
    )
    yield from increasing(ordered, "grounding_size", strictly=False, falling=True)
    for row in ordered:
        circuit, ground = (
            int(row[k]) if row[k].isdigit() else -1 for k in ("circuit_size", "grounding_size")
        )
        ok = ground == circuit if circuit >= 10 else ground in (8, 10)
        yield Comparison(
            ((row, "grounding_size"), (row, "circuit_size")),
            ok,
            0.0,
            "the same size to 10 AWG; 10 or 8 AWG above",
        )


@check(
    "nm-cable-name",
    layer="cross-check",
    reads=(NM,),
    what="the designation names the size and the number of insulated conductors; two lie flat, more are round; each size has two "
    "and three, and 14 and 12 AWG four",
)
def nm_cable_name(c: Context) -> Iterator[Comparison]:
    found = {(row["size"], row["insulated"]) for row in c.rows(NM)}
    for row in c.rows(NM):
        counts = {"2": "2", "3": "3", "4": "2/2"}.get(row["insulated"], "none")
        expected = f"{row['size']}/{counts} with ground"
        yield Comparison(
            ((row, "designation"), (row, "size"), (row, "insulated")),
            row["designation"] == expected,
            0.0,
            expected,
        )
        flat = (row["insulated"] == "2") == (row["shape"] == "flat")
        yield Comparison(
            ((row, "shape"), (row, "insulated")), flat, 0.0, "flat for two conductors, round for more"
        )
    for size in ("14", "12", "10", "8", "6", "4", "2"):
        for count in ("2", "3", "4") if size in ("14", "12") else ("2", "3"):
            yield Comparison(
                ((c.rows(NM)[0], "size"),), (size, count) in found, 0.0, f"a cable {size}/{count}"
            )


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
    what="k (d + 2 insulation) + 2 sheath overlaps the limits of the overall diameter, d from the nominal to the greatest diameter",
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
        nominal = _root(Fraction(row["mm2"]) * 4 / Fraction("3.14159265"))
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
        said = f"a make-up of {float(inside.low):.2f} to {float(inside.high):.2f} mm within {row['overall_min_mm']} to {row['overall_max_mm']}"
        yield Comparison(cells, inside.meets(limits), 0.0, said)


def _root(value: Fraction) -> Fraction:
    return Fraction((Decimal(value.numerator) / Decimal(value.denominator)).sqrt())


@check(
    "bs-6004-make-up",
    layer="second evidence",
    reads=(BS, SIZES),
    what="twin and three-core cables of one area have one protective conductor, never larger than a core and never falling; "
    "areas run without a gap",
)
def bs_6004_make_up(c: Context) -> Iterator[Comparison]:
    areas = {row["mm2"] for row in c.rows(SIZES)}
    by_code: dict[str, dict[str, RawRow]] = {"6242Y": {}, "6243Y": {}}
    for row in c.rows(BS):
        by_code[row["code"]][row["mm2"]] = row
        cores = {"6242Y": "2", "6243Y": "3"}[row["code"]]
        yield Comparison(((row, "cores"), (row, "code")), row["cores"] == cores, 0.0, f"{cores} cores")
        bare, core = Decimal(row["protective_mm2"]), Decimal(row["mm2"])
        usual = (
            bare <= core if core <= Decimal("1.5") else Decimal("1.6") * bare <= core <= Decimal("2.7") * bare
        )
        yield Comparison(
            ((row, "protective_mm2"), (row, "mm2")),
            usual,
            0.0,
            "about half of a core, the same for the smallest",
        )
        yield Comparison(
            ((row, "protective_mm2"), (row, "mm2")),
            {row["mm2"], row["protective_mm2"]} <= areas,
            0.0,
            "areas of IEC 60228",
        )
    for mm2, row in by_code["6243Y"].items():
        other = by_code["6242Y"].get(mm2)
        same = other is not None and other["protective_mm2"] == row["protective_mm2"]
        cells = (
            (row, "protective_mm2"),
            (row, "mm2"),
            *(((other, "protective_mm2"),) if other is not None else ()),
        )
        yield Comparison(cells, same, 0.0, "as the twin cable of the area")
    for code, most in (("6242Y", "16"), ("6243Y", "16")):
        rows = sorted(by_code[code].values(), key=lambda r: Decimal(r["mm2"]))
        yield from increasing(rows, "protective_mm2", strictly=False)
        largest = max((Decimal(r["mm2"]) for r in rows), default=Decimal(0))
        for mm2 in areas:
            if 1 <= Decimal(mm2) <= min(Decimal(most), max(largest, Decimal(6))):
                yield Comparison(
                    ((c.rows(BS)[0], "mm2"),), mm2 in by_code[code], 0.0, f"a row of {code} at {mm2} mm2"
                )


@check(
    "cable-scope",
    layer="cross-check",
    reads=(SCOPE, NM),
    what="scopes name sizes that exist; aluminium begins two AWG sizes larger than copper and ends alike; cables lie inside them",
)
def cable_scope(c: Context) -> Iterator[Comparison]:
    for row in c.rows(SCOPE):
        ends = [
            re.findall(r"(\d+(?:/0)?)(?: AWG)?-(\d+(?:/0)?) (?:AWG|kcmil)", part)
            for part in row["sizes"].split(", ")
        ]
        for found in ends:
            for low, high in found:
                ok = low in RUN and high in RUN and RUN.index(low) < RUN.index(high)
                yield Comparison(((row, "sizes"),), ok, 0.0, "a run of sizes of the code")
        if len(ends) == 2 and ends[0] and ends[1]:
            (copper, to), (aluminium, until) = ends[0][0], ends[1][0]
            ok = copper == "14" and aluminium == "12" and to == until
            yield Comparison(
                ((row, "sizes"),), ok, 0.0, "copper from 14 AWG, aluminium from 12 AWG, both to one size"
            )
        yield Comparison(
            ((row, "scope"), (row, "family")),
            row["scope"].startswith(row["family"]),
            0.0,
            "a scope named after its family",
        )
        if "conductors" in row["scope"]:
            yield Comparison(
                ((row, "insulated"), (row, "scope")),
                f", {row['insulated']} conductors" in row["scope"],
                0.0,
                "the numbers of the scope",
            )
            yield Comparison(
                ((row, "shape"), (row, "scope")),
                f" {row['shape']}," in row["scope"],
                0.0,
                "the shape of the scope",
            )
        source = {"NM-B": "ul-719", "NMC-B": "ul-719", "NYM": "din-vde-0250-204"}.get(
            row["family"], "nfpa-70"
        )
        yield Comparison(((row, "source"), (row, "family")), row.source == source, 0.0, source)
    yield from _scopes_alike(c)
    flat = next((row for row in c.rows(SCOPE) if row["scope"].startswith("NM-B round")), c.rows(SCOPE)[0])
    for row in c.rows(NM):
        inside = (
            row["size"] in RUN
            and RUN.index("14") <= RUN.index(row["size"]) <= RUN.index("2")
            and row["insulated"] in flat["insulated"]
        )
        yield Comparison(
            ((flat, "insulated"), (flat, "sizes"), (row, "insulated")),
            inside,
            0.0,
            f"a scope that holds {row['designation']}",
        )


def _scopes_alike(c: Context) -> Iterator[Comparison]:
    """Round cables go as far as flat ones of two conductors; flat ones of three as far in either family."""
    rows = {row["scope"]: row for row in c.rows(SCOPE)}
    pairs = (
        ("NM-B flat, 2 conductors", "NM-B round, 2, 3 or 4 conductors"),
        ("NM-B flat, 3 conductors", "NMC-B flat, 2 or 3 conductors"),
    )
    for names in pairs:
        one, other = (rows.get(name) for name in names)
        if one is None or other is None:
            yield Comparison(((c.rows(SCOPE)[0], "scope"),), False, 0.0, "rows " + " and ".join(names))
        else:
            yield Comparison(
                ((one, "sizes"), (other, "sizes")),
                one["sizes"] == other["sizes"],
                0.0,
                f"{other['sizes']}, as {names[1]}",
            )
    for family in ("UF-B", "AC", "MC", "NYM"):
        found = any(row["family"] == family for row in rows.values())
        yield Comparison(((c.rows(SCOPE)[0], "family"),), found, 0.0, f"a row for {family}")
