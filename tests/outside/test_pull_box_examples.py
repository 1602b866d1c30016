"""NEC 314.28 against published worked examples: each passes at the published length, not under it.

Sources: author or publisher, title, year and edition of each stand in published_examples.jsonl.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.outside.examples import examples, from_library, from_oracle, hold, runs

RUNS = list(runs(("pullbox-NEC",)))


@pytest.mark.parametrize(("example", "edition"), [run[1:] for run in RUNS], ids=[run[0] for run in RUNS])
def test_library_gives_the_published_answer(reference: Any, example: dict[str, Any], edition: str) -> None:
    hold(example, edition, from_library(reference))


@pytest.mark.parametrize(("example", "edition"), [run[1:] for run in RUNS], ids=[run[0] for run in RUNS])
def test_oracle_gives_the_published_answer(example: dict[str, Any], edition: str) -> None:
    hold(example, edition, from_oracle)


def test_both_verdicts_occur() -> None:
    """A limit that never fails, or never passes, would prove nothing."""
    verdicts = [
        check["expect"]["passes"] for row in examples(("pullbox-NEC",)) for check in row.get("checks", ())
    ]
    assert verdicts.count(True) >= 6
    assert verdicts.count(False) >= 6
