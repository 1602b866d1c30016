"""Checks of the defining rows of the classes: preferred numbers, steps, and outcomes of common practice."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from fractions import Fraction

from pipeline.checks import Cell, Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

#: R5 has five steps to a factor of ten; its numbers are rounded to two figures, one of them less freely.
_R5 = 5


def _r5(step: int) -> Fraction:
    """Ten to the step-th part of five, near enough to round by."""
    return Fraction(Decimal(10) ** (Decimal(step) / _R5))


def _step(size: str) -> int | None:
    """The step of R5 that a size stands for: it lies within half a unit of its second figure."""
    value = Decimal(size)
    half = Fraction(Decimal(1).scaleb(value.adjusted() - 1)) / 2
    steps = [s for s in range(-5, 16) if abs(Fraction(value) - _r5(s)) <= half]
    return steps[0] if steps else None


@check(
    "class-size-r5",
    layer="cross-check",
    reads=("class_size",),
    what="each size of a ladder of preferred numbers is a number of R5, and none is left out between",
    tolerance="half a unit of the second figure",
    reason="ISO 3 rounds the series to two figures.",
)
def class_size_r5(c: Context) -> Iterator[Comparison]:
    for rows in _ladders(c).values():
        ladder = [r for r in rows if r.source == "iso-3"]
        steps = [_step(r["size_mm2"]) for r in ladder]
        for at, row in enumerate(ladder):
            step = steps[at]
            yield Comparison(
                ((row, "size_mm2"),),
                step is not None,
                0.0,
                "a number of R5: 1, 1.6, 2.5, 4, 6.3 times a power of ten",
            )
            before = steps[at - 1] if at else None
            if at and step is not None and before is not None:
                yield Comparison(
                    ((row, "size_mm2"), (ladder[at - 1], "size_mm2")),
                    step == before + 1,
                    0.0,
                    f"the number of R5 after {ladder[at - 1]['size_mm2']}",
                )


def _ladders(c: Context) -> Mapping[str, list[RawRow]]:
    ladders: dict[str, list[RawRow]] = {}
    for row in c.rows("class_size"):
        ladders.setdefault(row["series"], []).append(row)
    return {name: sorted(rows, key=lambda r: Decimal(r["size_mm2"])) for name, rows in ladders.items()}


@check(
    "class-size-shared",
    layer="cross-check",
    reads=("class_size",),
    what="crimped sleeves have the sizes of twist-on classes and two smaller ones; taps go on from 6.3 by R5",
)
def class_size_shared(c: Context) -> Iterator[Comparison]:
    ladders = _ladders(c)
    sizes = {name: {r["size_mm2"] for r in rows} for name, rows in ladders.items()}
    for row in ladders.get("twist-on", []):
        yield Comparison(
            ((row, "size_mm2"),),
            row["size_mm2"] in sizes.get("crimped", set()),
            0.0,
            "a size that crimped sleeves have too",
        )
    for row in ladders.get("crimped", []):
        small = Decimal(row["size_mm2"]) < 1
        yield Comparison(
            ((row, "size_mm2"),),
            small or row["size_mm2"] in sizes.get("twist-on", set()),
            0.0,
            "a size that twist-on classes have too",
        )
    for name, first, last in (
        ("twist-on", "1", "35"),
        ("crimped", "0.4", "35"),
        ("clamp", "0.2", "25"),
        ("tap", "6.3", "250"),
    ):
        rows = ladders.get(name, [])
        if rows:
            yield Comparison(
                ((rows[0], "size_mm2"),),
                rows[0]["size_mm2"] == first,
                0.0,
                f"{first}, the first of the ladder",
            )
            yield Comparison(
                ((rows[-1], "size_mm2"),),
                rows[-1]["size_mm2"] == last,
                0.0,
                f"{last}, the last of the ladder",
            )


@check(
    "class-size-nominal",
    layer="cross-check",
    reads=("class_size", "iec_60228_class_1", "iec_60228_class_1_large"),
    what="capacities of clamps from 0.5 mm2 are nominal areas of IEC 60228, without one left out",
)
def class_size_nominal(c: Context) -> Iterator[Comparison]:
    rows_of_class_1 = [*c.rows("iec_60228_class_1"), *c.rows("iec_60228_class_1_large")]
    nominal = sorted({Decimal(r["mm2"]) for r in rows_of_class_1})
    rows = [r for r in _ladders(c).get("clamp", []) if Decimal(r["size_mm2"]) >= Decimal("0.5")]
    for row, size in zip(rows, nominal, strict=False):
        yield Comparison(
            ((row, "size_mm2"),), Decimal(row["size_mm2"]) == size, 0.0, f"{size}, the next nominal area"
        )


@check(
    "class-size-use",
    layer="cross-check",
    reads=("class_size",),
    what="a size is a class, but for the steps of clamps below 0.5 mm2",
)
def class_size_use(c: Context) -> Iterator[Comparison]:
    for row in c.rows("class_size"):
        below = row["series"] == "clamp" and Decimal(row["size_mm2"]) < Decimal("0.5")
        right = "step" if below else "class"
        yield Comparison(((row, "use"), (row, "size_mm2")), row["use"] == right, 0.0, right)


@check(
    "class-limit-steps",
    layer="cross-check",
    reads=("class_limit",),
    what="a divisor is as many steps of R5 as stand beside it",
    tolerance="half a unit of the second figure",
    reason="The divisors are numbers of R5, rounded as ISO 3 rounds them.",
)
def class_limit_steps(c: Context) -> Iterator[Comparison]:
    for row in c.rows("class_limit"):
        if row["r5_steps"]:
            steps = _step(row["figure"])
            yield Comparison(
                ((row, "figure"), (row, "r5_steps")),
                steps == int(row["r5_steps"]),
                0.0,
                f"10^({row['r5_steps']}/5) at two figures",
            )


@check(
    "class-limit-shared",
    layer="cross-check",
    reads=("class_limit",),
    what="limits that several ladders share are the same figure in each",
)
def class_limit_shared(c: Context) -> Iterator[Comparison]:
    groups: dict[str, list[RawRow]] = {}
    for row in c.rows("class_limit"):
        if row["limit"] in (
            "widest",
            "narrowest divisor",
            "tap divisor",
            "least conductors",
            "least ways",
            "steps down",
        ):
            name = (
                "wide divisor" if row["limit"] in ("tap divisor",) or row["grip"] == "wide" else row["limit"]
            )
            name = "two" if row["limit"] in ("least conductors", "least ways", "steps down") else name
            groups.setdefault(name, []).append(row)
        elif row["limit"] == "least total divisor" and row["grip"] == "wide":
            groups.setdefault("wide divisor", []).append(row)
        elif row["limit"] in ("most conductors", "most ways") and row["series"] != "tap":
            groups.setdefault("six", []).append(row)
    for rows in groups.values():
        for row in rows:
            other = next(r for r in rows if r is not row) if len(rows) > 1 else row
            yield Comparison(
                ((row, "figure"), (other, "figure")),
                row["figure"] == other["figure"],
                0.0,
                f"{other['figure']}, as for {other['series']}",
            )


@check(
    "class-outcome",
    layer="second evidence",
    reads=("class_outcome", "class_limit", "class_size"),
    what="each class takes the joints of common practice that it must take, and none that it must not",
    reason="The outcomes stand apart from the definitions; an arithmetic of its own decides them here.",
)
def class_outcome(c: Context) -> Iterator[Comparison]:
    classes, sizes = c.tables["connector_class"], c.tables["conductor_size"]
    limits: dict[str, tuple[Cell, ...]] = {}
    for row in c.rows("class_limit"):
        limits[row["series"]] = (*limits.get(row["series"], ()), (row, "figure"))
    for row in c.rows("class_outcome"):
        found = classes.get((row["class"],))
        if found is None:
            yield Comparison(((row, "class"),), False, 0.0, "the name of a class")
            continue
        areas = []
        for term in row["conductors"].split(" + "):
            count, _, size = term.partition("x")
            areas += [Decimal(str(sizes[(size,)]["area_mm2"]))] * int(count)
        taken = "yes" if _takes(found, areas) else "no"
        cells: tuple[Cell, ...] = ((row, "taken"), *limits.get(str(found["series"]), ()))
        yield Comparison(cells, taken == row["taken"], 0.0, f"{taken}, as the classes are defined")


def _takes(row: Mapping[str, str | None], areas: list[Decimal]) -> bool:
    """Whether a twist-on, crimped or tap class takes these areas, said once more and simply."""

    def limit(column: str) -> Decimal | None:
        text = row[column]
        return None if text is None else Decimal(text)

    total, least, most, over = (
        sum(areas),
        limit("min_total_mm2"),
        limit("max_total_mm2"),
        limit("over_run_mm2"),
    )
    narrow, wide = limit("min_conductor_mm2"), limit("max_conductor_mm2")
    return (
        int(str(row["min_conductors"])) <= len(areas) <= int(str(row["max_conductors"]))
        and (least is None or total >= least)
        and (most is None or total <= most)
        and (over is None or max(areas) > over)
        and (narrow is None or min(areas) >= narrow)
        and (wide is None or max(areas) <= wide)
    )
