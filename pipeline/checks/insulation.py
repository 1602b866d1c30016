"""Insulation types: ratings against a second source and against the letters of their names."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow
from pipeline.tables.insulated import types_of

RATING, SECOND, MEMORY = "insulation_rating", "insulation_rating_nom", "insulation_rating_memory"
FIXTURE, FIXTURE_SECOND, VOLTAGE = "fixture_wire_rating", "fixture_wire_rating_nom", "insulation_voltage"

#: Types that came into the code after the edition that the second source follows.
NEWER = frozenset({"XHWN", "XHHN", "XHWN-2"})


@check(
    "insulation-two-sources",
    layer="second evidence",
    reads=(RATING, SECOND),
    what="two sources rate each type alike under each condition",
    reason="Types newer than the second source stand in the first alone; Z and ZW in dry and damp places in the second alone.",
)
def insulation_two_sources(c: Context) -> Iterator[Comparison]:
    first, second = ({(r["types"], r["condition"]): r for r in c.rows(stem)} for stem in (RATING, SECOND))
    alone = {("Z, ZW", "dry and damp")}
    for key, row in first.items():
        other = second.get(key)
        if other is None:
            cells = ((row, "types"), (row, "condition"))
            yield Comparison(cells, row["types"] in NEWER, 0.0, f"a row that raw/{SECOND}.csv has too")
            continue
        same = row["temperature_degc"] == other["temperature_degc"]
        yield Comparison(
            ((row, "temperature_degc"), (other, "temperature_degc")),
            same,
            float(not same),
            other["temperature_degc"],
        )
    for key, row in second.items():
        yield Comparison(
            ((row, "types"), (row, "condition")),
            key in first or key in alone,
            0.0,
            f"a row that raw/{RATING}.csv has too",
        )
    for key in alone:
        row = c.rows(SECOND)[0]
        yield Comparison(((row, "types"),), key in second, 0.0, f"a row {', '.join(key)}")
    for name in NEWER:
        row = c.rows(RATING)[0]
        yield Comparison(((row, "types"),), any(k[0] == name for k in first), 0.0, f"a row for {name}")


@check(
    "fixture-wire-two-sources",
    layer="second evidence",
    reads=(FIXTURE, FIXTURE_SECOND),
    what="two sources rate each fixture wire alike",
)
def fixture_two_sources(c: Context) -> Iterator[Comparison]:
    first, second = ({r["types"]: r for r in c.rows(stem)} for stem in (FIXTURE, FIXTURE_SECOND))
    for rows, against in ((first, second), (second, first)):
        for types, row in rows.items():
            other = against.get(types)
            if other is None:
                yield Comparison(
                    ((row, "types"),), False, 0.0, "types that the other source rates together too"
                )
                continue
            same = row["temperature_degc"] == other["temperature_degc"]
            yield Comparison(
                ((row, "temperature_degc"), (other, "temperature_degc")),
                same,
                float(not same),
                other["temperature_degc"],
            )


@check(
    "insulation-letters",
    layer="cross-check",
    reads=(RATING, SECOND, MEMORY),
    what="R, T and X types are rated by their letters: -2 is 90 °C dry and wet, HH 90 °C dry and 75 °C wet, one H "
    "75 °C, none 60 °C",
    reason="The letters are the code's own shorthand for heat resistance and moisture resistance.",
)
def insulation_letters(c: Context) -> Iterator[Comparison]:
    for stem in (RATING, SECOND, MEMORY):
        for row in c.rows(stem):
            for name in types_of(row["types"]):
                expected = _by_letters(name, row["condition"])
                if expected:
                    cells = ((row, "temperature_degc"), (row, "types"), (row, "condition"))
                    yield Comparison(
                        cells,
                        row["temperature_degc"] == expected,
                        0.0,
                        f"{expected} for {name}, {row['condition']}",
                    )


def _by_letters(name: str, condition: str) -> str | None:
    """Rating that the letters of a type name give; "no rating" where they give none for the condition."""
    if not re.fullmatch(r"(RH|T|TH|XH)[HWN]+(-2)?", name):
        return None
    if "special" in condition or name.endswith("-2"):
        return "90"
    if "HH" in name:
        return {"dry and damp": "90", "dry": "90", "wet": "75"}.get(condition, "no rating")
    if condition != "dry and wet":
        return "no rating"
    return "75" if "H" in name else "60"


@check(
    "insulation-once",
    layer="keys",
    reads=(RATING, FIXTURE, MEMORY, VOLTAGE),
    what="a type is rated once for each location, special conditions lie above the general rating, and types of a lower voltage "
    "are fixture wires below the voltage of all others",
)
def insulation_once(c: Context) -> Iterator[Comparison]:
    seen: dict[tuple[str, str], RawRow] = {}
    general: dict[str, int] = {}
    for row in c.rows(RATING):
        for name in types_of(row["types"]):
            for location in (
                ("dry", "damp", "wet")
                if row["condition"].startswith(("dry and", "wet")) or row["condition"] == "dry"
                else ()
            ):
                if location in row["condition"]:
                    yield Comparison(
                        ((row, "types"),),
                        (name, location) not in seen,
                        0.0,
                        f"one rating for {name} in {location} locations",
                    )
                    seen[name, location] = row
                    general[name] = max(general.get(name, 0), int(row["temperature_degc"]))
    for stem in (RATING, MEMORY):
        for row in c.rows(stem):
            if "special" in row["condition"]:
                for name in types_of(row["types"]):
                    ok = int(row["temperature_degc"]) > general.get(name, 0)
                    yield Comparison(
                        ((row, "temperature_degc"), (row, "types")),
                        ok,
                        0.0,
                        f"more than {general.get(name, 0)}, the general rating",
                    )
    yield from _voltages(c)


def _voltages(c: Context) -> Iterator[Comparison]:
    fixture = {name for row in c.rows(FIXTURE) for name in types_of(row["types"])}
    others = {row["category"]: row for row in c.rows(VOLTAGE) if row["types"] == "all others"}
    first = c.rows(VOLTAGE)[0]
    yield Comparison(
        ((first, "category"), (first, "types")),
        len(others) == 2,
        0.0,
        "a voltage of all others for each category",
    )
    named = [row for row in c.rows(VOLTAGE) if row["types"] != "all others"]
    yield Comparison(((first, "types"),), len(named) == 1, 0.0, "one row of types with a lower voltage")
    for row in others.values():
        yield Comparison(
            ((row, "voltage_v"),), row["voltage_v"] == "600", 0.0, "600, the voltage of building wire"
        )
    for row in named:
        cells = ((row, "voltage_v"), (row, "types"))
        yield Comparison(
            cells,
            row["voltage_v"] < others.get("fixture wire", row)["voltage_v"],
            0.0,
            "less than all others",
        )
        for name in types_of(row["types"]):
            ok = name in fixture and (name.endswith("-1") or name.startswith("XF"))
            yield Comparison(
                ((row, "types"), (row, "category")),
                ok and row["category"] == "fixture wire",
                0.0,
                "fixture wires of thin insulation",
            )
        low = {name for name in fixture if name.endswith("-1") or name.startswith("XF")}
        yield Comparison(((row, "types"),), low == set(types_of(row["types"])), 0.0, ", ".join(sorted(low)))
