"""The ladders and limits of the classes against the standards that they rest on."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from pipeline.checks import Comparison, Context, check

__all__: list[str] = []

SIZE, LIMIT, TEST = "class_size", "class_limit", "connector_test"
NUMBER = re.compile(r"\d+(?:\.\d+)?")


@check(
    "class-size-capacity",
    layer="cross-check",
    reads=(SIZE, TEST),
    what="steps of clamps are rated connecting capacities of IEC 60998-1, and the last class of twist-on and crimped is its greatest sum",
)
def class_size_capacity(c: Context) -> Iterator[Comparison]:
    capacities = {Decimal(r["size"]): r for r in c.rows(TEST) if "rated connecting capacity" in r["test"]}
    whole = next((r for r in c.rows(TEST) if r["test"] == "scope, sum of cross-sections"), None)
    for row in c.rows(SIZE):
        size = Decimal(row["size_mm2"])
        if row["series"] == "clamp":
            other = capacities.get(size)
            cells = ((row, "size_mm2"), *(((other, "size"),) if other is not None else ()))
            yield Comparison(
                cells, other is not None, 0.0, "a rated capacity: " + ", ".join(map(str, sorted(capacities)))
            )
        if row.source == "iec-60998-2-4" and whole is not None:
            yield Comparison(
                ((row, "size_mm2"), (whole, "value")), row["size_mm2"] == whole["value"], 0.0, whole["value"]
            )


@check(
    "class-size-source",
    layer="keys",
    reads=(SIZE,),
    what="clamps go by IEC 60998-1; of the others the last size is the sum of IEC 60998-2-4, all before are preferred numbers",
)
def class_size_source(c: Context) -> Iterator[Comparison]:
    last: dict[str, Decimal] = {}
    for row in c.rows(SIZE):
        last[row["series"]] = max(last.get(row["series"], Decimal(0)), Decimal(row["size_mm2"]))
    for row in c.rows(SIZE):
        right = "iec-60998-1" if row["series"] == "clamp" else "iso-3"
        if row["series"] in ("twist-on", "crimped") and Decimal(row["size_mm2"]) == last[row["series"]]:
            right = "iec-60998-2-4"
        yield Comparison(((row, "source"), (row, "series")), row.source == right, 0.0, right)


@check(
    "class-limit-unit",
    layer="keys",
    reads=(LIMIT,),
    what="a limit that is an area says so; counts are whole; divisors go with steps of R5 where the total or the run is divided",
)
def class_limit_unit(c: Context) -> Iterator[Comparison]:
    for row in c.rows(LIMIT):
        limit = row["limit"]
        area = not re.search("divisor|conductors|ways|steps|ratio", limit)
        yield Comparison(
            ((row, "unit"), (row, "limit")),
            row["unit"] == ("mm2" if area else ""),
            0.0,
            "mm2" if area else "nothing",
        )
        if (row["series"], limit) == ("tap", "most conductors"):
            yield Comparison(((row, "figure"),), row["figure"] == "2", 0.0, "2, one run and one tap")
        if re.search("conductors|ways|steps", limit):
            yield Comparison(((row, "figure"),), row["figure"].isdigit(), 0.0, "a whole number")


@check(
    "class-limit-scope",
    layer="second evidence",
    reads=(LIMIT, TEST),
    what="the widest and the thinnest conductor of a twist-on class are the ends of the scope of IEC 60998-2-4",
)
def class_limit_scope(c: Context) -> Iterator[Comparison]:
    scope = next((r for r in c.rows(TEST) if r["test"] == "scope, each conductor"), None)
    if scope is None:
        return
    ends = NUMBER.findall(scope["value"])
    for row in c.rows(LIMIT):
        if row["unit"] == "mm2":
            right = ends[-1] if row["limit"] == "widest" else ends[0]
            yield Comparison(((row, "figure"), (scope, "value")), row["figure"] == right, 0.0, right)
