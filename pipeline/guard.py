"""Rows that the code behind cannot read: the checks of print say what is wrong before anything else does."""

from __future__ import annotations

from pipeline.checks import Check, Context, Outcome, all_checks, run_check
from pipeline.failures import Failure
from pipeline.readings import Raw

__all__ = ["BROKEN", "guarded", "unreadable"]

#: What rows with a wrong figure may raise in code that reads true ones.
BROKEN = (KeyError, ValueError, ArithmeticError, LookupError, StopIteration, AttributeError, TypeError)


def guarded(check: Check, context: Context) -> Outcome:
    """Run a check; where its rows do not fit together at all, that is its failure."""
    try:
        return run_check(check, context)
    except BROKEN as error:
        stem = check.reads[0] if check.reads else "-"
        what = f"rows that can be compared: {check.what} ({type(error).__name__}: {error})"
        return Outcome(check, failures=[Failure(f"raw/{stem}.csv", None, "-", "", check.id, what)])


def unreadable(raw: Raw, error: Exception) -> list[Failure]:
    """The failures of the checks that look at printed rows alone, or the error itself where none fails.

    Args:
        raw: The rows, after the corrections ledger.
        error: What making tables of them raised.
    """
    found: list[Failure] = []
    for check in all_checks():
        try:
            outcome = run_check(check, Context(raw, {}))
        except BROKEN:
            continue
        # A check that compared nothing looks at tables, which are not there.
        found += outcome.failures if outcome.compared else []
    what = f"figures that make tables ({type(error).__name__}: {error})"
    return found or [Failure("raw", None, "-", "", "conform", what)]
