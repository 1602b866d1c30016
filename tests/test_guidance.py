"""Lines of advice beside answers: make-up, old aluminium, what the mix means, wet places."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError

TOPICS = ("make_up", "aluminium", "electrical", "wet_place")


def told(reference: jointable.Reference, text: str, **demands: Any) -> dict[str, Any]:
    return reference.connectors(text, **demands).to_dict()


def kinds(lines: list[dict[str, Any]]) -> set[str]:
    return {line["kind"] for line in lines}


def test_every_joint_answer_has_a_make_up_card(reference: jointable.Reference) -> None:
    card = told(reference, "3x12 + 1x18 stranded", family="twist-on")["make_up"]
    assert {"before", "strip", "align", "twist", "mix", "close", "test", "look"} <= kinds(card)
    assert all(line["text"] and line["clause"] for line in card)
    twist = next(line for line in card if line["kind"] == "twist")
    assert (twist["clause"], twist["caution"]) == ("common practice", "C27")
    assert "sleeve" not in " ".join(line["text"] for line in card)


def test_the_card_goes_by_the_family(reference: jointable.Reference) -> None:
    texts = " ".join(line["text"] for line in told(reference, "2x12", family="crimped closed end")["make_up"])
    assert "untwisted" in texts
    texts = " ".join(line["text"] for line in told(reference, "2x12", family="screw clamp")["make_up"])
    assert "torque" in texts
    assert not any(line["kind"] == "mix" for line in told(reference, "2x12")["make_up"])


def test_one_conductor_gets_an_end_cap_and_what_the_code_asks(reference: jointable.Reference) -> None:
    answer = told(reference, "1x12")
    assert answer["choices"] == []
    assert any(line["clause"] == "NEC 110.14(B)" and "cap" in line["text"] for line in answer["make_up"])
    assert "test" not in kinds(answer["make_up"])


def test_the_strip_length_comes_from_the_listing(reference: jointable.Reference, tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text("connector,least,greatest,strip_mm\nours,2x12,4x12,13\n")
    card = told(reference, "3x12", listings=own)["make_up"]
    assert [line["text"] for line in card if line["line"].startswith("21")] == ["ours: strip 13 mm"]
    own.write_text("connector,least,greatest,strip_mm\nours,2x12,4x12,long\n")
    with pytest.raises(InputError, match=r"own.csv:2: strip_mm: 'long'"):
        told(reference, "3x12", listings=own)


def test_provenance_of_each_line_can_be_traced(reference: jointable.Reference) -> None:
    answer = told(reference, "2x12 aluminium stranded + 1x12", location="burial")
    ids = [p for name in TOPICS for line in answer[name] for p in line["provenance"]]
    assert len(ids) > 20
    for text in (ids[0], next(i for i in ids if i.startswith("overcurrent_limit"))):
        table, rest = text.split("/", 1)
        key, column = rest.rsplit("/", 1)
        assert reference.trace(table, key, column).to_dict()["source"]


@pytest.mark.parametrize("text", ["2x12 aluminium", "2x2 aluminium", "1x10 aluminium + 2x12"])
def test_aluminium_is_told_wherever_it_enters(reference: jointable.Reference, text: str) -> None:
    lines = told(reference, text)["aluminium"]
    assert {"recognise", "warning", "never", "call"} <= kinds(lines)
    assert {"CPSC publication 516", "24 CFR 3280.801(e)"} <= {line["clause"] for line in lines}
    assert any("1965" in line["text"] for line in lines)
    assert told(reference, text.replace("aluminium", "copper"))["aluminium"] == []


def test_solid_aluminium_is_told_of_and_not_made_up(reference: jointable.Reference) -> None:
    answer = told(reference, "2x12 aluminium")
    assert answer["choices"] == []
    assert kinds(answer["make_up"]) == {"before"}


#: By hand from 240.4(D): the least of what each conductor allows.
LIMITS = [
    ("3x12", "20 A"), ("3x12 + 1x14", "15 A"), ("2x10", "30 A"), ("2x12 + 1x18 stranded", "7 A"), ("1x16 + 1x12", "10 A"),
    ("2x10 aluminium stranded", "25 A"), ("1x12 aluminium stranded + 1x12", "15 A"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "amps"), LIMITS)
def test_the_smallest_conductor_decides_the_protection(
    reference: jointable.Reference, text: str, amps: str
) -> None:
    first = told(reference, text)["electrical"][0]
    assert amps in first["text"]
    assert first["clause"].startswith("NEC 240.4(D)(")


def test_what_is_not_covered_is_said(reference: jointable.Reference) -> None:
    assert "not" not in told(reference, "2x12")["electrical"][0]["line"]
    assert any("metric" in line["text"] for line in told(reference, "2x2.5mm2")["electrical"])
    assert any("ampacity" in line["text"] for line in told(reference, "2x8")["electrical"])
    canada = told(reference, "2x12 + 1x18", edition="cec-2021")["electrical"]
    assert [line["clause"] for line in canada] == ["C22.1"]


@pytest.mark.parametrize(
    ("edition", "clause"), [("nec-2020", "NEC 725.136"), ("nec-2023", "NEC 725.136; Article 722")]
)
def test_power_limited_conductors_go_by_edition(
    reference: jointable.Reference, edition: str, clause: str
) -> None:
    lines = told(reference, "2x12 + 1x18", edition=edition)["electrical"]
    assert [line["clause"] for line in lines if line["kind"] == "power-limited"] == [clause]
    feed = {"role": "feed", "size": "12/2", "circuit": "1"}
    bell: dict[str, Any] = {"role": "wires", "size": "18", "circuit": "bell", "conductors": ["a", "b"]}
    wires = [feed, {**feed, "role": "feed through"}, {**bell, "power_limited": True}]
    box = {"enters": wires, "volume_in3": 30}
    told_of = {line["clause"] for line in reference.plan(box, edition).boxes[0].to_dict()["electrical"]}
    assert clause in told_of
    wires[-1] = bell
    again = reference.plan(box, edition).boxes[0].to_dict()["electrical"]
    assert clause not in {line["clause"] for line in again}


def test_fixture_wire_has_limits_of_its_own(reference: jointable.Reference) -> None:
    lines = told(reference, "2x12 + 1x18 stranded")["electrical"]
    assert any("20 A" in line["text"] and "15 m" in line["text"] for line in lines)


def test_underground_permitted_stands_beside_preferred(reference: jointable.Reference) -> None:
    lines = told(reference, "2x12", location="burial")["wet_place"]
    by_kind = {k: [line for line in lines if line["kind"] == k] for k in kinds(lines)}
    assert {"NEC 300.5(E)", "NEC 110.14(B)"} <= {line["clause"] for line in by_kind["permitted"]}
    assert any("bolted" in line["text"] for line in by_kind["preferred"])
    assert all(line["clause"] == "common practice" for k in ("preferred", "reason") for line in by_kind[k])
    assert by_kind["reason"]
    assert told(reference, "2x12")["wet_place"] == []
    damp = told(reference, "2x12", location="damp")["wet_place"]
    assert damp
    assert not any("300.5(E)" in line["clause"] for line in damp)


def test_a_plan_carries_the_lines_of_its_joints(reference: jointable.Reference) -> None:
    feed = {"role": "feed", "size": "12/2"}
    answer = (
        reference.plan({"enters": [feed, {**feed, "role": "feed through"}], "location": "wet"})
        .boxes[0]
        .to_dict()
    )
    assert all(answer[name] for name in ("make_up", "electrical", "wet_place"))
    lines = [line["line"] for line in answer["make_up"]]
    assert len(lines) == len(set(lines))


def test_the_command_prints_the_card(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["joint", "2x12", "--family", "twist-on", "--edition", "nec-2020"]) == 0
    said = capsys.readouterr().out
    assert "Making it up" in said
    assert "a note" in said or "notes, not a design" in said
    assert main(["joint", "2x12", "--edition", "nec-1999"]) == 2
    assert capsys.readouterr().err.count("\n") == 1
