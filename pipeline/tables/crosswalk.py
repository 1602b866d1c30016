"""AWG and metric sizes side by side."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from decimal import Decimal

from pipeline.readings import Derivation, Input, Raw, Reading, Tables
from pipeline.tables.conductor import metric_size, printed_size

__all__ = ["DERIVATIONS", "conform"]

Key = tuple[str, ...]

#: Raw file and column -> column of `crosswalk` that names a metric size.
_PAIRS = (
    ("usual_metric_pair", "usual_size"),
    ("iec_60947_1_size", "iec_60947_1_size"),
    ("iec_61009_size", "iec_61009_1_size"),
    ("awg_metric_textbook", "textbook_size"),
    ("awg_metric_substitute", "substitute_size"),
)

_GAUGES = (
    ("solid_mm", "gauge_solid_mm"),
    ("class_b_mm", "gauge_class_b_mm"),
    ("class_ikm_mm", "gauge_flexible_mm"),
)


def conform(raw: Raw) -> Iterator[Reading]:
    """Readings of `crosswalk`."""
    for stem, column in _PAIRS:
        for row in raw[stem]:
            if row["metric_mm2"]:
                value = metric_size(row["metric_mm2"].strip("()"))
                yield Reading(
                    "crosswalk",
                    (printed_size(row["size"]),),
                    column,
                    value,
                    row,
                    "metric_mm2",
                    printed_unit="mm2",
                )
    for row in raw["iec_60947_1_size"]:
        yield Reading(
            "crosswalk",
            (printed_size(row["size"]),),
            "iec_60947_1_area_mm2",
            row["equivalent_mm2"],
            row,
            "equivalent_mm2",
            unit="mm2",
        )
    for stem in ("iec_60947_1_gauge", "iec_60947_1_gauge_large"):
        for row in raw[stem]:
            for theirs, ours in _GAUGES:
                yield Reading(
                    "crosswalk", (printed_size(row["size"]),), ours, row[theirs], row, theirs, unit="mm"
                )


def _neighbours(
    choose: Callable[[Decimal, list[Decimal]], Decimal | None],
) -> Callable[[Tables], Mapping[Key, str | None]]:
    """A metric size chosen by area, for every AWG and kcmil size."""

    def compute(tables: Tables) -> Mapping[Key, str | None]:
        areas = {
            key: (row["system"], Decimal(str(row["area_mm2"])))
            for key, row in tables["conductor_size"].items()
            if row.get("area_mm2") and Decimal(str(row["area_mm2"])) > 0
        }
        metric = {area: key[0] for key, (system, area) in areas.items() if system == "mm2"}
        ordered = sorted(metric)
        out: dict[Key, str | None] = {}
        for key, (system, area) in areas.items():
            if system != "mm2":
                chosen = choose(area, ordered)
                out[key] = None if chosen is None else metric[chosen]
        return out

    return compute


def _nearest(area: Decimal, metric: list[Decimal]) -> Decimal | None:
    return min(metric, key=lambda m: max(m / area, area / m))


def _not_smaller(area: Decimal, metric: list[Decimal]) -> Decimal | None:
    return min((m for m in metric if m >= area), default=None)


def _not_larger(area: Decimal, metric: list[Decimal]) -> Decimal | None:
    return max((m for m in metric if m <= area), default=None)


_INPUTS = (
    Input("conductor_size", "area_mm2", {"size": "size"}),
    Input("conductor_size", "system", {"size": "size"}),
)

DERIVATIONS: tuple[Derivation, ...] = (
    Derivation(
        "crosswalk",
        "nearest_size",
        "metric size with the least ratio of areas, larger over smaller",
        _INPUTS,
        _neighbours(_nearest),
    ),
    Derivation(
        "crosswalk",
        "next_larger_size",
        "least metric size whose area is not smaller",
        _INPUTS,
        _neighbours(_not_smaller),
    ),
    Derivation(
        "crosswalk",
        "next_smaller_size",
        "greatest metric size whose area is not larger",
        _INPUTS,
        _neighbours(_not_larger),
    ),
)
