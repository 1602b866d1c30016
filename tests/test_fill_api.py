"""`fill` from Python: the shape of its answer, exact numbers, every way in, and one line for bad input."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal
from pathlib import Path
from typing import Any

import pandas
import polars
import pyarrow
import pytest

import jointable
from jointable.errors import InputError
from jointable.fill import fill
from jointable.jsonform import dumps

#: The keys that INTERFACES promises; more may be added, none renamed.
RESULT = {
    "box", "space", "edition", "data_version", "required_in3", "required_cm3", "available_in3", "available_cm3",
    "passes", "remaining", "largest_conductor", "lines", "limits", "assumptions", "cautions",
}  # fmt: skip
LINE = {
    "item", "count", "size", "allowance_in3", "allowance_cm3", "volume_in3", "volume_cm3", "clause", "provenance",
}  # fmt: skip
LIMIT = {"clause", "needed", "given", "passes"}

ITEMS: list[dict[str, Any]] = [
    {"box": "K", "item": "box", "size": "4 x 1-1/2 square", "quantity": 1, "note": "by the sink"},
    {"box": "K", "item": "conductor", "size": "12", "quantity": 4},
    {"box": "K", "item": "grounding", "size": "12", "quantity": 5},
    {"box": "K", "item": "device", "size": "12", "quantity": 1},
    {"box": "K", "item": "clamp", "quantity": 2},
]


@pytest.fixture(scope="module")
def reference() -> Any:
    with jointable.open() as opened:
        yield opened


def one(reference: Any, items: list[dict[str, Any]], edition: str | None = "nec-2023") -> Any:
    (result,) = fill(reference, items, edition)
    return result


def message(reference: Any, items: Any, edition: str | None = "nec-2023") -> str:
    with pytest.raises(InputError) as caught:
        fill(reference, items, edition)
    text = str(caught.value)
    assert "\n" not in text
    return text


def test_the_answer_has_the_promised_shape(reference: Any) -> None:
    answer = json.loads(dumps([r.to_dict() for r in fill(reference, ITEMS)]))
    assert isinstance(answer, list)
    (box,) = answer
    assert set(box) >= RESULT
    assert box["lines"]
    assert all(set(line) >= LINE for line in box["lines"])
    assert box["limits"]
    assert all(set(limit) >= LIMIT for limit in box["limits"])
    assert all(set(x) == {"size", "count"} for x in box["remaining"])
    assert all(isinstance(text, str) for text in box["assumptions"])
    assert all({"id", "text", "clause"} <= set(c) for c in box["cautions"])
    assert box["cautions"]
    assert (box["box"], box["space"], box["note"], box["edition"]) == ("K", None, "by the sink", "nec-2023")
    assert box["data_version"] == reference.data_version


def test_numbers_are_exact_and_unrounded(reference: Any) -> None:
    result = one(reference, ITEMS)
    # NEC 2023 314.16(B): 4 x 2.25, grounding 1.25 x 2.25, device 2 x 2.25, clamps 2.25.
    assert result.required_in3 == Decimal("18.5625")
    assert result.required_cm3 == Decimal("18.5625") * Decimal("16.387064")
    assert result.available_in3 == 21
    text = dumps(result.to_dict())
    assert '"required_in3": 18.5625' in text
    assert f'"required_cm3": {Decimal("18.5625") * Decimal("16.387064")}'.rstrip("0") in text
    assert '"available_in3": 21,' in text
    assert sum(line.volume_in3 for line in result.lines) == result.required_in3
    assert sum(line.volume_cm3 for line in result.lines) == result.required_cm3


def test_provenance_ids_lead_to_values(reference: Any) -> None:
    ids = {i for line in one(reference, ITEMS).lines for i in line.provenance}
    assert ids
    for id_ in ids:
        table, _, rest = id_.partition("/")
        key, _, column = rest.rpartition("/")
        assert reference.trace(table, key, column).value is not None, id_


def test_the_edition_is_said_where_none_was_given(reference: Any) -> None:
    assert any("nec-2023" in text for text in one(reference, ITEMS, None).assumptions)
    assert not any("no edition was given" in text for text in one(reference, ITEMS).assumptions)
    assert one(reference, ITEMS, " NEC-2020 ").edition == "nec-2020"


def test_results_come_in_the_order_of_first_appearance(reference: Any) -> None:
    rows = [{**row, "box": name} for row in ITEMS for name in ("Z", "A", "M 10", "M 9")]
    assert [r.box for r in fill(reference, rows)] == ["Z", "A", "M 10", "M 9"]


def test_boxes_alike_and_spaces(reference: Any) -> None:
    rows = [
        {"box": "S", "item": "box", "volume_in3": 18, "space": "power", "boxes": 3},
        {"box": "S", "item": "conductor", "size": 14, "quantity": 2, "space": "power"},
        {"box": "S", "item": "box", "volume_in3": 14, "space": "signal"},
        {"box": "S", "item": "conductor", "size": 18, "quantity": 2, "space": "signal"},
    ]
    results = fill(reference, rows)
    assert [(r.box, r.space) for r in results] == [("S", "power"), ("S", "signal")]
    assert [r.required_in3 for r in results] == [4, 3]
    assert results[0].boxes == 3


@pytest.mark.parametrize("rows_in_memory", [None, 1])
def test_every_way_in_gives_the_same_answer(
    reference: Any, rows_in_memory: int | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = [{**row, "box": name} for name in ("B", "A") for row in ITEMS]
    rows = [{name: row.get(name) for name in ("box", "item", "size", "quantity", "note")} for row in rows]
    frame = polars.DataFrame(rows, schema_overrides={"quantity": polars.Int64})
    frame.write_csv(tmp_path / "a.csv")
    frame.write_parquet(tmp_path / "a.parquet")
    (tmp_path / "parts").mkdir()
    frame[:3].write_parquet(tmp_path / "parts" / "1.parquet")
    frame[3:].write_parquet(tmp_path / "parts" / "2.parquet")
    if rows_in_memory is not None:
        monkeypatch.setattr("jointable.schedule.TEXT_ROWS", rows_in_memory)
        monkeypatch.setattr("jointable.schedule.TEXT_BYTES", rows_in_memory)
    expected = [r.to_dict() for r in fill(reference, rows)]
    assert [r["box"] for r in expected] == ["B", "A"]
    sources: dict[str, Any] = {
        "csv": tmp_path / "a.csv",
        "parquet": str(tmp_path / "a.parquet"),
        "folder": tmp_path / "parts",
        "pattern": str(tmp_path / "parts" / "*.parquet"),
        "polars": frame,
        "pandas": pandas.DataFrame(rows),
        "arrow": pyarrow.Table.from_pylist(rows),
    }
    for form, source in sources.items():
        assert [r.to_dict() for r in fill(reference, source)] == expected, form


def test_many_rows_give_the_same_answer_as_few(reference: Any) -> None:
    rows = [{**row, "box": f"box {n}"} for n in range(120) for row in ITEMS]
    results = fill(reference, rows)
    assert len(results) == 120
    few = one(reference, ITEMS)
    assert {(r.required_in3, r.passes, r.lines) for r in results} == {
        (few.required_in3, few.passes, few.lines)
    }


def test_threads_do_not_disturb_each_other(reference: Any) -> None:
    def required(count: int) -> Decimal:
        rows = [ITEMS[0], {**ITEMS[1], "quantity": count}]
        return Decimal(one(reference, rows).required_in3)

    with ThreadPoolExecutor(4) as pool:
        found = list(pool.map(required, range(1, 25)))
    assert found == [count * Decimal("2.25") for count in range(1, 25)]


def with_row(**row: Any) -> list[dict[str, Any]]:
    return [*ITEMS, {"box": "K", **row}]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (with_row(item="grounging", size=12), ("row 6: item: 'grounging'", "did you mean 'grounding'?")),
        (with_row(item="conductor", size="13.5"), ("row 6: size: '13.5'",)),
        (with_row(item="conductor", size="12", quantity="-1"), ("row 6: quantity: '-1'",)),
        (with_row(item="conductor", size="12", quantity="1.5"), ("row 6: quantity: '1.5'",)),
        (with_row(item="conductor", size="12", quantity="two"), ("row 6: quantity: 'two'",)),
        (with_row(item="conductor", size="4"), ("row 6: size: '4'", "314.28")),
        (with_row(item="cable", size="12/2 x"), ("row 6: size: '12/2 x'",)),
        (with_row(item="cable", size="12/2", joint="a"), ("row 6: joint: 'a'",)),
        (with_row(item="box", size="4 x 1-1/2 square"), ("row 6: item: ", "second box row")),
        (ITEMS[1:], ("row 1", "'K'", "no box row")),
        ([{"box": "K", "item": "box"}, *ITEMS[1:]], ("row 1",)),
        ([{"box": "K", "item": "box", "size": "4 x 1-1/2 sqare"}, *ITEMS[1:]], ("row 1: size", "4 x 1-1/2 square")),
        ([{"item": "box", "box": None}, *ITEMS], ("row 1",)),
    ],
)  # fmt: skip
def test_bad_rows_are_named_in_one_line(reference: Any, rows: Any, words: tuple[str, ...]) -> None:
    text = message(reference, rows)
    for word in words:
        assert word in text, text


def test_a_bad_cell_of_a_file_is_named_with_the_file(reference: Any, tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("box,item,size,quantity\nA,box,4 x 1-1/2 square,1\n\nA,conductor,99,1\n", "utf-8")
    assert message(reference, path).startswith(f"{path}:4: size: '99': ")


def test_a_row_that_is_no_row_is_named_in_a_large_file_too(
    reference: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("jointable.schedule.TEXT_BYTES", 1)
    path = tmp_path / "a.csv"
    path.write_text("box,item,size,quantity\nA,box,4 x 1-1/2 square,1\n\nA,conductor,12\n", "utf-8")
    assert message(reference, path).startswith(f"{path}:4: quantity: ")
    path.write_text("box,item,size,quantity\nA,box,4 x 1-1/2 square,1\n\n\nA,conductor,99,1\n", "utf-8")
    assert message(reference, path).startswith(f"{path}:5: size: '99': ")


@pytest.mark.parametrize("edition", ["nec-2026", "nec", "", "2023"])
def test_an_unknown_edition_lists_the_known_ones(reference: Any, edition: str) -> None:
    text = message(reference, ITEMS, edition)
    assert text.startswith(f"edition: {edition!r}: unknown edition; ")
    assert "nec-2023" in text


def test_a_code_without_a_volume_rule_says_so(reference: Any) -> None:
    without = [e for (e,) in reference.rows("SELECT edition FROM edition WHERE NOT has_volume_rule")]
    assert without, "there must be a code without a volume rule to compare"
    for edition in without:
        assert "no such rule" in message(reference, ITEMS, edition)


@pytest.mark.parametrize("name", ["Germany", "united kingdom", "New Zealand", "bs-7671", "bs-7671-2022"])
def test_a_country_without_a_volume_rule_says_so(reference: Any, name: str) -> None:
    """By its country, or by its code in any year; a year of the NEC that is not held stays unknown."""
    assert "no such rule" in message(reference, ITEMS, name)
    assert "unknown edition" in message(reference, ITEMS, "nec-1999")


def test_a_row_without_a_space_is_named(reference: Any) -> None:
    """Where `space` is used every row names one; that, not a missing box, is what is wrong."""
    rows = [
        {"box": "a", "item": "box", "volume_in3": "10", "space": "l"},
        {"box": "a", "item": "conductor", "size": "12"},
    ]
    text = message(reference, rows)
    assert "row 2: space:" in text
    assert "a row without a space in a box that has spaces" in text
