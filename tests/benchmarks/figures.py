"""One measured figure, and how it is timed and shown."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

__all__ = ["Figure", "heading", "median", "row"]


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure with its unit, a ratio to something plain beside it, and the aim where there is one."""

    what: str
    value: float
    unit: str
    beside: str = ""
    ratio: float | None = None
    aim: str = ""
    met: bool | None = None


def heading() -> str:
    """The head of the table."""
    return "| what | figure | ratio | to | aim |\n|---|---|---|---|---|"


def row(f: Figure) -> str:
    """A figure as a row of the table."""
    ratio = "" if f.ratio is None else f"{f.ratio:.2f}"
    aim = f.aim if f.met is None else f"{f.aim}: {'met' if f.met else 'not met'}"
    return f"| {f.what} | {f.value:,.4g} {f.unit} | {ratio} | {f.beside} | {aim} |"


def median(work: Callable[[], object], times: int) -> float:
    """The median of several runs, in seconds."""
    taken = []
    for _ in range(times):
        started = time.perf_counter()
        work()
        taken.append(time.perf_counter() - started)
    return statistics.median(taken)
