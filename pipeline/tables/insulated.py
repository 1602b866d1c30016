"""Insulation types and insulated conductors: NEC Tables 310.4, 402.3, 5 and 5A of Chapter 9."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pipeline.readings import Raw, RawRow, Reading
from pipeline.tables.conductor import printed_size

__all__ = ["conform", "table_5_inch", "types_of", "wall_rows"]

#: The inch columns of Table 5, one file for each source.
TABLE_5_INCH = ("nec_table_5_inch_sheet", "nec_table_5_inch_2008", "nec_table_5_inch_memory")

#: NEC sizes in the order in which the tables run, so that a run "14 to 10" can be spelt out.
# fmt: off
RUN = [
    "18", "16", "14", "12", "10", "8", "6", "4", "3", "2", "1",
    "1/0", "2/0", "3/0", "4/0", "250", "300", "350", "400", "500", "600", "700",
    "750", "800", "900", "1000", "1250", "1500", "1750", "2000",
]
# fmt: on

#: Printed condition -> the columns of `insulation` that it fills; others go with their words.
_LOCATIONS: Mapping[str, tuple[str, ...]] = {
    "dry and wet": ("dry", "damp", "wet"),
    "dry and damp": ("dry", "damp"),
    "dry": ("dry",),
    "wet": ("wet",),
}


def types_of(text: str) -> tuple[str, ...]:
    """The insulation types that a printed list names; print sometimes breaks a type by a space.

    >>> types_of("TW,THW,THHW,THW- 2,RHH*")
    ('TW', 'THW', 'THHW', 'THW-2', 'RHH*')
    """
    return tuple("".join(part.split()) for part in text.split(","))


def table_5_inch(raw: Raw) -> dict[tuple[str, str], RawRow]:
    """The inch row of each printed row of Table 5, by types and size."""
    return {(row["types"], row["size"]): row for stem in TABLE_5_INCH for row in raw[stem]}


def wall_rows(raw: Raw) -> dict[tuple[str, str], RawRow]:
    """The row that gives the wall of an insulation type at a size."""
    out = {}
    for row in raw["insulation_wall"]:
        if row["size_from"] in RUN and row["size_to"] in RUN:
            for size in RUN[RUN.index(row["size_from"]) : RUN.index(row["size_to"]) + 1]:
                for insulation in types_of(row["types"]):
                    out[insulation, size] = row
    return out


def conform(raw: Raw) -> Iterator[Reading]:
    """Readings of `insulation` and `insulated_conductor`."""
    yield from _insulation(raw)
    yield from _insulated(raw)


def _insulation(raw: Raw) -> Iterator[Reading]:
    category: dict[str, RawRow] = {}
    seen: set[tuple[str, str]] = set()
    for stem in ("insulation_rating", "insulation_rating_nom", "insulation_rating_memory"):
        for row in raw[stem]:
            for insulation in types_of(row["types"]):
                category.setdefault(insulation, row)
                yield from _rating(row, insulation, seen)
    for stem in ("fixture_wire_rating", "fixture_wire_rating_nom"):
        for row in raw[stem]:
            for insulation in types_of(row["types"]):
                category.setdefault(insulation, row)
                yield from _other(row, insulation, "fixture wiring", "types", seen)
    yield from _starred(raw, category, seen)
    yield from _bare(raw)
    for insulation, row in category.items():
        kind = "fixture wire" if row.file.startswith("fixture") else "conductor insulation"
        yield Reading(
            "insulation",
            (insulation,),
            "category",
            kind,
            row,
            "types",
            origin="defined",
            note="by the table that rates it",
        )
    yield from _voltages(raw, category)


def _rating(row: RawRow, insulation: str, seen: set[tuple[str, str]]) -> Iterator[Reading]:
    locations = _LOCATIONS.get(row["condition"])
    if locations is None:
        yield from _other(row, insulation, row["condition"], "condition", seen)
        return
    for location in locations:
        implied = location == "damp" and row["condition"] == "dry and wet"
        yield Reading(
            "insulation",
            (insulation,),
            f"{location}_degc",
            row["temperature_degc"],
            row,
            "temperature_degc",
            unit="degC",
            rank=_rank(insulation, location, seen),
            origin="inferred" if implied else "quoted",
            note="damp is not printed; what holds in wet locations holds in damp ones" if implied else "",
        )


def _other(
    row: RawRow, insulation: str, words: str, column: str, seen: set[tuple[str, str]]
) -> Iterator[Reading]:
    rank = _rank(insulation, "other", seen)
    yield Reading(
        "insulation",
        (insulation,),
        "other_degc",
        row["temperature_degc"],
        row,
        "temperature_degc",
        unit="degC",
        rank=rank,
    )
    yield Reading("insulation", (insulation,), "other_condition", words, row, column, rank=rank)


def _rank(insulation: str, column: str, seen: set[tuple[str, str]]) -> str:
    """The first reading of a cell is published, later ones are compared with it."""
    first = (insulation, column) not in seen
    seen.add((insulation, column))
    return "preferred" if first else "normal"


def _starred(raw: Raw, category: dict[str, RawRow], seen: set[tuple[str, str]]) -> Iterator[Reading]:
    """Types without their outer covering are rated as the type itself."""
    starred = {t for row in raw["nec_table_5_metric"] for t in types_of(row["types"]) if t.endswith("*")}
    for insulation in sorted(starred):
        for row in raw["insulation_rating"]:
            if insulation.removesuffix("*") in types_of(row["types"]):
                category.setdefault(insulation, row)
                yield from _rating(row, insulation, seen)


def _bare(raw: Raw) -> Iterator[Reading]:
    row = next(row for row in raw["nec_table_5a_metric"] if row["types"] == "bare")
    yield Reading(
        "insulation", ("bare",), "category", "none", row, "types", origin="defined", note="no insulation"
    )


def _voltages(raw: Raw, category: Mapping[str, RawRow]) -> Iterator[Reading]:
    named: dict[str, RawRow] = {}
    others: dict[str, RawRow] = {}
    for row in raw["insulation_voltage"]:
        if row["types"] == "all others":
            others[row["category"]] = row
        else:
            named |= dict.fromkeys(types_of(row["types"]), row)
    for insulation, rated in category.items():
        kind = "fixture wire" if rated.file.startswith("fixture") else "conductor insulation"
        row = named.get(insulation, others[kind])
        yield Reading("insulation", (insulation,), "voltage_v", row["voltage_v"], row, "voltage_v", unit="V")


def _insulated(raw: Raw) -> Iterator[Reading]:
    inch, walls = table_5_inch(raw), wall_rows(raw)
    for row in raw["nec_table_5_metric"]:
        other = inch.get((row["types"], row["size"]))
        for insulation in types_of(row["types"]):
            key = (insulation, printed_size(row["size"]), "stranded")
            yield from _dimensions(row, other, key)
            wall = walls.get((insulation, row["size"]))
            if wall is not None:
                origin = "inferred" if wall.note.startswith("fitted") else "quoted"
                yield Reading(
                    "insulated_conductor",
                    key,
                    "wall_mil",
                    wall["wall_mil"],
                    wall,
                    "wall_mil",
                    unit="mil",
                    origin=origin,
                )
    compact = {(row["types"], row["size"]): row for row in raw["nec_table_5a_inch"]}
    for row in raw["nec_table_5a_metric"]:
        for insulation in types_of(row["types"]):
            key = (insulation, printed_size(row["size"]), "compact")
            yield from _dimensions(row, compact.get((row["types"], row["size"])), key)


def _dimensions(metric: RawRow, inch: RawRow | None, key: tuple[str, ...]) -> Iterator[Reading]:
    """Both units of one printed row; a row without its inches is refused as incomplete."""
    for row, theirs, ours, unit in (
        (metric, "dia_mm", "diameter_mm", "mm"),
        (metric, "area_mm2", "area_mm2", "mm2"),
        (inch, "dia_in", "diameter_in", "in"),
        (inch, "area_in2", "area_in2", "in2"),
    ):
        if row is not None and row[theirs]:
            yield Reading("insulated_conductor", key, ours, row[theirs], row, theirs, unit=unit)
