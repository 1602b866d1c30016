"""What the command `fill` shows, writes and ends with."""

from __future__ import annotations

import io
import sys
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console

import jointable
from jointable.errors import InputError
from jointable.fill_command import run
from jointable.present import show_fill

HEADER = "box,item,size,quantity\n"
PASSES = HEADER + "A,box,4 x 1-1/2 square,1\nA,conductor,12,4\n"
FAILS = PASSES + "B,box,4 x 1-1/2 square,1\nB,conductor,12,9\nB,clamp,,1\n"
BAD = FAILS + "C,box,4 x 1-1/2 square,1\nC,condutor,12,4\n"


@pytest.fixture(scope="module")
def reference() -> Any:
    with jointable.open() as opened:
        yield opened


def written(folder: Path, text: str) -> str:
    path = folder / "a.csv"
    path.write_text(text, "utf-8")
    return str(path)


@pytest.mark.parametrize(("text", "code"), [(PASSES, 0), (FAILS, 1)])
def test_the_exit_code_says_whether_all_pass(reference: Any, tmp_path: Path, text: str, code: int) -> None:
    done = run(reference, written(tmp_path, text))
    assert done.exit_code == code
    assert done.results is not None
    assert done.messages == []


def test_a_box_that_fails_is_told_what_would_help(reference: Any, tmp_path: Path) -> None:
    done = run(reference, written(tmp_path, FAILS))
    assert done.results is not None
    good, bad = done.results
    assert good.changes is None
    assert "changes" not in good.to_dict()
    assert bad.changes is not None
    assert "no internal clamps" in bad.changes
    assert bad.to_dict()["changes"] == list(bad.changes)


def test_a_bad_row_is_an_error_without_an_output(reference: Any, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"a\.csv:8: item: 'condutor'"):
        run(reference, written(tmp_path, BAD), report=tmp_path / "report.html")
    assert [p.name for p in tmp_path.iterdir()] == ["a.csv"]


def test_with_an_output_the_rest_is_written_and_counted(reference: Any, tmp_path: Path) -> None:
    report = tmp_path / "report.html"
    done = run(reference, written(tmp_path, BAD), output=tmp_path / "out.csv", report=report)
    assert (done.results, done.exit_code) == (None, 2)
    assert "out.csv: 2 boxes, 1 pass, 1 do not, 0 undecided" in done.messages[0]
    assert "out.rejects.csv: 1 bad box left out, 1 reason" in done.messages[1]
    page = report.read_text("utf-8")
    assert ">A<" in page
    assert ">B<" in page
    assert ">C<" not in page
    assert "a.csv" in page


def test_standard_input_is_read_once(reference: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Stream:
        buffer = io.BytesIO(FAILS.encode())

    monkeypatch.setattr(sys, "stdin", Stream)
    done = run(reference, "-", output=tmp_path / "out.jsonl", report=tmp_path / "report.html")
    assert done.exit_code == 1
    assert len((tmp_path / "out.jsonl").read_text("utf-8").splitlines()) == 2
    assert "standard input" in (tmp_path / "report.html").read_text("utf-8")


def test_output_and_report_are_two_files(reference: Any, tmp_path: Path) -> None:
    with pytest.raises(InputError, match="one file"):
        run(reference, written(tmp_path, PASSES), output=tmp_path / "x.csv", report=tmp_path / "x.csv")


def test_the_report_never_replaces_the_schedule(reference: Any, tmp_path: Path) -> None:
    path = written(tmp_path, PASSES)
    with pytest.raises(InputError, match="would replace the schedule"):
        run(reference, path, report=Path(path))
    assert Path(path).read_text("utf-8") == PASSES


PULL = [
    {"box": "k", "item": "box", "size": "4 x 1-1/2 square"},
    {"box": "k", "item": "conductor", "size": "12"},
    {"box": "p", "item": "box", "height_mm": "900", "location": "wet"},
    {"box": "p", "item": "conductor", "size": "4/0"},
    {"box": "p", "item": "raceway", "size": "3", "wall": "left", "pull": "straight"},
]


@pytest.mark.parametrize("columns", [50, 100])
def test_what_is_not_checked_is_told_with_its_unit(reference: jointable.Reference, columns: int) -> None:
    """And the cautions of every box, each once, in no wider a line than the terminal has."""
    results = [r.to_dict() for r in reference.fill(PULL)]
    out = io.StringIO()
    show_fill(Console(file=out, width=columns, no_color=True), results)
    lines = out.getvalue().splitlines()
    assert max(map(len, lines)) <= columns
    shown = " ".join(" ".join(lines).split())
    assert "314.28(A)(1) straight pull along the width: needs 609.6 mm, not given: not checked" in shown
    assert "300.14" in shown
    assert "Holds no further" not in shown
    assert shown.count("Damp or wet") == 1
    cautions = {c["id"] for r in results for c in r["cautions"]}
    assert shown.count("! ") == len(cautions) > len(results[0]["cautions"])
