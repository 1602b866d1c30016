"""Advice about a box: what is told suffices when it is tried, and nothing that suffices is left out."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from jointable.advice import smallest_box, what_changes_it
from jointable.errors import InputError
from jointable.fill import fill

CABLES: list[dict[str, Any]] = [
    {"item": "cable", "size": "12/2", "quantity": 2},
    {"item": "device", "size": "12", "quantity": 1},
]


@pytest.mark.parametrize("edition", ["nec-2014", "nec-2017", "nec-2020", "nec-2023", "cec-2021"])
def test_the_smallest_box_comes_first_and_none_is_left_out(reference: Any, edition: str) -> None:
    choices = smallest_box(reference, CABLES, edition)
    assert choices
    assert [c.left_in3 for c in choices] == sorted(c.left_in3 for c in choices)
    names = {c.box for c in choices}
    tables = reference.rows(
        "SELECT box FROM box WHERE edition = ? AND volume_basis <> 'mm' ORDER BY box", [edition]
    )
    assert len(tables) > len(names) > 0
    boxes = [[{"item": "box", "size": name}, *CABLES] for (name,) in tables]
    tried = fill(reference, [{"box": f"{n}"} | row for n, rows in enumerate(boxes) for row in rows], edition)
    assert [result.box for result in tried] == [f"{n}" for n in range(len(tables))]
    for (name,), result in zip(tables, tried, strict=True):
        assert result.passes == (name in names), name


def test_what_remains_is_told(reference: Any) -> None:
    first = smallest_box(reference, CABLES)[0]
    # NEC 2023 314.16(B): 4 x 2.25 + 2.25 + 2 x 2.25 = 15.75 in3.
    assert first.result.required_in3 == Decimal("15.75")
    assert first.left_in3 == first.result.available_in3 - Decimal("15.75")
    answer = first.to_dict()
    assert answer["box"] == first.box
    assert {"size", "count"} <= set(answer["remaining"][0])


def test_ganged_boxes_have_a_section_a_device(reference: Any) -> None:
    items = [*CABLES, {"item": "device", "size": "12", "gangs": 2}]
    gangs = {c.box: c.gangs for c in smallest_box(reference, items)}
    assert gangs["3 x 2 x 3-1/2 device"] == 3
    assert gangs["4-11/16 x 2-1/8 square"] == 1


def test_a_box_row_of_its_own_is_left_aside(reference: Any) -> None:
    with_box = [{"item": "box", "volume_in3": 1}, *CABLES]
    assert [c.box for c in smallest_box(reference, with_box)] == [
        c.box for c in smallest_box(reference, CABLES)
    ]


def test_no_box_holds_too_much(reference: Any) -> None:
    assert smallest_box(reference, [{"item": "conductor", "size": "6", "quantity": 99}]) == []


def test_items_of_several_boxes_are_refused(reference: Any) -> None:
    with pytest.raises(InputError, match="more than one box"):
        smallest_box(reference, [{"box": "A", **CABLES[0]}, {"box": "B", **CABLES[0]}])
    with pytest.raises(InputError, match="13"):
        smallest_box(reference, [{"item": "conductor", "size": "13.5"}])


OVERFULL: list[dict[str, Any]] = [
    {"box": "J", "item": "box", "size": "4 x 1-1/2 square", "quantity": 1},
    {"box": "J", "item": "conductor", "size": "12", "quantity": 4, "joint": "hot"},
    {"box": "J", "item": "conductor", "size": "12", "quantity": 4, "joint": "neutral"},
    {"box": "J", "item": "grounding", "size": "12", "quantity": 4, "joint": "ground"},
    {"box": "J", "item": "clamp", "quantity": 1},
]


def kinds(reference: Any, rows: list[dict[str, Any]], edition: str | None = None) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for change in what_changes_it(reference, rows, edition):
        found.setdefault(change.kind, []).append(change.text)
    return found


def test_every_kind_of_change_is_found(reference: Any) -> None:
    # 8 x 2.25 + 2.25 + 2.25 = 22.5 in3 against 21.
    found = kinds(reference, OVERFULL)
    assert found["clamps"] == ["no internal clamps"]
    assert found["box"] == ["a deeper box: 4 x 2-1/8 square"]
    assert found["extension"] == [
        "an extension made of a box 4 x 1-1/4 square",
        "a ring, cover or extension marked with 1.5 in³ or more",
    ]
    assert found["joint"] == [
        "the joint 'hot' in another box (4x12)",
        "the joint 'neutral' in another box (4x12)",
        "the joint 'ground' in another box (4x12)",
    ]


def test_only_what_suffices_is_told(reference: Any) -> None:
    rows = [*OVERFULL, {"box": "J", "item": "conductor", "size": "12", "quantity": 3}]
    found = kinds(reference, rows)
    assert "clamps" not in found
    assert found["box"] == ["a deeper box: 4 x 2-1/8 square"]
    assert found["joint"] == [
        "the joint 'hot' in another box (4x12)",
        "the joint 'neutral' in another box (4x12)",
    ]


def test_a_change_passes_when_it_is_made(reference: Any) -> None:
    for change in what_changes_it(reference, OVERFULL):
        assert change.required_in3 <= change.available_in3
    deeper = [{**OVERFULL[0], "size": "4 x 2-1/8 square"}, *OVERFULL[1:]]
    assert fill(reference, deeper)[0].passes
    ring = [*OVERFULL, {"box": "J", "item": "extension", "volume_in3": "1.5"}]
    assert fill(reference, ring)[0].passes
    less = [*OVERFULL, {"box": "J", "item": "extension", "volume_in3": "1.4999"}]
    assert not fill(reference, less)[0].passes


def test_a_marked_box_needs_a_greater_mark(reference: Any) -> None:
    rows = [{"box": "J", "item": "box", "volume_in3": 20}, *OVERFULL[1:]]
    assert kinds(reference, rows)["box"] == ["a box marked with 22.5 in³ or more"]


def test_a_box_that_passes_needs_no_change(reference: Any) -> None:
    assert (
        what_changes_it(reference, [{**OVERFULL[0], "size": "4-11/16 x 2-1/8 square"}, *OVERFULL[1:]]) == []
    )


def test_clamps_change_nothing_in_canada(reference: Any) -> None:
    rows = [*OVERFULL, {"box": "J", "item": "conductor", "size": "12", "quantity": 5}]
    found = kinds(reference, rows, "cec-2021")
    assert found
    assert "clamps" not in found


def test_spaces_are_changed_by_themselves(reference: Any) -> None:
    rows = [
        {"box": "S", "item": "box", "volume_in3": 9, "space": "a"},
        {"box": "S", "item": "conductor", "size": 12, "quantity": 4, "space": "a"},
        {"box": "S", "item": "clamp", "space": "a"},
        {"box": "S", "item": "box", "volume_in3": 9, "space": "b"},
        {"box": "S", "item": "conductor", "size": 12, "quantity": 4, "space": "b"},
    ]
    changes = what_changes_it(reference, rows)
    assert {c.space for c in changes} == {"a"}
    assert {c.kind for c in changes} == {"clamps", "box", "extension"}


def test_what_is_wrong_with_an_item_is_told_where_it_stands(reference: Any, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text(
        "box,item,size,quantity\nA,conductor,12,1\n\nA,box,4 x 1-1/2 square,1\nA,conductor,13 AWGG,1\n"
    )
    with pytest.raises(InputError) as caught:
        reference.smallest_box(path)
    assert str(caught.value).startswith(f"{path}:5: size: '13 AWGG': ")
    with pytest.raises(InputError, match=r"^row 1: item: 'device': "):
        reference.smallest_box([{"item": "device"}])
