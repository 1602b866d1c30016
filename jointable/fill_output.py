"""Fills written to a file: any number of boxes, good ones computed, bad ones put beside with reasons."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

from jointable.batch import ITEMS, Batch, open_batch, quoted, uncomputed
from jointable.errors import InputError
from jointable.files import replacing
from jointable.fill_problems import problems_of_bad_boxes, without_consequences
from jointable.fill_words import known_edition, with_hint
from jointable.progress import Progress
from jointable.schedule import read_schedule
from jointable.schedule_form import Problem, Schedule

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Written", "rejects_path", "write_fill"]

#: How DuckDB writes each form.
_FORMS = {
    ".csv": "FORMAT csv, HEADER true, DELIMITER ',', NULLSTR ''",
    ".parquet": "FORMAT parquet, COMPRESSION zstd",
    ".jsonl": "FORMAT json, ARRAY false",
}

#: So many rows are filled at once: what they need stays in memory. Writing a larger schedule in parts first costs
#: less than spilling its groups to the disk, and grows with it in proportion.
PART_ROWS = 10_000_000

_VOLUMES = ("required_in3", "required_cm3", "available_in3", "available_cm3")
_COLUMNS = f"box, space, edition, {', '.join(_VOLUMES)}, passes, largest_conductor, boxes, note"


@dataclass(frozen=True, slots=True)
class Written:
    """What was written.

    Attributes:
        output: The file of the good boxes.
        rejects: The file of the bad ones, or None where there are none.
        boxes: Number of results, a space counting by itself.
        passed, failed, undecided: How they came out.
        rejected: Number of boxes that were bad.
        rows: Number of lines in the rejects file.
    """

    output: Path
    rejects: Path | None
    boxes: int
    passed: int
    failed: int
    undecided: int
    rejected: int
    rows: int

    @property
    def exit_code(self) -> int:
        """0 all pass, 1 some fail or stay undecided, 2 some were bad."""
        if self.rejected or self.rows:
            return 2
        return 0 if self.passed == self.boxes else 1


def rejects_path(output: Path) -> Path:
    """Where the bad boxes of an output go.

    Args:
        output: The output file.

    Returns:
        The path beside it.

    Source: none; the form is this project's.

    Example:
        >>> rejects_path(Path("out.parquet")).name
        'out.rejects.csv'
    """
    return output.with_suffix(".rejects.csv")


def write_fill(
    reference: Reference,
    source: Any,
    output: str | Path,
    edition: str | None = None,
    *,
    strict: bool = False,
    progress: Progress | None = None,
) -> Written:
    """Fill all boxes of a schedule into a file, however many, in memory that does not grow with them.

    Args:
        reference: The open database.
        source: The schedule, in any form that `fill` takes.
        output: A path ending in .csv, .parquet or .jsonl; it appears whole or not at all.
        edition: The code edition; by default nec-2023.
        strict: Stop at the first bad row and write nothing.
        progress: Told the step and its percentage, or None.

    Returns:
        What was written: volumes in in³ and cm³; bad boxes in a rejects file with file row, box,
        column, value and reason.

    Raises:
        InputError: The schedule cannot be read, the edition is wrong, the output cannot be written,
            or a row is bad and `strict` is asked for.

    Source: as `jointable.fill.fill`.

    Example:
        >>> import jointable, tempfile
        >>> rows = [{"item": "box", "size": "4 x 1-1/2 square"}, {"item": "conductor", "size": 12}]
        >>> with tempfile.TemporaryDirectory() as folder:
        ...     write_fill(jointable.open(), rows, Path(folder) / "out.csv").boxes
        1
    """
    path = Path(output)
    form = _FORMS.get(path.suffix.lower())
    if form is None:
        raise InputError(
            "no such form of output",
            column="output",
            value=path.name,
            expected=f"a name ending in {', '.join(_FORMS)}",
        )
    chosen = known_edition(reference, edition)
    schedule = read_schedule(source)
    _check_place(path, schedule)
    with open_batch(reference, schedule, path.parent, progress) as batch:
        bad_rows = [*schedule.bad_rows, *batch.bad_rows]
        _compute(batch, schedule, chosen)
        found = without_consequences(problems_of_bad_boxes(batch, schedule, chosen), bad_rows)
        problems = [*bad_rows, *(with_hint(reference, p, chosen) for p in found)]
        problems.sort(key=lambda p: (p.file_row or 0, p.box or "", p.column or ""))
        if strict and problems:
            raise schedule.error(problems[0])
        counts = _verdicts(batch, bad_rows)
        rejected = {p.box for p in problems}
        _write(batch, path, form)
    beside = _write_rejects(rejects_path(path), problems, schedule)
    return Written(path, beside, *counts, rejected=len(rejected), rows=len(problems))


def _check_place(path: Path, schedule: Schedule) -> None:
    if not path.parent.is_dir():
        raise InputError("there is no such folder", column="output", value=path.parent)
    sources = [
        *(p for p, _ in schedule.parts),
        *(schedule.scan.paths if schedule.scan else ()),
        schedule.name,
    ]
    read = {Path(source).resolve() for source in sources if source}
    for target in (path, rejects_path(path)):
        if target.resolve() in read:
            raise InputError(
                "the output would replace the schedule",
                column="output",
                value=target,
                expected="another name",
            )


def _compute(batch: Batch, schedule: Schedule, edition: str) -> None:
    """Fill every box into `work.result`, and name the bad ones in `work.bad`."""
    try:
        for n, (source, step) in enumerate(_parts(batch)):
            batch.run(
                f"{'INSERT INTO work.result' if n else 'CREATE TABLE work.result AS'} "
                f"SELECT {_COLUMNS}, first_row, problems FROM box_fill('{source}', '{edition}')",
                step=step,
            )
    except duckdb.Error as error:
        raise uncomputed(schedule, error) from error
    # One bad space makes a box bad as a whole.
    batch.run("CREATE TABLE work.bad AS SELECT DISTINCT box FROM work.result WHERE problems > 0")


def _parts(batch: Batch) -> Iterator[tuple[str, str]]:
    """The schedule in parts that hold whole boxes and fit in memory: the name of each as a source, and the step."""
    (rows,) = batch.run(f"SELECT count(*) FROM {ITEMS}")[0]
    parts = -(-rows // PART_ROWS)
    if parts <= 1:
        yield ITEMS, "filling boxes"
        return
    folder = batch.folder / "parts"
    # Two threads hold rows of every part until so many are worth a write.
    batch.run(f"SET partitioned_write_flush_threshold = {max(1_000, PART_ROWS // 10 // parts)}")
    batch.run(
        f"COPY (SELECT *, hash(box) % {parts} AS part FROM {ITEMS}) TO {quoted(str(folder))} "
        "(FORMAT parquet, COMPRESSION zstd, PARTITION_BY (part))",
        step="parting the schedule",
    )
    for n, place in enumerate(sorted(folder.iterdir()), 1):
        files = quoted(str(place / "*.parquet"))
        batch.run(
            f"CREATE OR REPLACE TEMP VIEW part AS FROM read_parquet({files}, hive_partitioning = false)"
        )
        batch.span = (100 * (n - 1) / parts, 100 * n / parts)
        yield "temp.main.part", f"filling boxes, part {n} of {parts}"
        shutil.rmtree(place)
    batch.span = (0, 100)


def _verdicts(batch: Batch, bad_rows: Iterable[Problem]) -> tuple[int, int, int, int]:
    """Take the bad boxes out of `work.result` and count the others."""
    batch.run("DELETE FROM work.result WHERE box IS NULL OR box IN (FROM work.bad)")
    names = sorted({p.box for p in bad_rows if p.box is not None})
    if names:
        batch.run("DELETE FROM work.result WHERE box IN (SELECT unnest($1::VARCHAR[]))", [names])
    (row,) = batch.run(
        "SELECT count(*), count(*) FILTER (passes), count(*) FILTER (NOT passes), "
        "count(*) FILTER (passes IS NULL) FROM work.result"
    )
    return row[0], row[1], row[2], row[3]


def _write(batch: Batch, path: Path, form: str) -> None:
    columns = _COLUMNS
    if path.suffix.lower() == ".csv":
        # As text a decimal would keep its padding zeros; Parquet and JSON hold numbers.
        for name in _VOLUMES:
            columns = columns.replace(name, f"rtrim(rtrim({name}::VARCHAR, '0'), '.') AS {name}")
    with replacing(path) as temporary:
        batch.run(
            f"COPY (SELECT {columns} FROM work.result ORDER BY first_row, box, space) "
            f"TO {quoted(str(temporary))} ({form})",
            step="writing",
        )


def _write_rejects(path: Path, problems: list[Problem], schedule: Schedule) -> Path | None:
    if not problems:
        # What lies there is of an earlier run, and would speak of this one.
        path.unlink(missing_ok=True)
        return None
    with replacing(path) as temporary, temporary.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        several = bool(schedule.parts)
        writer.writerow(["row", "box", "column", "value", "reason", *(["file"] if several else [])])
        writer.writerows(_reject_rows(problems, schedule, several))
    return path


def _reject_rows(problems: Iterable[Problem], schedule: Schedule, several: bool) -> Iterator[list[Any]]:
    for problem in problems:
        name, row = schedule.place(problem.file_row)
        placed = replace(problem, file_row=row)
        cells = [placed.file_row, placed.box, placed.column, placed.value, placed.text]
        yield ["" if cell is None else cell for cell in [*cells, *([name] if several else [])]]
