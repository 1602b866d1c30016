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
import re
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from decimal import Decimal
from pathlib import Path

from jointable.geometry import round_up_mm
from pipeline.bundles import (
    COLUMNS,
    COUNTS,
    NAME,
    SEEDS,
    SYSTEMS,
    TABLE,
    Shape,
    Sizes,
    combinations,
    conductors_text,
    diameter_mm,
    failure,
    hidden_text,
    inputs_hash,
    packed_mm,
    parameters,
    read_table,
    shape,
    sizes_of,
    total_mm2,
)
from pipeline.failures import BuildError, Failure

__all__ = ["check_table", "main", "read_table", "reprove", "stale"]

ABOUT = TABLE.with_suffix(".json")

#: A re-proof draws its seeds above those that packed the table.
_REPROOF_SEEDS = 1000
#: One step of the last decimal of a bundle.
_STEP = Decimal("0.001")


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
        failures.append(
            failure(None, "conductors", str(len(rows)), "geometry-rows", f"{len(expected)} joints")
        )
    for line, (row, sizes) in enumerate(zip(rows, expected, strict=False), 2):
        text, total = conductors_text(sizes), total_mm2(sizes)
        if row["conductors"] != text:
            failures.append(failure(line, "conductors", row["conductors"], "geometry-rows", text))
        elif row["total_mm2"] != str(total):
            failures.append(failure(line, "total_mm2", row["total_mm2"], "geometry-total", str(total)))
        elif not _narrower(row["hidden"], sizes):
            told = "sizes of the joint narrower than its widest, from wide to thin, parted by a comma"
            failures.append(failure(line, "hidden", row["hidden"], "geometry-hidden", told))
        else:
            failures += _outside(line, row["bundle_mm"], sizes, total)
    return failures or list(_unordered(rows))


def _narrower(hidden: str, sizes: Sizes) -> bool:
    """Whether what is hidden is of the joint, narrower than its widest, each once and in order."""
    if not hidden:
        return True
    listed = hidden.split(", ")
    return listed == [size for size in dict.fromkeys(sizes) if size in listed and size != sizes[0]]


def _outside(line: int, bundle: str, sizes: Sizes, total: Decimal) -> Iterator[Failure]:
    """At least the two widest side by side; at most six as wide as the widest; room for the areas."""
    diameters = sorted((diameter_mm(size) for size in sizes), reverse=True)
    least, most = round_up_mm(sum(diameters[:2], Decimal(0))), round_up_mm(3 * diameters[0])
    if not re.fullmatch(r"\d+\.\d{3}", bundle):
        yield failure(line, "bundle_mm", bundle, "geometry-bounds", "a length in mm with three decimals")
    elif not least <= Decimal(bundle) <= most:
        yield failure(
            line, "bundle_mm", bundle, "geometry-bounds", f"{least} to {most}, by the widest conductors"
        )
    elif Decimal(bundle) ** 2 * Decimal("0.7854") < total:
        yield failure(line, "bundle_mm", bundle, "geometry-bounds", f"a circle of at least {total} mm2")


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
                yield failure(line, "bundle_mm", str(bundle), "geometry-order", expected)


def reprove(rows: Sequence[Mapping[str, str]], n: int, seed: int) -> list[Failure]:
    """Pack a seeded sample of the committed table again, from other seeds, and compare.

    Args:
        rows: The table as `read_table` gives it.
        n: Rows to pack again, drawn without return; all of them where there are fewer.
        seed: Seed of the draw and of the searches.

    Returns:
        A failure for each row whose bundle is smaller or larger than the one found now, rounded
        up, by more than one step of the last decimal, and for each that hides other sizes; one failure
        where nothing was compared.
    """
    draw = random.Random(seed)
    sample = draw.sample(range(len(rows)), min(n, len(rows)))
    if not sample:
        return [failure(None, "bundle_mm", "", "geometry-reproved", "rows to pack again; there are none")]
    failures = []
    for index in sorted(sample):
        stored = rows[index]["bundle_mm"]
        first = _REPROOF_SEEDS + draw.randrange(10**6) * len(SEEDS)
        found = packed_mm(sizes_of(rows[index]["conductors"]), range(first, first + len(SEEDS)))
        hidden = hidden_text(sizes_of(rows[index]["conductors"]))
        if rows[index]["hidden"] != hidden:
            failures.append(
                failure(
                    index + 2, "hidden", rows[index]["hidden"], "geometry-reproved", hidden or "an empty cell"
                )
            )
        if abs(found - Decimal(stored)) > _STEP:
            word = "a smaller circle holds it" if found < Decimal(stored) else "no search reaches it"
            failures.append(failure(index + 2, "bundle_mm", stored, "geometry-reproved", f"{found}: {word}"))
    return failures


def _packed_text(same: list[Sizes]) -> list[tuple[Sizes, tuple[str, str]]]:
    """Joints of one shape, packed once, and what each hides."""
    return [(sizes, (str(packed_mm(sizes, SEEDS)), hidden_text(sizes))) for sizes in same]


def build_table(jobs: int, say: Callable[[str], None]) -> list[tuple[str, ...]]:
    """Pack every joint; the rows of the table in its order."""
    joints = list(combinations())
    by_shape: dict[Shape, list[Sizes]] = {}
    for sizes in joints:
        by_shape.setdefault(shape(sizes), []).append(sizes)
    bundles: dict[Sizes, tuple[str, str]] = {}
    started = time.perf_counter()
    with ProcessPoolExecutor(jobs) as pool:
        for done, packed in enumerate(pool.map(_packed_text, by_shape.values(), chunksize=16), 1):
            bundles.update(packed)
            if done % 500 == 0 or done == len(by_shape):
                say(f"{done:,} of {len(by_shape):,} shapes packed ({time.perf_counter() - started:.0f} s)")
    return [(conductors_text(sizes), str(total_mm2(sizes)), *bundles[sizes]) for sizes in joints]


def write_table(rows: Iterable[tuple[str, ...]]) -> None:
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
        "parameters": parameters(),
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
    parser.add_argument(
        "--jobs", type=int, default=min(2, os.cpu_count() or 1), help="processes (default: 2)"
    )
    options = parser.parse_args(arguments)
    if options.jobs < 1:
        parser.error(f"--jobs: {options.jobs}: at least 1")
    try:
        write_table(build_table(options.jobs, lambda line: print(line, file=sys.stderr, flush=True)))
        failures = check_table(read_table())
    except BuildError as error:
        failures = list(error.failures)
    for one in failures:
        print(one, file=sys.stderr)
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
