"""Every reading of the box schedule, by smallest cases: the library and the oracle both."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

import jointable
from tests.fill_readings import CANADIAN, NEC, Case
from tests.oracle.fill_oracle import OracleError, fill

RUNS = [(case, edition) for case in (*NEC, *CANADIAN) for edition in case.editions]
NAMES = [f"{edition} {case.reading}" for case, edition in RUNS]


def _same(shown: object, expected: object) -> bool:
    if expected is None or isinstance(expected, bool):
        return shown is expected
    if isinstance(expected, str) and expected.endswith("AWG"):
        return shown == expected
    return Fraction(str(shown)) == Fraction(str(expected))


@pytest.mark.parametrize(("case", "edition"), RUNS, ids=NAMES)
def test_library(reference: jointable.Reference, case: Case, edition: str) -> None:
    if case.error:
        with pytest.raises(jointable.InputError) as caught:
            reference.fill(case.rows(), edition=edition)
        assert case.error in str(caught.value)
        assert "\n" not in str(caught.value)
        return
    (result,) = reference.fill(case.rows(), edition=edition)
    shown: dict[str, Any] = result.to_dict()
    shown["largest"] = shown["largest_conductor"]
    wrong = {name: shown[name] for name, value in case.expect.items() if not _same(shown[name], value)}
    assert case.expect
    assert not wrong, f"expected {case.expect}"


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
