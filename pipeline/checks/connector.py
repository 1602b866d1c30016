"""Checks of connector facts, tests and ratings."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from jointable.errors import InputError
from jointable.geometry import default_construction
from jointable.notation import Joint
from jointable.schedule_joints import JOINED
from pipeline.checks import Comparison, Context, check
from pipeline.intervals import Printed, exact
from pipeline.readings import RawRow

__all__: list[str] = []

#: Newton in a pound-force.
_LBF = "4.4482216152605"

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


@check(
    "connector-test-monotone",
    layer="cross-check",
    reads=("connector_test",),
    what="figures of one test do not fall as the conductor grows",
    tolerance="none",
    reason="A thicker conductor is pulled harder and carries more.",
)
def connector_test_monotone(c: Context) -> Iterator[Comparison]:
    groups: dict[tuple[str, ...], list[tuple[Decimal, Decimal, RawRow]]] = {}
    for row in c.rows("connector_test"):
        size = _size(row["size"], row["size_system"])
        last = _NUMBER.findall(row["value"])
        if size is not None and last and row["role"] in ("input", "limit"):
            groups.setdefault((row["standard"], row["test"], row["material"]), []).append(
                (size, Decimal(last[-1]), row)
            )
    for found in groups.values():
        found.sort(key=lambda g: g[0])
        for (_, low, one), (_, high, other) in pairwise(found):
            yield Comparison(
                ((other, "value"), (one, "value"), (other, "size")),
                low <= high,
                0.0,
                f"at least {low}, as at {one['size']}",
            )


def _size(text: str, system: str) -> Decimal | None:
    """A size as a number that grows with the conductor."""
    if re.fullmatch(r"\d/0", text) and system == "AWG":
        return Decimal(text[0])
    if not re.fullmatch(r"\d+(\.\d+)?", text):
        return None
    return -Decimal(text) if system == "AWG" else Decimal(text)


@check(
    "connector-test-heat-cycle",
    layer="cross-check",
    reads=("connector_test",),
    what="heat-cycling currents at 4 AWG are 1.12 and 1.40 times the static one",
)
def connector_test_heat_cycle(c: Context) -> Iterator[Comparison]:
    rows = {r["test_id"]: r for r in c.rows("connector_test")}
    static = rows.get("UL 486A-486B static heating test current 4 AWG")
    for rating, factor in (("75", "1.12"), ("90", "1.40")):
        cycled = rows.get(f"UL 486A-486B heat cycling test current {rating} C connector 4 AWG")
        if static is not None and cycled is not None:
            right = Decimal(static["value"]) * Decimal(factor)
            yield Comparison(
                ((cycled, "value"), (static, "value")),
                Decimal(cycled["value"]) == right,
                0.0,
                f"{right}, {factor} times {static['value']}",
            )


@check(
    "connector-test-lbf",
    layer="cross-check",
    reads=("connector_test",),
    what="newtons beside pounds-force",
    tolerance="one unit of the last printed digit of the newtons",
    reason="One of the two is printed cut off (57 N beside 13 lbf, 57.8 N), so rounding alone is too narrow.",
)
def connector_test_lbf(c: Context) -> Iterator[Comparison]:
    for row in c.rows("connector_test"):
        found = re.fullmatch(r"(\d+) \((\d+)\)", row["value"])
        if found and row["unit"] == "N (lbf)":
            right = Decimal(found[2]) * Decimal(_LBF)
            off = abs(Decimal(found[1]) - right)
            yield Comparison(((row, "value"),), off < 1, float(off), f"{right:.1f} N for {found[2]} lbf")


@check(
    "connector-test-area",
    layer="cross-check",
    reads=("connector_test",),
    what="areas beside AWG sizes in the scopes are those of the sizes",
    tolerance="half a unit of the last printed digit",
)
def connector_test_area(c: Context) -> Iterator[Comparison]:
    sizes = c.tables["conductor_size"]
    for row in c.rows("connector_test"):
        if row["role"] != "scope" or row["size_system"] != "AWG" or row["unit"] != "mm2":
            continue
        awg, areas = _NUMBER.findall(row["size"]), _NUMBER.findall(row["value"])
        named = {n: Decimal(str(sizes[(f"{n} AWG",)]["area_mm2"])) for n in awg if (f"{n} AWG",) in sizes}
        for area in areas:
            near = min(named.values(), key=lambda a: abs(a - Decimal(area)), default=None)
            if near is not None:
                ok = Printed(area).meets(exact(str(near)))
                residual = Printed(area).residual(exact(str(near)))
                yield Comparison(((row, "value"), (row, "size")), ok, residual, f"an area that rounds {near}")


@check(
    "connector-test-named",
    layer="keys",
    reads=("connector_test",),
    what="the id of a test row names its standard and its size",
)
def connector_test_named(c: Context) -> Iterator[Comparison]:
    for row in c.rows("connector_test"):
        words = row["test_id"]
        yield Comparison(
            ((row, "standard"), (row, "test_id")),
            words.startswith(row["standard"]),
            0.0,
            "the standard that the id begins with",
        )
        if row["size"] and row["size"] != "all":
            yield Comparison(
                ((row, "size"), (row, "test_id")),
                f" {row['size']} " in f"{words} ",
                0.0,
                "the size that the id names",
            )


@check(
    "temperature-class-named",
    layer="cross-check",
    reads=("temperature_rating",),
    what="a temperature class of connectors is named by its temperature, and planned temperatures are such classes",
)
def temperature_class_named(c: Context) -> Iterator[Comparison]:
    for row in c.rows("temperature_rating"):
        found = re.fullmatch(r"operating temperature class (\d+)", row["item"])
        if found:
            yield Comparison(((row, "value"), (row, "item")), row["value"] == found[1], 0.0, found[1])


@check(
    "planned-temperature-class",
    layer="cross-check",
    reads=("connector_variant", "temperature_rating"),
    what="the planned temperature of a variant is a rating class of connectors: the highest for high temperature, the one below for all others",
)
def planned_temperature(c: Context) -> Iterator[Comparison]:
    classes = {
        int(r["value"]): r
        for r in c.rows("temperature_rating")
        if r["item"].startswith("operating temperature class")
    }
    ladder = sorted(classes)
    for row in c.rows("connector_variant"):
        if row["aspect"] == "planned_degc" and len(ladder) > 1:
            right = ladder[-1] if row["variant"] == "high temperature" else ladder[-2]
            yield Comparison(
                ((row, "value"), (classes[right], "value")), row["value"] == str(right), 0.0, str(right)
            )


@check(
    "temperature-second-source",
    layer="second evidence",
    reads=("insulation_rating", "insulation_rating_nom", "fixture_wire_rating", "fixture_wire_rating_nom"),
    what="ratings of insulation as two sources print them",
)
def temperature_second_source(c: Context) -> Iterator[Comparison]:
    readings: dict[tuple[str, ...], list[tuple[RawRow, str, str]]] = {}
    for r in c.readings("temperature_rating"):
        if r.column == "value":
            readings.setdefault(r.key, []).append((r.row, r.raw_column, str(r.value)))
    for found in readings.values():
        if len(found) > 1:
            cells = tuple((row, column) for row, column, _ in found)
            yield Comparison(
                cells, len({v for *_, v in found}) == 1, 0.0, f"{found[1][2]}, as {found[1][0].source} has it"
            )


@check(
    "family-complete",
    layer="keys",
    reads=("connector_family", "family_variant", "envelope_parameter"),
    what="each family has its facts, its general variant and its envelope, and no file names another",
)
def family_complete(c: Context) -> Iterator[Comparison]:
    families = {r["family"] for r in c.rows("connector_family")}
    for stem in ("family_variant", "envelope_parameter"):
        for row in c.rows(stem):
            yield Comparison(
                ((row, "family"),), row["family"] in families, 0.0, "a family of connector_family.csv"
            )
    general = {r["family"] for r in c.rows("family_variant") if r["variant"] == "general"}
    modelled = {r["family"] for r in c.rows("envelope_parameter")}
    for row in c.rows("connector_family"):
        if row["aspect"] == "series":
            yield Comparison(
                ((row, "family"),),
                row["family"] in general & modelled,
                0.0,
                "a family with a general variant and an envelope",
            )


@check(
    "usual-mix-written",
    layer="keys",
    reads=("usual_mix",),
    what="each mix is a joint as it is printed back, of sizes of the tables, and stands once whatever its order",
)
def usual_mix_written(c: Context) -> Iterator[Comparison]:
    seen: set[str] = set()
    known = {key[0] for key in c.tables["conductor_size"]}
    for row in c.rows("usual_mix"):
        text = row["conductors"]
        try:
            joint = Joint.parse(text)
        except InputError as error:
            yield Comparison(((row, "conductors"),), False, 0.0, str(error))
            continue
        ok = (
            _said_back(joint) == text
            and str(joint) not in seen
            and {t.size for t in joint.conductors} <= known
        )
        seen.add(str(joint))
        yield Comparison(
            ((row, "conductors"),), ok, 0.0, f"once, as {_said_back(joint)}, sizes of the tables"
        )


def _said_back(joint: Joint) -> str:
    """A joint with its construction only where it is not the usual one."""
    return " + ".join(
        f"{t.count}x{t.size}"
        + ("" if t.construction == default_construction(t.size) else f" {t.construction}")
        for t in joint.conductors
    )


#: What the model of an item needs to be whole.
_ROOM_MODELS = (
    frozenset({"length_mm", "insulation_mm"}),
    frozenset({"width_mm", "height_mm", "depth_mm"}),
    frozenset({"volume_cm3"}),
)


@check(
    "room-complete",
    layer="keys",
    reads=("room_parameter",),
    what="each conductor of a schedule has a length and a wall, each body its sides or its volume, in the unit of its name",
)
def room_complete(c: Context) -> Iterator[Comparison]:
    held: dict[str, list[RawRow]] = {}
    for row in c.rows("room_parameter"):
        held.setdefault(row["item"], []).append(row)
        unit = row["parameter"].rpartition("_")[2]
        yield Comparison(((row, "unit"),), row["unit"] == unit, 0.0, unit)
    for item, rows in held.items():
        models = _ROOM_MODELS[:1] if item in JOINED else _ROOM_MODELS[1:]
        found = frozenset(r["parameter"] for r in rows)
        yield Comparison(
            ((rows[0], "item"),), found in models, 0.0, "an item with all parameters of its model"
        )
    first = next(iter(held.values()), [])[:1]
    for row in first:
        missing = [item for item in JOINED if item not in held]
        yield Comparison(((row, "item"),), not missing, 0.0, f"rows for {', '.join(missing)} too")


@check(
    "family-voltage",
    layer="cross-check",
    reads=("connector_family", "connector_test"),
    what="the highest voltage of an insulated family is the highest marking of its standard; of an uninsulated one, its scope",
)
def family_voltage(c: Context) -> Iterator[Comparison]:
    tests = {r["test_id"]: r for r in c.rows("connector_test")}
    marking = tests.get("UL 486C voltage marking allowed")
    scope = tests.get("UL 486C uninsulated connector voltage limit")
    if marking is None or scope is None:
        return
    highest = max(int(v) for v in _NUMBER.findall(marking["value"].split(";")[0]))
    for row in c.rows("connector_family"):
        if row["aspect"] != "greatest_voltage_v" or row["family"] == "split bolt":
            continue
        source = scope if row["family"] == "crimped pigtail" else marking
        right = scope["value"] if source is scope else str(highest)
        yield Comparison(((row, "value"), (source, "value")), row["value"] == right, 0.0, right)


@check(
    "caution-numbered",
    layer="keys",
    reads=("caution",),
    what="cautions are numbered from C1 without a gap",
)
def caution_numbered(c: Context) -> Iterator[Comparison]:
    for number, row in enumerate(sorted(c.rows("caution"), key=lambda r: int(r["id"][1:])), 1):
        yield Comparison(((row, "id"),), row["id"] == f"C{number}", 0.0, f"C{number}")
