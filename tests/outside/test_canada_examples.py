"""C22.1 Rule 12-3034 against published worked examples, in mL.

Sources: author or publisher, title, year and edition of each stand in published_examples.jsonl. The
guide to C22.1:24 runs under cec-2021; the older wording of the pair rule under cec-2015 and -2018.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.outside.examples import from_library, from_oracle, hold, runs

RUNS = list(runs(("boxfill-CEC",)))


@pytest.mark.parametrize(("example", "edition"), [run[1:] for run in RUNS], ids=[run[0] for run in RUNS])
def test_library_gives_the_published_answer(reference: Any, example: dict[str, Any], edition: str) -> None:
    hold(example, edition, from_library(reference))


@pytest.mark.parametrize(("example", "edition"), [run[1:] for run in RUNS], ids=[run[0] for run in RUNS])
def test_oracle_gives_the_published_answer(example: dict[str, Any], edition: str) -> None:
    hold(example, edition, from_oracle)


def test_six_examples_run() -> None:
    assert len({name.split()[0] for name, _, _ in RUNS}) >= 6
