"""Opened joints and boxes: each finding from a case that has it, and beside it one that has not."""

from __future__ import annotations

import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError


def found(reference: jointable.Reference, edition: str | None = None, **joint: Any) -> dict[str, str]:
    """Findings by name, with when they hold."""
    box = reference.check({"joint": [{"name": "j", "conductors": "3x12", **joint}]}, edition).boxes[0]
    return {f.finding: f.when for f in box.findings}


TEN = "twist-on 10"

#: keys of the joint, the finding, and when; each beside keys without which it is not found.
CASES: list[tuple[dict[str, Any], str, str, dict[str, Any]]] = [
    ({"class": TEN, "add": "1x12"}, "too many", "after the change", {"class": "twist-on 16", "add": "1x12"}),
    ({"class": TEN, "conductors": "4x12"}, "too many", "both", {"class": TEN}),
    ({"class": TEN, "conductors": "4x12", "remove": "1x12"}, "too many", "as found", {"class": TEN}),
    ({"class": TEN, "conductors": "7x14"}, "too many", "both", {"class": TEN, "conductors": "4x14"}),
    ({"class": "twist-on 16", "remove": "2x12", "add": "1x20"}, "too few", "after the change", {"class": "twist-on 16"}),
    ({"class": TEN, "conductors": "1x8 + 1x20"}, "conductor out of range", "both", {"class": "twist-on 16"}),
    ({"class": "screwless lever 2.5 x3"}, "conductor out of range", "both", {"class": "screwless lever 4 x3"}),
    ({"class": TEN, "conductors": "2x12 + 1x10 aluminium stranded"}, "mixed metals", "both",
     {"class": "twist-on 16", "conductors": "2x12 + 1x10 aluminium stranded", "marked_material": "al-cu"}),
    ({"class": TEN, "conductors": "2x10 aluminium stranded"}, "aluminium not marked", "both",
     {"class": "twist-on 16 copper-aluminium", "conductors": "2x10 aluminium stranded"}),
    ({"conductors": "2x12 aluminium"}, "old aluminium", "both", {"conductors": "2x10 aluminium stranded"}),
    ({"class": "crimped closed end 16", "add": "1x12"}, "re-used crimp", "after the change",
     {"class": "crimped closed end 16", "add": "1x12", "new": True}),
    ({"class": "twist-on 16", "conductors": "4x12", "remove": "1x12"}, "re-used on less", "after the change",
     {"class": "twist-on 16", "conductors": "4x12", "remove": "1x12", "new": True}),
    ({"class": "twist-on 16", "remove": "1x12", "add": "1x14"}, "re-used on less", "after the change",
     {"class": "twist-on 16", "add": "1x12"}),
    ({"class": "twist-on 16", "add": "1x12"}, "re-used", "after the change", {"class": "screw clamp 4 x4", "add": "1x12"}),
    ({"class": TEN, "location": "wet"}, "damp or wet place", "both", {"class": "twist-on 10 sealed", "location": "wet"}),
    ({"class": TEN, "location": "damp"}, "damp or wet place", "both",
     {"class": TEN, "location": "damp", "marked_location": "damp"}),
    ({"class": "twist-on 10 sealed", "location": "burial"}, "buried", "both",
     {"class": "twist-on 10 sealed", "location": "burial", "marked_location": "burial"}),
    ({"class": TEN, "temperature_c": 120}, "hot place", "both", {"class": TEN, "temperature_c": 90}),
    ({"class": TEN, "temperature_c": 95, "marked_temperature_c": 90}, "hot place", "both",
     {"class": TEN, "temperature_c": 90, "marked_temperature_c": 90}),
    ({"class": TEN, "temperature_c": 90}, "temperature not marked", "both",
     {"class": TEN, "temperature_c": 90, "marked_temperature_c": 105}),
    ({"class": TEN, "voltage": 480, "marked_voltage": 300}, "voltage", "both",
     {"class": TEN, "voltage": 300, "marked_voltage": 300}),
    ({"free_mm": 149}, "free conductor short", "both", {"free_mm": 150}),
    ({"reach_mm": 74.9}, "free conductor inside", "both", {"reach_mm": 75}),
    ({"kind": "ground", "through_device": True}, "grounding through a device", "both",
     {"kind": "neutral", "through_device": True}),
    ({"kind": "neutral", "through_device": True, "multiwire": True}, "neutral through a device", "both",
     {"kind": "neutral", "multiwire": True}),
    ({"circuits": ["1", "2"]}, "circuits mixed", "both", {"circuits": ["1", "2"], "kind": "ground"}),
    ({"remove": "2x12"}, "one conductor left", "after the change", {"remove": "1x12"}),
    ({"covered": False}, "uncovered", "both", {"covered": False, "kind": "ground"}),
    ({"bare": True}, "bare conductor", "both", {}),
    ({}, "class not known", "both", {"class": TEN}),
]  # fmt: skip


@pytest.mark.parametrize(("keys", "name", "when", "without"), CASES)
def test_a_finding_is_found_where_it_is_and_nowhere_else(
    reference: jointable.Reference, keys: dict[str, Any], name: str, when: str, without: dict[str, Any]
) -> None:
    assert found(reference, **keys).get(name) == when
    assert name not in found(reference, **without)


def test_every_row_of_the_table_can_be_found(reference: jointable.Reference) -> None:
    named = {r[0] for r in reference.rows("SELECT finding FROM finding")}
    tried = {name for _, name, _, _ in CASES}
    assert named - tried == {"not printed", "overfull", "volume not known"}


def test_each_finding_says_what_why_clause_how_serious_and_what_to_do(reference: jointable.Reference) -> None:
    answer = reference.check(
        {"joint": [{"conductors": "3x12", "class": TEN, "add": "1x12", "location": "burial"}]}
    )
    findings = answer.boxes[0].to_dict()["findings"]
    assert [f["severity"] for f in findings] == ["stop", "wrong", "mind"]
    assert all(f[k] for f in findings for k in ("what", "why", "clause", "severity", "do", "provenance"))
    assert not answer.sound


def test_the_free_length_goes_by_edition(reference: jointable.Reference) -> None:
    def done(edition: str) -> str:
        box = reference.check(
            {"joint": [{"conductors": "3x12", "class": TEN, "free_mm": 90}]}, edition
        ).boxes[0]
        return next(f.do for f in box.findings if f.finding == "free conductor short")

    assert "spliced or unspliced" in done("nec-2023")
    assert "disputed" in done("nec-2020") == done("nec-2014")


def test_a_listing_in_place_answers(reference: jointable.Reference, tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text("connector,least,greatest\nours,2x12,3x12\n")
    joint = {"conductors": "3x12", "listing": "ours"}
    assert reference.check({"joint": [joint]}, listings=own).boxes[0].findings == ()
    after = reference.check({"joint": [{**joint, "add": "1x12"}]}, listings=own).boxes[0]
    assert "not printed" in {f.finding for f in after.findings}
    with pytest.raises(InputError, match="no such listing"):
        reference.check({"joint": [{**joint, "listing": "theirs"}]}, listings=own)


def test_a_box_that_becomes_overfull(reference: jointable.Reference) -> None:
    """By hand, 314.16(B) 2023: 6 x 2.25 + two grounds once 2.25 + device 4.5 = 20.25; two more 12 AWG give 24.75 of 21."""
    box = {
        "name": "A",
        "size": "4 x 1-1/2 square",
        "joint": [
            {"name": "hot", "conductors": "3x12", "class": TEN, "pigtails": "1x12"},
            {"name": "neutral", "conductors": "3x12", "class": TEN, "pigtails": "1x12", "add": "2x12"},
            {"name": "ground", "conductors": "2x12", "class": TEN},
        ],
        "item": [{"item": "device", "size": "12"}, {"item": "conductor", "size": "12", "quantity": "2"}],
    }
    found = reference.check(box).boxes[0]
    fills = [r.required_in3 for r in (found.fill_before, found.fill) if r is not None]
    assert fills == [Decimal("20.25"), Decimal("24.75")]
    assert [(f.finding, f.when) for f in found.findings if f.joint is None] == [
        ("overfull", "after the change")
    ]
    unknown = reference.check({**box, "size": None}).boxes[0]
    assert "volume not known" in {f.finding for f in unknown.findings}


def test_the_joint_after_gets_its_class_or_a_split(reference: jointable.Reference) -> None:
    joint = reference.check({"joint": [{"conductors": "4x12", "add": "4x12"}]}).boxes[0].joints[0]
    assert joint["needs"] is None
    assert joint["split"]
    assert (
        reference.check({"joint": [{"conductors": "3x12", "add": "1x12"}]}).boxes[0].joints[0]["needs"]
        == "twist-on 16"
    )


BAD = [
    ('[[joint]]\nconductors = "3x12"\nremove = "4x12"\n', 3, "remove"),
    ('[[joint]]\nconductors = "3x12"\nclass = "twist-on 11"\n', 3, "class"),
    ('[[joint]]\nconductors = "3y12"\n', 2, "conductors"),
    ('[[joint]]\nconductors = "3x12"\ncolour = "red"\n', 3, "colour"),
    ('[[joint]]\nname = "a"\n', 1, "conductors"),
    ('name = "A"\nsize = "9 x 9 square"\n[[joint]]\nconductors = "3x12"\n', 2, "size"),
    ('name = "A"\nsize = "4 x 1-1/2 square"\n[[item]]\nitem = "bx"\n', 4, "item"),
    ('[[joint]]\nconductors = "3x12"\nfree_mm = "long"\n', 3, "free_mm"),
]


@pytest.mark.parametrize(("text", "line", "column"), BAD)
def test_bad_input_is_one_line_with_its_place(
    text: str, line: int, column: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.toml"
    path.write_text(text)
    assert main(["check", str(path)]) == 2
    said = capsys.readouterr()
    assert said.err.startswith(f"{path}:{line}: {column}")
    assert said.err.count("\n") == 1
    assert not said.out


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "3x12", "--class", TEN]) == 0
    assert "Nothing was found" in capsys.readouterr().out
    assert main(["check", "3x12", "--class", TEN, "--add", "1x12", "--json"]) == 1
    answer = json.loads(capsys.readouterr().out)
    assert answer["boxes"][0]["findings"][0]["finding"] == "too many"
    assert answer["inputs"]["command"] == "check"
    assert answer["content_hash"]
    assert main(["check", "3x12", "--class", "none such"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
