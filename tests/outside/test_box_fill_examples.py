"""NEC 314.16 against published worked examples of box fill and conduit bodies.

Sources: author or publisher, title, year and edition of each stand in published_examples.jsonl.
"""

from __future__ import annotations

from typing import Any

import pytest

from tests.outside.examples import examples, from_library, from_oracle, hold, runs

KINDS = ("boxfill-NEC", "conduit-body-NEC")
RUNS = list(runs(KINDS))


@pytest.mark.parametrize(("example", "edition"), [run[1:] for run in RUNS], ids=[run[0] for run in RUNS])
def test_library_gives_the_published_answer(reference: Any, example: dict[str, Any], edition: str) -> None:
    hold(example, edition, from_library(reference))


@pytest.mark.parametrize(("example", "edition"), [run[1:] for run in RUNS], ids=[run[0] for run in RUNS])
def test_oracle_gives_the_published_answer(example: dict[str, Any], edition: str) -> None:
    hold(example, edition, from_oracle)


def test_every_example_runs_or_says_why_not() -> None:
    every = examples(("boxfill-NEC", "conduit-body-NEC", "pullbox-NEC", "boxfill-CEC"))
    silent = [row["id"] for row in every if not row.get("checks") and not row.get("not_run")]
    assert not silent
    assert sum(bool(row.get("checks")) for row in every) >= 35
    assert sum(bool(row.get("wrong")) for row in every) >= 7  # negative controls


def test_every_example_names_its_source_and_why_its_edition_serves() -> None:
    for row in examples(KINDS):
        assert row["title"], row["id"]
        assert row["author_publisher"], row["id"]
        assert row["printed_edition"], row["id"]
        assert row.get("not_run") or (row["runs_under"] and row["why_edition"]), row["id"]


def test_a_wrong_answer_is_noticed() -> None:
    example = next(row for row in examples(KINDS) if row["id"] == "ex-036")
    spoilt = example | {"checks": [{**example["checks"][0], "expect": {"required_in3": "13.49"}}]}
    with pytest.raises(AssertionError, match="ex-036"):
        hold(spoilt, "nec-2023", from_oracle)
