"""The envelope model: what its parameters have in common, and in which order they stand."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

from pipeline.checks import Cell, Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

MODEL, FAMILY, LIMIT, WALL = "envelope_parameter", "connector_family", "class_limit", "insulation_wall"

#: Parameters that are one figure in all families of a series; `*` in all families.
ONE_FIGURE = {
    "insulation_mm": "*", "sealed_wall_mm": "series", "grip_mm": "*",
    "reference_conductors": "whole", "depth_per_bore": "clamp", "wall_mm": "clamp",
}  # fmt: skip

#: Families in the order in which a parameter falls, and those that share it.
ORDER = {
    "strip_mm": ("twist-on", "crimped closed end", "crimped butt"),
    "strip_per_bore": ("twist-on", "crimped closed end", "crimped butt"),
    "skirt_mm": ("twist-on", "crimped closed end", "crimped butt"),
    "height_factor": ("screwless lever", "screw clamp", "screwless push-in"),
    "depth_mm": ("screwless lever", "screw clamp"),
    "wall_mm": ("insulation-piercing", "split bolt", "twist-on", "crimped closed end"),
    "depth_per_bore": ("insulation-piercing", "split bolt"),
    "end_mm": ("crimped closed end", "crimped butt"),
}
SAME = (
    ("strip_mm", "crimped closed end", "crimped pigtail"), ("strip_per_bore", "crimped closed end", "crimped pigtail"),
    ("depth_mm", "screw clamp", "screwless push-in"), ("wall_mm", "crimped closed end", "crimped butt"),
    ("end_mm", "twist-on", "crimped closed end"), ("end_mm", "crimped pigtail", "crimped closed end"),
)  # fmt: skip


def _model(c: Context) -> dict[str, dict[str, RawRow]]:
    out: dict[str, dict[str, RawRow]] = {}
    for row in c.rows(MODEL):
        out.setdefault(row["parameter"], {})[row["family"]] = row
    return out


def _series(c: Context) -> dict[str, str]:
    return {row["family"]: row["value"] for row in c.rows(FAMILY) if row["aspect"] == "series"}


@check(
    "envelope-form",
    layer="keys",
    reads=(MODEL,),
    what="a parameter in millimetres says so, factors and counts have no unit of length; lengths along the conductor are whole "
    "millimetres, walls half ones or tenths, factors tenths or a quarter",
)
def envelope_form(c: Context) -> Iterator[Comparison]:
    for row in c.rows(MODEL):
        name = row["parameter"]
        unit = "mm" if name.endswith("_mm") else "conductors" if name.endswith("conductors") else ""
        yield Comparison(((row, "unit"), (row, "parameter")), row["unit"] == unit, 0.0, unit or "nothing")
        step = (
            Decimal(1) if re.match(r"strip_mm|skirt|end|depth_mm|reference|sealed", name) else Decimal("0.1")
        )
        step = Decimal("0.05") if name == "wide_length_factor" else step
        yield Comparison(((row, "figure"),), Decimal(row["figure"]) % step == 0, 0.0, f"a multiple of {step}")


@check(
    "envelope-complete",
    layer="keys",
    reads=(MODEL, FAMILY),
    what="families of one series have the same parameters",
)
def envelope_complete(c: Context) -> Iterator[Comparison]:
    series = _series(c)
    held: dict[str, set[str]] = {}
    for row in c.rows(MODEL):
        held.setdefault(row["family"], set()).add(row["parameter"])
    for row in c.rows(MODEL):
        others = [held[f] for f in held if series.get(f) == series.get(row["family"])]
        ok = all(row["parameter"] in one for one in others) and all(one == others[0] for one in others)
        yield Comparison(
            ((row, "parameter"), (row, "family")), ok, 0.0, "a parameter of all families of the series"
        )


@check(
    "envelope-shared",
    layer="cross-check",
    reads=(MODEL, FAMILY),
    what="what does not hang on the family is one figure: insulation, metal grip, sealing of a series, walls and depth of clamps",
)
def envelope_shared(c: Context) -> Iterator[Comparison]:
    series = _series(c)
    for parameter, by_family in _model(c).items():
        scope = ONE_FIGURE.get(parameter)
        if scope is None:
            continue
        groups: dict[str, list[RawRow]] = {}
        for family, row in by_family.items():
            kind = series.get(family, "")
            if scope == "whole":
                kind = "two ends" if family.endswith("butt") else "one end"
            elif scope == "*":
                kind = ""
            elif scope == "series":
                kind = "tap" if kind == "tap" else "small"
            elif scope != kind:
                continue
            groups.setdefault(kind, []).append(row)
        for rows in groups.values():
            for one, other in itertools.pairwise(rows):
                yield Comparison(
                    ((other, "figure"), (one, "figure")), one["figure"] == other["figure"], 0.0, one["figure"]
                )


@check(
    "envelope-order",
    layer="cross-check",
    reads=(MODEL,),
    what="lengths, walls and heights stand in the order of the bodies: a twist-on shell over a closed end over a butt, a lever over a "
    "screw over a push-in clamp, a piercing body over a bolt",
)
def envelope_order(c: Context) -> Iterator[Comparison]:
    model = _model(c)
    for parameter, families in ORDER.items():
        rows = [model[parameter][f] for f in families if f in model.get(parameter, {})]
        for more, less in itertools.pairwise(rows):
            ok = Decimal(more["figure"]) > Decimal(less["figure"])
            cells: tuple[Cell, ...] = ((more, "figure"), (less, "figure"))
            yield Comparison(
                cells,
                ok and Decimal(more["figure"]) <= 3 * Decimal(less["figure"]),
                0.0,
                f"more than {less['figure']}, less than thrice",
            )
    for parameter, one, other in SAME:
        a, b = model.get(parameter, {}).get(one), model.get(parameter, {}).get(other)
        if a is not None and b is not None:
            yield Comparison(((a, "figure"), (b, "figure")), a["figure"] == b["figure"], 0.0, b["figure"])


@check(
    "envelope-facts",
    layer="second evidence",
    reads=(MODEL, FAMILY, LIMIT, WALL),
    what="a bare sleeve has neither wall nor skirt; a series without a wide grip has no longer wide form; the insulation is the "
    "jacketed wall of building wire; one conductor an end where there are two ends",
)
def envelope_facts(c: Context) -> Iterator[Comparison]:
    model, series = _model(c), _series(c)
    bare = {
        r["family"]
        for r in c.rows(FAMILY)
        if r["aspect"] == "insulated" and r["value"].startswith("no;") and "live" in r["value"]
    }
    for parameter in ("wall_mm", "skirt_mm"):
        for family, row in model.get(parameter, {}).items():
            none = family in bare
            yield Comparison(
                ((row, "figure"), (row, "family")),
                (Decimal(row["figure"]) == 0) == none,
                0.0,
                "0" if none else "more than 0",
            )
    wide = {row["series"] for row in c.rows(LIMIT) if row["grip"] == "wide"}
    for family, row in model.get("wide_length_factor", {}).items():
        figure = Decimal(row["figure"])
        ok = Decimal("1.05") <= figure <= Decimal("1.3") if series.get(family) in wide else figure == 1
        yield Comparison(
            ((row, "figure"), (row, "family")), ok, 0.0, "1.05 to 1.3" if series.get(family) in wide else "1"
        )
    wall = next((r for r in c.rows(WALL) if "THHN" in r["types"] and r["size_from"] == "14"), None)
    for row in model.get("insulation_mm", {}).values():
        if wall is not None:
            right = (Decimal(wall["wall_mil"]) * Decimal("0.0254")).quantize(Decimal("0.1"), ROUND_HALF_UP)
            yield Comparison(
                ((row, "figure"), (wall, "wall_mil")),
                Decimal(row["figure"]) == right,
                0.0,
                f"{right}, {wall['wall_mil']} mil rounded",
            )
    for family, row in model.get("reference_conductors", {}).items():
        count = "1" if family.endswith("butt") else "3"
        yield Comparison(((row, "figure"), (row, "family")), row["figure"] == count, 0.0, count)
