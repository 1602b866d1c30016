"""The joints whose bundles are packed in advance: which they are, how each is packed, the committed table."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from functools import cache
from itertools import combinations_with_replacement, groupby
from pathlib import Path
from typing import Any

from jointable.bundle import effort, hidden_among, three_circles
from jointable.geometry import area_mm2, bare_diameter_mm, default_construction, round_up_mm
from jointable.packing import AGREE, STARTS, confirmed
from pipeline.failures import BuildError, Failure

__all__ = [
    "COLUMNS",
    "COUNTS",
    "NAME",
    "SEEDS",
    "SYSTEMS",
    "TABLE",
    "Shape",
    "Sizes",
    "combinations",
    "conductors_text",
    "diameter_mm",
    "failure",
    "hidden_text",
    "inputs_hash",
    "packed_mm",
    "parameters",
    "read_table",
    "shape",
    "sizes_of",
    "total_mm2",
]

HERE = Path(__file__).resolve().parent / "precomputed"
TABLE = HERE / "combination.csv"
NAME = "pipeline/precomputed/combination.csv"

#: Sizes of the table, from wide to thin; a joint takes all of its conductors from one of the two.
SYSTEMS = (
    tuple(f"{n} AWG" for n in range(6, 25, 2)),
    tuple(f"{a} mm2" for a in ("16", "10", "6", "4", "2.5", "1.5", "1", "0.75", "0.5")),
)
COUNTS = range(2, 7)
COLUMNS = ("conductors", "total_mm2", "bundle_mm", "hidden")

#: Seeds tried in turn until two searches agree.
SEEDS = tuple(range(1, 25))

Sizes = tuple[str, ...]
Shape = tuple[float, ...]


def combinations() -> Iterator[Sizes]:
    """The sizes of every joint of the table, each from wide to thin."""
    for system in SYSTEMS:
        for count in COUNTS:
            yield from combinations_with_replacement(system, count)


def conductors_text(sizes: Sizes) -> str:
    """The key of a joint: `2x12 AWG + 1x18 AWG`, widest first.

    >>> conductors_text(("12 AWG", "12 AWG", "18 AWG"))
    '2x12 AWG + 1x18 AWG'
    """
    return " + ".join(f"{len(list(same))}x{size}" for size, same in groupby(sizes))


def sizes_of(conductors: str) -> Sizes:
    """The sizes that a key names, one for each conductor.

    >>> sizes_of("2x12 AWG + 1x18 AWG")
    ('12 AWG', '12 AWG', '18 AWG')
    """
    terms = (term.partition("x") for term in conductors.split(" + "))
    return tuple(size for count, _, size in terms for _ in range(int(count)))


@cache
def _area(size: str) -> Decimal:
    return area_mm2(size)


@cache
def diameter_mm(size: str) -> Decimal:
    """Bare, in the construction that is meant when none is said."""
    return bare_diameter_mm(size)


def total_mm2(sizes: Iterable[str]) -> Decimal:
    """The sum of the areas in mm2, nine decimals."""
    return sum((_area(size) for size in sizes), Decimal(0))


def packed_mm(sizes: Sizes, seeds: Sequence[int]) -> Decimal:
    """The bundle of a joint in mm, bare, default constructions, rounded up at the third decimal.

    Raises:
        BuildError: No two searches agreed before the seeds ran out.
    """
    diameters = [diameter_mm(size) for size in sizes]
    if len(diameters) == 2:
        return round_up_mm(sum(diameters, Decimal(0)))
    if len(diameters) == 3:
        return round_up_mm(three_circles(*map(float, diameters)))
    return round_up_mm(_ratio(shape(sizes), tuple(seeds)) * float(diameters[0]))


def hidden_text(sizes: Sizes) -> str:
    """The sizes that the others hide in the bundle as the library draws it, each once, from wide to thin.

    >>> hidden_text(("10 AWG", "10 AWG", "24 AWG")), hidden_text(("12 AWG",) * 3)
    ('24 AWG', '')
    """
    order = sorted(sizes, key=diameter_mm, reverse=True)
    hidden = hidden_among(tuple(diameter_mm(size) for size in order))
    return ", ".join(dict.fromkeys(order[i] for i in hidden))


def shape(sizes: Sizes) -> Shape:
    """Diameters in units of the widest: joints of one shape are each other, enlarged."""
    diameters = [diameter_mm(size) for size in sizes]
    return tuple(round(float(d / diameters[0]), 9) for d in diameters)


@cache
def _ratio(of: Shape, seeds: tuple[int, ...]) -> float:
    """The circle round a shape, in units of its widest conductor."""
    found = confirmed(of, seeds)
    if found is None:
        raise BuildError([failure(None, "bundle_mm", str(of), "geometry-agrees", "two searches that agree")])
    return found.diameter


def inputs_hash() -> str:
    """The SHA-256 of all that the table comes from: sizes, constructions, areas, diameters, parameters."""
    lines = [
        f"{size},{default_construction(size)},{_area(size)},{diameter_mm(size)}"
        for system in SYSTEMS
        for size in system
    ]
    return hashlib.sha256("\n".join([*lines, json.dumps(parameters(), sort_keys=True)]).encode()).hexdigest()


def parameters() -> dict[str, Any]:
    return {
        "conductors": f"{min(COUNTS)} to {max(COUNTS)}",
        "starts": STARTS,
        "seeds": f"{min(SEEDS)} to {max(SEEDS)}",
        "agree": AGREE,
        "hidden": "starts and moves of the search by number of conductors: "
        + ", ".join(f"{count} {effort(count)}" for count in COUNTS if count > 3),
    }


def read_table() -> list[dict[str, str]]:
    """The committed table as text, in its order.

    Raises:
        BuildError: It is not there, or its header is another.
    """
    try:
        reader = csv.DictReader(io.StringIO(TABLE.read_text("utf-8"), newline=""))
        rows = list(reader)
    except OSError as error:
        raise BuildError(
            [
                failure(
                    None,
                    "-",
                    "",
                    "geometry-table",
                    f"a readable file ({error.strerror}); run `make geometry`",
                )
            ]
        ) from None
    if tuple(reader.fieldnames or ()) != COLUMNS:
        raise BuildError(
            [
                failure(
                    1,
                    "-",
                    ",".join(reader.fieldnames or ()),
                    "geometry-table",
                    "the header " + ",".join(COLUMNS),
                )
            ]
        )
    return rows


def failure(line: int | None, column: str, value: str, check: str, expected: str) -> Failure:
    """What is wrong in the committed table."""
    return Failure(NAME, line, column, value, check, expected)
