"""`python -m pipeline`: build published/ from raw/, or compare without writing."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from rich.console import Console

from pipeline.build import Result, build, verify
from pipeline.failures import BuildError
from pipeline.schema import ROOT

__all__ = ["main"]


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; 0 done, 1 something does not hold, 2 wrong usage."""
    options = _parser().parse_args(arguments)
    started = time.perf_counter()
    try:
        with _steps() as step:
            if options.verify:
                return _compared(verify(options.raw, options.published, step))
            result = build(options.raw, options.published, step)
    except BuildError as error:
        print(error, file=sys.stderr)
        print(f"{len(error.failures)} failed; nothing was published", file=sys.stderr)
        return 1
    except OSError as error:
        name = error.filename or options.published
        print(f"{name}: {error.strerror or error}; nothing was published", file=sys.stderr)
        return 1
    _say(result, time.perf_counter() - started)
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m pipeline", description=__doc__)
    parser.add_argument("--raw", type=Path, default=ROOT / "raw", metavar="DIR", help="the printed tables")
    parser.add_argument(
        "--published", type=Path, default=ROOT / "published", metavar="DIR", help="the folder to write"
    )
    parser.add_argument("--verify", action="store_true", help="build beside and compare; write nothing")
    return parser


@contextmanager
def _steps() -> Iterator[Callable[[str], None]]:
    """A spinner with the step on a terminal, a plain line a step elsewhere."""
    console = Console(stderr=True)
    if not console.is_terminal:
        yield lambda name: print(f"{name} …", file=sys.stderr, flush=True)
        return
    with console.status("start") as status:
        yield lambda name: status.update(f"{name} …")


def _compared(different: list[str]) -> int:
    if not different:
        print("published/ is what raw/ gives")
        return 0
    for name in different:
        print(f"published/{name}: differs from what raw/ gives; run `make build`", file=sys.stderr)
    return 1


def _say(result: Result, seconds: float) -> None:
    changed = f"{len(result.changed)} files changed" if result.changed else "nothing changed"
    print(
        f"{result.tables} tables, {result.rows:,} rows, {result.checks} checks hold; {changed} ({seconds:.1f} s)"
    )


if __name__ == "__main__":
    sys.exit(main())
