"""Opening a schedule: every form it may come in, and one clear line for each that is wrong."""

from __future__ import annotations

import io
import sys
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pandas
import polars
import pyarrow
import pytest

from jointable.errors import InputError
from jointable.schedule import read_schedule
from jointable.schedule_csv import csv_problems
from jointable.schedule_form import COLUMNS, FILE_ROW

HEADER = "box,item,size,quantity\n"
ROWS = [
    {"box": "A", "item": "box", "size": "4 x 1-1/2 square", "quantity": 1},
    {"box": "A", "item": "conductor", "size": "12", "quantity": 4},
]
CELLS = {
    "box": ["A", "A"],
    "item": ["box", "conductor"],
    "size": ["4 x 1-1/2 square", "12"],
    "quantity": ["1", "4"],
}


def cells(schedule: Any) -> dict[str, list[str | None]]:
    return {name: list(column) for name, column in schedule.cells.items() if name != FILE_ROW}


def write(folder: Path, data: str | bytes, name: str = "a.csv") -> str:
    path = folder / name
    path.write_bytes(data.encode() if isinstance(data, str) else data)
    return str(path)


@pytest.mark.parametrize(
    "form",
    ["records", "polars", "lazy", "pandas", "arrow", "relation", "parquet", "csv", "generator", "reader"],
)
def test_every_form_gives_the_same_cells(form: str, tmp_path: Path) -> None:
    relation = duckdb.sql(
        "SELECT * FROM (VALUES ('A', 'box', '4 x 1-1/2 square', 1), ('A', 'conductor', '12', 4)) "
        "AS t(box, item, size, quantity)"
    )
    polars.DataFrame(ROWS).write_parquet(tmp_path / "a.parquet")
    sources: dict[str, Any] = {
        "records": ROWS,
        "polars": polars.DataFrame(ROWS),
        "lazy": polars.LazyFrame(ROWS),
        "pandas": pandas.DataFrame(ROWS),
        "arrow": pyarrow.Table.from_pylist(ROWS),
        "relation": relation,
        "parquet": tmp_path / "a.parquet",
        "csv": write(tmp_path, HEADER + "A,box,4 x 1-1/2 square,1\nA,conductor,12,4\n"),
        "generator": (row for row in ROWS),
        "reader": pyarrow.Table.from_pylist(ROWS).to_reader(),
    }
    assert cells(read_schedule(sources[form])) == CELLS


def test_parquet_from_a_folder_and_a_pattern(tmp_path: Path) -> None:
    folder = tmp_path / "a [1] folder"
    folder.mkdir()
    polars.DataFrame(ROWS[:1]).write_parquet(folder / "1.parquet")
    polars.DataFrame(ROWS[1:]).write_parquet(folder / "2.parquet")
    assert cells(read_schedule(folder)) == CELLS
    plain = tmp_path / "plain"
    folder.rename(plain)
    assert cells(read_schedule(str(plain / "*.parquet"))) == CELLS
    assert cells(read_schedule(str(tmp_path / "**" / "?.parquet"))) == CELLS


def test_standard_input(monkeypatch: pytest.MonkeyPatch) -> None:
    class Stream:
        buffer = io.BytesIO((HEADER + "A,conductor,12,4\n").encode())

    monkeypatch.setattr(sys, "stdin", Stream)
    schedule = read_schedule("-")
    assert (schedule.name, cells(schedule)["size"]) == ("standard input", ["12"])


def test_a_byte_order_mark_crlf_blank_rows_and_quotes_are_read(tmp_path: Path) -> None:
    text = (
        '\ufeffBox,item,size,quantity,note\r\n\r\n,,,,\r\n"A, B",conductor, 12 ,4,"two\r\nlines ""so"""\r\n'
    )
    schedule = read_schedule(write(tmp_path, text))
    assert schedule.records() == [
        {
            "box": "A, B",
            "item": "conductor",
            "size": "12",
            "quantity": "4",
            "note": 'two\r\nlines "so"',
            FILE_ROW: 4,
        }
    ]


def test_numbers_from_python_keep_their_digits() -> None:
    rows = [{"item": "box", "volume_in3": Decimal("30.30"), "quantity": 1.0, "depth_mm": float("nan")}]
    assert cells(read_schedule(rows)) == {
        "box": ["box 1"],
        "item": ["box"],
        "quantity": ["1"],
        "volume_in3": ["30.30"],
        "depth_mm": [None],
    }


def test_toml_gives_one_box_with_the_lines_of_the_file(tmp_path: Path) -> None:
    text = (
        '# one {box}\nbox = "Kitchen {1}"\nvolume_in3 = 20.30\nitems = [\n'
        '  {item = "cable", size = "12/2", quantity = 2},\n  {item = "device", size = 12},\n]\n'
    )
    schedule = read_schedule(write(tmp_path, text, "a.toml"))
    assert cells(schedule)["volume_in3"] == ["20.30", None, None]
    assert cells(schedule)["box"] == ["Kitchen {1}"] * 3
    assert schedule.cells is not None
    assert list(schedule.cells[FILE_ROW]) == [2, 5, 6]
    tables = 'size = "4 x 1-1/2 square"\n[[items]]\nitem = "clamp"\n'
    again = read_schedule(write(tmp_path, tables, "b.toml"))
    assert again.cells is not None
    assert list(again.cells[FILE_ROW]) == [1, 2]


NOT_A_SCHEDULE = [
    (b"", "a.csv: the file is empty"),
    (b"\xef\xbb\xbf \r\n", "a.csv: the file is empty"),
    (HEADER.encode(), "a.csv:1: no rows below the header"),
    ("box,item".encode("utf-16"), "a.csv: this is UTF-16 text; save it as CSV UTF-8"),
    (b"PK\x03\x04rest", "a.csv: this is a workbook or archive"),
    (HEADER.encode() + b"A,box,4\xb2,1\n", "a.csv:2: column 3: '4²': byte 0xb2 is not UTF-8"),
    (b"\xef\xbb\xbf" + HEADER.encode() + b"A,b,4\xb2,1\n", "a.csv:2: column 3: '4²': byte 0xb2 is not UTF-8"),
    (b"box;item;size;quantity\n", "the columns are parted by semicolons; save it with commas"),
    (b"box\titem\tsize\tquantity\n", "the columns are parted by tabs; save it with commas"),
    (b"A,box,4 x 1-1/2 square,1\n", "a.csv:1: 'A,box,4 x 1-1/2 square,1': no header line"),
    (b"box,item,size,qty\n", "a.csv:1: qty: 'qty': unknown column; did you mean 'quantity'?"),
    (b"box,item,size\nA,box,1\n", "a.csv:1: quantity: the column is missing"),
    (b"box,item,size,quantity,size\n", "a.csv:1: size: the column stands twice"),
    (b"box,item,size,quantity,\n", "a.csv:1: column 5: '': a column without a name"),
    (HEADER.encode() + b'A,"box,4,1\n', "a.csv:2: this row cannot be read"),
    (HEADER.encode() + b'\nA,b,4,1\nA,"b"x,4,1\n', "a.csv:4: this row cannot be read"),
]


@pytest.mark.parametrize(("data", "line"), NOT_A_SCHEDULE)
def test_what_is_no_schedule_says_so_in_one_line(data: bytes, line: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_schedule(write(tmp_path, data))
    message = str(caught.value).replace(str(tmp_path) + "/", "")
    assert line in message
    assert "\n" not in message


BAD_ROWS = [
    ("A,box,4\n", 2, "A", "quantity", None, "the row has 3 cells and the header 4"),
    ("A,box,4,1,2\n", 2, "A", "column 5", "2", "the row has 5 cells and the header 4"),
    ("\n\nA,b\u00a0x,4,1\n", 4, "A", "item", "b\u00a0x", "the cell holds a non-breaking space"),
    ("A,b,4\u200b,1\n", 2, "A", "size", "4\u200b", "the cell holds a zero-width space"),
    ("A,b,\x00,1\n", 2, "A", "size", "\x00", "the cell holds a NUL character"),
]


@pytest.mark.parametrize(("text", "row", "box", "column", "value", "reason"), BAD_ROWS)
def test_a_bad_row_is_kept_with_its_place(
    text: str, row: int, box: str, column: str, value: str | None, reason: str, tmp_path: Path
) -> None:
    schedule = read_schedule(write(tmp_path, HEADER + text + "B,conductor,12,1\n"))
    (bad,) = schedule.bad_rows
    found = (bad.file_row, bad.box, bad.column, bad.value, bad.reason)
    assert found == (row, box, column, value, reason)
    assert cells(schedule)["box"] == ["B"]
    with pytest.raises(InputError, match=reason):
        schedule.records()
    lines = (HEADER + text).encode().splitlines(keepends=True)
    assert [p.file_row for p in csv_problems(lines, "a.csv")[0]] == [row]


def test_a_note_may_hold_any_space(tmp_path: Path) -> None:
    schedule = read_schedule(write(tmp_path, "box,item,size,quantity,note\nA,box,4,1,a\u00a0b\n"))
    assert cells(schedule)["note"] == ["a\u00a0b"]


@pytest.mark.parametrize(
    ("name", "data", "line"),
    [
        ("a.toml", b"size = 4 x\n", "a.toml:1: no TOML"),
        ("a.toml", b'size = "4"\n', "a.toml: items: the box has no items"),
        ("a.toml", b"items = [1]\n", "a.toml: items: '1': item 1 is no table"),
        (
            "a.toml",
            b'box = "A"\n[[items]]\nitm = "x"\n',
            "a.toml:2: itm: 'itm': unknown column; did you mean 'item'?",
        ),
        ("a.parquet", b"", "a.parquet: the file is empty"),
        ("a.parquet", b"text", "a.parquet: this is no Parquet file"),
        ("b.parquet", b"PAR1text", "b.parquet: cannot be read as Parquet"),
    ],
)
def test_other_files_that_are_wrong(name: str, data: bytes, line: str, tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        read_schedule(write(tmp_path, data, name))
    assert line in str(caught.value).replace(str(tmp_path) + "/", "")


@pytest.mark.parametrize(
    ("source", "line"),
    [
        ("no such file.csv", "no such file.csv: there is no such file"),
        ("no-such-*.parquet", "no-such-*.parquet: no Parquet file there"),
        (5, "'int': not a schedule"),
        ([], "the schedule is empty"),
        ([{"box": "A"}], "item: no row names its item"),
        ([{"itm": 1}], "row 1: itm: 'itm': unknown column; did you mean 'item'?"),
        ([{"item": "box", "size": [1]}], "row 1: size: '[1]': not text or a number"),
        (
            [{"item": "box", "size": "1\u00a02"}],
            "row 1: size: '1\\xa02': the cell holds a non-breaking space",
        ),
        (["box"], "row 1: 'box': not a row"),
        (polars.DataFrame({"box": ["A"], "item": ["box"]}), "size: the column is missing"),
        (polars.DataFrame({name: [] for name in COLUMNS}), "no rows"),
    ],
)
def test_sources_that_are_wrong(source: Any, line: str) -> None:
    with pytest.raises(InputError) as caught:
        read_schedule(source).records()
    assert line in str(caught.value)


def test_a_directory_without_parquet_and_a_file_that_may_not_be_read(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no Parquet file there"):
        read_schedule(tmp_path)
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(InputError, match="no Parquet file there"):
        read_schedule(tmp_path / "folder.csv")


def test_a_large_csv_file_stays_where_it_is(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("jointable.schedule.TEXT_BYTES", 10)
    path = write(tmp_path, HEADER + "A,box,4,1\n")
    schedule = read_schedule(path)
    assert schedule.cells is None
    assert schedule.scan is not None
    assert (schedule.scan.kind, schedule.scan.paths) == ("csv", (path,))
    assert read_schedule(path, in_memory=True).cells is not None


def test_a_large_frame_stays_where_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("jointable.schedule.TEXT_ROWS", 1)
    frame = polars.DataFrame(ROWS)
    schedule = read_schedule(frame)
    assert schedule.scan is not None
    assert schedule.scan.source is frame
