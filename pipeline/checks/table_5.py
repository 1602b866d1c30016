"""NEC Chapter 9 Tables 5 and 5A: diameters from the conductor and its wall, areas and metric columns from these."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import ROUND_DOWN, Decimal
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
from pipeline.checks._lay import lay_of
from pipeline.intervals import Interval, Printed
from pipeline.readings import RawRow
from pipeline.tables import wire
from pipeline.tables.insulated import RUN, TABLE_5_INCH, table_5_inch, types_of, wall_rows

METRIC_5, METRIC_5A, INCH_5A, WALLS, TABLE_8_INCH = (
    "nec_table_5_metric",
    "nec_table_5a_metric",
    "nec_table_5a_inch",
    "insulation_wall",
    "nec_table_8_inch",
)
#: The tables use this for pi/4.
QUARTER_PI = Decimal("0.7854")
MM2_PER_IN2 = Decimal("645.16")
FOUR_FIGURES = "Trailing zeros are dropped or padded in print, so the last digit is the fourth figure, not the last one printed."

Pair = tuple[str, str]
Rows = Mapping[Pair, RawRow]


def _key(row: RawRow) -> Pair:
    return row["types"], row["size"]


def _inch(c: Context, metric: str) -> Rows:
    return table_5_inch(c.raw) if metric == METRIC_5 else {_key(row): row for row in c.rows(INCH_5A)}


def _at(row: RawRow) -> int:
    return RUN.index(row["size"]) if row["size"] in RUN else -1


@check(
    "table-5-wall",
    layer="cross-check",
    reads=(*TABLE_5_INCH, WALLS, TABLE_8_INCH),
    what="diameter in inches = overall diameter of Table 8 + 2 x wall of the type",
    tolerance=HALF_UNIT,
    reason="Ties the diameters of the two tables together; walls known by memory or fitted are confirmed by each row.",
)
def table_5_wall(c: Context) -> Iterator[Comparison]:
    bare = {row["size"]: row for row in c.rows(TABLE_8_INCH) if row["form"] == "stranded"}
    walls = wall_rows(c.raw)
    known = Departures(c, "table-5-wall")
    for (types, size), row in table_5_inch(c.raw).items():
        inside = bare.get(size)
        for name in types_of(types):
            wall = walls.get((name, size))
            if wall is None or inside is None:
                yield Comparison(
                    ((row, "types"), (row, "size")),
                    False,
                    0.0,
                    f"a type and size with a wall; {name} has none",
                )
                continue
            value = Decimal(inside["overall_dia_in"]) + 2 * Decimal(wall["wall_mil"]) / 1000
            how = f"{inside['overall_dia_in']} in bare + 2 x {wall['wall_mil']} mil"
            yield known.against(
                row,
                "dia_in",
                value,
                place(3),
                how,
                ((wall, "wall_mil"), (inside, "overall_dia_in"), (row, "types")),
            )


@check(
    "insulation-wall-runs",
    layer="keys",
    reads=(WALLS, METRIC_5),
    what="the runs of sizes of a type end at sizes that Table 5 prints for it, never overlap, and walls never fall with size",
)
def insulation_wall_runs(c: Context) -> Iterator[Comparison]:
    printed = {(name, row["size"]) for row in c.rows(METRIC_5) for name in types_of(row["types"])}
    seen: dict[Pair, RawRow] = {}
    for row in c.rows(WALLS):
        ends = [RUN.index(row[end]) if row[end] in RUN else -1 for end in ("size_from", "size_to")]
        whole = (2 * Decimal(row["wall_mil"])) % 1 == 0 or row["types"].startswith("KF-2")
        yield Comparison(
            ((row, "wall_mil"),),
            whole,
            0.0,
            "whole or half mils, the diameters being in whole mils; KF-2 aside",
        )
        yield Comparison(
            ((row, "size_from"), (row, "size_to")),
            -1 < ends[0] <= ends[1],
            0.0,
            "a run from a size to a larger one",
        )
        for name in types_of(row["types"]):
            for end in ("size_from", "size_to"):
                yield Comparison(
                    ((row, end), (row, "types")),
                    (name, row[end]) in printed,
                    0.0,
                    f"a size that Table 5 prints for {name}",
                )
            for size in RUN[max(ends[0], 0) : ends[1] + 1]:
                yield Comparison(
                    ((row, "size_to"),), (name, size) not in seen, 0.0, f"one wall for {name} at {size}"
                )
                seen[name, size] = row
    for name, size in seen:
        before = seen.get((name, RUN[max(RUN.index(size) - 1, 0)]))
        if before is not None:
            ok = Decimal(before["wall_mil"]) <= Decimal(seen[name, size]["wall_mil"])
            yield Comparison(
                ((seen[name, size], "wall_mil"), (before, "wall_mil")),
                ok,
                0.0,
                "a wall no thinner than that of smaller sizes",
            )


def _rule(
    check_id: str,
    reads: tuple[str, ...],
    what: str,
    rows: Callable[[Context], Iterator[tuple[RawRow, str, Decimal, Decimal, RawRow, str]]],
    reason: str = HALF_UNIT_REASON,
) -> None:
    """Register a rule that gives a printed column from another: row, column, value, unit, input row and column."""

    @check(
        check_id,
        layer="cross-check",
        reads=(*reads, "known_departures"),
        what=what,
        tolerance=HALF_UNIT,
        reason=reason,
    )
    def run(c: Context) -> Iterator[Comparison]:
        known = Departures(c, check_id)
        for row, column, value, unit, source, read in rows(c):
            yield known.against(row, column, value, unit, what, ((source, read),))
        yield from known.unused()


Step = tuple[RawRow, str, Decimal, Decimal, RawRow, str]


def _area_in2(c: Context) -> Iterator[Step]:
    for row in table_5_inch(c.raw).values():
        yield row, "area_in2", QUARTER_PI * Decimal(row["dia_in"]) ** 2, place(4), row, "dia_in"


def _area_in2_compact(c: Context) -> Iterator[Step]:
    for row in c.rows(INCH_5A):
        if row["area_in2"]:
            area = (QUARTER_PI * Decimal(row["dia_in"]) ** 2).quantize(place(4), ROUND_DOWN)
            yield row, "area_in2", area, place(4), row, "dia_in"


def _converted(metric: str, column: str, inch: str, factor: Decimal) -> Callable[[Context], Iterator[Step]]:
    def steps(c: Context) -> Iterator[Step]:
        inches = _inch(c, metric)
        for row in c.rows(metric):
            other = inches.get(_key(row))
            if other is not None and row[column] and other[inch]:
                value = factor * Decimal(other[inch])
                yield row, column, value, figures(value, 4), other, inch

    return steps


_rule("table-5-area-in2", TABLE_5_INCH, "area in square inches = 0.7854 x diameter squared", _area_in2)
_rule(
    "table-5a-area-in2",
    (INCH_5A,),
    "area in square inches = 0.7854 x diameter squared, cut off at four decimals",
    _area_in2_compact,
)
for _name, _metric, _reads in (
    ("table-5", METRIC_5, (METRIC_5, *TABLE_5_INCH)),
    ("table-5a", METRIC_5A, (METRIC_5A, INCH_5A)),
):
    _rule(
        f"{_name}-diameter-mm",
        _reads,
        "diameter in mm = 25.4 x diameter in inches, to four figures",
        _converted(_metric, "dia_mm", "dia_in", wire.MM_PER_INCH),
        FOUR_FIGURES,
    )
    _rule(
        f"{_name}-area-mm2",
        _reads,
        "area in mm2 = 645.16 x area in square inches, to four figures",
        _converted(_metric, "area_mm2", "area_in2", MM2_PER_IN2),
        FOUR_FIGURES,
    )


def _labels(c: Context) -> Iterator[Step]:
    for stem in (METRIC_5, METRIC_5A):
        for row in c.rows(stem):
            lay = lay_of(row["size"], "1")
            value = lay.nominal_mm2 if lay is not None else Decimal(0)
            yield row, "size_label_mm2", value, min(figures(value, 3), place(0)), row, "size"


_rule(
    "table-5-label",
    (METRIC_5, METRIC_5A),
    "the size in mm2 beside an AWG size = its area, to three figures and whole from 100",
    _labels,
)


@check(
    "table-5-rows",
    layer="keys",
    reads=(METRIC_5, *TABLE_5_INCH, METRIC_5A, INCH_5A, "insulation_rating", "fixture_wire_rating"),
    what="metric and inch columns print the same rows; a type stands once at a size; each type is rated",
)
def table_5_rows(c: Context) -> Iterator[Comparison]:
    inch = sum(len(c.rows(stem)) for stem in TABLE_5_INCH)
    metric = {_key(row): row for row in c.rows(METRIC_5)}
    yield Comparison(
        ((c.rows(METRIC_5)[0], "types"),),
        inch == len(metric),
        0.0,
        f"as many rows as the inch columns have, {inch}",
    )
    yield from keys_agree(metric, table_5_inch(c.raw))
    compact = {_key(row): row for row in c.rows(METRIC_5A)}
    yield from keys_agree(compact, _inch(c, METRIC_5A))
    rated = {
        name
        for stem in ("insulation_rating", "fixture_wire_rating")
        for row in c.rows(stem)
        for name in types_of(row["types"])
    }
    for rows in (metric, compact):
        seen: set[Pair] = set()
        for (types, size), row in rows.items():
            for name in types_of(types):
                yield Comparison(
                    ((row, "types"),),
                    name == "bare" or name.removesuffix("*") in rated,
                    0.0,
                    f"rated types; {name} has no rating",
                )
                yield Comparison(
                    ((row, "types"), (row, "size")), (name, size) not in seen, 0.0, f"{name} once at {size}"
                )
                seen.add((name, size))
    for row in (*compact.values(), *_inch(c, METRIC_5A).values()):
        column = "area_mm2" if row.file == METRIC_5A else "area_in2"
        yield Comparison(
            ((row, column),), (row[column] == "") == (row["types"] == "bare"), 0.0, "an area unless bare"
        )
    for size in {row["size"] for row in compact.values()}:
        groups = {types for types, at in compact if at == size}
        wanted = {"bare", "THW, THHW", "XHHW"} | ({"THHN"} if size != "8" else set())
        first = next(row for row in compact.values() if row["size"] == size)
        yield Comparison(
            ((first, "types"), (first, "size")),
            groups == wanted,
            0.0,
            f"at each compact size {', '.join(sorted(wanted))}",
        )


@check(
    "table-5-order",
    layer="cross-check",
    reads=(METRIC_5, *TABLE_5_INCH, METRIC_5A, INCH_5A),
    what="diameters and areas of a type rise with the size",
)
def table_5_order(c: Context) -> Iterator[Comparison]:
    for metric in (METRIC_5, METRIC_5A):
        for rows, columns in (
            (c.rows(metric), ("dia_mm", "area_mm2")),
            (list(_inch(c, metric).values()), ("dia_in", "area_in2")),
        ):
            by_type: dict[str, list[RawRow]] = {}
            for row in rows:
                by_type.setdefault(types_of(row["types"])[0], []).append(row)
            for group in by_type.values():
                group.sort(key=_at)
                for column in columns:
                    yield from increasing(group, column)


@check(
    "table-5-equal",
    layer="cross-check",
    reads=(METRIC_5, *TABLE_5_INCH),
    what="rows of equal diameter in inches print equal areas and equal metric figures, whatever their type",
)
def table_5_equal(c: Context) -> Iterator[Comparison]:
    metric = {_key(row): row for row in c.rows(METRIC_5)}
    first: dict[Decimal, tuple[RawRow, RawRow]] = {}
    for key, inch in table_5_inch(c.raw).items():
        mm = metric.get(key)
        if mm is None:
            continue
        other = first.setdefault(Decimal(inch["dia_in"]), (inch, mm))
        for row, like, column in (
            (inch, other[0], "area_in2"),
            (mm, other[1], "dia_mm"),
            (mm, other[1], "area_mm2"),
        ):
            if row is not like and row[column] and like[column]:
                same = Decimal(row[column]) == Decimal(like[column])
                how = f"{like[column]}, as {like['types']} {like['size']}"
                yield Comparison(((row, column), (like, column)), same, float(not same), how)


@check(
    "table-5-around",
    layer="cross-check",
    reads=(*TABLE_5_INCH, INCH_5A, TABLE_8_INCH),
    what="insulated conductors are wider than bare ones; bare compact ones are 0.90 to 0.925 of concentric ones",
    tolerance="the range of compact lay",
    reason="Compacting takes the gaps between the strands away, not more.",
)
def table_5_around(c: Context) -> Iterator[Comparison]:
    bare = {row["size"]: row for row in c.rows(TABLE_8_INCH) if row["form"] == "stranded"}
    compact = {row["size"]: row for row in c.rows(INCH_5A) if row["types"] == "bare"}
    for rows, inside, column in (
        (table_5_inch(c.raw), bare, "overall_dia_in"),
        (_inch(c, METRIC_5A), compact, "dia_in"),
    ):
        for (types, size), row in rows.items():
            other = inside.get(size)
            if other is not None and types != "bare":
                wider = Decimal(row["dia_in"]) > Decimal(other[column])
                yield Comparison(
                    ((row, "dia_in"), (other, column)), wider, 0.0, f"more than {other[column]} in, bare"
                )
    for size, row in compact.items():
        if size in bare:
            concentric = Printed(bare[size]["overall_dia_in"]) * Interval(Fraction("0.90"), Fraction("0.925"))
            yield meets(
                row,
                "dia_in",
                concentric,
                "0.90 to 0.925 of the concentric conductor",
                ((bare[size], "overall_dia_in"),),
            )
