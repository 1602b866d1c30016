"""Saved answers about what is there and what is carried: they stand when they are asked again."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from jointable.cli import main

TOML = '[[joint]]\nname = "neutral"\nconductors = "3x12"\nlisting = "ours"\nadd = "1x12"\n'


def again(words: list[str], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    place = tmp_path / "answer.json"
    main([*words, "--json"])
    place.write_text(capsys.readouterr().out)
    answer = json.loads(place.read_text())
    assert main(["recheck", str(place)]) == 0, capsys.readouterr().out
    capsys.readouterr()
    return answer["inputs"]


def test_answers_stand_and_hold_their_inputs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own, pouch, van, boxes = (tmp_path / n for n in ("own.csv", "pouch.csv", "van.csv", "boxes.toml"))
    own.write_text("connector,least,greatest\nours,2x12,4x12\n")
    pouch.write_text("listing,class\nours,\n,twist-on 16\n")
    van.write_text("box,item,size,quantity,joint\nA,conductor,12,6,n\n")
    boxes.write_text(TOML)
    listed = ["--listings", str(own)]
    carried = ["--carry", str(pouch), *listed]
    assert (
        again(["check", "3x12", "--class", "twist-on 10", "--add", "1x12"], tmp_path, capsys)["class"]
        == "twist-on 10"
    )
    assert again(["check", str(boxes), *listed], tmp_path, capsys)["toml"] == TOML
    assert again(["joint", "3x12", *carried], tmp_path, capsys)["carry"].startswith("listing,")
    assert again(["stock", str(van), *carried], tmp_path, capsys)["listings"].startswith("connector,")
    assert again(["plan", "--pattern", "end-of-run-switch", *carried], tmp_path, capsys)["carry"]
