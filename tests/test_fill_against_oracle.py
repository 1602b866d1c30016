"""The published macro against an independent implementation in exact fractions, on random boxes.

Ten thousand boxes an edition in one `fill`, every item kind and optional column among them, each
tenth filled to the brim or a ten-thousandth of a cubic inch off it. Figures must be the same, not
near: only a volume that has no finite decimal (cm3 turned into in3) may differ in its last digits.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest

import jointable
from jointable.fill import answer
from jointable.schedule import read_schedule
from tests.oracle.fill_oracle import EDITIONS, Answer, fill, remaining, sizes_of
from tests.oracle.random_boxes import Schedule, answered, schedule
from tests.oracle.random_limits import limit_schedule

BOXES = 10_000
#: Of a volume without a finite decimal: relative, far below the printed tenth of a cm3.
LAST_DIGITS = Fraction(1, 10**6)


@dataclass(frozen=True)
class Compared:
    """Both answers to one schedule, box by box."""

    edition: str
    rows: Schedule
    library: list[dict[str, Any]]
    oracle: list[Answer]

    def pairs(self) -> Iterator[tuple[dict[str, Any], Answer]]:
        """The two answers of each box or space."""
        return zip(self.library, self.oracle, strict=True)

    def of(self, answer: Answer) -> Schedule:
        """The rows of one box or space, to show a difference by."""
        return [
            {name: value for name, value in row.items() if value}
            for row in self.rows
            if row["box"] == answer.box and (row.get("space") or None) == answer.space
        ]

    def agree(self, column: str, same: Any) -> None:
        """Hold one column of all boxes together; the smallest box that differs is shown."""
        different = [(shown, answer) for shown, answer in self.pairs() if not same(shown[column], answer)]
        assert self.oracle
        if different:
            shown, answer = min(different, key=lambda pair: len(self.of(pair[1])))
            raise AssertionError(
                f"{self.edition} {column}: {len(different)} of {len(self.oracle)} differ; library "
                f"{shown[column]}, oracle {answer}; rows {self.of(answer)}"
            )


def equal(shown: object, expected: Fraction) -> bool:
    """Exactly equal, or near where the expected value has no finite decimal."""
    value = Fraction(str(shown))
    rest = expected.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    return value == expected if rest == 1 else abs(value - expected) <= LAST_DIGITS * abs(expected)


def test_a_difference_of_the_last_digit_is_noticed() -> None:
    """The comparison itself can fail: one box of many, a ten-thousandth off."""
    rows = schedule("nec-2023", 30)
    oracle = fill(rows, "nec-2023")
    library = [{"required_in3": float(answer.required_in3)} for answer in oracle]
    both = Compared("nec-2023", rows, library, oracle)
    both.agree("required_in3", lambda shown, answer: equal(shown, answer.required_in3))
    library[17]["required_in3"] += 0.0001
    with pytest.raises(AssertionError, match=f"1 of {len(oracle)} differ"):
        both.agree("required_in3", lambda shown, answer: equal(shown, answer.required_in3))


@pytest.fixture(scope="module", params=EDITIONS)
def compared(request: pytest.FixtureRequest, reference: jointable.Reference) -> Compared:
    """Both answers to ten thousand random boxes of an edition."""
    rows, oracle = answered(request.param, BOXES)
    library = [result.to_dict() for result in reference.fill(rows, edition=request.param)]
    return Compared(request.param, rows, library, oracle)


def test_a_box_is_answered_alone_as_among_others() -> None:
    """The oracle's answers were given box by box as the boxes were made."""
    rows, oracle = answered("nec-2023", 300)
    assert fill(rows, "nec-2023") == oracle


def test_boxes_come_back_in_order(compared: Compared) -> None:
    assert [(shown["box"], shown["space"]) for shown in compared.library] == [
        (answer.box, answer.space) for answer in compared.oracle
    ]
    assert len({answer.box for answer in compared.oracle}) == BOXES


def test_required(compared: Compared) -> None:
    compared.agree("required_in3", lambda shown, answer: equal(shown, answer.required_in3))
    compared.agree("required_cm3", lambda shown, answer: equal(shown, answer.required_cm3))


def test_available(compared: Compared) -> None:
    compared.agree("available_in3", lambda shown, answer: equal(shown, answer.available_in3))
    compared.agree("available_cm3", lambda shown, answer: equal(shown, answer.available_cm3))


def test_passes(compared: Compared) -> None:
    compared.agree("passes", lambda shown, answer: shown is answer.passes)


def test_largest_conductor(compared: Compared) -> None:
    compared.agree("largest_conductor", lambda shown, answer: shown == answer.largest)


def test_remaining(compared: Compared) -> None:
    """For each box the remaining count of two of the sizes, each size in its turn."""
    sizes = sizes_of(compared.edition)
    turn = itertools.cycle(sizes)
    rows: dict[tuple[str, str | None], Schedule] = {}
    for row in compared.rows:
        rows.setdefault((row["box"], row["space"] or None), []).append(row)

    def same(shown: list[dict[str, Any]], answer: Answer) -> bool:
        counts = {line["size"]: line["count"] for line in shown}
        asked = [size for size in (next(turn), next(turn)) if size in counts]
        held = rows[answer.box, answer.space]
        return bool(counts) and all(
            counts[size] == remaining(held, compared.edition, size, answer) for size in asked
        )

    compared.agree("remaining", same)


def test_lines_add_up_and_count_the_same(compared: Compared) -> None:
    """The allowances of each size, and the sum of the lines."""

    def same(shown: list[dict[str, Any]], answer: Answer) -> bool:
        totals: dict[str | None, Fraction] = {}
        for line in shown:
            share = Fraction(str(line["count"] if line["allowance_in3"] is not None else line["volume_in3"]))
            size = line["size"] if line["allowance_in3"] is not None else None
            if Fraction(str(line["volume_in3"])):
                totals[size] = totals.get(size, Fraction(0)) + share
        expected = answer.by_size()
        volumes = sum((Fraction(str(line["volume_in3"])) for line in shown), Fraction(0))
        return (
            totals.keys() == expected.keys()
            and all(equal(float(share) if size is None else share, expected[size]) if size is None
                    else share == expected[size] for size, share in totals.items())
            and abs(volumes - answer.required_in3) <= LAST_DIGITS * (1 + answer.required_in3)
        )  # fmt: skip

    compared.agree("lines", same)


def test_a_verdict_that_turns_on_grounding_says_so(compared: Compared) -> None:
    """Reading 1: where it would differ without grounding, pigtails and left-out wires, it is said."""
    turning = [shown for shown, answer in compared.pairs() if answer.turns_on_extras]
    assert turning or compared.edition.startswith("cec")
    silent = [
        shown["box"] for shown in turning if not any("largest" in text for text in shown["assumptions"])
    ]
    assert not silent


@pytest.mark.parametrize("edition", [edition for edition in EDITIONS if edition.startswith("nec")])
def test_limits(reference: jointable.Reference, edition: str) -> None:
    """314.24 and 314.28 on random boxes: each section's verdict, and the box's."""
    rows = limit_schedule(edition, 1500)
    library = [result.to_dict() for result in reference.fill(rows, edition=edition)]
    both = Compared(edition, rows, library, fill(rows, edition))
    verdicts: set[tuple[str, bool | None]] = set()

    def said(section: str, found: list[tuple[str, bool | None]]) -> set[bool | None]:
        """Which verdicts a section gives; of 314.24 only what was checked, the rest decides nothing."""
        of_section = {passes for clause, passes in found if clause.startswith(section)}
        return of_section if section == "314.28" else of_section - {None}

    def same(shown: list[dict[str, Any]], answer: Answer) -> bool:
        theirs = [(str(line["clause"]), line["passes"]) for line in shown]
        ours = [(limit.clause, limit.passes) for limit in answer.limits]
        for section in ("314.24", "314.28"):
            verdicts.update((section, verdict) for verdict in said(section, ours))
            if said(section, theirs) != said(section, ours):
                return False
        return any(clause.startswith("300.14") for clause, _ in theirs)

    both.agree("limits", same)
    both.agree("passes", lambda shown, answer: shown is answer.passes)
    assert {
        ("314.24", True),
        ("314.24", False),
        ("314.28", True),
        ("314.28", False),
        ("314.28", None),
    } <= verdicts


ITEMS_AT_BOUNDS = (
    {"item": "device", "conductor_size": "6", "gangs": "20"},
    {"item": "conductor", "size": "6"},
    {"item": "loop", "size": "6"},
    {"item": "grounding", "size": "6"},
    {"item": "isolated_grounding", "size": "6"},
    {"item": "cable", "size": "6/9"},
    {"item": "fixture_wire", "size": "16"},
    {"item": "connector", "conductor_size": "6"},
    {"item": "terminal_block", "conductor_size": "6"},
    {"item": "extension", "volume_in3": "100"},
    {"item": "barrier", "volume_in3": "1"},
    {"item": "clamp"},
    {"item": "stud"},
)


@pytest.mark.parametrize("edition", EDITIONS)
@pytest.mark.parametrize("rows", [1, 2, 40, 900])
def test_rows_at_their_bounds(reference: jointable.Reference, edition: str, rows: int) -> None:
    """Packed sums hold: many rows of each kind at the greatest quantity that a row may have.

    What is too much for one box is refused with its reason, and the boxes beside it are computed.
    """
    items = [
        {"box": "last", "item": "box", "volume_in3": "10"},
        {"box": "last", "item": "conductor", "size": "12"},
    ]
    for index, item in enumerate(ITEMS_AT_BOUNDS):
        name = {"box": f"{item['item']}{index}"}
        items.append(name | {"item": "box", "volume_in3": "400000"})
        items.append(name | {"item": "conductor", "size": "14"})
        items += [name | item | {"quantity": "9999"}] * rows
    found = answer(reference, read_schedule(items), edition)
    refused = {problem.box for problem in found.problems}
    assert all("524,287" in p.text or "99,999,999" in p.text for p in found.problems)
    least = {1: 14, 2: 14, 40: 10, 900: 2 if edition.startswith("nec") else 1}
    assert len(found.results) >= least[rows]
    assert len(found.results) + len(refused) == len(ITEMS_AT_BOUNDS) + 1
    # so many pieces are held exactly; a connector of the NEC counts nothing and is never too many
    assert not refused & {
        f"{i['item']}{n}" for n, i in enumerate(ITEMS_AT_BOUNDS) if rows * 9999 * pieces(i) < 524_280
    }
    good = [item for item in items if item["box"] not in refused]
    answers = fill(good, edition)
    library = [result.to_dict() for result in found.results]
    both = Compared(edition, good, library, answers)
    both.agree("required_in3", lambda shown, answer: equal(shown, answer.required_in3))
    both.agree("available_in3", lambda shown, answer: equal(shown, answer.available_in3))
    both.agree("passes", lambda shown, answer: shown is answer.passes)


def pieces(item: dict[str, str]) -> int:
    """What one of an item counts at most towards the pieces of its box."""
    if item["item"] == "cable":
        return int(item["size"].partition("/")[2])
    return int(item.get("gangs", 1)) * (40 if "volume_in3" in item else 1)


@pytest.mark.parametrize("edition", EDITIONS)
def test_no_box_keeps_the_others_from_being_computed(reference: jointable.Reference, edition: str) -> None:
    """The greatest figures that each column takes, in every box row, row for row."""
    good = [
        {"box": "good", "item": "box", "volume_in3": "10"},
        {"box": "good", "item": "conductor", "size": "12"},
    ]
    most = {
        "volume_in3": "500000",
        "depth_mm": "99999",
        "width_mm": "99999",
        "height_mm": "99999",
        "quantity": "9999",
    }
    conductor = {"item": "conductor", "size": "12"}
    boxes: list[list[dict[str, str]]] = [
        [{"item": "box"} | most, {"item": "box"} | most, conductor],
        [{"item": "box"} | most] * 40 + [conductor],
        [{"item": "box", "size": "3 x 2 x 2-1/2 device", "quantity": "9999"}, conductor],
        [{"item": "box"} | most, *[{"item": "extension"} | most] * 200, conductor],
        [{"item": "box"} | most, *[{"item": "barrier"} | most] * 200, conductor],
        [{"item": "box"} | most, *[{"item": "device", "conductor_size": "12", "gangs": "20"} | most] * 200],
        [{"item": "box", "volume_cm3": "8193532"}, conductor],
        [{"item": "box", "size": "1e300", "volume_in3": "1e300", "quantity": "1e300", "boxes": "1e300"}],
        [{"item": "box"} | most | {"quantity": "1"}, {"item": "raceway", "size": "6", "wall": "left", "pull": "angle",
         "run": "a", "distance_mm": "99999", "quantity": "9999"}, {"item": "conductor", "size": "4/0", "quantity": "9999"}],
    ]  # fmt: skip
    items = [*good, *({"box": f"b{n}"} | row for n, rows in enumerate(boxes) for row in rows)]
    found = answer(reference, read_schedule(items), edition)
    assert len(found.results) + len({p.box for p in found.problems}) == len(boxes) + 1
    assert any(
        r.box == "good" and r.required_in3 in (Decimal("2.25"), Decimal("1.75")) for r in found.results
    )
    assert any("99,999,999" in p.text for p in found.problems)
    assert all(p.text for p in found.problems)
