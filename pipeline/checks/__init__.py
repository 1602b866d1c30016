"""Checks: each has an id, says what it compares, and fails when it compared nothing."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from importlib import import_module
from pkgutil import iter_modules

from pipeline.failures import Failure
from pipeline.readings import Raw, RawRow, Reading, Tables

__all__ = ["Check", "Comparison", "Context", "Outcome", "all_checks", "check", "register", "run_check"]

#: The four layers, in the order in which they run.
LAYERS = ("schema", "keys", "cross-check", "second evidence", "second keying")

Cell = tuple[RawRow, str]
Runner = Callable[["Context"], Iterator["Comparison"]]


@dataclass(frozen=True, slots=True)
class Comparison:
    """One thing compared: the printed cells it bears on, and whether it held.

    `residual` is the distance in units of the tolerance (1 is the limit); `expected` says what
    would be right for the first cell.
    """

    cells: tuple[Cell, ...]
    ok: bool
    residual: float = 0.0
    expected: str = ""


@dataclass(slots=True)
class Context:
    """What a check may look at."""

    raw: Raw
    tables: Tables
    all_readings: Iterable[Reading] = ()
    _by_table: dict[str, list[Reading]] = field(default_factory=dict)

    def rows(self, stem: str) -> list[RawRow]:
        """The rows of a raw file, after the corrections ledger."""
        return self.raw[stem]

    def readings(self, table: str) -> list[Reading]:
        """Every reading of a published table."""
        if not self._by_table:
            for reading in self.all_readings:
                self._by_table.setdefault(reading.table, []).append(reading)
        return self._by_table.get(table, [])


@dataclass(frozen=True, slots=True)
class Check:
    """A named comparison."""

    id: str
    layer: str
    reads: tuple[str, ...]
    what: str
    tolerance: str
    reason: str
    run: Runner


@dataclass(slots=True)
class Outcome:
    """What a check found."""

    check: Check
    compared: int = 0
    failed: int = 0
    worst_residual: float = 0.0
    failures: list[Failure] = field(default_factory=list)
    #: (raw file, line, column) -> the worst residual of the comparisons that bear on it
    cells: dict[tuple[str, int, str], float] = field(default_factory=dict)


_CHECKS: dict[str, Check] = {}


def check(
    id: str,
    *,
    layer: str,
    reads: tuple[str, ...],
    what: str,
    tolerance: str = "exact",
    reason: str = "",
) -> Callable[[Runner], Runner]:
    """Register a check; `reads` names the raw files whose cells it bears on."""

    def wrap(run: Runner) -> Runner:
        register(Check(id, layer, reads, what, tolerance, reason, run))
        return run

    return wrap


def register(new: Check) -> None:
    """Add a check; two of one name are an error."""
    if new.layer not in LAYERS:
        raise ValueError(f"no such layer: {new.layer}")
    if new.id in _CHECKS and _CHECKS[new.id].run.__qualname__ != new.run.__qualname__:
        raise ValueError(f"two checks are called {new.id}")
    _CHECKS[new.id] = new


def all_checks() -> tuple[Check, ...]:
    """Every registered check, by layer and then by id."""
    for module in iter_modules(__path__):
        import_module(f"{__name__}.{module.name}")
    return tuple(sorted(_CHECKS.values(), key=lambda c: (LAYERS.index(c.layer), c.id)))


def run_check(check: Check, context: Context) -> Outcome:
    """Run one check to its end and count."""
    outcome = Outcome(check)
    for comparison in check.run(context):
        outcome.compared += 1
        outcome.worst_residual = max(outcome.worst_residual, comparison.residual)
        for row, column in comparison.cells:
            place = (row.file, row.line, column)
            outcome.cells[place] = max(outcome.cells.get(place, 0.0), comparison.residual)
        if not comparison.ok:
            outcome.failed += 1
            outcome.failures.append(_failure(check, comparison))
    if outcome.compared == 0:
        stem = check.reads[0] if check.reads else "-"
        outcome.failures.append(
            Failure(f"raw/{stem}.csv", None, "-", "", check.id, "something to compare; it found nothing")
        )
    return outcome


def _failure(check: Check, comparison: Comparison) -> Failure:
    row, column = comparison.cells[0]
    return Failure(
        f"raw/{row.file}.csv",
        row.line,
        column,
        row.printed(column),
        check.id,
        comparison.expected or check.what,
    )
