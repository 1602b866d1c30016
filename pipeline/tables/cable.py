"""Cables: how non-metallic, IEC 60227 and BS 6004 cables are made up."""

from __future__ import annotations

from collections.abc import Iterator

from pipeline.readings import Raw, RawRow, Reading
from pipeline.tables.conductor import metric_size, printed_size

__all__ = ["conform"]


def conform(raw: Raw) -> Iterator[Reading]:
    """Readings of `cable`, `cable_conductor` and `cable_scope`."""
    for row in raw["nm_cable"]:
        yield from _nm(row)
    for stem in ("iec_60227_flexible", "iec_60227_memory"):
        for row in raw[stem]:
            yield from _iec(row)
    for row in raw["bs_6004_cable"]:
        yield from _bs(row)
    for row in raw["cable_scope"]:
        for column in ("family", "insulated", "sizes", "grounding", "shape"):
            yield Reading("cable_scope", (row["scope"],), column, row[column], row, column)


def _nm(row: RawRow) -> Iterator[Reading]:
    cable = f"{row['size']}/{row['insulated']}"
    for column in ("family", "designation", "insulated", "shape"):
        yield Reading("cable", (cable,), column, row[column], row, column)
    yield from _conductors(row, cable, "circuit", "insulated", "size", printed_size(row["size"]))
    yield from _conductors(row, cable, "grounding", "", "grounding_size", printed_size(row["grounding_size"]))


def _iec(row: RawRow) -> Iterator[Reading]:
    size = metric_size(row["mm2"])
    cable = f"{row['type']} {row['cores']}x{size}"
    if row["cores"] == "1":
        cable += (
            f" class {row['conductor_class']}"  # the same wire is made with a solid and a stranded conductor
        )
    yield Reading("cable", (cable,), "family", row["type"], row, "type")
    if row["code"]:
        yield Reading("cable", (cable,), "designation", row["code"], row, "code")
    yield Reading("cable", (cable,), "insulated", row["cores"], row, "cores")
    yield Reading(
        "cable",
        (cable,),
        "shape",
        "round",
        row,
        "type",
        origin="defined",
        note="cables of this type are round",
    )
    for column in ("insulation_mm", "sheath_mm", "overall_min_mm", "overall_max_mm"):
        if row[column]:
            yield Reading("cable", (cable,), column, row[column], row, column, unit="mm")
    yield from _conductors(row, cable, "core", "cores", "mm2", size)
    if "/" not in row["conductor_class"]:
        yield Reading(
            "cable_conductor",
            (cable, "core"),
            "construction",
            f"class {row['conductor_class']}",
            row,
            "conductor_class",
        )


def _bs(row: RawRow) -> Iterator[Reading]:
    size, bare = metric_size(row["mm2"]), metric_size(row["protective_mm2"])
    cable = f"BS 6004 {row['code']} {row['cores']}x{size.removesuffix(' mm2')}+{bare}"
    yield Reading(
        "cable",
        (cable,),
        "family",
        "BS 6004",
        row,
        "code",
        origin="defined",
        note="the standard that the code stands in",
    )
    yield Reading("cable", (cable,), "designation", row["code"], row, "code")
    yield Reading("cable", (cable,), "insulated", row["cores"], row, "cores")
    yield Reading("cable", (cable,), "shape", row["shape"], row, "shape")
    yield from _conductors(row, cable, "circuit", "cores", "mm2", size)
    yield from _conductors(row, cable, "grounding", "", "protective_mm2", bare)


def _conductors(row: RawRow, cable: str, role: str, count: str, column: str, size: str) -> Iterator[Reading]:
    """How many of which size; there is one grounding conductor, which no column counts."""
    key = (cable, role)
    if count:
        yield Reading("cable_conductor", key, "quantity", row[count], row, count)
    else:
        yield Reading(
            "cable_conductor",
            key,
            "quantity",
            "1",
            row,
            column,
            origin="defined",
            note="one grounding conductor a cable",
        )
    yield Reading("cable_conductor", key, "size", size, row, column)
