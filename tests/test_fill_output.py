"""Fills written to files: the same figures as `fill`, whole or not at all, and no row lost silently."""

from __future__ import annotations

import csv
import io
import json
import random
from decimal import Decimal
from pathlib import Path
from typing import Any

import duckdb
import pandas
import polars
import pytest

import jointable
from jointable.demo import demo_schedule
from jointable.errors import InputError
from jointable.fill import fill
from jointable.fill_output import Written, rejects_path, write_fill
from tests.test_fill_ways import odd_rows

HEADER = "box,item,size,quantity\n"
GOOD = HEADER + "A,box,4 x 1-1/2 square,1\nA,conductor,12,4\nB,box,4 x 1-1/2 square,1\nB,conductor,12,10\n"
BAD = GOOD + "C,box,4 x 1-1/2 square,1\nC,condutor,12,4\nC,conductor,12,-1\n"
PROMISED = {"box", "space", "edition", "required_in3", "available_in3", "passes"}


@pytest.fixture(scope="module")
def reference() -> Any:
    with jointable.open() as opened:
        yield opened


@pytest.fixture(params=["in memory", "where it lies"])
def large(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> bool:
    """Run a test both for schedules held in memory and for ones that DuckDB reads."""
    if request.param == "where it lies":
        monkeypatch.setattr("jointable.schedule.TEXT_ROWS", 1)
        monkeypatch.setattr("jointable.schedule.TEXT_BYTES", 1)
        return True
    return False


def written(reference: Any, folder: Path, text: str, name: str = "out.csv", **options: Any) -> Written:
    path = folder / "a.csv"
    path.write_text(text, "utf-8", newline="")
    return write_fill(reference, path, folder / name, **options)


def rejects(done: Written) -> list[dict[str, str]]:
    assert done.rejects is not None
    with done.rejects.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def rows_of(path: Path) -> list[dict[str, Any]]:
    """The rows of an output with decimals, whatever its form."""
    if path.suffix == ".parquet":
        return polars.read_parquet(path).to_dicts()
    if path.suffix == ".jsonl":
        lines = path.read_text("utf-8").splitlines()
        return [json.loads(line, parse_float=Decimal, parse_int=Decimal) for line in lines]
    with path.open(encoding="utf-8", newline="") as stream:
        return [_typed(row) for row in csv.DictReader(stream)]


def _typed(row: dict[str, str]) -> dict[str, Any]:
    out: dict[str, Any] = {k: v or None for k, v in row.items()}
    for name in ("required_in3", "available_in3", "required_cm3", "available_cm3"):
        out[name] = Decimal(row[name])
    out["passes"] = {"true": True, "false": False, "": None}[row["passes"]]
    return out


@pytest.mark.parametrize("name", ["out.csv", "out.parquet", "out.jsonl", "OUT.CSV"])
def test_every_form_holds_what_fill_says(reference: Any, tmp_path: Path, name: str, large: bool) -> None:
    done = written(reference, tmp_path, GOOD, name)
    assert (done.boxes, done.passed, done.failed, done.undecided, done.exit_code) == (2, 1, 1, 0, 1)
    assert done.rejects is None
    expected = [r.to_dict() for r in fill(reference, tmp_path / "a.csv")]
    rows = rows_of(done.output)
    assert [r["box"] for r in rows] == ["A", "B"]
    for row, answer in zip(rows, expected, strict=True):
        assert set(row) >= PROMISED
        for column in PROMISED:
            assert row[column] == answer[column], column


def test_csv_has_no_padding_zeros_and_line_feeds(reference: Any, tmp_path: Path) -> None:
    data = written(reference, tmp_path, GOOD).output.read_bytes()
    assert b"\r" not in data
    assert b",9,147.483576,21,344.128344,true," in data


def test_parquet_holds_decimals(reference: Any, tmp_path: Path) -> None:
    frame = polars.read_parquet(written(reference, tmp_path, GOOD, "out.parquet").output)
    assert frame.schema["required_in3"] == polars.Decimal(18, 10)
    assert frame.schema["passes"] == polars.Boolean


def test_all_pass_is_0(reference: Any, tmp_path: Path) -> None:
    assert written(reference, tmp_path, GOOD.split("B,box")[0]).exit_code == 0


def test_bad_boxes_go_beside_and_good_ones_are_computed(reference: Any, tmp_path: Path, large: bool) -> None:
    done = written(reference, tmp_path, BAD)
    assert (done.boxes, done.rejected, done.rows, done.exit_code) == (2, 1, 2, 2)
    assert done.rejects == tmp_path / "out.rejects.csv"
    found = rejects(done)
    assert list(found[0]) == ["row", "box", "column", "value", "reason"]
    assert [(r["row"], r["box"], r["column"], r["value"]) for r in found] == [
        ("7", "C", "item", "condutor"),
        ("8", "C", "quantity", "-1"),
    ]
    assert "did you mean 'conductor'?" in found[0]["reason"]
    assert [r["box"] for r in rows_of(done.output)] == ["A", "B"]


def test_rows_keep_their_numbers_past_blank_lines_and_line_ends_in_quotes(
    reference: Any, tmp_path: Path, large: bool
) -> None:
    text = 'box,item,size,quantity,note\nA,box,4 x 1-1/2 square,1,"one\ntwo"\n\n,,,,\nA,condutor,12,1,\n'
    done = written(reference, tmp_path, text)
    assert [r["row"] for r in rejects(done)] == ["5"]


def test_a_row_that_is_no_row_rejects_its_box_alone(reference: Any, tmp_path: Path, large: bool) -> None:
    done = written(reference, tmp_path, GOOD + "A,grounding,12\nC,box,4 x 1-1/2 square,1,x\n")
    assert [r["box"] for r in rows_of(done.output)] == ["B"]
    assert [(r["row"], r["box"]) for r in rejects(done)] == [("6", "A"), ("7", "C")]
    assert (done.rejected, done.exit_code) == (2, 2)


def test_what_may_stand_in_a_torn_row_is_not_missed_besides(
    reference: Any, tmp_path: Path, large: bool
) -> None:
    done = written(
        reference, tmp_path, HEADER + "A,box,4 x 1-1/2 square\nA,condutor,12,1\nA,conductor,12,1\n"
    )
    assert [(r["row"], r["column"]) for r in rejects(done)] == [("2", "quantity"), ("3", "item")]


def test_nothing_is_lost(reference: Any, tmp_path: Path, large: bool) -> None:
    rows = "".join(
        f"N{n},box,4 x 1-1/2 square,1\nN{n},{'conductor' if n % 3 else 'condutor'},12,{n % 9}\n"
        for n in range(60)
    )
    done = written(reference, tmp_path, HEADER + rows + ",conductor,12,1\n")
    named = {r["box"] for r in rejects(done)} | {r["box"] for r in rows_of(done.output)}
    assert named == {f"N{n}" for n in range(60)} | {""}
    assert (done.boxes, done.rejected) == (40, 21)


def test_strict_stops_at_the_first_bad_row_and_writes_nothing(
    reference: Any, tmp_path: Path, large: bool
) -> None:
    with pytest.raises(InputError) as caught:
        written(reference, tmp_path, BAD, strict=True)
    assert str(caught.value).startswith(f"{tmp_path / 'a.csv'}:7: item: 'condutor': ")
    with pytest.raises(InputError, match=r"a\.csv:6: quantity"):
        written(reference, tmp_path, GOOD + "A,grounding,12\n", strict=True)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv"]


def test_several_files_name_the_file_of_a_bad_row(reference: Any, tmp_path: Path, large: bool) -> None:
    folder = tmp_path / "parts"
    folder.mkdir()
    rows = list(csv.DictReader(BAD.splitlines()))
    polars.DataFrame(rows[:4]).write_parquet(folder / "1.parquet")
    polars.DataFrame(rows[4:]).write_parquet(folder / "2.parquet")
    done = write_fill(reference, folder, tmp_path / "out.parquet")
    assert [(r["row"], r["value"], Path(r["file"]).name) for r in rejects(done)] == [
        ("2", "condutor", "2.parquet"),
        ("3", "-1", "2.parquet"),
    ]
    with pytest.raises(InputError, match=r"2\.parquet:2: item: 'condutor'"):
        fill(reference, folder)


def test_a_clean_run_takes_away_the_rejects_of_an_earlier_one(reference: Any, tmp_path: Path) -> None:
    assert written(reference, tmp_path, BAD).rejects is not None
    assert written(reference, tmp_path, GOOD).rejects is None
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv", "out.csv"]


def test_an_output_that_stood_there_stays_when_the_run_fails(reference: Any, tmp_path: Path) -> None:
    (tmp_path / "out.csv").write_text("mine", "utf-8")
    with pytest.raises(InputError):
        written(reference, tmp_path, BAD, strict=True)
    with pytest.raises(InputError):
        written(reference, tmp_path, "box,item\n")
    assert (tmp_path / "out.csv").read_text("utf-8") == "mine"
    assert sorted(p.name for p in tmp_path.iterdir()) == ["a.csv", "out.csv"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("out.txt", "no such form of output"),
        ("out", "no such form of output"),
        ("nowhere/out.csv", "there is no such folder"),
        ("a.csv", "the output would replace the schedule"),
    ],
)
def test_outputs_that_cannot_be(reference: Any, tmp_path: Path, name: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        written(reference, tmp_path, GOOD, name)
    assert (tmp_path / "a.csv").read_text("utf-8") == GOOD


def test_the_rejects_never_replace_the_schedule(reference: Any, tmp_path: Path) -> None:
    path = tmp_path / "out.rejects.csv"
    path.write_text(BAD, "utf-8")
    with pytest.raises(InputError, match="would replace the schedule"):
        write_fill(reference, path, tmp_path / "out.csv")
    assert path.read_text("utf-8") == BAD
    assert rejects_path(tmp_path / "out.csv") == path


def test_an_unknown_edition_is_told_before_anything_is_read(reference: Any, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="unknown edition"):
        write_fill(reference, tmp_path / "none.csv", tmp_path / "out.csv", "nec-1999")


def test_progress_ends_at_a_hundred(reference: Any, tmp_path: Path) -> None:
    told: list[tuple[str, float]] = []
    written(reference, tmp_path, GOOD, progress=lambda step, percentage: told.append((step, percentage)))
    assert told
    assert told[-1] == ("writing", 100.0)
    assert all(0 <= percentage <= 100 for _, percentage in told)


def test_a_folder_with_a_space_and_a_quote(reference: Any, tmp_path: Path, large: bool) -> None:
    folder = tmp_path / "it's a folder"
    folder.mkdir()
    assert written(reference, folder, BAD, "o'ut.parquet").boxes == 2
    assert sorted(p.name for p in folder.iterdir()) == ["a.csv", "o'ut.parquet", "o'ut.rejects.csv"]


@pytest.mark.parametrize("edition", ["nec-2023", "cec-2021"])
@pytest.mark.parametrize("suffix", [".csv", ".parquet"])
def test_a_box_with_too_many_pieces_is_put_beside(
    reference: Any, tmp_path: Path, edition: str, suffix: str
) -> None:
    """More than the packed sums hold; the boxes before and after it are computed."""
    small = "box,4 x 1-1/2 square,1\n{0},conductor,12,4\n"
    big = "BIG,box,4 x 1-1/2 square,1\n" + "BIG,cable,6/9,9999\n" * 900
    path = tmp_path / "a.csv"
    text = "box,item,size,quantity\n" + f"A,{small.format('A')}" + big + f"Z,{small.format('Z')}"
    path.write_text(text, "utf-8")
    if suffix == ".parquet":
        duckdb.sql(f"COPY (FROM read_csv('{path}')) TO '{tmp_path / 'a.parquet'}'")
        path = tmp_path / "a.parquet"
    done = write_fill(reference, path, tmp_path / "out.csv", edition)
    assert (done.boxes, done.rejected, done.exit_code) == (2, 1, 2)
    assert done.rejects is not None
    assert "more than 524,287 pieces" in done.rejects.read_text("utf-8")


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_filled_in_parts_it_is_byte_for_byte_the_same(
    reference: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    """A schedule beyond memory is filled in parts: same order, same figures, same rejects."""
    text = demo_schedule().read_text("utf-8")
    header, *lines = text.splitlines()
    bad = ["Z9,condutor,12,1", "Z8,conductor,12,-1", ",conductor,12,1"]
    short = [line + "," * (header.count(",") - line.count(",")) for line in bad]
    # The rows of a box lie far from one another.
    mixed = "\n".join([header, *lines[::3], *short, *lines[1::3], *lines[2::3], ""])
    path = tmp_path / f"a.{kind}"
    if kind == "csv":
        path.write_text(mixed, "utf-8")
    else:
        polars.read_csv(io.StringIO(mixed), infer_schema=False).write_parquet(path)
    monkeypatch.setattr("jointable.schedule.TEXT_ROWS", 1)
    monkeypatch.setattr("jointable.schedule.TEXT_BYTES", 1)
    told: list[str] = []
    one = write_fill(reference, path, tmp_path / "one.csv")
    monkeypatch.setattr("jointable.fill_output.PART_ROWS", 90)
    many = write_fill(reference, path, tmp_path / "many.csv", progress=lambda step, _: told.append(step))
    assert {s for s in told if s.startswith("filling")} == {
        f"filling boxes, part {n} of 4" for n in (1, 2, 3, 4)
    }
    assert one.boxes == many.boxes > 35
    assert one.output.read_bytes() == many.output.read_bytes()
    assert one.rejects is not None
    assert many.rejects is not None
    assert one.rejects.read_bytes() == many.rejects.read_bytes()
    assert one.rejected == many.rejected >= 2


def _loose(cell: Any, chance: random.Random) -> Any:
    """A cell as a hand or a program leaves it: space around it, hidden characters, nothing but space."""
    if cell is None:
        return chance.choice([None, None, None, "  ", "\t"])
    padded = [f" {cell}", f"{cell}  ", f"{cell}\t", f"{cell}\u00a0", f"\u200b{cell}"]
    return chance.choices([str(cell), *padded], [85, 4, 4, 4, 1, 1])[0]


def test_cells_are_read_alike_in_every_form_and_size(
    reference: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = random.Random(5)
    rows = odd_rows("nec-2023", 40, chance)
    names = sorted({name for row in rows for name in row})
    frame = polars.DataFrame(
        {name: [_loose(row.get(name), chance) for row in rows] for name in names}, schema_overrides=dict.fromkeys(names, polars.String)
    )  # fmt: skip
    frame.write_csv(tmp_path / "a.csv")
    frame.write_parquet(tmp_path / "a.parquet")
    found = {}
    for limit in (10**9, 1):
        monkeypatch.setattr("jointable.schedule.TEXT_ROWS", limit)
        monkeypatch.setattr("jointable.schedule.TEXT_BYTES", limit)
        for form, source in (
            ("csv", tmp_path / "a.csv"),
            ("parquet", tmp_path / "a.parquet"),
            ("frame", frame),
        ):
            done = write_fill(reference, source, tmp_path / "out.csv", "nec-2023")
            # A header is row 1 of a CSV file alone.
            told = {
                (int(r["row"]) + (form != "csv"), r["box"], r["column"], r["value"], r["reason"])
                for r in rejects(done)
            }
            found[form, limit] = done.output.read_text("utf-8"), told
    good, told = found["csv", 10**9]
    assert len(good.splitlines()) > 30
    assert any("non-breaking" in row[4] for row in told)
    for way, result in found.items():
        assert result == (good, told), way


@pytest.mark.parametrize("limit", [10**9, 1])
def test_no_number_is_nothing_and_a_column_of_answers_is_refused(
    reference: Any, limit: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("jointable.schedule.TEXT_ROWS", limit)
    frame = pandas.DataFrame(
        {"box": ["A", "A"], "item": ["box", "conductor"], "size": ["4 x 1-1/2 square", "12"], "quantity": [1, float("nan")]}
    )  # fmt: skip
    assert reference.fill(frame)[0].required_in3 == Decimal("2.25")
    with pytest.raises(InputError, match=r"quantity: .*not text or"):
        reference.fill(frame.assign(quantity=[True, False]))


def test_a_line_of_spaces_is_no_row(reference: Any, tmp_path: Path, large: bool) -> None:
    done = written(reference, tmp_path, GOOD.replace("B,box", "   \n,,,\nB,box") + "  \n")
    assert (done.boxes, done.rejects) == (2, None), large
    done = written(reference, tmp_path, GOOD + "  \nC,box\n" + 'C,conductor,"12,3\n'.replace('"', ""))
    assert [r["row"] for r in rejects(done)] == ["7"], large
