"""Conductor sizes and bare conductors: the size list, NEC Tables 8 and 5A, IEC 60228."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from decimal import Decimal, InvalidOperation

from pipeline.readings import Derivation, Input, Raw, RawRow, Reading, Tables
from pipeline.tables import wire

__all__ = ["DERIVATIONS", "conform", "metric_size", "printed_size"]

Key = tuple[str, ...]

#: Column of `conductor` -> unit, for each raw file of NEC Table 8.
_TABLE_8: Mapping[str, tuple[tuple[str, str, str], ...]] = {
    "nec_table_8_metric": (
        ("area_mm2", "metal_area_mm2", "mm2"),
        ("cmil", "metal_area_cmil", "cmil"),
        ("strands", "strands", ""),
        ("strand_dia_mm", "strand_diameter_mm", "mm"),
        ("overall_dia_mm", "diameter_mm", "mm"),
        ("overall_area_mm2", "overall_area_mm2", "mm2"),
        ("r75_cu_uncoated_ohm_km", "r75_cu_uncoated_ohm_km", "ohm/km"),
        ("r75_cu_coated_ohm_km", "r75_cu_coated_ohm_km", "ohm/km"),
        ("r75_al_ohm_km", "r75_al_ohm_km", "ohm/km"),
    ),
    "nec_table_8_aluminium": (("r75_al_ohm_km", "r75_al_ohm_km", "ohm/km"),),
    "nec_table_8_inch": (
        ("strand_dia_in", "strand_diameter_in", "in"),
        ("overall_dia_in", "diameter_in", "in"),
        ("overall_area_in2", "overall_area_in2", "in2"),
        ("r75_cu_uncoated_ohm_kft", "r75_cu_uncoated_ohm_kft", "ohm/kft"),
        ("r75_cu_coated_ohm_kft", "r75_cu_coated_ohm_kft", "ohm/kft"),
        ("r75_al_ohm_kft", "r75_al_ohm_kft", "ohm/kft"),
    ),
}

_R20 = ("r20_cu_plain_ohm_km", "r20_cu_coated_ohm_km", "r20_al_ohm_km")

#: Raw column of the IEC 60228 files -> column of `conductor`, by construction.
_IEC: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...] = (
    ("iec_60228_class_1", "class 1", tuple((c, c) for c in _R20)),
    ("iec_60228_class_1_large", "class 1", tuple((c, c) for c in _R20)),
    (
        "iec_60228_class_2",
        "class 2",
        (
            ("wires_cu_circular", "strands_min_cu"),
            ("wires_al_circular", "strands_min_al"),
            *((c, c) for c in _R20),
        ),
    ),
    (
        "iec_60228_class_2",
        "compact",
        (("wires_cu_compact", "strands_min_cu"), ("wires_al_compact", "strands_min_al")),
    ),
    (
        "iec_60228_class_2",
        "shaped",
        (("wires_cu_shaped", "strands_min_cu"), ("wires_al_shaped", "strands_min_al")),
    ),
    (
        "iec_60228_class_5",
        "class 5",
        (("strand_max_mm", "strand_diameter_max_mm"), *((c, c) for c in _R20[:2])),
    ),
    (
        "iec_60228_class_6",
        "class 6",
        (("strand_max_mm", "strand_diameter_max_mm"), *((c, c) for c in _R20[:2])),
    ),
)

_DIAMETER = (
    ("class_1_mm", "class 1"),
    ("class_2_mm", "class 2"),
    ("class_5_6_mm", "class 5"),
    ("class_5_6_mm", "class 6"),
)


def printed_size(text: str) -> str:
    """A size as the NEC tables print it, as it is published.

    >>> printed_size("12"), printed_size("4/0"), printed_size("250")
    ('12 AWG', '4/0 AWG', '250 kcmil')
    """
    if text.isdigit() and int(text) >= 250:
        return f"{text} kcmil"
    return f"{text} AWG"


def metric_size(text: str) -> str:
    """A metric size as published; zeros after the point carry nothing.

    >>> metric_size("16.0"), metric_size("0.75"), metric_size("120")
    ('16 mm2', '0.75 mm2', '120 mm2')
    """
    try:
        return f"{Decimal(text).normalize():f} mm2"
    except InvalidOperation:
        return f"{text} mm2"  # no size of that name: the foreign key refuses it


def conform(raw: Raw) -> Iterator[Reading]:
    """Readings of `conductor_size` and `conductor`."""
    yield from _sizes(raw)
    yield from _table_8(raw)
    yield from _compact(raw)
    yield from _iec(raw)
    yield from _diameters(raw)


def _sizes(raw: Raw) -> Iterator[Reading]:
    for row in raw["conductor_size"]:
        for column in ("system", "nominal"):
            yield Reading("conductor_size", (row["size"],), column, row[column], row, column)
    for row in raw["iec_60502_diameter"]:
        yield Reading(
            "conductor_size",
            (metric_size(row["mm2"]),),
            "fictitious_diameter_mm",
            row["fictitious_dia_mm"],
            row,
            "fictitious_dia_mm",
            unit="mm",
        )


def _table_8(raw: Raw) -> Iterator[Reading]:
    for stem, columns in _TABLE_8.items():
        for row in raw[stem]:
            key = (printed_size(row["size"]), row["form"])
            yield from _cells(row, key, columns)


def _compact(raw: Raw) -> Iterator[Reading]:
    """Bare compact conductors stand in Table 5A among the insulated ones."""
    for stem, column, ours, unit in (
        ("nec_table_5a_metric", "dia_mm", "diameter_mm", "mm"),
        ("nec_table_5a_inch", "dia_in", "diameter_in", "in"),
    ):
        for row in raw[stem]:
            if row["types"] == "bare":
                yield from _cells(row, (printed_size(row["size"]), "compact"), ((column, ours, unit),))


def _iec(raw: Raw) -> Iterator[Reading]:
    for stem, construction, columns in _IEC:
        for row in raw[stem]:
            key = (metric_size(row["mm2"]), construction)
            yield from _cells(
                row,
                key,
                tuple((a, b, "ohm/km" if "ohm" in b else "mm" if "_mm" in b else "") for a, b in columns),
            )


def _diameters(raw: Raw) -> Iterator[Reading]:
    flexible = {
        construction: {row["mm2"] for row in raw[f"iec_60228_{construction.replace(' ', '_')}"]}
        for construction in ("class 5", "class 6")
    }
    for stem, rank in (("iec_60228_diameter", "preferred"), ("gost_22483_diameter", "normal")):
        for row in raw[stem]:
            for column, construction in _DIAMETER:
                if row[column] and row["mm2"] in flexible.get(construction, {row["mm2"]}):
                    yield Reading(
                        "conductor",
                        (metric_size(row["mm2"]), construction),
                        "diameter_max_mm",
                        row[column],
                        row,
                        column,
                        unit="mm",
                        rank=rank,
                    )


def _cells(row: RawRow, key: Key, columns: Iterable[tuple[str, str, str]]) -> Iterator[Reading]:
    for theirs, ours, unit in columns:
        if row[theirs]:
            yield Reading("conductor", key, ours, row[theirs], row, theirs, unit=unit)


def _each(
    formula: Callable[[str, str], Decimal], decimals: int
) -> Callable[[Tables], Mapping[Key, str | None]]:
    """A formula of system and number, for every size."""

    def compute(tables: Tables) -> Mapping[Key, str | None]:
        return {
            key: wire.quantised(formula(str(row["system"]), str(row["nominal"])), decimals)
            for key, row in tables["conductor_size"].items()
            if _sized(row)
        }

    return compute


def _sized(row: Mapping[str, str | None]) -> bool:
    """Whether a row names a size that has an area; one that does not is refused as incomplete."""
    system, nominal = row.get("system"), row.get("nominal")
    return bool(system and nominal) and (system == "AWG" or Decimal(str(nominal)) > 0)


def _ranks(tables: Tables) -> Mapping[Key, str | None]:
    areas = {
        key: Decimal(str(row["area_mm2"]))
        for key, row in tables["conductor_size"].items()
        if row.get("area_mm2")
    }
    return {key: str(place) for place, key in enumerate(sorted(areas, key=areas.__getitem__), 1)}


def _own(*columns: str) -> tuple[Input, ...]:
    return tuple(Input("conductor_size", column, {"size": "size"}) for column in columns)


DERIVATIONS: tuple[Derivation, ...] = (
    Derivation(
        "conductor_size",
        "area_mm2",
        "AWG n: (pi/4) (0.127 mm x 92^((36 - n)/39))^2; k kcmil: 1000 k (pi/4) (0.0254 mm)^2; metric: the nominal area; "
        "rounded to nine decimals",
        _own("system", "nominal"),
        _each(wire.size_area_mm2, 9),
        note="AWG formula of ASTM B258",
    ),
    Derivation(
        "conductor_size",
        "diameter_mm",
        "AWG n: 0.127 mm x 92^((36 - n)/39); else sqrt(4 A/pi) of the unrounded area; rounded to nine decimals",
        _own("system", "nominal"),
        _each(wire.size_diameter_mm, 9),
        note="AWG formula of ASTM B258",
    ),
    Derivation(
        "conductor_size",
        "diameter_in",
        "unrounded diameter in mm / 25.4, rounded to nine decimals",
        _own("system", "nominal"),
        _each(lambda s, n: wire.size_diameter_mm(s, n) / wire.MM_PER_INCH, 9),
    ),
    Derivation(
        "conductor_size",
        "circular_mils",
        "unrounded area / ((pi/4) (0.0254 mm)^2), rounded to four decimals",
        _own("system", "nominal"),
        _each(lambda s, n: wire.circular_mils(wire.size_area_mm2(s, n)), 4),
    ),
    Derivation(
        "conductor_size",
        "r20_cu_ohm_km",
        "(1000/58) ohm mm2/km / unrounded area, rounded to six decimals",
        _own("system", "nominal"),
        _each(lambda s, n: wire.r20_cu_ohm_km(wire.size_area_mm2(s, n)), 6),
        note="annealed copper at 20 °C, 58 m/(ohm mm2)",
    ),
    Derivation(
        "conductor_size",
        "mass_cu_kg_km",
        "8.89 g/cm3 x unrounded area, rounded to six decimals",
        _own("system", "nominal"),
        _each(lambda s, n: wire.mass_cu_kg_km(wire.size_area_mm2(s, n)), 6),
    ),
    Derivation(
        "conductor_size",
        "rank",
        "place among all sizes ordered by area",
        _own("area_mm2"),
        _ranks,
    ),
)
