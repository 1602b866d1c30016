"""From what is carried: only that is chosen; else what could be done with it, and what is missing."""

from __future__ import annotations

from pathlib import Path

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError

ROWS = [
    {"box": "k", "item": "conductor", "size": "12", "quantity": "3", "joint": "hot"},
    {"box": "k", "item": "conductor", "size": "12", "quantity": "5", "joint": "neutral"},
]


@pytest.fixture
def pouch(tmp_path: Path) -> Path:
    path = tmp_path / "pouch.csv"
    path.write_text("class,listing,quantity,note\ntwist-on 16,,50,\ntwist-on 4 sealed,,,left pocket\n")
    return path


def test_only_what_is_carried_is_chosen(reference: jointable.Reference, pouch: Path) -> None:
    answer = reference.connectors("3x12", carry=pouch).to_dict()
    assert [c["class"] for c in answer["choices"]] == ["twist-on 16"]
    assert "50 carried" in answer["choices"][0]["notes"]
    assert answer["carry"]["served"] is True
    assert "carry" not in reference.connectors("3x12").to_dict()


def test_a_sealed_one_serves_a_dry_joint_but_not_the_other_way(
    reference: jointable.Reference, pouch: Path
) -> None:
    dry = reference.connectors("2x16", carry=pouch).to_dict()
    assert [c["class"] for c in dry["choices"]] == ["twist-on 4 sealed"]
    assert dry["choices"][0]["provenance"][0].startswith("connector_class/twist-on 4 sealed/")
    wet = reference.connectors("3x12", carry=pouch, location="wet").to_dict()
    assert wet["choices"] == []
    assert "twist-on 10 sealed" in wet["carry"]["missing"]


def test_what_could_be_done_and_what_is_missing(reference: jointable.Reference, pouch: Path) -> None:
    answer = reference.connectors("6x12", carry=pouch).to_dict()
    assert answer["choices"] == []
    assert {c["class"] for c in answer["split"]["connectors"]} == {"twist-on 16"}
    assert answer["carry"]["could"][0].startswith("split it: twist-on 16 on ")
    assert "twist-on 25" in answer["carry"]["missing"]
    other = reference.connectors("3x12", carry=pouch, family="screw clamp").to_dict()["carry"]
    assert "another family: twist-on 16" in other["could"]
    assert other["missing"] == ["screw clamp 2.5 x3"] or other["missing"][0].startswith("screw clamp")


def test_a_listing_is_carried(reference: jointable.Reference, tmp_path: Path) -> None:
    own, pouch = tmp_path / "own.csv", tmp_path / "p.csv"
    own.write_text("connector,least,greatest\nours,2x12,4x12\ntheirs,2x12,4x12\n")
    pouch.write_text("listing\nours\n")
    answer = reference.connectors("3x12", carry=pouch, listings=own).to_dict()
    assert [c["listing"]["connector"] for c in answer["choices"]] == ["ours"]
    stocked = reference.stock(ROWS, carry=pouch, listings=own)
    assert [c["class"] for c in stocked["classes"]] == ["ours"]
    assert stocked["unserved"][0]["reason"].startswith("nothing carried takes it; twist-on 25 is missing")
    with pytest.raises(InputError, match="no such listing"):
        reference.connectors("3x12", carry=pouch)


def test_stock_and_plan_choose_among_the_carried(reference: jointable.Reference, pouch: Path) -> None:
    found = reference.stock(ROWS, carry=pouch)
    assert [c["class"] for c in found["classes"]] == ["twist-on 16"]
    assert "twist-on 25 is missing" in found["unserved"][0]["reason"]
    feed = {"role": "feed", "size": "12/2"}
    box = {"enters": [feed, {**feed, "role": "feed through"}], "device": [{"kind": "receptacle"}]}
    joints = reference.plan(box, carry=pouch).boxes[0].joints
    assert {j["class"] for j in joints} == {"twist-on 16"}
    many = {"enters": [feed, *({**feed, "role": "feed through", "name": f"n{n}"} for n in range(4))]}
    reasons = [j["reason"] for j in reference.plan(many, carry=pouch).boxes[0].joints]
    assert all(r and "tied by" in r for r in reasons)


BAD = [
    ("class\ntwist-on 17\n", ":2: class: 'twist-on 17'"), ("class\n\n", ":1: "), ("klass\n", ":1: klass"), ("", "the file is empty"),
    ("class,listing\n,\n", "no rows"), ("class,quantity\ntwist-on 16,many\n", ":2: quantity: 'many'"),
    ("class,listing\ntwist-on 16,ours\n", ":2: class"), ("class,note\ntwist-on 16\n", ":2: "),
]  # fmt: skip


@pytest.mark.parametrize(("text", "told"), BAD)
def test_bad_input_is_one_line(
    text: str, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "p.csv"
    path.write_text(text)
    assert main(["joint", "3x12", "--carry", str(path)]) == 2
    said = capsys.readouterr()
    assert said.err.startswith(str(path))
    assert told in said.err
    assert said.err.count("\n") == 1
    assert not said.out


def test_the_command(pouch: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["joint", "6x12", "--carry", str(pouch)]) == 0
    said = capsys.readouterr().out
    assert "Could be done: split it" in said
    assert "Missing: twist-on 25" in said
