"""Connector families, variants, tests, ratings and cautions: facts become tables."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from pipeline.readings import Derivation, Raw, RawRow, Reading

__all__ = ["DERIVATIONS", "conform"]

DERIVATIONS: tuple[Derivation, ...] = ()

#: Raw files with one fact a row: file and table -> the column of the raw file that names the row.
_FACTS = {"connector_family": "family", "related_device": "device", "connector_variant": "variant"}

#: Raw files whose rows are rows of the table: key columns and data columns.
_ROWS = {
    "family_variant": (("family", "variant"), ("made_as",)),
    "class_size": (("series", "size_mm2"), ("use",)),
    "class_limit": (("series", "grip", "limit"), ("figure", "unit")),
    "envelope_parameter": (("family", "parameter"), ("figure", "unit")),
    "usual_mix": (("conductors",), ("met_as",)),
    "room_parameter": (("item", "parameter"), ("figure", "unit")),
    "connector_test": (
        ("test_id",),
        ("standard", "test", "size", "size_system", "material", "value", "unit", "role"),
    ),
    "temperature_rating": (("category", "item", "condition"), ("value", "unit")),
    "caution": (("id",), ("text", "clause", "shown_when")),
    "pattern_part": (("pattern", "box", "part"), ("title", "what", "of", "size", "circuit", "says")),
    "guidance": (
        ("topic", "line"),
        ("kind", "shown_when", "text", "clause", "caution", "edition_from", "edition_to"),
    ),
    "overcurrent_limit": (
        ("rule", "edition_from", "material", "size"),
        ("greatest_a", "length_m", "clause", "edition_to"),
    ),
    "finding": (
        ("finding", "edition_from"),
        ("severity", "what", "why", "action", "clause", "caution", "edition_to"),
    ),
}

#: Sizes are part of a key and stand there as the schema writes them.
_SCALE = {"size_mm2": Decimal("0.01")}


def conform(raw: Raw) -> Iterable[Reading]:
    """Readings of every table of this group."""
    for stem, name in _FACTS.items():
        for row in raw[stem]:
            yield Reading(stem, (row[name],), row["aspect"], row["value"], row, "value", _origin(row))
    for stem, (keys, columns) in _ROWS.items():
        for row in raw[stem]:
            yield from _row_readings(stem, tuple(_key(row, k) for k in keys), columns, row)
    yield from _insulation_temperatures(raw)


def _row_readings(
    table: str, key: tuple[str, ...], columns: tuple[str, ...], row: RawRow
) -> Iterator[Reading]:
    for column in columns:
        if row[column]:
            yield Reading(table, key, column, row[column], row, column, _origin(row))


def _key(row: RawRow, column: str) -> str:
    scale = _SCALE.get(column)
    return str(Decimal(row[column]).quantize(scale)) if scale else row[column]


def _origin(row: RawRow) -> str:
    """What this project or a series of preferred numbers sets is defined, not read off a print."""
    return "defined" if row.source == "defined" else "quoted"


def _insulation_temperatures(raw: Raw) -> Iterator[Reading]:
    """The ratings of insulation stand in the files of the wire tables; here they are listed again."""
    for stem, rank in (
        ("insulation_rating", "preferred"),
        ("insulation_rating_memory", "preferred"),
        ("insulation_rating_nom", "normal"),
    ):
        for row in raw[stem]:
            yield from _temperature("conductor insulation", row, row["condition"], rank, raw)
    for stem, rank in (("fixture_wire_rating", "preferred"), ("fixture_wire_rating_nom", "normal")):
        for row in raw[stem]:
            yield from _temperature("fixture wire", row, "any", rank, raw)
    for row in raw["insulation_voltage"]:
        key = ("voltage", f"{row['category']}: {row['types']}", "any")
        yield Reading("temperature_rating", key, "value", row["voltage_v"], row, "voltage_v")
        yield Reading("temperature_rating", key, "unit", "V", row, "voltage_v")


def _temperature(category: str, row: RawRow, condition: str, rank: str, raw: Raw) -> Iterator[Reading]:
    if rank == "normal" and not _rated_elsewhere(category, row, raw):
        rank = "preferred"
    key = (category, row["types"], condition)
    for column, value in (("value", row["temperature_degc"]), ("unit", "degC")):
        yield Reading("temperature_rating", key, column, value, row, "temperature_degc", rank=rank)


def _rated_elsewhere(category: str, row: RawRow, raw: Raw) -> bool:
    """Whether the code's own table has the row too; else the second source is the only one."""
    stems = (
        ("fixture_wire_rating",)
        if category == "fixture wire"
        else ("insulation_rating", "insulation_rating_memory")
    )
    return any(
        other["types"] == row["types"] and other.cells.get("condition") == row.cells.get("condition")
        for stem in stems
        for other in raw[stem]
    )
