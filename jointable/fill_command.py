"""The command `fill`: a schedule in, answers, files and messages out."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from jointable.demo import NAME, demo_schedule
from jointable.errors import InputError
from jointable.fill import FillResult, answer
from jointable.fill_result import with_changes
from jointable.fill_words import known_edition
from jointable.schedule import read_schedule
from jointable.schedule_form import Schedule

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Done", "advised", "run"]

#: Up to so many boxes that fail, what would bring each under is looked for unasked.
_MOST_ADVISED = 200


@dataclass(frozen=True, slots=True)
class Done:
    """What the command has to show.

    Attributes:
        results: The answers, or None where they were written to a file.
        schedule: The schedule they answer.
        messages: Lines for standard error.
        exit_code: 0 all pass, 1 some fail or stay undecided, 2 bad input.
    """

    results: list[FillResult] | None
    messages: list[str] = field(default_factory=list)
    exit_code: int = 0
    schedule: Schedule | None = None


def run(
    reference: Reference,
    schedule: str | None,
    edition: str | None = None,
    output: Path | None = None,
    report: Path | None = None,
    strict: bool = False,
) -> Done:
    """Do what the command `fill` asks.

    Args:
        reference: The open database.
        schedule: The path of a schedule, `-`, or None for the demo.
        edition: The code edition; by default nec-2023.
        output: Where to write the results, if anywhere.
        report: Where to write the HTML report, if anywhere.
        strict: Stop at the first bad row, also with an output.

    Returns:
        What to show.

    Raises:
        InputError: As `fill` and `write_fill`.

    Source: as `jointable.fill.fill`.

    Example:
        >>> import jointable
        >>> len(run(jointable.open(), None).results) >= 30
        True
    """
    if output is not None and report is not None and output.resolve() == report.resolve():
        raise InputError("output and report are one file", column="report", value=report)
    opened = read_schedule(demo_schedule() if schedule is None else schedule)
    if report is not None and opened.name and report.resolve() == Path(opened.name).resolve():
        raise InputError("the report would replace the schedule", column="report", value=report)
    messages = [f"These boxes are {NAME}."] if schedule is None else []
    if output is None:
        return _shown(reference, opened, edition, report, messages, schedule is None)
    return _written(reference, opened, edition, output, report, strict, messages)


def _shown(
    reference: Reference,
    schedule: Schedule,
    edition: str | None,
    report: Path | None,
    messages: list[str],
    invented: bool,
) -> Done:
    found = answer(reference, schedule, edition)
    if found.problems:
        raise schedule.error(found.problems[0])
    results = advised(reference, schedule, found.results, known_edition(reference, edition))
    if report is not None:
        messages.append(_reported(reference, schedule, results, report, invented))
    return Done(results, messages, 0 if all(r.passes for r in results) else 1, schedule)


def _written(
    reference: Reference,
    schedule: Schedule,
    edition: str | None,
    output: Path,
    report: Path | None,
    strict: bool,
    messages: list[str],
) -> Done:
    from jointable.fill_output import write_fill
    from jointable.progress import terminal_progress

    with terminal_progress() as progress:
        done = write_fill(reference, schedule, output, edition, strict=strict, progress=progress)
    messages.append(
        f"{done.output}: {done.boxes} boxes, {done.passed} pass, {done.failed} do not, "
        f"{done.undecided} undecided"
    )
    if done.rejects is not None:
        messages.append(
            f"{done.rejects}: {done.rejected} bad {'box' if done.rejected == 1 else 'boxes'} left out, "
            f"{done.rows} {'reason' if done.rows == 1 else 'reasons'}"
        )
    if report is not None:
        good = answer(reference, schedule, edition).results
        messages.append(_reported(reference, schedule, good, report, invented=False))
    return Done(None, messages, done.exit_code)


def advised(
    reference: Reference, schedule: Schedule, results: Sequence[FillResult], edition: str
) -> list[FillResult]:
    """Results with what would bring each failing box under, where these are few.

    Args:
        reference: The open database.
        schedule: The schedule.
        results: Its results.
        edition: The code edition.

    Returns:
        The results, those that fail with `changes`.

    Source: as `jointable.advice.changes_for`.

    Example:
        >>> import jointable
        >>> advised(jointable.open(), read_schedule([{"item": "clamp"}]), [], "nec-2023")
        []
    """
    failing = sum(r.passes is False for r in results)
    if schedule.cells is None or not 0 < failing <= _MOST_ADVISED:
        return list(results)
    from jointable.advice import changes_for

    texts: dict[tuple[str, str | None], list[str]] = {}
    for change in changes_for(reference, schedule.records(), results, edition):
        texts.setdefault((change.box, change.space), []).append(change.text)
    return with_changes(results, texts)


def _reported(
    reference: Reference, schedule: Schedule, results: Sequence[FillResult], report: Path, invented: bool
) -> str:
    from jointable.files import write_text
    from jointable.report import content_hashes, html_report

    name = NAME if invented else Path(schedule.name or "schedule").name
    hashes = {**_schedule_hash(schedule), "all tables": reference.content_hash}
    hashes |= {f"table {name}": value for name, value in content_hashes(reference).items()}
    write_text(report, html_report(results, name=name, hashes=hashes, invented=invented))
    return f"{report}: report of {len(results)} boxes"


def _schedule_hash(schedule: Schedule) -> dict[str, str]:
    """The hash of the schedule's own file, where it is one file."""
    path = Path(schedule.name or "")
    if not schedule.name or not path.is_file():
        return {}
    with path.open("rb") as stream:
        return {"the schedule": hashlib.file_digest(stream, "sha256").hexdigest()}
