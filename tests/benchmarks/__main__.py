"""`make bench`: run every module of this folder and print one table.

    python -m tests.benchmarks [--quick] [MODULE…]

A module here has `measure(quick: bool) -> Iterable[Figure]`. Absolute figures belong to the machine; the ratio
to something plain, measured beside it in the same run on the same rows, travels. A module without `measure` is run
as a script of its own and prints its own rows.
"""

from __future__ import annotations

import argparse
import importlib
import subprocess
import sys
from pathlib import Path

from tests.benchmarks.figures import Figure, heading, row

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
APART = ("__init__", "__main__", "figures")


def modules() -> list[str]:
    """The names of the modules that measure something."""
    return sorted(p.stem for p in HERE.glob("*.py") if p.stem not in APART)


def run(name: str, quick: bool) -> list[Figure] | None:
    """The figures of one module, printed as they come; None where it printed its own."""
    module = importlib.import_module(f"tests.benchmarks.{name}")
    measure = getattr(module, "measure", None)
    if measure is None:
        subprocess.run([sys.executable, "-m", f"tests.benchmarks.{name}"], cwd=ROOT, check=True)
        return None
    found = []
    for figure in measure(quick):
        print(row(figure), flush=True)
        found.append(figure)
    return found


def main(arguments: list[str] | None = None) -> int:
    """Print the table, and how many aims were missed; 2 wrong usage."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description="Figures as ratios.")
    parser.add_argument("modules", nargs="*", metavar="MODULE", help=f"of {', '.join(modules())}; else all")
    parser.add_argument("--quick", action="store_true", help="small files, few runs")
    options = parser.parse_args(arguments)
    unknown = set(options.modules) - set(modules())
    if unknown:
        parser.error(f"no such module: {', '.join(sorted(unknown))}; there are {', '.join(modules())}")
    print(heading(), flush=True)
    missed = 0
    for name in options.modules or modules():
        found = run(name, options.quick)
        if found is not None:
            missed += sum(f.met is False for f in found) + (not found)
    print(f"\n{missed} aims missed" if missed else "\nevery aim met")
    return 0


if __name__ == "__main__":
    sys.exit(main())
