"""What a person waits for: the build, the import, a command from cold, a single answer."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import jointable
from tests.benchmarks.figures import Figure, median

ROOT = Path(__file__).resolve().parent.parent.parent


def _process(*arguments: str, status: tuple[int, ...] = (0,)) -> None:
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode in status, done.stderr


def measure(quick: bool) -> Iterator[Figure]:
    """Each figure beside the bare interpreter or beside a plain query, in the same run."""
    times = 5 if quick else 15
    bare = median(lambda: _process("-c", "pass"), times)
    yield Figure("the bare interpreter", bare, "s")
    yield from _cold(bare, times)
    with jointable.open() as reference:
        yield from _warm(reference, times)
    yield _build()


def _cold(bare: float, times: int) -> Iterator[Figure]:
    imported = median(lambda: _process("-c", "import jointable"), times)
    yield _aimed("`import jointable`, whole process", imported, "s", "the bare interpreter", bare, 0.1)
    duckdb = median(lambda: _process("-c", "import duckdb"), times)
    yield Figure("`import duckdb`, whole process", duckdb, "s", "the bare interpreter", duckdb / bare)
    for name, arguments in (
        ("joint", ("joint", "3x12 + 1x14 stranded", "--json")),
        ("range", ("range", "16", "--json")),
        ("fill", ("fill", "--demo", "--json")),
    ):
        cold = median(lambda a=arguments: _process("-m", "jointable", *a, status=(0, 1)), max(3, times // 3))  # type: ignore[misc]
        yield _aimed(f"`jointable {name}` from cold", cold, "s", "importing duckdb", duckdb, 0.5)


def _warm(reference: jointable.Reference, times: int) -> Iterator[Figure]:
    """Inputs differ from call to call, so that nothing is answered from memory."""
    plain = median(lambda: reference.rows("SELECT count(*) FROM allowance"), 20 * times)
    sizes = itertools.cycle((10, 12, 14, 16, 18))
    counts = itertools.count(1)

    def joint() -> None:
        n = next(counts)
        mix = f"{2 + n % 3}x{next(sizes)} + {1 + n // 3 % 2}x{next(sizes)} stranded"
        reference.connectors(mix, voltage=str(n % 600))  # another voltage is another question

    def fill() -> None:
        n = next(counts)
        rows = [
            {"box": f"b{n}", "item": "box", "size": "4 x 1-1/2 square"},
            {"box": f"b{n}", "item": "conductor", "size": str(next(sizes)), "quantity": 1 + n % 7},
            {"box": f"b{n}", "item": "device", "size": "12"},
        ]
        reference.fill(rows, edition="nec-2023")

    for name, work in (("one joint, warm", joint), ("one box, warm", fill)):
        for _ in range(3):
            work()
        yield _aimed(name, median(work, 4 * times) * 1000, "ms", "a plain query", plain * 1000, 5)


def _build() -> Figure:
    with tempfile.TemporaryDirectory() as folder:
        seconds = median(lambda: _process("-m", "pipeline", "--published", f"{folder}/out"), 1)
    return Figure("`make build` from nothing", seconds, "s", aim="seconds", met=seconds < 60)


def _aimed(what: str, value: float, unit: str, beside: str, plain: float, most: float) -> Figure:
    return Figure(what, value, unit, beside, value / plain, f"under {most:g} {unit}", value < most)
