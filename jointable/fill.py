"""Whether each box of a schedule is big enough: the macros of the database asked, the answer shaped."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass, field, fields, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

import duckdb

from jointable.batch import ITEMS, cells_query, load_cells, open_batch
from jointable.fill_words import DEFAULT_EDITION, Words, known_edition, occasions_by_box, with_hint, words_of
from jointable.schedule import read_schedule
from jointable.schedule_form import Problem, Schedule

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Answer", "FillLimit", "FillLine", "FillResult", "answer", "fill", "known_edition"]

#: Up to here the rows go with the query; beyond, into a temporary table that is scanned once more.
_INLINE_ROWS = 400


@dataclass(frozen=True, slots=True)
class FillLine:
    """What one kind of item takes of a box.

    Attributes:
        item, count, size: What it is, how many allowances, and of which conductor.
        allowance_in3, allowance_cm3: One allowance [in³, cm³].
        volume_in3, volume_cm3: What the line takes [in³, cm³]; the lines sum to what is required.
        clause: The rule.
        provenance: Ids of the values, as `trace` takes them.
    """

    item: str
    count: Decimal
    size: str | None
    allowance_in3: Decimal | None
    allowance_cm3: Decimal | None
    volume_in3: Decimal
    volume_cm3: Decimal
    clause: str
    provenance: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FillLimit:
    """A limit beside the fill.

    Attributes:
        clause, what: The rule, and what it measures.
        needed, given: The measures, in `unit`; `given` is None where the schedule states none.
        passes: True or False; None where it was not checked.
        unit: The unit of the measures.
        provenance: Ids of the values, as `trace` takes them.
    """

    clause: str
    needed: Decimal | None
    given: Decimal | None
    passes: bool | None
    what: str
    unit: str | None
    provenance: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FillResult:
    """The answer for one box, or for one space of a box.

    Attributes:
        box, space: Their names; `space` is None where the box is one.
        edition, data_version: What it was computed from.
        required_in3, required_cm3: The sum of the lines [in³, cm³].
        available_in3, available_cm3: The volume there is [in³, cm³], None where it is not known.
        passes: True, False, or None where it stays undecided.
        remaining: For each size, how many more conductors of it the box takes.
        largest_conductor: The largest conductor present.
        lines, limits: What takes volume, and the limits beside the fill.
        assumptions: What the answer rests on beside the code, in words.
        cautions: Safety cautions, each with id, text and clause.
        boxes: So many alike.
        note: The notes of the schedule.
        first_unit: `in3` or `cm3`: which people see first.
        table_box: The standard box, None for a marked volume.
        changes: What would bring the box under, where that was asked.
    """

    box: str
    space: str | None
    edition: str
    data_version: str
    required_in3: Decimal
    required_cm3: Decimal
    available_in3: Decimal | None
    available_cm3: Decimal | None
    passes: bool | None
    remaining: tuple[dict[str, Any], ...]
    largest_conductor: str | None
    lines: tuple[FillLine, ...]
    limits: tuple[FillLimit, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, str], ...]
    boxes: int = 1
    note: str | None = None
    first_unit: str = "in3"
    table_box: str | None = None
    changes: tuple[str, ...] | None = field(default=None)

    def to_dict(self) -> dict[str, Any]:
        """The answer as the form that JSON prints; numbers stay exact decimals."""
        out: dict[str, Any] = {}
        for f in fields(self):
            value = getattr(self, f.name)
            if f.name in ("lines", "limits"):
                value = [{name: _plain(getattr(part, name)) for name in part.__slots__} for part in value]
            if f.name != "changes" or value is not None:
                out[f.name] = _plain(value)
        return out


def _plain(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


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
    said = () if edition else (f"no edition was given: {DEFAULT_EDITION}",)
    if schedule.cells is None:
        with open_batch(reference, schedule) as batch:
            records, problems = _asked(batch.connection, ITEMS, chosen)
            told = batch.run(_occasion_rows(schedule))
    else:
        with closing(reference.connection.cursor()) as cursor:
            records, problems = _asked_of_cells(cursor, schedule, chosen)
        none = [None] * (schedule.size or 0)
        told = list(zip(*(schedule.cells.get(name, none) for name in _TELLING), strict=True))
    occasions = occasions_by_box(told)
    # A box with a bad space, or a row that is no row, is bad as a whole.
    bad = {p.box for p in schedule.bad_rows} | {_text(r["box"]) for r in records if r["problems"]}
    results = [
        _result(record, reference.data_version, words, said, occasions.get(str(record["box"]), ()))
        for record in records
        if _text(record["box"]) not in bad
    ]
    hinted = [with_hint(reference, p, chosen) for p in problems]
    return Answer(results, sorted([*schedule.bad_rows, *hinted], key=_place))


#: The columns that tell on which occasions a box is.
_TELLING = ("box", "item", "location", "material", "construction")


def _occasion_rows(schedule: Schedule) -> str:
    cells = (name if name in schedule.columns else f"NULL AS {name}" for name in _TELLING)
    return f"SELECT DISTINCT {', '.join(cells)} FROM {ITEMS}"


def _place(problem: Problem) -> int:
    return problem.file_row if problem.file_row is not None else 0


def _asked_of_cells(
    cursor: duckdb.DuckDBPyConnection, schedule: Schedule, edition: str
) -> tuple[list[dict[str, Any]], list[Problem]]:
    if not schedule.size:
        return [], []
    if schedule.size > _INLINE_ROWS:
        load_cells(cursor, schedule)
        return _asked(cursor, "items", edition)
    query, parameters = cells_query(schedule)
    return _asked(cursor, "items", edition, f"WITH items AS ({query}) ", parameters)


def _asked(
    connection: duckdb.DuckDBPyConnection,
    items: str,
    edition: str,
    prefix: str = "",
    parameters: Sequence[Any] | None = None,
) -> tuple[list[dict[str, Any]], list[Problem]]:
    """Ask the macros; `edition` is one of the table, so it may stand in the query as it is."""
    query = f"{prefix}FROM box_answer('{items}', '{edition}') ORDER BY first_row, box, space"
    records = _records(connection.execute(query, parameters))
    if not any(record["problems"] for record in records) and records:
        return records, []
    query = f"{prefix}FROM box_problems('{items}', '{edition}') ORDER BY file_row, box, space, column_name"
    found = _records(connection.execute(query, parameters))
    return records, [problem_of(record) for record in found]


def _records(cursor: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]


def problem_of(record: Mapping[str, Any]) -> Problem:
    """A row of `box_problems` as a problem."""
    return Problem(
        record["file_row"],
        _text(record["box"]),
        record["column_name"],
        _text(record["value"]) or None,
        record["reason"],
        record["expected"],
    )


def _text(value: Any) -> str | None:
    return None if value is None else str(value)


def _result(
    record: Mapping[str, Any],
    data_version: str,
    words: Words,
    said: Iterable[str],
    occasions: Collection[str],
) -> FillResult:
    return FillResult(
        box=str(record["box"]),
        space=_text(record["space"]),
        edition=record["edition"],
        data_version=data_version,
        required_in3=_number(record["required_in3"]) or Decimal(0),
        required_cm3=_number(record["required_cm3"]) or Decimal(0),
        available_in3=_number(record["available_in3"]),
        available_cm3=_number(record["available_cm3"]),
        passes=record["passes"],
        remaining=tuple({"size": r["size"], "count": r["count"]} for r in record["remaining"] or ()),
        largest_conductor=record["largest_conductor"],
        lines=tuple(_line(line) for line in record["lines"] or ()),
        limits=tuple(_limit(limit) for limit in record["limits"] or ()),
        assumptions=(*said, *(words.assumption(a) for a in record["assumptions"] or ())),
        cautions=words.cautions_on(occasions),
        boxes=record["boxes"] or 1,
        note=record["note"],
        first_unit=record["first_unit"] or "in3",
        table_box=record.get("table_box"),
    )


def _line(line: Mapping[str, Any]) -> FillLine:
    return FillLine(
        line["item"],
        _number(line["count"]) or Decimal(0),
        line["size"],
        _number(line["allowance_in3"]),
        _number(line["allowance_cm3"]),
        _number(line["volume_in3"]) or Decimal(0),
        _number(line["volume_cm3"]) or Decimal(0),
        line["clause"],
        tuple(line["provenance"] or ()),
    )


def _limit(limit: Mapping[str, Any]) -> FillLimit:
    return FillLimit(
        limit["clause"],
        _number(limit["needed"]),
        _number(limit["given"]),
        limit["passes"],
        limit["what"],
        limit["unit"],
        tuple(limit["provenance"] or ()),
    )


def _number(value: Any) -> Decimal | None:
    """A decimal without padding zeros, in plain notation: 18, not 18.0000000000 nor 2E+1."""
    if value is None:
        return None
    number = Decimal(value).normalize()
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number


def with_changes(
    results: Sequence[FillResult], changes: Mapping[tuple[str, str | None], list[str]]
) -> list[FillResult]:
    """The results with what would bring each box under."""
    return [
        replace(r, changes=tuple(changes.get((r.box, r.space), ()))) if r.passes is False else r
        for r in results
    ]
