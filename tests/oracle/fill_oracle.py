"""The whole box schedule in exact fractions: an independent second opinion on `box_fill`.

It shares nothing with the library: figures and rules are typed again, from the paragraphs of
NEC 314.16 and C22.1 Rule 12-3034 and from the readings of the box schedule.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from fractions import Fraction

from . import canada, limits_oracle, nec
from .limits_oracle import Limit
from .nec import Line
from .nec_tables import ALLOWANCE, YEARS
from .words import CM3_PER_IN3, OracleError, Row, cell, count

EDITIONS = (*YEARS, *canada.EDITIONS)

__all__ = ["EDITIONS", "Answer", "Line", "OracleError", "fill", "remaining", "sizes_of"]


@dataclass(slots=True)
class Answer:
    """What one box or space needs and has."""

    box: str
    space: str | None
    required_in3: Fraction
    required_cm3: Fraction
    available_in3: Fraction | None
    available_cm3: Fraction | None
    passes: bool | None
    largest: str | None
    lines: list[Line]
    turns_on_extras: bool = False  # reading 1: the verdict differs without grounding and pigtails
    limits: list[Limit] = field(default_factory=list)
    verdict_in_ml: bool = False  # Canada, where the box states only mL

    def by_size(self) -> dict[str | None, Fraction]:
        """Allowances counted at each size (in3 where the line goes by depth), zeros left out."""
        totals: dict[str | None, Fraction] = {}
        for line in self.lines:
            share = line.count if line.size else line.in3
            if share:
                totals[line.size] = totals.get(line.size, Fraction(0)) + share
        return totals


def sizes_of(edition: str) -> tuple[str, ...]:
    """The sizes for which the edition prints an allowance."""
    return tuple(canada.ALLOWANCE if edition in canada.EDITIONS else ALLOWANCE)


def fill(rows: Iterable[Row], edition: str) -> list[Answer]:
    """Answer every box and space of a schedule, in order of first appearance.

    Raises:
        OracleError: A box has no answer; the text says why.
    """
    if edition not in EDITIONS:
        raise OracleError(f"no such edition: {edition}")
    boxes: dict[str, list[Row]] = {}
    for row in rows:
        boxes.setdefault(cell(row, "box"), []).append(row)
    return [answer for name, held in boxes.items() for answer in _box(name, held, edition)]


def _box(name: str, rows: list[Row], edition: str) -> list[Answer]:
    if not any(cell(row, "space") for row in rows):
        return [_space(name, None, rows, edition)]
    spaces: dict[str, list[Row]] = {}
    for row in rows:
        if not cell(row, "space"):
            raise OracleError("where spaces are used every row names one")
        spaces.setdefault(cell(row, "space"), []).append(row)
    return [_space(name, space, held, edition) for space, held in spaces.items()]


def _check_form(rows: Sequence[Row]) -> None:
    holders = [row for row in rows if cell(row, "item") in ("box", "conduit_body") and count(row)]
    if len(holders) != 1:
        raise OracleError("exactly one box or conduit body a box")
    if any(cell(row, "item") == "cable" and cell(row, "joint") for row in rows):
        raise OracleError("a cable row names no joint")


def _space(name: str, space: str | None, rows: Sequence[Row], edition: str) -> Answer:
    _check_form(rows)
    spaces = space is not None
    if edition in canada.EDITIONS:
        return _canada(name, space, rows, edition)
    lines, base, without = nec.fill_lines(rows, edition)
    required = sum((line.in3 for line in lines), Fraction(0))
    available = nec.available(rows, edition, spaces)
    limits = limits_oracle.limits(rows, edition)
    verdict = _parted(rows, spaces, _holds(required, available))
    return Answer(
        name, space, required, required * CM3_PER_IN3, available,
        None if available is None else available * CM3_PER_IN3,
        limits_oracle.combine(verdict, limits), base.text if base else None, lines,
        turns_on_extras=_holds(required, available) != _holds(without, available), limits=limits,
    )  # fmt: skip


def _holds(required: Fraction, available: Fraction | None) -> bool | None:
    """What needs nothing is held by any volume; what needs some, by none that is not given."""
    if available is None:
        return True if required == 0 else None
    return required <= available


def _parted(rows: Sequence[Row], spaces: bool, verdict: bool | None) -> bool | None:
    """Reading 8: a barrier parts the box; without the parts a pass is not decided."""
    barrier = any(cell(row, "item") == "barrier" and count(row) for row in rows)
    return None if barrier and not spaces and verdict else verdict


def _canada(name: str, space: str | None, rows: Sequence[Row], edition: str) -> Answer:
    lines, base = canada.fill_lines(rows, edition)
    required = sum((line.in3 for line in lines), Fraction(0))
    required_ml = sum((line.cm3 for line in lines), Fraction(0))
    in3, ml, only_ml = canada.available(rows, space is not None)
    verdict = _parted(rows, space is not None, required_ml <= ml if only_ml else required <= in3)
    return Answer(
        name, space, required, required_ml, in3, ml, verdict, base.text if base else None, lines,
        verdict_in_ml=only_ml,
    )  # fmt: skip


def remaining(rows: Sequence[Row], edition: str, size: str, answer: Answer | None = None) -> int | None:
    """The largest n for which this one box or space with n more conductors still passes.

    None where the verdict is open. A box that fails already takes none, 0. From the first conductor
    on the need grows by the same step, since no later one can be a new largest.
    """
    answer = answer or fill(rows, edition)[0]
    if answer.passes is None:
        return None

    def with_more(n: int) -> Answer:
        more = {
            "box": answer.box, "space": answer.space, "item": "conductor", "size": size, "quantity": n,
        }  # fmt: skip
        return fill([*rows, more], edition)[0]

    first = with_more(1)
    if not answer.passes or not first.passes:
        return 0
    second = with_more(2)
    if answer.verdict_in_ml:
        step, room = second.required_cm3 - first.required_cm3, answer.available_cm3 - first.required_cm3
    else:
        step, room = second.required_in3 - first.required_in3, answer.available_in3 - first.required_in3
    return 1 + room // step
