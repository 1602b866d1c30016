"""The table of bundles: every joint of two to six conductors of the usual sizes, packed in advance.

`python -m pipeline.geometry` packs them and writes pipeline/precomputed/combination.csv with what
it comes from beside it; the build publishes that file, re-proves a sample of it and says so when it
is old.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import json
import os
import random
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from decimal import Decimal
from functools import lru_cache
from itertools import combinations_with_replacement, groupby
from pathlib import Path
from typing import Any

from jointable.bundle import three_circles
from jointable.geometry import area_mm2, bare_diameter_mm, default_construction, round_up_mm
from pipeline.failures import BuildError, Failure
from pipeline.packing import AGREE, STARTS, confirmed

__all__ = [
    "COLUMNS", "TABLE", "check_table", "combinations", "conductors_text", "inputs_hash", "main", "read_table",
    "reprove", "sizes_of", "stale", "total_mm2",
]  # fmt: skip

HERE = Path(__file__).resolve().parent / "precomputed"
TABLE = HERE / "combination.csv"
ABOUT = HERE / "combination.json"
NAME = "pipeline/precomputed/combination.csv"

#: Sizes of the table, from wide to thin; a joint takes all of its conductors from one of the two.
SYSTEMS = (
    tuple(f"{n} AWG" for n in range(6, 25, 2)),
    tuple(f"{a} mm2" for a in ("16", "10", "6", "4", "2.5", "1.5", "1", "0.75", "0.5")),
)
COUNTS = range(2, 7)
COLUMNS = ("conductors", "total_mm2", "bundle_mm")

#: Seeds tried in turn until two searches agree; a re-proof draws its own, far above these.
SEEDS = tuple(range(1, 25))
_REPROOF_SEEDS = 1000

#: One step of the last decimal of a bundle.
_STEP = Decimal("0.001")

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


def total_mm2(sizes: Iterable[str]) -> Decimal:
    """The sum of the areas in mm2, nine decimals."""
    return sum((area_mm2(size) for size in sizes), Decimal(0))


def packed_mm(sizes: Sizes, seeds: Sequence[int]) -> Decimal:
    """The bundle of a joint in mm, bare, default constructions, rounded up at the third decimal.

    Raises:
        BuildError: No two searches agreed before the seeds ran out.
    """
    diameters = [bare_diameter_mm(size) for size in sizes]
    if len(diameters) == 2:
        return round_up_mm(sum(diameters, Decimal(0)))
    if len(diameters) == 3:
        return round_up_mm(three_circles(*map(float, diameters)))
    return round_up_mm(_ratio(_shape(sizes), tuple(seeds)) * float(diameters[0]))


def _shape(sizes: Sizes) -> Shape:
    """Diameters in units of the widest: joints of one shape are each other, enlarged."""
    diameters = [bare_diameter_mm(size) for size in sizes]
    return tuple(round(float(d / diameters[0]), 9) for d in diameters)


@lru_cache(maxsize=None)
def _ratio(shape: Shape, seeds: tuple[int, ...]) -> float:
    """The circle round a shape, in units of its widest conductor."""
    found = confirmed(shape, seeds)
    if found is None:
        raise BuildError([_failure(None, "bundle_mm", str(shape), "geometry-agrees", "two searches that agree")])
    return found.diameter


def inputs_hash() -> str:
    """The SHA-256 of all that the table comes from: sizes, constructions, areas, diameters, parameters."""
    lines = [
        f"{size},{default_construction(size)},{area_mm2(size)},{bare_diameter_mm(size)}"
        for system in SYSTEMS
        for size in system
    ]
    return hashlib.sha256("\n".join([*lines, json.dumps(_parameters(), sort_keys=True)]).encode()).hexdigest()


def _parameters() -> dict[str, Any]:
    return {"counts": list(COUNTS), "starts": STARTS, "seeds": list(SEEDS), "agree": AGREE}


def read_table() -> list[dict[str, str]]:
    """The committed table as text, in its order.

    Raises:
        BuildError: It is not there, or its header is another.
    """
    try:
        reader = csv.DictReader(io.StringIO(TABLE.read_text("utf-8"), newline=""))
        rows = list(reader)
    except OSError as error:
        raise BuildError([_failure(None, "-", "", "geometry-table", f"a readable file ({error.strerror}); run `make geometry`")]) from None
    if tuple(reader.fieldnames or ()) != COLUMNS:
        raise BuildError([_failure(1, "-", ",".join(reader.fieldnames or ()), "geometry-table", "the header " + ",".join(COLUMNS))])
    return rows


def stale() -> str | None:
    """Why the committed table is old, in a sentence; None where it is not."""
    try:
        about = json.loads(ABOUT.read_text("utf-8"))
    except (OSError, ValueError):
        return f"{NAME} does not say what it comes from; run `make geometry`"
    if about.get("inputs_sha256") != inputs_hash():
        return f"{NAME} comes from other sizes, diameters or parameters than today's; run `make geometry`"
    if about.get("csv_sha256") != hashlib.sha256(TABLE.read_bytes()).hexdigest():
        return f"{NAME} is not the file that was packed; run `make geometry`"
    return None


def check_table(rows: Sequence[Mapping[str, str]]) -> list[Failure]:
    """Everything about the committed table that needs no packing: its joints, totals and bounds.

    Args:
        rows: The table as `read_table` gives it.

    Returns:
        What does not hold; empty where all does.
    """
    expected = list(combinations())
    failures = []
    if len(rows) != len(expected):
        failures.append(_failure(None, "conductors", str(len(rows)), "geometry-rows", f"{len(expected)} joints"))
    for line, (row, sizes) in enumerate(zip(rows, expected, strict=False), 2):
        text, total = conductors_text(sizes), total_mm2(sizes)
        if row["conductors"] != text:
            failures.append(_failure(line, "conductors", row["conductors"], "geometry-rows", text))
        elif row["total_mm2"] != str(total):
            failures.append(_failure(line, "total_mm2", row["total_mm2"], "geometry-total", str(total)))
        else:
            failures += _outside(line, row["bundle_mm"], sizes, total)
    return failures or list(_unordered(rows))


def _outside(line: int, bundle: str, sizes: Sizes, total: Decimal) -> Iterator[Failure]:
    """At least the two widest side by side; at most six as wide as the widest; room for the areas."""
    diameters = sorted((bare_diameter_mm(size) for size in sizes), reverse=True)
    least, most = round_up_mm(sum(diameters[:2], Decimal(0))), round_up_mm(3 * diameters[0])
    if not least <= Decimal(bundle) <= most:
        yield _failure(line, "bundle_mm", bundle, "geometry-bounds", f"{least} to {most}, by the widest conductors")
    elif Decimal(bundle) ** 2 * Decimal("0.7854") < total:
        yield _failure(line, "bundle_mm", bundle, "geometry-bounds", f"a circle of at least {total} mm2")


def _larger(sizes: Sizes) -> Iterator[Sizes]:
    """The joints with one conductor a size wider, or one conductor more."""
    system = next(system for system in SYSTEMS if sizes[0] in system)
    for i, size in enumerate(sizes):
        if system.index(size) > 0:
            yield _sorted((*sizes[:i], system[system.index(size) - 1], *sizes[i + 1 :]), system)
    if len(sizes) < max(COUNTS):
        yield _sorted((*sizes, system[-1]), system)


def _sorted(sizes: Sizes, system: Sizes) -> Sizes:
    return tuple(sorted(sizes, key=system.index))


def _unordered(rows: Sequence[Mapping[str, str]]) -> Iterator[Failure]:
    """A wider conductor, or one more, never makes a smaller circle; where it does a search fell short."""
    bundles = {sizes_of(row["conductors"]): Decimal(row["bundle_mm"]) for row in rows}
    for line, (sizes, bundle) in enumerate(bundles.items(), 2):
        for larger in _larger(sizes):
            if bundles[larger] < bundle:
                expected = f"at most {bundles[larger]}, the bundle of {conductors_text(larger)}"
                yield _failure(line, "bundle_mm", str(bundle), "geometry-order", expected)


def reprove(rows: Sequence[Mapping[str, str]], n: int, seed: int) -> list[Failure]:
    """Pack a seeded sample of the committed table again, from other seeds, and compare.

    Args:
        rows: The table as `read_table` gives it.
        n: Rows to pack again, drawn without return; all of them where there are fewer.
        seed: Seed of the draw and of the searches.

    Returns:
        A failure for each row whose bundle is smaller or larger than the one found now, rounded
        up, by more than one step of the last decimal; one failure where nothing was compared.
    """
    draw = random.Random(seed)
    sample = draw.sample(range(len(rows)), min(n, len(rows)))
    if not sample:
        return [_failure(None, "bundle_mm", "", "geometry-reproved", "rows to pack again; there are none")]
    failures = []
    for index in sorted(sample):
        stored = rows[index]["bundle_mm"]
        first = _REPROOF_SEEDS + draw.randrange(10**6) * len(SEEDS)
        found = packed_mm(sizes_of(rows[index]["conductors"]), range(first, first + len(SEEDS)))
        if abs(found - Decimal(stored)) > _STEP:
            word = "a smaller circle holds it" if found < Decimal(stored) else "no search reaches it"
            failures.append(_failure(index + 2, "bundle_mm", stored, "geometry-reproved", f"{found}: {word}"))
    return failures


def _failure(line: int | None, column: str, value: str, check: str, expected: str) -> Failure:
    return Failure(NAME, line, column, value, check, expected)


def _packed_text(same: list[Sizes]) -> list[tuple[Sizes, str]]:
    """Joints of one shape, packed once."""
    return [(sizes, str(packed_mm(sizes, SEEDS))) for sizes in same]


def build_table(jobs: int, say: Callable[[str], None]) -> list[tuple[str, str, str]]:
    """Pack every joint; the rows of the table in its order."""
    joints = list(combinations())
    by_shape: dict[Shape, list[Sizes]] = {}
    for sizes in joints:
        by_shape.setdefault(_shape(sizes), []).append(sizes)
    bundles: dict[Sizes, str] = {}
    started = time.perf_counter()
    with ProcessPoolExecutor(jobs) as pool:
        for done, packed in enumerate(pool.map(_packed_text, by_shape.values(), chunksize=16), 1):
            bundles.update(packed)
            if done % 500 == 0 or done == len(by_shape):
                say(f"{done:,} of {len(by_shape):,} shapes packed ({time.perf_counter() - started:.0f} s)")
    return [(conductors_text(sizes), str(total_mm2(sizes)), bundles[sizes]) for sizes in joints]


def write_table(rows: Iterable[tuple[str, str, str]]) -> None:
    """Write the table and what it comes from, each in one step."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerows([COLUMNS, *rows])
    data = text.getvalue().encode()
    about = {
        "what": "Bundles of every joint of two to six conductors; the least circle found, rounded up.",
        "rows": data.count(b"\n") - 1,
        "inputs_sha256": inputs_hash(),
        "csv_sha256": hashlib.sha256(data).hexdigest(),
        "parameters": _parameters(),
    }
    _replace(TABLE, data)
    _replace(ABOUT, (json.dumps(about, indent=1) + "\n").encode())


def _replace(path: Path, data: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.new")
    beside.write_bytes(data)
    os.replace(beside, path)


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; 0 done, 1 something does not hold, 2 wrong usage."""
    parser = argparse.ArgumentParser(prog="python -m pipeline.geometry", description=__doc__)
    parser.add_argument("--jobs", type=int, default=min(2, os.cpu_count() or 1), help="processes (default: 2)")
    options = parser.parse_args(arguments)
    if options.jobs < 1:
        parser.error(f"--jobs: {options.jobs}: at least 1")
    try:
        write_table(build_table(options.jobs, lambda line: print(line, file=sys.stderr, flush=True)))
        failures = check_table(read_table())
    except BuildError as error:
        failures = list(error.failures)
    for failure in failures:
        print(failure, file=sys.stderr)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
