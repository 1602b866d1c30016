"""More boxes than memory holds: `write_fill` of a folder of Parquet files, its time, memory and spill.

    python -m tests.benchmarks.many [--boxes 10000000] [--folder DIR]

Files of five million boxes are made first, the rows of each in no order. The fill runs in a process of its own, and
every verdict is counted against the same boxes asked a dozen at a time (what a box holds depends on its number
modulo twelve). The folder holds the files,
as much again for the parts, the results twice, and what spills.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tempfile
import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

import jointable
from tests.benchmarks.fill import DATABASE, EDITION, PEAK, ROOT, ROWS

if TYPE_CHECKING:
    from tests.benchmarks.figures import Figure

PART = 5_000_000
PERIOD = 12
FILL = (
    "import sys, time, jointable\n"
    "from pathlib import Path\n"
    "from jointable.fill_output import write_fill\n"
    "began = time.perf_counter()\n"
    "done = write_fill(jointable.open(sys.argv[1]), sys.argv[2], sys.argv[3], sys.argv[4])\n"
    f"print(time.perf_counter() - began, {PEAK}, done.boxes, done.passed, done.failed)"
)


def make(folder: Path, boxes: int) -> None:
    """Write the files."""
    for number, first in enumerate(range(0, boxes, PART)):
        rows = ROWS.format(extra="b", boxes=f"{first}, {min(boxes, first + PART)}")
        config = {"memory_limit": "3GB", "temp_directory": str(folder / "making")}
        with duckdb.connect(config=config) as connection:
            connection.execute("SET preserve_insertion_order = false")
            connection.execute(
                f"COPY (SELECT * EXCLUDE (b) FROM ({rows}) ORDER BY hash(box, item, size)) "
                f"TO '{folder / f'{number:03}.parquet'}' (COMPRESSION zstd)"
            )


def passing(boxes: int) -> int:
    """How many pass, from one answer about a dozen of them."""
    with duckdb.connect() as connection:
        rows = connection.execute(
            f"SELECT * EXCLUDE (b) FROM ({ROWS.format(extra='b', boxes=PERIOD)}) ORDER BY b"
        )
        names = [column[0] for column in rows.description or ()]
        dozen = [dict(zip(names, row, strict=True)) for row in rows.fetchall()]
    with jointable.open(DATABASE) as reference:
        verdicts = {int(r.box.split()[1]): bool(r.passes) for r in reference.fill(dozen, EDITION)}
    return sum(verdicts[n] * ((boxes - n + PERIOD - 1) // PERIOD) for n in range(PERIOD))


def spilled(folder: Path) -> int:
    """Bytes of the temporary files of the database in a folder."""
    total = 0
    for path in folder.rglob("*"):
        # A file may be gone before it is asked.
        with suppress(OSError):
            total += path.stat().st_size if path.suffix == ".tmp" and path.is_file() else 0
    return total


def fill(folder: Path, boxes: int) -> dict[str, Any]:
    """Fill the files and return seconds, peak memory and greatest spill [GiB]."""
    most = [0]
    done = threading.Event()

    def watch() -> None:
        while not done.wait(1):
            most[0] = max(most[0], spilled(folder))

    threading.Thread(target=watch, daemon=True).start()
    source, target = str(folder / "*.parquet"), str(folder / "out" / "out.parquet")
    (folder / "out").mkdir(exist_ok=True)
    run = subprocess.run(
        [sys.executable, "-c", FILL, str(DATABASE), source, target, EDITION],
        stdout=subprocess.PIPE, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    done.set()
    seconds, peak, *counts = run.stdout.split()
    passed = passing(boxes)
    if [int(count) for count in counts] != [boxes, passed, boxes - passed]:
        raise SystemExit(f"{counts} boxes, passing and failing; expected {passed} of {boxes} to pass")
    return {
        "boxes": boxes, "seconds": float(seconds), "peak_gib": int(peak) / 2**20, "spill_gib": most[0] / 2**30,
    }  # fmt: skip


def ran(boxes: int, place: Path | None = None) -> dict[str, Any]:
    """Make and fill so many boxes."""
    with tempfile.TemporaryDirectory(dir=place) as name:
        make(Path(name), boxes)
        return fill(Path(name), boxes)


def measure(quick: bool) -> Iterator[Figure]:
    """The figures of a run as the table of all benchmarks shows them."""
    from tests.benchmarks.figures import Figure

    found = ran(1_000_000 if quick else 10_000_000)
    yield Figure(f"write_fill, {found['boxes']:,} boxes in files", found["seconds"], "s")
    yield Figure(
        "its peak memory", found["peak_gib"], "GiB", f"spill {found['spill_gib']:.2g} GiB", aim="under 4", met=found["peak_gib"] < 4
    )  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--boxes", type=int, default=10_000_000)
    parser.add_argument("--folder", type=Path, default=None)
    given = parser.parse_args()
    print(json.dumps(ran(given.boxes, given.folder), indent=1))


if __name__ == "__main__":
    main()
