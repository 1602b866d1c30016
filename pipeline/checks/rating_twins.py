"""Temperature ratings of insulation as two codes print them: the same rows, the same figures, rising classes."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import keys_agree

__all__: list[str] = []

FIXTURE, FIXTURE_NOM, VOLTAGE = "fixture_wire_rating", "fixture_wire_rating_nom", "insulation_voltage"


@check(
    "fixture-rating-twin",
    layer="second evidence",
    reads=(FIXTURE, FIXTURE_NOM),
    what="the Mexican law lists the same fixture wires as the code, at the same temperatures",
)
def fixture_rating_twin(c: Context) -> Iterator[Comparison]:
    ours = {(row["types"],): row for row in c.rows(FIXTURE)}
    theirs = {(row["types"],): row for row in c.rows(FIXTURE_NOM)}
    yield from keys_agree(ours, theirs)
    for key, row in ours.items():
        if key in theirs:
            other = theirs[key]
            cells = ((row, "temperature_degc"), (other, "temperature_degc"))
            yield Comparison(
                cells, row["temperature_degc"] == other["temperature_degc"], 0.0, other["temperature_degc"]
            )


@check(
    "fixture-voltage-types",
    layer="cross-check",
    reads=(VOLTAGE, FIXTURE),
    what="fixture wires with a lower voltage are types that have a temperature rating; all others have the voltage of building wire",
)
def fixture_voltage_types(c: Context) -> Iterator[Comparison]:
    rated = {name for row in c.rows(FIXTURE) for name in row["types"].split(", ")}
    usual = {row["voltage_v"] for row in c.rows(VOLTAGE) if row["types"] == "all others"}
    for row in c.rows(VOLTAGE):
        names = set(row["types"].split(", ")) - {"all others"}
        ok = names <= rated and (not names or row["category"] == "fixture wire")
        ok = ok and len(usual) == 1 and (row["voltage_v"] in usual) == (not names)
        yield Comparison(
            ((row, "types"), (row, "category"), (row, "voltage_v")),
            ok,
            0.0,
            "types of Table 402.3 at half the voltage",
        )
        if names:
            right = str(int(usual.copy().pop()) // 2)
            yield Comparison(((row, "voltage_v"),), row["voltage_v"] == right, 0.0, right)
