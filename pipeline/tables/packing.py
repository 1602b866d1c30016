"""Circles in circles: the ratios that bundles are checked with, and the bundles packed in advance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache

from pipeline.bundles import read_table, sizes_of
from pipeline.readings import Derivation, Input, Raw, RawRow, Reading, Tables

__all__ = ["DERIVATIONS", "conform", "equal_case", "radii_of"]

Column = Mapping[tuple[str, ...], str | None]

TABLE = "packing_ratio"


def conform(raw: Raw) -> Iterator[Reading]:
    """Readings of `packing_ratio`."""
    for row in raw["packing_equal"]:
        yield from _equal(row)
    for row in raw["packing_published"]:
        case = equal_case(row["circles"])
        yield Reading(TABLE, case, "ratio", row["ratio"], row, "ratio", rank="normal")
        yield Reading(TABLE, case, "optimality", row["optimality"], row, "optimality")
    for row in raw["assembly_coefficient"]:
        column = "assembly_coefficient" + ("_two_layers" if row["arrangement"] == "two layers" else "")
        yield Reading(TABLE, equal_case(row["cores"]), column, row["coefficient"], row, "coefficient")
    for row in raw["packing_unequal"]:
        yield from _unequal(row)


def equal_case(circles: str) -> tuple[str, ...]:
    """Key of so many equal circles.

    >>> equal_case("5")
    ('5 equal',)
    """
    return (f"{circles} equal",)


def radii_of(text: str) -> tuple[str, ...]:
    """The radii that a row of raw/packing_unequal.csv prints, one for each circle.

    >>> radii_of("2 1 1"), radii_of("core 0.414214 + 4 x 1")
    (('2', '1', '1'), ('0.414214', '1', '1', '1', '1'))
    """
    if not text.startswith("core "):
        return tuple(text.split(" "))
    core, _, ring = text.removeprefix("core ").partition(" + ")
    count, _, radius = ring.partition(" x ")
    return (core, *[radius] * int(count))


def _equal(row: RawRow) -> Iterator[Reading]:
    case, circles = equal_case(row["circles"]), row["circles"]
    yield Reading(TABLE, case, "circles", circles, row, "circles")
    radii = " ".join(["1"] * int(circles))
    yield Reading(
        TABLE, case, "radii", radii, row, "circles", origin="converted", note="equal circles of radius 1"
    )
    for column in ("ratio", "density"):
        yield Reading(TABLE, case, column, row[column], row, column)
    if row["closed_form"]:
        yield Reading(TABLE, case, "closed_form", row["closed_form"], row, "closed_form")


def _unequal(row: RawRow) -> Iterator[Reading]:
    case = (f"{row['arrangement']}: {row['radii']}",)
    radii = radii_of(row["radii"])
    written = "the radii written out"
    yield Reading(TABLE, case, "circles", str(len(radii)), row, "radii", origin="converted", note=written)
    yield Reading(TABLE, case, "radii", " ".join(radii), row, "radii", origin="converted", note=written)
    found = [column for column in ("radius_closed", "radius_search") if row[column]]
    for column, rank in zip(found, ("preferred", "normal"), strict=False):
        yield Reading(TABLE, case, "ratio", row[column], row, column, rank=rank)
    if row["rule"]:
        yield Reading(TABLE, case, "closed_form", row["rule"], row, "rule")


@cache
def _packed() -> Mapping[str, Mapping[str, str]]:
    return {row["conductors"]: row for row in read_table()}


def _bundle(_: Tables) -> Column:
    return {(conductors,): row["bundle_mm"] for conductors, row in _packed().items()}


def _hidden(_: Tables) -> Column:
    return {(conductors,): row["hidden"] or None for conductors, row in _packed().items()}


def _total(tables: Tables) -> Column:
    areas = {key[0]: Decimal(str(row["area_mm2"])) for key, row in tables["conductor_size"].items()}
    return {(text,): str(sum((areas[size] for size in sizes_of(text)), Decimal(0))) for text in _packed()}


#: The sizes that a key such as `2x12 AWG + 1x18 AWG` names.
_NAMED = "contains(r.conductors || ' + ', 'x' || i.size || ' + ')"

DERIVATIONS: tuple[Derivation, ...] = (
    Derivation(
        "combination",
        "total_mm2",
        "sum of the areas of the conductors",
        (Input("conductor_size", "area_mm2", condition=_NAMED),),
        _total,
    ),
    Derivation(
        "combination",
        "bundle_mm",
        "diameter of the smallest circle found round the bare conductors, solid to 10 AWG and 6 mm2, above that "
        "stranded, 3/sqrt(7) times as wide: closed form for two and three, else a search from many starts that two "
        "seeds confirm; an upper bound, rounded up at the third decimal",
        (Input("conductor_size", "diameter_mm", condition=_NAMED),),
        _bundle,
        note="packed in advance by `make geometry`; every build packs a sample of it again",
    ),
    Derivation(
        "combination",
        "hidden",
        "the sizes of the conductors round which a ring of the others closes in the bundle as the library draws it, "
        "or that fit under the common tangent of the two widest others",
        (Input("conductor_size", "diameter_mm", condition=_NAMED),),
        _hidden,
        note="searched in advance by `make geometry`; every build searches a sample of it again",
    ),
)
