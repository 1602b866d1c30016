"""The room model: what its figures have in common with the code, the wires and the classes that they stand for."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

MODEL, LIMITS, RULES, ALLOWANCES = "room_parameter", "nec_box_limit", "nec_fill_rule", "nec_314_16_b_2023"
WALLS, ENVELOPES = "insulation_wall", "envelope_parameter"

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
    reads=(MODEL, ALLOWANCES),
    what="the body of a device is two thirds of a 2 in box wide, twice as high, and as deep as two allowances of 14 AWG let it be",
    reason="The code counts a yoke as two conductors; a usual body takes about that, in whole millimetres.",
)
def room_device(c: Context) -> Iterator[Comparison]:
    figures = _figures(c)
    (width, wide), (height, high), (depth, deep) = (
        figures["device", name] for name in ("width_mm", "height_mm", "depth_mm")
    )
    right = (Decimal("50.8") * 2 / 3).quantize(Decimal(1), ROUND_HALF_UP)
    yield Comparison(((width, "figure"),), wide == right, 0.0, str(right))
    yield Comparison(((height, "figure"), (width, "figure")), high == 2 * right, 0.0, str(2 * right))
    (allowance,) = (Decimal(r["volume_cm3"]) for r in c.rows(ALLOWANCES) if r["size"] == "14")
    most = 2000 * allowance // (right * 2 * right)
    yield Comparison(((depth, "figure"),), deep == most, 0.0, str(most))


@check(
    "room-pieces",
    layer="cross-check",
    reads=(MODEL, RULES, ALLOWANCES),
    what="a barrier takes what 314.16(A) prints; a connector of unknown class takes that of twist-on 25 to the half; whole cubic "
    "centimetres of stud, clamp and hickey one apart; a terminal block over a barrier and under an allowance of 18 AWG",
)
def room_pieces(c: Context) -> Iterator[Comparison]:
    pieces = {item: found for (item, parameter), found in _figures(c).items() if parameter == "volume_cm3"}
    (barrier,) = {Decimal(r["volume_cm3"]) for r in c.rows(RULES) if r["rule"] == "barrier_metal"}
    room = Decimal(str(c.tables["connector_class"]["twist-on 25",]["room_cm3"]))
    (most,) = (Decimal(r["volume_cm3"]) for r in c.rows(ALLOWANCES) if r["size"] == "18")
    half = (2 * room).quantize(Decimal(1), ROUND_HALF_UP) / 2
    exact = {"barrier": barrier, "connector": half, "stud": Decimal(int(half) + 1)}
    exact |= {"clamp": exact["stud"] + 1, "hickey": exact["stud"] + 2}
    for item, (row, figure) in pieces.items():
        if item in exact:
            yield Comparison(((row, "figure"), (row, "item")), figure == exact[item], 0.0, str(exact[item]))
        else:
            ok = barrier < figure < most / 2 and figure % 1 == 0
            yield Comparison(
                ((row, "figure"), (row, "item")), ok, 0.0, f"whole, over {barrier}, under {most / 2}"
            )
