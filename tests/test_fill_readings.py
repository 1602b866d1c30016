"""Every reading of the box schedule, by smallest cases: the library and the oracle both."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

import jointable
from jointable.fill import answer
from jointable.schedule import read_schedule
from tests.fill_readings import CANADIAN, NEC, Case
from tests.oracle.fill_oracle import OracleError, fill

RUNS = [(case, edition) for case in (*NEC, *CANADIAN) for edition in case.editions]
NUMBERED = [(number, *run) for number, run in enumerate(RUNS)]
NAMES = [f"{edition} {case.reading}" for case, edition in RUNS]


def _same(shown: object, expected: object) -> bool:
    if expected is None or isinstance(expected, bool):
        return shown is expected
    if isinstance(expected, str) and expected.endswith("AWG"):
        return shown == expected
    return Fraction(str(shown)) == Fraction(str(expected))


def _name(number: int) -> str:
    """The name of a box, in letters that no refusal is known by."""
    return "".join("abcdefghij"[int(digit)] for digit in str(number))


@cache
def _asked(
    reference: jointable.Reference, edition: str
) -> tuple[dict[str, list[dict[str, Any]]], dict[str, list[str]]]:
    """Every case of an edition as a box of one schedule: the answers and the refusals, by name of the box."""
    rows = [
        row | {"box": _name(n)} for n, (case, of) in enumerate(RUNS) if of == edition for row in case.rows()
    ]
    schedule = read_schedule(rows)
    found = answer(reference, schedule, edition)
    answers: dict[str, list[dict[str, Any]]] = {}
    for result in found.results:
        answers.setdefault(result.box, []).append(result.to_dict())
    refusals: dict[str, list[str]] = {}
    for problem in found.problems:
        refusals.setdefault(str(problem.box), []).append(str(schedule.error(problem)))
    assert len(answers) + len(refusals) == sum(of == edition for _, of in RUNS)
    return answers, refusals


@pytest.mark.parametrize(("number", "case", "edition"), NUMBERED, ids=NAMES)
def test_library(reference: jointable.Reference, number: int, case: Case, edition: str) -> None:
    answers, refusals = _asked(reference, edition)
    if case.error:
        first = refusals[_name(number)][0]
        assert case.error in first
        assert "\n" not in first
        return
    (result,) = answers[_name(number)]
    shown = result | {"largest": result["largest_conductor"]}
    wrong = {name: shown[name] for name, value in case.expect.items() if not _same(shown[name], value)}
    assert case.expect
    assert not wrong, f"expected {case.expect}"


@pytest.mark.parametrize("edition", sorted({edition for _, edition in RUNS}))
def test_a_case_by_itself_is_told_the_same(reference: jointable.Reference, edition: str) -> None:
    """The last answer and the last refusal of an edition, each asked alone."""
    mine = [(n, case) for n, (case, of) in enumerate(RUNS) if of == edition]
    answers, refusals = _asked(reference, edition)
    number, case = [(n, c) for n, c in mine if not c.error][-1]
    (alone,) = (r.to_dict() for r in reference.fill(case.rows(), edition=edition))
    assert alone | {"box": _name(number)} == answers[_name(number)][0]
    number, case = [(n, c) for n, c in mine if c.error][-1]
    with pytest.raises(jointable.InputError) as caught:
        reference.fill(case.rows(), edition=edition)
    told = re.compile(r"^row \d+: ")
    assert told.sub("", str(caught.value)) == told.sub("", refusals[_name(number)][0])


@pytest.mark.parametrize(("case", "edition"), RUNS, ids=NAMES)
def test_oracle(case: Case, edition: str) -> None:
    if case.error:
        with pytest.raises(OracleError):
            fill(case.rows(), edition)
        return
    (answer,) = fill(case.rows(), edition)
    wrong = {
        name: getattr(answer, name)
        for name, value in case.expect.items()
        if not _same(getattr(answer, name), value)
    }
    assert case.expect
    assert not wrong, f"expected {case.expect}"
