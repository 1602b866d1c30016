"""The generic size classes: a few defining rows become the limits of every class."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import lru_cache
from itertools import product

from jointable.envelope import Envelope, envelope
from pipeline.readings import Derivation, Input, Table, Tables

__all__ = ["DERIVATIONS", "ConnectorClass", "connector_classes"]

#: Families whose classes come in a standard and a wide grip.
_BOTH_GRIPS = ("twist-on", "clamp")

Limits = Mapping[tuple[str, str], Decimal]


@dataclass(frozen=True, slots=True)
class ConnectorClass:
    """One class, before it is written as text."""

    family: str
    series: str
    size: Decimal
    ways: int | None
    grip: str
    variant: str
    min_total_mm2: Decimal | None
    max_total_mm2: Decimal | None
    min_conductor_mm2: Decimal
    max_conductor_mm2: Decimal
    over_run_mm2: Decimal | None
    min_conductors: int
    max_conductors: int
    body: Envelope
    rank: int = 0

    @property
    def name(self) -> str:
        """The name: family, size, ways, and what is not the usual grip and variant."""
        parts = [self.family, plain(self.size)]
        parts += [f"x{self.ways}"] if self.ways else []
        parts += [self.grip] if self.grip != "standard" else []
        parts += [self.variant] if self.variant != "general" else []
        return " ".join(parts)


def plain(value: Decimal) -> str:
    """A decimal without padding zeros.

    >>> plain(Decimal("10.00")), plain(Decimal("6.30"))
    ('10', '6.3')
    """
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def connector_classes(tables: Tables) -> dict[str, ConnectorClass]:
    """Every class by name, ranked."""
    return _classes(
        _frozen(tables["connector_family"]),
        _frozen(tables["family_variant"]),
        _frozen(tables["class_size"]),
        _frozen(tables["class_limit"]),
        _frozen(tables["envelope_parameter"]),
    )


Frozen = tuple[tuple[tuple[str, ...], tuple[tuple[str, str | None], ...]], ...]


def _frozen(table: Table) -> Frozen:
    return tuple((key, tuple(row.items())) for key, row in table.items())


@lru_cache(maxsize=4)
def _classes(
    families: Frozen, variants: Frozen, sizes: Frozen, limits: Frozen, parameters: Frozen
) -> dict[str, ConnectorClass]:
    series = {key[0]: str(dict(row)["series"]) for key, row in families}
    ladders: dict[str, list[tuple[Decimal, str]]] = {}
    for (name, printed), row in sizes:
        ladders.setdefault(name, []).append((Decimal(printed), str(dict(row)["use"])))
    figures: dict[str, dict[tuple[str, str], Decimal]] = {}
    for (name, grip, limit), row in limits:
        figures.setdefault(name, {})[(grip, limit)] = Decimal(str(dict(row)["figure"]))
    models: dict[str, dict[str, Decimal]] = {}
    for (family, parameter), row in parameters:
        models.setdefault(family, {})[parameter] = Decimal(str(dict(row)["figure"]))
    found: list[ConnectorClass] = []
    for (family, variant), _ in variants:
        name = series[family]
        ladder = sorted(ladders[name])
        for grip, (size, use) in product(_grips(name), ladder):
            if use == "class":
                steps = [s for s, _ in ladder]
                found += _made(family, name, variant, grip, size, steps, figures[name], models[family])
    return {c.name: c for c in _ranked(found)}


def _grips(series: str) -> tuple[str, ...]:
    return ("standard", "wide") if series in _BOTH_GRIPS else ("standard",)


def _made(
    family: str,
    series: str,
    variant: str,
    grip: str,
    size: Decimal,
    steps: list[Decimal],
    limits: Limits,
    model: Mapping[str, Decimal],
) -> Iterator[ConnectorClass]:
    ways: tuple[int | None, ...] = (None,)
    if series == "clamp":
        ways = tuple(range(int(limits[("any", "least ways")]), int(limits[("any", "most ways")]) + 1))
    for count in ways:
        body = envelope(series, size, model, ways=count, wide=grip == "wide", sealed=variant == "sealed")
        narrow, wide = _conductors(series, grip, size, steps, limits)
        least = limits.get((grip, "least total divisor"))
        run = limits.get((grip, "run divisor"))
        yield ConnectorClass(
            family,
            series,
            size,
            count,
            grip,
            variant,
            size / least if least else None,
            size if least else None,
            narrow,
            wide,
            size / run if run else None,
            int(limits[("any", "least conductors")]),
            count or int(limits[("any", "most conductors")]),
            body,
        )


def _conductors(
    series: str, grip: str, size: Decimal, steps: list[Decimal], limits: Limits
) -> tuple[Decimal, Decimal]:
    """The narrowest and the widest conductor."""
    if series == "tap":
        return size / limits[(grip, "tap divisor")], size
    if series == "clamp":
        down = limits.get((grip, "steps down"))
        if down is not None:
            return steps[steps.index(size) - int(down)], size
        return size / limits[(grip, "narrowest divisor")], size
    widest = min(size / limits[("any", "widest divisor")], limits[("any", "widest")])
    return size / limits[("any", "narrowest divisor")], widest


def _ranked(found: list[ConnectorClass]) -> Iterator[ConnectorClass]:
    groups: dict[tuple[str, str], list[ConnectorClass]] = {}
    for c in found:
        groups.setdefault((c.family, c.variant), []).append(c)
    for group in groups.values():
        group.sort(key=lambda c: (c.ways or 0, c.body.room_cm3, c.grip, c.size))
        yield from (replace(c, rank=n) for n, c in enumerate(group, 1))


def _text(value: Decimal | int | str | None) -> str | None:
    if isinstance(value, Decimal):
        return format(value, "f")
    return None if value is None else str(value)


def _column(
    get: Callable[[ConnectorClass], Decimal | int | str | None],
) -> Callable[[Tables], Mapping[tuple[str, ...], str | None]]:
    return lambda tables: {(name,): _text(get(c)) for name, c in connector_classes(tables).items()}


def _limit(limit: str, grip: str = "grip") -> Input:
    return Input("class_limit", "figure", {"series": "series", "grip": grip, "limit": f"={limit}"})


_SIZE = Input("class_size", "use", {"series": "series", "size_mm2": "size"})
_VARIANT = Input("family_variant", "made_as", {"family": "family", "variant": "variant"})
_FAMILY = Input("connector_family", "series", {"family": "family"})
_LEAST = _limit("least total divisor")
_BODY = (Input("envelope_parameter", "figure", {"family": "family"}), _SIZE)

_COLUMNS: tuple[
    tuple[str, str, tuple[Input, ...], Callable[[ConnectorClass], Decimal | int | str | None]], ...
] = (
    ("family", "each family in each variant it is made in", (_VARIANT,), lambda c: c.family),
    ("series", "series of the family", (_FAMILY,), lambda c: c.series),
    ("size", "each size of the series that is a class", (_FAMILY, _SIZE), lambda c: c.size),
    (
        "ways",
        "clamps: each number of ways from the least to the most; others none",
        (_limit("least ways", "=any"), _limit("most ways", "=any")),
        lambda c: c.ways,
    ),
    (
        "grip",
        "standard and wide where the series has limits for both, else standard",
        (_LEAST,),
        lambda c: c.grip,
    ),
    ("variant", "each variant the family is made in", (_VARIANT,), lambda c: c.variant),
    ("min_total_mm2", "size / least total divisor", (_SIZE, _LEAST), lambda c: c.min_total_mm2),
    ("max_total_mm2", "size, where the series limits the total", (_SIZE, _LEAST), lambda c: c.max_total_mm2),
    (
        "min_conductor_mm2",
        "size / narrowest divisor; taps: size / tap divisor; standard clamps: so many steps down the series",
        (
            _SIZE,
            _limit("narrowest divisor", "=any"),
            _limit("narrowest divisor"),
            _limit("tap divisor"),
            _limit("steps down"),
        ),
        lambda c: c.min_conductor_mm2,
    ),
    (
        "max_conductor_mm2",
        "the lesser of size / widest divisor and the widest conductor; clamps and taps: size",
        (_SIZE, _limit("widest divisor", "=any"), _limit("widest", "=any")),
        lambda c: c.max_conductor_mm2,
    ),
    ("over_run_mm2", "taps: size / run divisor", (_SIZE, _limit("run divisor")), lambda c: c.over_run_mm2),
    (
        "min_conductors",
        "least conductors of the series",
        (_limit("least conductors", "=any"),),
        lambda c: c.min_conductors,
    ),
    (
        "max_conductors",
        "clamps: ways; others: most conductors of the series",
        (_limit("most conductors", "=any"), _limit("most ways", "=any")),
        lambda c: c.max_conductors,
    ),
    ("length_mm", "envelope of the family at this size", _BODY, lambda c: c.body.length_mm),
    ("width_mm", "envelope of the family at this size", _BODY, lambda c: c.body.width_mm),
    ("room_cm3", "envelope of the family at this size", _BODY, lambda c: c.body.room_cm3),
    (
        "rank",
        "order by ways, room, standard before wide, in each family and variant",
        _BODY,
        lambda c: c.rank,
    ),
)

DERIVATIONS: tuple[Derivation, ...] = tuple(
    Derivation("connector_class", column, formula, inputs, _column(get))
    for column, formula, inputs, get in _COLUMNS
)
