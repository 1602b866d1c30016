"""The oracle by itself: that what it is held against can be trusted, and what its boxes hold."""

from __future__ import annotations

import itertools
from fractions import Fraction

import pytest

from tests.oracle import canada, nec_tables
from tests.oracle.fill_oracle import EDITIONS, OracleError, fill, remaining, sizes_of
from tests.oracle.random_boxes import Schedule, items_of, schedule
from tests.oracle.words import MOST, read_box, read_size

#: What a published `fill` must be able to take, INTERFACES of the box schedule.
ITEMS = {
    "box", "conduit_body", "cable", "conductor", "through", "loop", "pigtail", "grounding",
    "isolated_grounding", "fixture_wire", "fixture_grounding", "clamp", "stud", "hickey", "device",
    "terminal_block", "connector", "extension", "barrier",
}  # fmt: skip
COLUMNS = {
    "box", "item", "size", "quantity", "conductor_size", "gangs", "volume_in3", "volume_cm3", "loop_mm",
    "depth_mm", "insulation", "material", "construction", "space", "joint", "boxes", "note",
}  # fmt: skip


@pytest.mark.parametrize("edition", EDITIONS)
def test_random_boxes_hold_every_item_and_column(edition: str) -> None:
    rows = schedule(edition, 2000)
    assert items_of(rows) >= ITEMS
    columns = {name for row in rows for name, value in row.items() if value}
    assert columns >= COLUMNS - (set() if edition.startswith("cec") else {"insulation"})
    verdicts = {answer.passes for answer in fill(rows, edition)}
    assert {True, False} <= verdicts


@pytest.mark.parametrize("edition", EDITIONS)
def test_the_same_seed_gives_the_same_boxes(edition: str) -> None:
    assert schedule(edition, 50, 7) == schedule(edition, 50, 7)
    assert schedule(edition, 50, 7) != schedule(edition, 50, 8)


def _with_more(box: Schedule, size: str, count: int) -> Schedule:
    """The box with so many more conductors, in as many rows as that takes."""
    full, rest = divmod(count, MOST)
    row = {"box": box[0]["box"], "item": "conductor", "size": size}
    return [*box, *([row | {"quantity": str(MOST)}] * full), row | {"quantity": str(rest)}]


@pytest.mark.parametrize("edition", EDITIONS)
def test_remaining_is_the_edge(edition: str) -> None:
    """By the definition: n more pass, n + 1 more do not."""
    rows = schedule(edition, 500, 3)
    tried = 0
    for _, held in itertools.groupby(rows, key=lambda row: row["box"]):
        box = list(held)
        if any(row["space"] for row in box) or not fill(box, edition)[0].passes:
            continue
        for size in sizes_of(edition):
            count = remaining(box, edition, size) or 0
            assert fill(_with_more(box, size, count), edition)[0].passes
            assert not fill(_with_more(box, size, count + 1), edition)[0].passes
            tried += 1
    assert tried >= 500


def test_figures_are_those_of_a_table_of_counts() -> None:
    """Table 314.16(A), 2023, prints floor(volume / allowance): a few counts typed from the print."""
    printed = {
        "4 x 1-1/4 round": (8, 7, 6, 5, 5, 4, 2), "4 x 2-1/8 square": (20, 17, 15, 13, 12, 10, 6),
        "4-11/16 x 2-1/8 square": (28, 24, 21, 18, 16, 14, 8), "3 x 2 x 1-1/2 device": (5, 4, 3, 3, 3, 2, 1),
        "4 x 2-1/8 x 1-1/2 device": (6, 5, 5, 4, 4, 3, 2), "FD multiple 2-3/8": (16, 13, 12, 10, 9, 8, 4),
    }  # fmt: skip
    for name, counts in printed.items():
        volume, _ = nec_tables.VOLUME[read_box(name)]
        assert tuple(volume // each for each in nec_tables.ALLOWANCE.values()) == counts


def test_millilitres_of_canada_follow_the_inches() -> None:
    """Table 22 rounds in3 x 16.387 to 0.1; Table 23 truncates to 1 mL (both columns memory)."""
    for in3, ml in canada.ALLOWANCE.values():
        assert abs(in3 * Fraction("16.387") - ml) <= Fraction(1, 20)
    for in3, ml, _ in canada.VOLUME.values():
        assert 0 <= in3 * Fraction("16.387") - ml < 1
    assert len(canada.VOLUME) == 28


def test_words_are_read_in_any_form() -> None:
    assert {read_size(text) for text in ("12", "#12", "12 AWG", "12AWG")} == {read_size("12 awg")}
    assert read_size("14") < read_size("12") < read_size("4") < read_size("1/0") < read_size("250 kcmil")
    names = ("4 x 1-1/2 square", "square 4 x 1½", "4 x 1.5 square", "4 x 1 1/2 square")
    assert len({read_box(name) for name in names}) == 1


@pytest.mark.parametrize(
    ("items", "reason"),
    [
        ([{"item": "conductor", "size": "4"}], "no allowance printed for 4 AWG; see 314.28"),
        ([{"item": "conductor", "size": "20"}], "no allowance printed"),
        ([{"item": "clamp"}], "no sized conductor"),
        ([{"item": "conductor", "size": "12", "quantity": "-1"}], "no whole number"),
        ([{"item": "conductor", "size": "12", "quantity": "1.5"}], "no whole number"),
        ([{"item": "device", "size": "12", "conductor_size": "14"}], "differ"),
        ([{"item": "cable", "size": "12-2"}], "no such cable"),
        ([{"item": "conductor", "size": "12", "quantity": "10000"}], "above 9999"),
        ([{"item": "extension", "volume_in3": "0"}], "above 0"),
        ([{"item": "box", "size": "4 x 1-1/2 square"}], "exactly one"),
    ],
)
def test_what_has_no_answer_says_why(items: list[dict[str, str]], reason: str) -> None:
    rows = [{"box": "a", "item": "box", "volume_in3": "50"}, *({"box": "a"} | item for item in items)]
    with pytest.raises(OracleError, match=reason):
        fill(rows, "nec-2023")
