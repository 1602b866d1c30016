"""Whether each box of a schedule is big enough: the macros of the database asked, the answer shaped."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from contextlib import closing
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import duckdb

from jointable.batch import ITEMS, cells_query, load_cells, open_batch, uncomputed
from jointable.errors import InputError
from jointable.fill_problems import problem_of, problems_of_bad_boxes, unexplained, without_consequences
from jointable.fill_result import FillLimit, FillLine, FillResult, result_of, text_or_none
from jointable.fill_words import (
    DEFAULT_EDITION,
    known_edition,
    occasions_by_box,
    with_hint,
    words_of,
)
from jointable.schedule import read_schedule
from jointable.schedule_form import COLUMNS, FILE_ROW, Problem, Schedule

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Answer", "FillLimit", "FillLine", "FillResult", "answer", "fill", "known_edition"]

#: Up to here the rows go with the query; beyond, into a temporary table that is scanned once more.
_INLINE_ROWS = 400


@dataclass(frozen=True, slots=True)
class Answer:
    """The answers for the good boxes of a schedule, and what is wrong with the others."""

    results: list[FillResult]
    problems: list[Problem]


def fill(reference: Reference, source: Any, edition: str | None = None) -> list[FillResult]:
    """Whether each box of a schedule is big enough.

    Args:
        reference: The open database.
        source: The schedule: a path, `-`, a frame, a relation or a list of rows; see
            `jointable.schedule.read_schedule`.
        edition: The code edition; by default nec-2023, and the results say so.

    Returns:
        A result for each box and space, in the order of first appearance [in³, cm³, mm].

    Raises:
        InputError: The schedule or the edition is wrong; the first bad row is named.

    Source: NEC 314.16 and 314.28, CSA C22.1 12-3034, of the edition; each line names its clause.

    Example:
        >>> import jointable
        >>> items = [{"item": "box", "size": "4 x 1-1/2 square"},
        ...          {"item": "cable", "size": "12/2", "quantity": 3}, {"item": "device"}]
        >>> result, = fill(jointable.open(), items)
        >>> f"{result.required_in3:.2f}", result.passes
        ('20.25', True)
    """
    schedule = read_schedule(source)
    found = answer(reference, schedule, edition)
    if found.problems:
        raise schedule.error(found.problems[0])
    return found.results


def answer(reference: Reference, schedule: Schedule, edition: str | None = None) -> Answer:
    """The answers for the good boxes, and everything that is wrong with the others.

    Args:
        reference: The open database.
        schedule: The opened schedule.
        edition: The code edition; by default nec-2023.

    Returns:
        An `Answer`; a box with a problem has no result.

    Raises:
        InputError: The edition is unknown or has no volume rule, or the rows cannot be read.

    Source: as `fill`.

    Example:
        >>> import jointable
        >>> rows = read_schedule([{"item": "box", "size": "4 x 1-1/2 square"}, {"item": "bx"}])
        >>> [p.value for p in answer(jointable.open(), rows).problems]
        ['bx']
    """
    chosen = known_edition(reference, edition)
    words = words_of(reference)
    question = _question(schedule, chosen, edition is None)
    known = words.answers.get(question) if question else None
    if known is not None:
        return Answer(list(known.results), list(known.problems))
    found = _answer(reference, schedule, chosen, edition is None)
    if question:
        words.answers.put(question, found)
    return Answer(list(found.results), list(found.problems))


def answer_together(reference: Reference, schedules: Iterable[Schedule], edition: str | None = None) -> None:
    """Ask the macro about several small schedules in one statement, so that `answer` finds what it said.

    Args:
        reference: The open database.
        schedules: The opened schedules. One that is large, or has a problem, is left out: `answer` asks
            about it by itself and says what is wrong.
        edition: The code edition; by default nec-2023.

    Source: none; the planning of the macro takes longer than one more box.

    Example:
        >>> import jointable
        >>> reference = jointable.open()
        >>> boxes = [read_schedule([{"item": "box", "volume_in3": n}]) for n in (18, 21)]
        >>> answer_together(reference, boxes)
        >>> [answer(reference, box).results[0].available_in3 for box in boxes]
        [Decimal('18'), Decimal('21')]
    """
    try:
        chosen = known_edition(reference, edition)
    except InputError:
        return
    words = words_of(reference)
    alone = {_question(s, chosen, edition is None): s for s in schedules if not s.bad_rows and s.size}
    asked = {q: s for q, s in alone.items() if q and words.answers.get(q) is None and _names_each_box(s)}
    if len(asked) < 2:
        return
    try:
        found = _answer(reference, _joined(asked.values()), chosen, edition is None)
    except InputError:
        return  # one of them cannot be computed; each by itself tells which
    bad = {problem.box for problem in found.problems}
    results: dict[str, list[FillResult]] = {}
    for result in found.results:
        number, _, box = result.box.partition(_MARK)
        results.setdefault(number, []).append(replace(result, box=box))
    for place, (question, schedule) in enumerate(asked.items()):
        number = str(place)
        boxes = {f"{number}{_MARK}{box}" for box in (schedule.cells or {})["box"]}
        if None not in bad and not boxes & bad:
            words.answers.put(question, Answer(results.get(number, []), []))


#: Between the number of a schedule and the name of its box; no cell may hold it.
_MARK = "\x1f"


def _names_each_box(schedule: Schedule) -> bool:
    return all((schedule.cells or {}).get("box") or [None])


def _joined(schedules: Iterable[Schedule]) -> Schedule:
    """Several schedules as one whose boxes are told apart by a number before their names."""
    listed = list(schedules)
    names = {name for schedule in listed for name in schedule.cells or {}}
    cells: dict[str, list[Any]] = {name: [] for name in (*COLUMNS, FILE_ROW) if name in names}
    for number, schedule in enumerate(listed):
        own = schedule.cells or {}
        for name, values in cells.items():
            given = own.get(name, [None] * (schedule.size or 0))
            values += [f"{number}{_MARK}{box}" for box in given] if name == "box" else given
    size = sum(s.size or 0 for s in listed)
    return Schedule(None, tuple(c for c in COLUMNS if c in cells), cells, size=size)


def _question(schedule: Schedule, edition: str, unsaid: bool) -> Hashable | None:
    """What decides the answer about a few boxes; the database is read-only, so it stays the same."""
    if schedule.cells is None or (schedule.size or 0) > _INLINE_ROWS:
        return None
    return edition, unsaid, schedule.bad_rows, tuple((c, tuple(v)) for c, v in schedule.cells.items())


def _answer(reference: Reference, schedule: Schedule, chosen: str, unsaid: bool) -> Answer:
    words = words_of(reference)
    said = () if not unsaid else (f"no edition was given: {DEFAULT_EDITION}",)
    asked = (
        _ask_scan(reference, schedule, chosen)
        if schedule.cells is None
        else _ask_cells(reference, schedule, chosen)
    )
    occasions = occasions_by_box(asked.occasions)
    # A box with a bad space, or a row that is no row, is bad as a whole.
    bad = {p.box for p in asked.bad_rows} | {text_or_none(r["box"]) for r in asked.records if r["problems"]}
    results = [
        result_of(record, reference.data_version, words, said, occasions.get(str(record["box"]), ()))
        for record in asked.records
        if text_or_none(record["box"]) not in bad
    ]
    found = without_consequences(asked.problems, asked.bad_rows)
    hinted = [with_hint(reference, p, chosen) for p in found]
    return Answer(results, sorted([*asked.bad_rows, *hinted], key=_place))


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the macros said: rows of `box_answer`, problems, rows that are no rows, and cells that tell occasions."""

    records: list[dict[str, Any]]
    problems: list[Problem]
    bad_rows: list[Problem]
    occasions: Iterable[tuple[Any, ...]]


#: The columns that tell on which occasions a box is.
_TELLING = ("box", "item", "location", "material", "construction")


def _place(problem: Problem) -> tuple[int, str, str]:
    return problem.file_row or 0, problem.box or "", problem.column or ""


def _ask_scan(reference: Reference, schedule: Schedule, edition: str) -> _Asked:
    """Ask about rows that stay where they are."""
    cells = ", ".join(name if name in schedule.columns else f"NULL AS {name}" for name in _TELLING)
    problems: list[Problem] = []
    with open_batch(reference, schedule) as batch:
        try:
            records = _records(batch.connection.execute(_answers(ITEMS, edition)))
        except duckdb.Error as error:
            raise uncomputed(schedule, error) from error
        bad = sorted({str(r["box"]) for r in records if r["problems"] and r["box"] is not None})
        unnamed = any(r["box"] is None for r in records)
        if bad or unnamed:
            batch.run(
                "CREATE TABLE work.bad AS SELECT unnest($1::VARCHAR[]) AS box", [[*bad, *[None] * unnamed]]
            )
            problems = problems_of_bad_boxes(batch, schedule, edition)
        return _Asked(records, problems, batch.bad_rows, batch.run(f"SELECT DISTINCT {cells} FROM {ITEMS}"))


def _ask_cells(reference: Reference, schedule: Schedule, edition: str) -> _Asked:
    """Ask about rows in memory, on the locked connection."""
    cells = schedule.cells or {}
    none = [None] * (schedule.size or 0)
    occasions = list(zip(*(cells.get(name, none) for name in _TELLING), strict=True))
    bad_rows = list(schedule.bad_rows)
    if not schedule.size:
        return _Asked([], [], bad_rows, occasions)
    prefix, parameters = "", None
    with closing(reference.connection.cursor()) as cursor:
        if schedule.size > _INLINE_ROWS:
            load_cells(cursor, schedule)
        else:
            query, parameters = cells_query(schedule)
            prefix = f"WITH items AS ({query}) "
        try:
            records = _records(cursor.execute(prefix + _answers("items", edition), parameters))
            bad = [record["box"] for record in records if record["problems"]]
            if records and not bad:
                return _Asked(records, [], bad_rows, occasions)
            found = _records(cursor.execute(f"{prefix}FROM box_problems('items', '{edition}')", parameters))
        except duckdb.Error as error:
            raise uncomputed(schedule, error) from error
    problems = [problem_of(record) for record in found]
    return _Asked(records, [*problems, *unexplained(bad, problems)], bad_rows, occasions)


def _answers(items: str, edition: str) -> str:
    """The question; `edition` is one of the table, so it may stand in it as it is.

    The macro of the edition's family is what `box_answer` would choose; named at once, the other
    family need not be planned, which is most of the time of a small question.
    """
    family = edition.partition("-")[0]
    return f"FROM box_answer_{family}('{items}', '{edition}') ORDER BY first_row, box, space"


def _records(cursor: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
