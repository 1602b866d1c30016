"""The published worked examples, and how one of them is held against an answer.

`published_examples.jsonl` copies each example as facts with its source: what was asked, what was
published, the schedule that says the same, the editions it runs under (every rule used reads the
same there, with the reason) and what the answer must be. Where the published answer is wrong it
stands under `wrong` and must not come out: a negative control.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from tests.oracle import fill_oracle

FILE = Path(__file__).with_name("published_examples.jsonl")
Answer = Mapping[str, Any]
Filler = Callable[[Sequence[Mapping[str, str]], str], Answer]


@cache
def examples(kinds: tuple[str, ...]) -> tuple[dict[str, Any], ...]:
    """The examples of these kinds."""
    rows = [json.loads(line) for line in FILE.read_text(encoding="utf-8").splitlines()]
    return tuple(row for row in rows if row["kind"] in kinds)


def runs(kinds: tuple[str, ...]) -> Iterator[tuple[str, dict[str, Any], str]]:
    """Each example that runs, with each edition that it runs under, and a name for the pair."""
    for example in examples(kinds):
        for edition in example.get("runs_under", ()):
            yield f"{example['id']} {edition}", example, edition


def from_oracle(items: Sequence[Mapping[str, str]], edition: str) -> Answer:
    """The answer of the independent implementation, in the shape of the library's."""
    (answer,) = fill_oracle.fill(items, edition)
    room = {size: fill_oracle.remaining(items, edition, size) for size in fill_oracle.sizes_of(edition)}
    return {
        "required_in3": answer.required_in3,
        "required_cm3": answer.required_cm3,
        "available_in3": answer.available_in3,
        "passes": answer.passes,
        "remaining": [{"size": size, "count": count} for size, count in room.items()],
        "limits": [{"clause": limit.clause, "passes": limit.passes} for limit in answer.limits],
    }


def from_library(reference: Any) -> Filler:
    """The answer of the library's `fill`."""

    def answer(items: Sequence[Mapping[str, str]], edition: str) -> Answer:
        (result,) = reference.fill([dict(item) for item in items], edition=edition)
        shown: Answer = result.to_dict()
        return shown

    return answer


def exact(value: object) -> Fraction:
    """A number of an answer or of the file as an exact fraction."""
    return value if isinstance(value, Fraction) else Fraction(str(value))


def pull_box_limit(answer: Answer) -> bool | None:
    """The verdict of all lines of 314.28 together."""
    found = [limit["passes"] for limit in answer["limits"] if "314.28" in str(limit["clause"])]
    assert found, "314.28 does not show among the limits"
    return False if False in found else None if None in found else True


def agrees(answer: Answer, expected: Mapping[str, Any]) -> bool:
    """Whether an answer has every figure expected; fails when nothing is expected."""
    assert expected, "an example that compares nothing"
    for name, value in expected.items():
        if name == "passes":
            same = answer[name] is value
        elif name == "limits":
            same = pull_box_limit(answer) is value
        elif name == "remaining":
            room = {line["size"]: line["count"] for line in answer[name]}
            same = all(exact(room[size]) == exact(count) for size, count in value.items())
        else:
            same = exact(answer[name]) == exact(value)
        if not same:
            return False
    return True


def hold(example: Mapping[str, Any], edition: str, filler: Filler) -> None:
    """Hold one example against a fill: right figures come out, published wrong ones do not."""
    answers = []
    for check in example["checks"]:
        answer = filler(check["items"], edition)
        answers.append(answer)
        if check["expect"]:
            shown = {name: answer[name] for name in check["expect"]}
            assert agrees(answer, check["expect"]), f"{example['id']} {edition}: {shown}"
        if wrong := example.get("wrong"):
            assert not agrees(answer, wrong), f"{example['id']}: the wrong published answer came out"
    compared = any(check["expect"] for check in example["checks"])
    for unit in ("in3", "cm3"):
        if difference := example.get(f"difference_{unit}"):
            column = f"required_{unit}"
            grown = exact(answers[-1][column]) - exact(answers[0][column])
            assert grown == exact(difference), f"{example['id']} {edition}: {grown}"
            compared = True
    assert compared, f"{example['id']} compares nothing"
