"""Test figures of connectors: rules that make them, and a neighbouring standard."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import ROUND_CEILING, Decimal
from itertools import pairwise

from pipeline.checks import Cell, Comparison, Context, check
from pipeline.checks.connector_test_form import NUMBER, TEST, tests_of

__all__: list[str] = []

PULL, SIZES = "iec_60947_1_pull", "iec_60947_1_size"


@check(
    "connector-test-current-law",
    layer="cross-check",
    reads=(TEST,),
    what="test currents from 1 mm2 follow 13.5 A times the area to the power 0.625",
    tolerance="half an ampere, the figures being printed in whole or half amperes",
    reason="They are the ampacities of IEC 60364-5-52 for two loaded PVC conductors in conduit (method B1), whose Annex D gives this law.",
)
def connector_test_current_law(c: Context) -> Iterator[Comparison]:
    for size, row in tests_of(c, "rated connecting capacity").items():
        if NUMBER.fullmatch(size) and Decimal(size) >= 1 and NUMBER.fullmatch(row["value"]):
            law = Decimal("13.5") * Decimal(size) ** Decimal("0.625")
            off = abs(Decimal(row["value"]) - law)
            whole = Decimal(row["value"]) % 1 == 0 or (
                Decimal(size) < 2 and (2 * Decimal(row["value"])) % 1 == 0
            )
            yield Comparison(
                ((row, "value"), (row, "size")),
                off <= Decimal("0.5") and whole,
                float(2 * off),
                f"{law:.1f}, rounded",
            )
    small = {
        s: r
        for s, r in tests_of(c, "rated connecting capacity").items()
        if NUMBER.fullmatch(s) and Decimal(s) < 1
    }
    for size, row in small.items():
        # Below 1 mm2 the law gives more than wires so thin are tested with.
        law = Decimal("13.5") * Decimal(size) ** Decimal("0.625")
        ok = (
            NUMBER.fullmatch(row["value"]) is not None
            and law * Decimal("0.65") <= Decimal(row["value"]) < law
        )
        ok = ok and Decimal(row["value"]) % 1 == 0
        yield Comparison(((row, "value"), (row, "size")), ok, 0.0, f"whole amperes, 65 to 100 % of {law:.1f}")
    every = sorted(
        (
            r
            for s, r in tests_of(c, "rated connecting capacity").items()
            if NUMBER.fullmatch(s) and NUMBER.fullmatch(r["value"])
        ),
        key=lambda r: Decimal(r["size"]),
    )
    for one, middle, last in zip(every, every[1:], every[2:], strict=False):
        if Decimal(middle["size"]) < 1:
            mean = (Decimal(one["value"]) * Decimal(last["value"])).sqrt()
            off = abs(Decimal(middle["value"]) - mean)
            cells = tuple((r, "value") for r in (middle, one, last))
            yield Comparison(cells, off <= 1, float(off), f"about {mean:.1f}, between its neighbours")


@check(
    "connector-test-round",
    layer="cross-check",
    reads=(TEST,),
    what="single test figures are round: rises and numbers of cycles by current in 25s, hourly cycles in whole days, shares in tens of a "
    "per cent, clearances in quarters of a millimetre",
)
def connector_test_round(c: Context) -> Iterator[Comparison]:
    for row in c.rows(TEST):
        value = row["value"]
        step = (
            Decimal(24)
            if row["unit"] == "temperature cycles"
            else Decimal(25)
            if row["unit"] in ("K", "cycles")
            else None
        )
        step = Decimal(10) if " % of " in value else Decimal("0.25") if row["unit"] == "mm" else step
        if row["unit"] == "A" and row["standard"].startswith("UL"):
            step = Decimal(5)
        if step is not None:
            figures = NUMBER.findall(re.sub(r"\(.*?\)", "", value))
            ok = bool(figures) and all(Decimal(f) % step == 0 and Decimal(f) > 0 for f in figures)
            ok = ok and (" % of " not in value or Decimal(figures[0]) < 100)
            yield Comparison(((row, "value"), (row, "unit")), ok, 0.0, f"multiples of {step}")


@check(
    "connector-test-neighbour",
    layer="second evidence",
    reads=(TEST, PULL),
    what="pull and flexing figures of IEC 60999-1 are those of IEC 60947-1 at the same area",
    tolerance="exact for forces and masses; diameters up to the half millimetre, heights to the centimetre",
    reason="IEC 60999-1 rounds the inch-made dimensions of the older table.",
)
def connector_test_neighbour(c: Context) -> Iterator[Comparison]:
    table = {Decimal(row["mm2"]): row for row in c.rows(PULL)}
    pulls, flexing = tests_of(c, "pull test"), tests_of(c, "flexing")
    for size, row in pulls.items():
        other = table.get(Decimal(size))
        right = other["pull_n"] if other is not None else "a size of both tables"
        cells: tuple[Cell, ...] = ((row, "value"), (row, "size"))
        cells += ((other, "pull_n"),) if other is not None else ()
        yield Comparison(cells, row["value"] == right, 0.0, right)
    for size, row in flexing.items():
        other = table.get(Decimal(size))
        if other is None:
            yield Comparison(((row, "size"),), False, 0.0, "a size of both tables")
            continue
        bushing = (2 * Decimal(other["bushing_mm"])).quantize(Decimal(1), ROUND_CEILING) / 2
        height = (Decimal(other["height_mm"]) / 10).quantize(Decimal(1)) * 10
        right = f"bushing {bushing:.1f}; height {height}; mass {other['mass_kg']}"
        cells = ((row, "value"), (row, "size"), *((other, k) for k in ("bushing_mm", "height_mm", "mass_kg")))
        yield Comparison(cells, row["value"] == right, 0.0, right)


@check(
    "pull-table",
    layer="cross-check",
    reads=(PULL, SIZES),
    what="the table of IEC 60947-1 pairs AWG with mm2 as its Table 1 does, has three dimensions in inches of sixteenths or quarters, "
    "and rises with the conductor",
)
def pull_table(c: Context) -> Iterator[Comparison]:
    pairs = {Decimal(r["metric_mm2"]): r for r in c.rows(SIZES) if NUMBER.fullmatch(r["metric_mm2"])}
    rows = sorted(c.rows(PULL), key=lambda r: Decimal(r["mm2"]))
    for row in rows:
        pair = pairs.get(Decimal(row["mm2"]))
        right = pair["size"] if pair is not None else ""
        yield Comparison(((row, "awg"), (row, "mm2")), row["awg"] == right, 0.0, right or "nothing")
        sixteenths = Decimal(row["bushing_mm"]) / Decimal("25.4") * 16
        off = abs(sixteenths - round(sixteenths)) * Decimal("25.4") / 16
        yield Comparison(
            ((row, "bushing_mm"),),
            off <= Decimal("0.15"),
            float(off / Decimal("0.15")),
            "sixteenths of an inch to a tenth of a millimetre",
        )
    for one, other in pairwise(rows):
        fives = other["pull_n"].isdigit() and int(other["pull_n"]) % 5 == int(one["pull_n"]) % 5 == 0
        yield Comparison(((one, "pull_n"), (other, "pull_n")), fives, 0.0, "newtons in fives")
        for column in ("bushing_mm", "height_mm", "mass_kg", "pull_n"):
            strict = column == "pull_n"
            step = Decimal(other[column]) - Decimal(one[column])
            yield Comparison(
                ((other, column), (one, column)),
                step > 0 or (step == 0 and not strict),
                0.0,
                f"more than {one[column]}",
            )
        same = one["bushing_mm"] == other["bushing_mm"]
        yield Comparison(
            ((other, "height_mm"), (other, "bushing_mm")),
            same == (one["height_mm"] == other["height_mm"]),
            0.0,
            "a height for each bushing",
        )


@check(
    "connector-test-ampacity",
    layer="cross-check",
    reads=(TEST,),
    what="static heating currents are in fives, aluminium carries 76 to 86 % of copper, and each size lies between its neighbours",
    tolerance="5 A from the geometric mean of the neighbours: half of the 5 A that each is rounded to, twice",
    reason="The ampacities of the code are rounded to 5 A; a law for them is not printed.",
)
def connector_test_ampacity(c: Context) -> Iterator[Comparison]:
    rows = [r for r in c.rows(TEST) if r["test"] == "static heating, test current"]
    copper = {r["size"]: r for r in rows if r["material"] == "Cu"}
    aluminium = {r["size"]: r for r in rows if r["material"] == "Al"}
    for row in rows:
        ok = row["value"].isdigit() and int(row["value"]) % 5 == 0
        yield Comparison(((row, "value"), (row, "unit")), ok, 0.0, "a multiple of 5 A")
    for size, row in aluminium.items():
        other = copper.get(size)
        ok = other is not None and 76 * int(other["value"]) <= 100 * int(row["value"]) <= 86 * int(
            other["value"]
        )
        cells: tuple[Cell, ...] = ((row, "value"), (row, "size")) + (
            ((other, "value"),) if other is not None else ()
        )
        yield Comparison(cells, ok, 0.0, f"76 to 86 % of copper at {size} AWG")
    for table in (copper, aluminium):
        for one, middle, last in (
            ("12", "10", "8"),
            ("10", "8", "6"),
            ("8", "6", "4"),
            ("4", "3", "2"),
            ("3", "2", "1"),
            ("2", "1", "1/0"),
        ):
            if all(s in table for s in (one, middle, last)):
                a, b, d = (int(table[s]["value"]) for s in (one, middle, last))
                off = abs(b - (Decimal(a) * d).sqrt())
                cells = tuple((table[s], "value") for s in (middle, one, last))
                yield Comparison(cells, off <= 5, float(off / 5), f"between {a} and {d}")
    first, second = copper.get("14"), copper.get("12")
    if first is not None and second is not None:
        ok = 80 * int(second["value"]) <= 100 * int(first["value"]) <= 92 * int(second["value"])
        yield Comparison(((first, "value"), (second, "value")), ok, 0.0, f"80 to 92 % of {second['value']}")


@check(
    "connector-test-scope",
    layer="cross-check",
    reads=(TEST,),
    what="a scope by mm2 says its sizes again as its value; one and a half times the first voltage drop is allowed after ageing; the "
    "two Canadian-American scopes for thin copper agree",
)
def connector_test_scope(c: Context) -> Iterator[Comparison]:
    for row in c.rows(TEST):
        if row["role"] == "scope" and row["size_system"] == "mm2":
            right = row["size"].removeprefix("max ")
            yield Comparison(((row, "value"), (row, "size")), row["value"] == right, 0.0, right)
    drops = {row["test"]: row for row in c.rows(TEST) if row["test"].startswith("voltage drop")}
    first, aged = drops.get("voltage drop at test current, initial"), drops.get("voltage drop after ageing")
    if first is not None and aged is not None:
        allowed, times = ([*NUMBER.findall(aged["value"]), "0", "0"])[:2]
        ok = (
            NUMBER.fullmatch(first["value"]) is not None
            and Decimal(first["value"]) * Decimal("1.5") == Decimal(allowed)
            and times == "1.5"
        )
        yield Comparison(((aged, "value"), (first, "value")), ok, 0.0, "1.5 times the initial drop")
    thin = [r for r in c.rows(TEST) if r["role"] == "scope" and r["size"].startswith("30 to")]
    for one, other in pairwise(thin):
        same = set(re.split("; ", one["size"])) == set(re.split("; ", other["size"]))
        yield Comparison(((one, "size"), (other, "size")), same, 0.0, other["size"])
