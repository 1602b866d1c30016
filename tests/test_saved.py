"""Saved answers: every command's JSON says what was asked, stands under the same data, and tells what changed."""

from __future__ import annotations

import hashlib
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError
from jointable.saved import recheck

SCHEDULE = """box,item,size,quantity,joint
A,box,3 x 2 x 2-1/2 device,,
A,conductor,12,4,n
A,device,12,,
B,box,4 x 1-1/2 square,,
B,conductor,14,3,n
B,conductor,14,8,m
"""
LISTINGS = "connector,least,greatest\nmine,2x12,4x12\n"
PRICES = "class,pack_size,pack_price\ntwist-on 16,100,12.5\n"
PLAN = 'name = "A"\nsize = "4 x 1-1/2 square"\n[[enters]]\nrole = "feed"\nsize = "12/2"\n[[device]]\nkind = "receptacle"\n'

COMMANDS = [
    ["joint", "2x12 + 1x18 stranded", "--location", "wet", "--temperature", "75.5", "--rank", "margin"],
    ["joint", "3x12", "--listings", "mine.csv"],
    ["joint", "8x12", "--show-work"],
    ["range", "16", "--grip", "wide"],
    ["chart", "--sizes", "mm2"],
    ["fill", "boxes.csv", "--edition", "nec-2017"],
    ["fill", "boxes.csv"],
    ["stock", "boxes.csv", "--spare", "12.5"],
    ["stock", "boxes.csv", "--prices", "prices.csv"],
    ["room", "boxes.csv", "--class", "twist-on 25"],
    ["plan", "plan.toml", "--edition", "nec-2020"],
    ["plan", "--pattern", "four-way-switch"],
    ["trace", "allowance", "nec-2023,12 AWG", "volume_in3"],
]


def asked(words: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """What a command prints with --json, in a folder with the files that it names."""
    files = {"boxes.csv": SCHEDULE, "mine.csv": LISTINGS, "plan.toml": PLAN, "prices.csv": PRICES}
    for name, text in files.items():
        (folder / name).write_text(text, "utf-8")
    assert main([*(str(folder / w) if (folder / w).is_file() else w for w in words), "--json"]) in (0, 1)
    return json.loads(capsys.readouterr().out, parse_float=Decimal)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_an_answer_stands_by_itself(
    reference: jointable.Reference, tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    answer = asked(words, tmp_path, capsys)
    for one in answer if isinstance(answer, list) else [answer]:
        assert one["data_version"] == reference.data_version
        assert one["content_hash"] == reference.content_hash
        assert one["asked" if words[0] == "trace" else "inputs"]["command"] == words[0]
    for path in tmp_path.iterdir():  # what it rested on is in it
        path.unlink()
    found = recheck(reference, answer)
    assert found.changes == ()
    assert found.stands
    assert found.same_data


def test_the_inputs_of_a_trace_are_compared_too(
    reference: jointable.Reference, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = asked(["trace", "connector_class", "twist-on 16", "min_total_mm2"], tmp_path, capsys)
    assert recheck(reference, answer).stands
    answer["inputs"][0]["value"] = "0"
    assert [c.path for c in recheck(reference, answer).changes] == ["inputs[0].value"]


def test_the_environment_of_today_does_not_change_what_was_asked(
    reference: jointable.Reference,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    answer = asked(["joint", "3x12"], tmp_path, capsys)
    monkeypatch.setenv("JOINTABLE_LISTINGS", str(tmp_path / "mine.csv"))
    assert recheck(reference, answer).stands
    assert asked(["joint", "3x12"], tmp_path, capsys)["inputs"]["listings"] == LISTINGS


def test_the_content_hash_is_that_of_the_published_files(reference: jointable.Reference) -> None:
    """Built again from SHA256SUMS, as anyone can with the data package."""
    lines = (reference.path.parent / "SHA256SUMS").read_text("utf-8").splitlines(keepends=True)
    tables = sorted((line for line in lines if line.endswith(".csv\n")), key=lambda line: line.split()[1])
    assert len(tables) > 40
    assert hashlib.sha256("".join(tables).encode()).hexdigest() == reference.content_hash


def test_what_changed_is_told_by_its_place(
    reference: jointable.Reference, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    answer = asked(["fill", "boxes.csv"], tmp_path, capsys)
    answer[1]["required_in3"] += Decimal("0.25")
    answer[0]["lines"][0]["clause"] = "314.16(B)(9)"
    del answer[0]["lines"][-1]
    answer[0]["content_hash"] = "0" * 64
    found = recheck(reference, answer)
    assert not found.stands
    assert not found.same_data
    paths = [c.path for c in found.changes]
    assert "[1].required_in3" in paths
    assert "[0].lines[0].clause" in paths
    assert next(c for c in found.changes if c.path == "[1].required_in3").was == answer[1]["required_in3"]
    assert any(c.was is None and c.path.startswith("[0].lines[") for c in found.changes)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "answer.json"
    assert main(["range", "16", "--json"]) == 0
    text = capsys.readouterr().out
    path.write_text(text, "utf-8")
    assert main(["recheck", str(path)]) == 0
    assert "it still stands" in capsys.readouterr().out
    path.write_text(text.replace('"twist-on 16"', '"twist-on 15"'), "utf-8")
    assert main(["recheck", str(path)]) == 1
    told = capsys.readouterr()
    assert 'class: was "twist-on 15", is "twist-on 16"' in told.out
    assert "the file was edited" in told.err
    assert main(["recheck", str(path), "--json"]) == 1
    assert json.loads(capsys.readouterr().out)["changes"] == [
        {"path": "class", "was": "twist-on 15", "now": "twist-on 16"}
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("{", "this is no JSON"),
        ("[]", "no answer in it"),
        ("{}", "does not say what was asked"),
        ('"x"', "does not say what was asked"),
        ('{"inputs": {"command": "rnge"}}', "did you mean 'range'"),
        ('{"inputs": {"command": "range", "size": "15"}}', "no longer be asked: size: '15'"),
        ('{"inputs": {"command": "range", "sise": "16"}}', "inputs that range does not take"),
        ('{"inputs": {"command": "plan"}}', "inputs that plan does not take"),
    ],
)
def test_a_bad_file_is_told_in_one_line(
    reference: jointable.Reference, tmp_path: Path, text: str, told: str
) -> None:
    path = tmp_path / "answer.json"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError) as caught:
        recheck(reference, path)
    assert told in str(caught.value)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)
    with pytest.raises(InputError, match="cannot be read"):
        recheck(reference, tmp_path / "none.json")
