"""Combinations: the bundles packed in advance, published with their total areas."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from functools import cache

from pipeline.geometry import read_table, sizes_of
from pipeline.readings import Derivation, Input, Tables

__all__ = ["DERIVATIONS"]

#: An input row of this size is one that the key of the combination names.
_NAMED = "regexp_matches(r.conductors, '(^|\\+ )[0-9]x' || i.size || '($| \\+)')"


@cache
def _bundles() -> Mapping[str, str]:
    return {row["conductors"]: row["bundle_mm"] for row in read_table()}


def _total(tables: Tables) -> dict[tuple[str, ...], str | None]:
    areas = {key[0]: Decimal(str(row["area_mm2"])) for key, row in tables["conductor_size"].items()}
    return {(name,): str(sum((areas[size] for size in sizes_of(name)), Decimal(0))) for name in _bundles()}


def _bundle(_: Tables) -> dict[tuple[str, ...], str | None]:
    return {(name,): bundle for name, bundle in _bundles().items()}


DERIVATIONS = (
    Derivation(
        "combination",
        "total_mm2",
        "sum of count × area over the conductors named in the key",
        (Input("conductor_size", "area_mm2", condition=_NAMED),),
        _total,
    ),
    Derivation(
        "combination",
        "bundle_mm",
        "smallest circle found round circles of the bare diameters (solid: that of the size; stranded: 3/√7 of it), "
        "two searches agreeing, rounded up at the third decimal",
        (Input("conductor_size", "diameter_mm", condition=_NAMED),),
        _bundle,
        note="packed in advance (make geometry); the build packs a sample again",
    ),
)
