"""Item lines: what a person writes about a box, read as rows of a schedule."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jointable.errors import InputError
from jointable.explorer.lines import ITEMS, rows_of
from jointable.schedule_form import COLUMNS


@pytest.mark.parametrize(
    ("line", "row"),
    [
        ("box 4 x 1-1/2 square", {"item": "box", "size": "4 x 1-1/2 square"}),
        ("box 18 in3", {"item": "box", "volume_in3": "18"}),
        ("box 18.5 cu in", {"item": "box", "volume_in3": "18.5"}),
        ("box 300 mL", {"item": "box", "volume_cm3": "300"}),
        ("2 cable 12/2", {"item": "cable", "size": "12/2", "quantity": "2"}),
        ("cable 12/2 x 2", {"item": "cable", "size": "12/2", "quantity": "2"}),
        ("cable 12/2 × 2", {"item": "cable", "size": "12/2", "quantity": "2"}),
        ("cable 12/2 2", {"item": "cable", "size": "12/2", "quantity": "2"}),
        ("Conductors 12 AWG x3", {"item": "conductor", "size": "12 AWG", "quantity": "3"}),
        ("conductor #12 x 3  # the hot ones", {"item": "conductor", "size": "#12", "quantity": "3"}),
        ("conductor 250 kcmil", {"item": "conductor", "size": "250 kcmil"}),
        ("conductor 2.5 mm2 x 3", {"item": "conductor", "size": "2.5 mm2", "quantity": "3"}),
        ("isolated grounding 12", {"item": "isolated_grounding", "size": "12"}),
        ("clamp 2", {"item": "clamp", "quantity": "2"}),
        ("2 clamps", {"item": "clamp", "quantity": "2"}),
        ("device conductor_size=12 gangs=2", {"item": "device", "conductor_size": "12", "gangs": "2"}),
        ("loop 12 loop_mm=400", {"item": "loop", "size": "12", "loop_mm": "400"}),
        ("extension 4 x 2 square", {"item": "extension", "size": "4 x 2 square"}),
        ("conductor,14,3", {"item": "conductor", "size": "14", "quantity": "3"}),
        ("kitchen,conductor,14,3", {"box": "kitchen", "item": "conductor", "size": "14", "quantity": "3"}),
        ("box,4 x 1-1/2 square,1", {"item": "box", "size": "4 x 1-1/2 square", "quantity": "1"}),
        ("device,,1,conductor_size=12", {"item": "device", "quantity": "1", "conductor_size": "12"}),
    ],
)
def test_a_line_is_read(line: str, row: dict[str, str]) -> None:
    assert rows_of(line) == ([row], [1])


def test_semicolons_part_lines_and_numbers_are_those_of_the_text() -> None:
    rows, lines = rows_of("\n# a remark\nstud; hickey\n\nclamp")
    assert [r["item"] for r in rows] == ["stud", "hickey", "clamp"]
    assert lines == [3, 3, 5]


def test_a_whole_schedule_is_read() -> None:
    rows, lines = rows_of("box,item,size,quantity\nA,box,18,\n\nA,conductor,12,4\n")
    assert rows == [
        {"box": "A", "item": "box", "size": "18"},
        {"box": "A", "item": "conductor", "size": "12", "quantity": "4"},
    ]
    assert lines == [2, 4]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no items"),
        ("cabel 12/2", "did you mean 'cable'"),
        ("device conductr_size=12", "did you mean 'conductor_size'"),
        ("12", "no such item"),
        ('device note="open', "quotation mark"),
        ("2 conductor 12 quantity=3", "two counts"),
        ("conductor,14,3,4,5", "more cells"),
        ("conductor\u00a012", "non-breaking space"),
    ],
)
def test_what_is_wrong_is_said(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        rows_of(text)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        rows, lines = rows_of(text)
    except InputError:
        return
    assert len(rows) == len(lines) > 0
    assert all(set(row) <= set(COLUMNS) for row in rows)


@given(
    st.sampled_from([i for i in ITEMS if i not in ("box", "conduit_body", "extension")]), st.integers(1, 9999)
)
def test_a_count_in_front_and_behind_say_the_same(item: str, count: int) -> None:
    assert rows_of(f"{count} {item} 12 AWG") == rows_of(f"{item} 12 AWG x {count}")
