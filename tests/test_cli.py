"""The command line: answers on standard output, messages on standard error, exit codes as stated."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from jointable.cli import main

ROOT = Path(__file__).resolve().parent.parent

GOOD = (
    "box,item,size,quantity\nkitchen,box,3 x 2 x 3-1/2 device,1\nkitchen,cable,12/2,2\nkitchen,device,12,1\n"
)


@pytest.fixture
def schedule(tmp_path: Path) -> Path:
    path = tmp_path / "boxes.csv"
    path.write_text(GOOD, "utf-8")
    return path


def _json(capsys: pytest.CaptureFixture[str]) -> object:
    captured = capsys.readouterr()
    assert captured.err == ""
    return json.loads(captured.out)


def test_joint_answers_as_json_alone(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["joint", "3x12 + 1x14 stranded", "--location", "wet", "--json"]) == 0
    answer = _json(capsys)
    assert isinstance(answer, dict)
    assert answer["joint"]["total_mm2"] == pytest.approx(12.007, abs=0.001)
    assert answer["data_version"]
    assert all(c["variant"] == "sealed" for c in answer["choices"])


def test_fill_exits_by_its_verdicts(capsys: pytest.CaptureFixture[str], schedule: Path) -> None:
    """Four 12 AWG, one grounding tally, a yoke: 4 + 1 + 2 allowances of 2.25 in3 in 18.0 (NFPA 70-2023, 314.16)."""
    assert main(["fill", str(schedule), "--json"]) == 0
    (answer,) = _json(capsys)  # type: ignore[misc]
    assert (answer["required_in3"], answer["available_in3"], answer["passes"]) == (15.75, 18, True)
    schedule.write_text(GOOD.replace("12/2,2", "12/2,4"), "utf-8")
    assert main(["fill", str(schedule), "--json"]) == 1


def test_fill_of_the_demo_names_overfull_boxes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["fill", "--demo", "--json"]) == 1
    captured = capsys.readouterr()
    assert "invented" in captured.err
    answer = json.loads(captured.out)
    assert isinstance(answer, list)
    assert len(answer) >= 30
    assert {r["passes"] for r in answer} >= {True, False}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (GOOD.replace("12/2,2", "12/2,-1"), ":3: quantity: '-1'"),
        (GOOD.replace("12/2,2", "12/2,1.5"), ":3: quantity: '1.5'"),
        (GOOD.replace("cable,12/2", "conductor,13.5"), ":3: size: '13.5'"),
        (GOOD.replace("cable,12/2", "conductor,4"), "314.28"),
        (GOOD.replace("cable,12/2", "cabel,12/2"), ":3: item: 'cabel'"),
        (GOOD.replace("item", "thing", 1), "item"),
        (GOOD.replace(",3 x 2 x 3-1/2 device", ","), ":2: size: box 'kitchen'"),
        ("", "empty"),
        ("box,item,size,quantity\n", "row"),
    ],
)
def test_bad_schedule_is_one_line_and_exit_2(
    capsys: pytest.CaptureFixture[str], schedule: Path, text: str, said: str
) -> None:
    schedule.write_text(text, "utf-8")
    assert main(["fill", str(schedule)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.strip().splitlines()) == 1
    assert "boxes.csv" in captured.err
    assert said in captured.err
    assert "Traceback" not in captured.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["joint", "three twelves"], "three twelves"),
        (["joint", ""], "conductor"),
        (["joint", "3x13.7"], "13.7"),
        (["joint", "-1x12"], "-1"),
        (["joint", "1.5x12"], "1.5"),
        (["joint", "25x12"], "24"),
        (["joint", "2x12", "--location", "swamp"], "swamp"),
        (["joint", "2x12", "--temperature", "warm"], "warm"),
        (["joint", "2x12", "--family", "twiston"], "twist-on"),
        (["fill", "no-such-file.csv"], "no-such-file.csv"),
        (["fill"], "--demo"),
        (["fill", "--demo", "--edition", "nec-2026"], "nec-2026"),
        (["fill", "--demo", "--edition", "iec-60364"], "no such rule"),
        (["trace", "allowance", "nec-2023,13 AWG", "volume_in3"], "13 AWG"),
        (["trace", "allowances", "nec-2023,12 AWG", "volume_in3"], "allowance"),
        (["trace", "allowance", "nec-2023", "volume_in3"], "edition, size"),
        (["sql", "SELECT * FROM nowhere"], "nowhere"),
        (["changes", "1999.1.0"], "1999.1.0"),
        (["joint"], "TEXT"),
        (["joint", "2x12", "--colour", "red"], "--colour"),
    ],
)
def test_bad_usage_is_one_line_and_exit_2(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    assert main(arguments) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.strip().splitlines()) == 1, captured.err
    assert said.lower() in captured.err.lower()


def test_one_conductor_is_an_end_cap(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["joint", "1x12", "--json"]) == 0
    answer = _json(capsys)
    assert isinstance(answer, dict)
    assert answer["choices"] == []
    assert "an end cap, not a joint" in json.dumps(answer)


def test_trace_goes_to_the_printed_figure(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trace", "box", "nec-2023,4 x 1-1/2 square", "volume_in3", "--json"]) == 0
    answer = _json(capsys)
    assert isinstance(answer, dict)
    assert (answer["printed"], answer["value"], answer["unit"]) == ("21.0", 21, "in3")
    assert answer["source"] == "nfpa-70-2023"
    assert "box-count-floor" in {c["check_id"] for c in answer["checks"]}


def test_trace_follows_a_formula_to_its_inputs(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trace", "connector_class", "twist-on 16", "min_total_mm2", "--json"]) == 0
    answer = _json(capsys)
    assert isinstance(answer, dict)
    assert answer["origin"] == "derived"
    assert answer["formula"]
    assert answer["inputs"]


def test_sql_prints_json_and_csv(capsys: pytest.CaptureFixture[str]) -> None:
    query = "SELECT size, volume_in3 FROM allowance WHERE edition = 'nec-2023' AND size = '12 AWG'"
    assert main(["sql", query, "--json"]) == 0
    assert _json(capsys) == [{"size": "12 AWG", "volume_in3": 2.25}]
    assert main(["sql", query, "--csv"]) == 0
    assert capsys.readouterr().out == "size,volume_in3\n12 AWG,2.2500\n"


@pytest.mark.parametrize(
    "query", ["SELECT * FROM read_csv('/etc/passwd')", "COPY allowance TO 'x.csv'", "ATTACH 'x.db'"]
)
def test_sql_cannot_touch_files(capsys: pytest.CaptureFixture[str], query: str) -> None:
    assert main(["sql", query]) == 2


@pytest.mark.parametrize("columns", ["40", "80", "200"])
@pytest.mark.parametrize("encoding", ["utf-8", "ascii"])
def test_any_terminal_will_do(columns: str, encoding: str) -> None:
    environment = {**os.environ, "COLUMNS": columns, "PYTHONIOENCODING": encoding, "NO_COLOR": "1"}
    for arguments in (["joint", "3x12 + 2x16 stranded"], ["fill", "--demo"]):
        done = subprocess.run(
            [sys.executable, "-m", "jointable", *arguments],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            check=False,
        )
        assert done.returncode in (0, 1), done.stderr
        assert b"\x1b[" not in done.stdout
        assert max(len(line) for line in done.stdout.decode(encoding).splitlines()) <= int(columns)


def test_importing_is_light() -> None:
    code = "import sys, jointable; print([m for m in ('polars', 'pandera', 'frictionless', 'scipy') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
