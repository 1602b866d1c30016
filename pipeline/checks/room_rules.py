"""The room model: what its figures have in common with the code, the wires and the boxes that they stand for."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

MODEL, LIMITS, RULES, ALLOWANCES = "room_parameter", "nec_box_limit", "nec_fill_rule", "nec_314_16_b_2023"
WALLS, ENVELOPES, BOXES = "insulation_wall", "envelope_parameter", "nec_314_16_a_2023"

BARE = ("grounding", "fixture_grounding")
MM_PER_MIL = Decimal("0.0254")
TENTH = Decimal("0.1")


def _figures(c: Context) -> dict[tuple[str, str], tuple[RawRow, Decimal]]:
    return {(r["item"], r["parameter"]): (r, Decimal(r["figure"])) for r in c.rows(MODEL)}


def _tenths(value: Decimal) -> Decimal:
    return value.quantize(TENTH, ROUND_HALF_UP)


@check(
    "room-lengths",
    layer="cross-check",
    reads=(MODEL, LIMITS),
    what="a pigtail and the leads of a luminaire are as long as the free conductor of 300.14, what passes through twice that, "
    "a conductor that ends in the box 50 mm longer, a loop twice such a conductor",
    reason="The model goes by the length that the code asks for.",
)
def room_lengths(c: Context) -> Iterator[Comparison]:
    (free,) = {Decimal(r["limit_mm"]) for r in c.rows(LIMITS) if r["rule"] == "free_length"}
    wanted = {"through": 2 * free, "loop": 2 * (free + 50)}
    wanted |= dict.fromkeys(("pigtail", "fixture_wire", "fixture_grounding"), free)
    for (item, parameter), (row, figure) in _figures(c).items():
        if parameter == "length_mm":
            right = wanted.get(item, free + 50)
            yield Comparison(((row, "figure"), (row, "item")), figure == right, 0.0, str(right))


@check(
    "room-walls",
    layer="cross-check",
    reads=(MODEL, WALLS, ENVELOPES),
    what="grounding conductors are bare, leads of a luminaire have the wall of XF fixture wire, all others that of THHN, as in the "
    "envelope of a class, to the tenth of a millimetre",
)
def room_walls(c: Context) -> Iterator[Comparison]:
    (mils,) = {
        Decimal(r["wall_mil"])
        for r in c.rows(WALLS)
        if r["types"].startswith("THHN") and r["size_from"] == "14"
    }
    (envelope,) = {Decimal(r["figure"]) for r in c.rows(ENVELOPES) if r["parameter"] == "insulation_mm"}
    over = c.tables["insulated_conductor"]["XF", "18 AWG", "stranded"]["diameter_mm"]
    bare = c.tables["conductor"]["18 AWG", "stranded"]["diameter_mm"]
    lead = _tenths((Decimal(str(over)) - Decimal(str(bare))) / 2)
    for (item, parameter), (row, figure) in _figures(c).items():
        if parameter == "insulation_mm":
            right = (
                Decimal(0) if item in BARE else lead if item == "fixture_wire" else _tenths(mils * MM_PER_MIL)
            )
            ok = figure == right and (item in BARE or item == "fixture_wire" or figure == envelope)
            yield Comparison(((row, "figure"), (row, "item")), ok, 0.0, str(right))


@check(
    "room-device",
    layer="cross-check",
    reads=(MODEL, BOXES),
    what="the body of a device goes in the smallest device box of Table 314.16(A), and fills no less than half of each side",
    reason="The figures are estimates of ours: only that they can be true is checked.",
)
def room_device(c: Context) -> Iterator[Comparison]:
    sides = [r["trade_size_mm"].split(" x ") for r in c.rows(BOXES) if r["shape"] == "device"]
    high, wide, deep = (min(Decimal(side[n]) for side in sides) for n in range(3))
    for name, most in (("width_mm", wide), ("height_mm", high), ("depth_mm", deep)):
        row, figure = _figures(c)["device", name]
        ok = most / 2 <= figure <= most
        yield Comparison(((row, "figure"), (row, "parameter")), ok, 0.0, f"{most / 2} to {most}")


@check(
    "room-pieces",
    layer="cross-check",
    reads=(MODEL, RULES, ALLOWANCES),
    what="a barrier takes what 314.16(A) prints; a connector what some general twist-on class does, a terminal block more than "
    "that; every other piece less than one allowance of 18 AWG",
    reason="The figures are estimates of ours: only that they can be true is checked.",
)
def room_pieces(c: Context) -> Iterator[Comparison]:
    (barrier,) = {Decimal(r["volume_cm3"]) for r in c.rows(RULES) if r["rule"] == "barrier_metal"}
    (most,) = (Decimal(r["volume_cm3"]) for r in c.rows(ALLOWANCES) if r["size"] == "18")
    rooms = [
        Decimal(str(r["room_cm3"]))
        for r in c.tables["connector_class"].values()
        if r["family"] == "twist-on" and r["variant"] == "general"
    ]
    bounds = {
        "barrier": (barrier, barrier),
        "connector": (min(rooms), max(rooms)),
        "terminal_block": (max(rooms), most),
    }
    for (item, parameter), (row, figure) in _figures(c).items():
        if parameter == "volume_cm3":
            low, high = bounds.get(item, (Decimal("0.1"), most))
            ok, right = low <= figure <= high, f"from {low} to {high}"
            yield Comparison(((row, "figure"), (row, "item")), ok, 0.0, right)
