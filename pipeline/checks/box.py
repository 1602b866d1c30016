"""Checks of the box tables: counts, units, second prints, order."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from fractions import Fraction

from pipeline.checks import Comparison, Context, check
from pipeline.intervals import Interval, Printed, exact
from pipeline.readings import RawRow
from pipeline.tables.box import CEC_SIZES, SIZES, box_name, inches, print_key, second_key

CM3_PER_IN3 = Fraction("16.387064")
YEARS = ("2020", "2023")
TABLES_A = tuple(f"nec_314_16_a_{year}" for year in YEARS)
TABLES_B = tuple(f"nec_314_16_b_{year}" for year in YEARS)


def _by_size(rows: list[RawRow], column: str) -> dict[str, Fraction]:
    return {row["size"]: Fraction(row[column]) for row in rows}


@check(
    "box-count-floor",
    layer="cross-check",
    reads=(*TABLES_A, *TABLES_B),
    what="printed number of conductors = whole part of volume / allowance, both in cubic inches",
    tolerance="exact",
    reason="the code's own arithmetic; one cell of the older print is in the table of known departures",
)
def box_count_floor(c: Context) -> Iterator[Comparison]:
    known = {(r["file"], r["key"], r["column"]): r["printed"] for r in c.rows("box_departure")}
    for year in YEARS:
        stem = f"nec_314_16_a_{year}"
        allowances = {row["size"]: row for row in c.rows(f"nec_314_16_b_{year}")}
        for row in c.rows(stem):
            for size in SIZES:
                allowance, column = allowances[size], f"n_{size}"
                fits = Fraction(row["volume_in3"]) // Fraction(allowance["volume_in3"])
                expected = known.get((stem, f"{row['shape']},{row['trade_size_in']}", column), str(fits))
                ok = row[column] == expected
                cells = ((row, column), (row, "volume_in3"), (allowance, "volume_in3"))
                yield Comparison(
                    cells,
                    ok,
                    0.0 if ok else 1.0,
                    f"{expected}, the whole part of the volume over the allowance",
                )


@check(
    "box-volume-units",
    layer="cross-check",
    reads=(*TABLES_A, "cec_table_23"),
    what="volume in cubic centimetres = volume in cubic inches times 16.387064",
    tolerance="half a unit of the last digit of each; tables made in stages are rounded up by up to 2 cm3; Canada cuts to whole mL",
    reason="the printed cm3 of nine boxes are rounded up or kept from an older print; Canada cuts to whole mL",
)
def box_volume_units(c: Context) -> Iterator[Comparison]:
    for stem in TABLES_A:
        for row in c.rows(stem):
            yield _units(row, "volume_cm3", "volume_in3", 0, 2)
    for row in c.rows("cec_table_23"):
        if row["volume_basis"] != "per depth":
            yield _cut(row, 0)


def _cut(row: RawRow, decimals: int, factor: Fraction = Fraction(1)) -> Comparison:
    """Canada's millilitres: cut, never rounded, at the last decimal printed."""
    true = Fraction(row["volume_in3"]) * CM3_PER_IN3 / factor
    right = Fraction(int(true * 10**decimals), 10**decimals)
    cells = ((row, "volume_ml"), (row, "volume_in3"))
    ok = Fraction(row["volume_ml"]) == right
    return Comparison(cells, ok, 0.0 if ok else 1.0, f"{float(right):g}, cut from {float(true):.2f}")


def _units(row: RawRow, metric: str, inch: str, below: int, above: int) -> Comparison:
    true = exact(row[inch]) * CM3_PER_IN3
    allowed = Interval(true.low - below - Fraction(1, 2), true.high + above + Fraction(1, 2))
    ok = allowed.meets(exact(row[metric]))
    return Comparison(
        ((row, metric), (row, inch)),
        ok,
        exact(row[metric]).residual(allowed),
        f"about {float(true.middle):.1f}",
    )


@check(
    "box-depth-units",
    layer="cross-check",
    reads=("cec_table_23",),
    what="volume of a millimetre of depth = volume of an inch of depth times 16.387064 / 25.4",
    tolerance="exact, cut at the last digit printed",
    reason="Canada's millilitres are cut, not rounded, to the last digit",
)
def box_depth_units(c: Context) -> Iterator[Comparison]:
    for row in c.rows("cec_table_23"):
        if row["volume_basis"] == "per depth":
            yield _cut(row, 1, Fraction("25.4"))


@check(
    "allowance-units",
    layer="cross-check",
    reads=(*TABLES_B, "cec_table_22_ml", "cec_table_22_in3"),
    what="allowance in cubic centimetres or millilitres = allowance in cubic inches times 16.387064",
    tolerance="half a unit of the last digit of the metric print; 81.9 at 6 AWG is exact to it",
)
def allowance_units(c: Context) -> Iterator[Comparison]:
    for stem in TABLES_B:
        for row in c.rows(stem):
            yield _converted(row, "volume_cm3", row)
    inch = {row["size"]: row for row in c.rows("cec_table_22_in3")}
    for row in c.rows("cec_table_22_ml"):
        yield _converted(row, "volume_ml", inch[row["size"]])


def _converted(row: RawRow, metric: str, inch: RawRow) -> Comparison:
    true, printed = exact(inch["volume_in3"]) * CM3_PER_IN3, Printed(row[metric])
    cells = ((row, metric), (inch, "volume_in3"))
    return Comparison(cells, printed.meets(true), true.residual(printed), f"about {float(true.middle):.2f}")


@check(
    "cec-allowance-inch-form",
    layer="cross-check",
    reads=("cec_table_22_in3", "cec_table_22_ml"),
    what="the two columns of Table 22 name the same sizes",
)
def cec_allowance_sizes(c: Context) -> Iterator[Comparison]:
    metric = {row["size"] for row in c.rows("cec_table_22_ml")}
    for row in c.rows("cec_table_22_in3"):
        ok = row["size"] in metric and len(metric) == len(c.rows("cec_table_22_in3")) == len(CEC_SIZES)
        yield Comparison(
            ((row, "size"),),
            ok,
            0.0 if ok else 1.0,
            "a size that both columns print: " + ", ".join(CEC_SIZES),
        )


@check(
    "cec-ganged-volume",
    layer="cross-check",
    reads=("cec_table_23",),
    what="through boxes and concrete rings are listed per depth, masonry boxes per gang, all others whole",
)
def cec_depth_rows(c: Context) -> Iterator[Comparison]:
    for row in c.rows("cec_table_23"):
        by_depth = row["volume_basis"] == "per depth"
        kind_fits = by_depth == (row["kind"] in ("through box", "concrete ring"))
        gang_fits = (row["volume_basis"] == "per gang") == (row["kind"] == "masonry")
        ok = kind_fits and gang_fits
        yield Comparison(
            ((row, "volume_basis"), (row, "kind")),
            ok,
            0.0 if ok else 1.0,
            "per depth for through boxes and rings, per gang for masonry boxes",
        )


@check(
    "editions-agree",
    layer="second evidence",
    reads=(*TABLES_A, *TABLES_B),
    what="the prints of 2020 and 2023 agree cell by cell, but for the known departure",
    reason="no change of these values between the two editions is known but one",
)
def editions_agree(c: Context) -> Iterator[Comparison]:
    known = {(r["file"], r["key"], r["column"]) for r in c.rows("box_departure")}
    prints: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = (
        (TABLES_A, ("shape", "trade_size_in")),
        (TABLES_B, ("size",)),
    )
    for (old_stem, new_stem), keys in prints:
        old = {tuple(r[k] for k in keys): r for r in c.rows(old_stem)}
        new = {tuple(r[k] for k in keys): r for r in c.rows(new_stem)}
        for key in {**old, **new}:
            a, b = old.get(key), new.get(key)
            if a is None or b is None:
                lone = a or b
                assert lone is not None
                yield Comparison(((lone, keys[0]),), False, 1.0, "a row that both editions print")
                continue
            for column in a.cells:
                if (
                    column in ("source", "locator", "access", "note")
                    or (old_stem, ",".join(key), column) in known
                ):
                    continue
                ok = a[column] == b[column]
                yield Comparison(
                    ((a, column), (b, column)),
                    ok,
                    0.0 if ok else 1.0,
                    f"{b[column]}, as the edition of 2023 prints",
                )


@check(
    "nom-second-print",
    layer="second evidence",
    reads=("nom_314_16_a", "nom_314_16_b", *TABLES_A, *TABLES_B),
    what="NOM-001-SEDE-2012 prints the same volumes and numbers as NFPA 70-2020",
    tolerance="exact; numbers and volumes are printed alike",
)
def nom_second_print(c: Context) -> Iterator[Comparison]:
    again = {second_key(row): row for row in c.rows("nom_314_16_a")}
    for row in c.rows("nec_314_16_a_2020"):
        other = again.get(print_key(row))
        if other is None:
            yield Comparison(((row, "trade_size_mm"),), False, 1.0, "a size that the Mexican law prints too")
            continue
        for column in ("volume_cm3", *(f"n_{size}" for size in SIZES)):
            ok = row[column] == other[column]
            cells = ((row, column), (other, column), (other, "trade_size_cm"), (row, "trade_size_mm"))
            yield Comparison(cells, ok, 0.0 if ok else 1.0, f"{other[column]}, as the Mexican law prints")
    metric = {row["size"]: row for row in c.rows("nom_314_16_b")}
    for row in c.rows("nec_314_16_b_2020"):
        ok = row["volume_cm3"] == metric[row["size"]]["volume_cm3"]
        yield Comparison(
            ((metric[row["size"]], "volume_cm3"), (row, "volume_cm3")),
            ok,
            0.0 if ok else 1.0,
            row["volume_cm3"],
        )


#: Metric trade sizes are these roundings of the inch ones.
MM_OF_IN = {
    "1-1/4": "32", "1-1/2": "38", "1-7/8": "48", "2": "50", "2-1/8": "54", "2-1/4": "57", "2-1/2": "65",
    "2-3/4": "70", "3": "75", "3-1/2": "90", "3-3/4": "95", "4": "100", "4-11/16": "120",
}  # fmt: skip


@check(
    "box-trade-size",
    layer="cross-check",
    reads=TABLES_A,
    what="each metric trade size is the usual rounding of the inch size beside it; FS and FD print the least depth",
    tolerance="the printed metric figure; within 2.5 mm of 25.4 times the inches for the depths of FS and FD",
)
def box_trade_size(c: Context) -> Iterator[Comparison]:
    for stem in TABLES_A:
        for row in c.rows(stem):
            inch, metric = row["trade_size_in"], row["trade_size_mm"]
            if "(" in inch:
                depth = Fraction(inches(box_name(row)[2])) * Fraction("25.4")
                expected = f"min. {float(Fraction(metric.split()[1])) if metric.split()[1:] else 0:.1f} depth"
                ok = metric == expected and abs(depth - Fraction(metric.split()[1])) < Fraction("3.2")
                named = (
                    inch
                    == f"{row['shape'].split()[0]} - {row['shape'].split()[1]} cover/gang ({box_name(row)[2]})"
                )
                ok = ok and named
            else:
                expected = " x ".join(MM_OF_IN.get(part, "?") for part in inch.split(" x "))
                ok = metric == expected
            yield Comparison(
                ((row, "trade_size_mm"), (row, "trade_size_in"), (row, "shape")),
                ok,
                0.0 if ok else 1.0,
                expected,
            )


@check(
    "box-count-order",
    layer="cross-check",
    reads=TABLES_A,
    what="numbers fall as the conductors grow, and rise with the depth of a face",
)
def box_count_order(c: Context) -> Iterator[Comparison]:
    for stem in TABLES_A:
        for row in c.rows(stem):
            columns = [f"n_{size}" for size in SIZES if row.cells.get(f"n_{size}")]
            for left, right in itertools.pairwise(columns):
                ok = int(row[left]) >= int(row[right])
                yield Comparison(
                    ((row, left), (row, right)), ok, 0.0 if ok else 1.0, f"at least {row[right]}"
                )


@check(
    "limit-units",
    layer="cross-check",
    reads=("nec_box_limit",),
    what="each limit in millimetres is the printed rounding of the inches beside it",
    tolerance="half a millimetre where whole millimetres are printed below 50, 2 % above, half a unit of the last digit otherwise",
    reason="the code prints soft conversions: 150 mm beside 6 in, 75 beside 3, 200 beside 8, 48 beside 1-7/8, 1800 beside 72",
)
def limit_units(c: Context) -> Iterator[Comparison]:
    for row in c.rows("nec_box_limit"):
        for name in ("limit", "clearance", "threshold"):
            metric, inch = row[f"{name}_mm"], row[f"{name}_in"]
            if not metric and not inch:
                continue
            if not metric or not inch:
                yield Comparison(((row, f"{name}_mm"),), False, 1.0, "a figure in both units, or in neither")
                continue
            true = Fraction(inches(inch)) * Fraction("25.4")
            allowed = Printed(metric).half_width if "." in metric else max(Fraction(1, 2), true / 50)
            apart = abs(true - Fraction(metric))
            cells = ((row, f"{name}_mm"), (row, f"{name}_in"))
            yield Comparison(cells, apart <= allowed, float(apart / allowed), f"about {float(true):.1f}")


@check(
    "rules-by-edition",
    layer="second evidence",
    reads=("nec_fill_rule", "cec_fill_rule", "nec_box_limit"),
    what="a rule has the same figures in every edition in which it was read, but where a change is stated",
    reason="the changes: grounding from 2020, isolated sets from 2020, studs and hickeys in Canada from 2021",
)
def rules_by_edition(c: Context) -> Iterator[Comparison]:
    changed = {(r["file"], r["rule"], r["column"], r["edition"]) for r in c.rows("rule_change")}
    for stem in ("nec_fill_rule", "cec_fill_rule", "nec_box_limit"):
        by_rule: dict[str, list[RawRow]] = {}
        for row in c.rows(stem):
            by_rule.setdefault(row["rule"], []).append(row)
        for rule, found in by_rule.items():
            rows = sorted(found, key=lambda row: int(row["edition"]))
            for older, newer in itertools.pairwise(rows):
                for column in older.cells:
                    if (
                        column in ("edition", "source", "locator", "access", "note")
                        or (
                            stem,
                            rule,
                            column,
                            newer["edition"],
                        )
                        in changed
                    ):
                        continue
                    ok = older[column] == newer[column]
                    yield Comparison(
                        ((newer, column), (older, column)), ok, 0.0 if ok else 1.0, older[column] or "nothing"
                    )
