"""Plans: edits, terminals, take-off, labels, work, bad input, and many boxes at once."""

from __future__ import annotations

import csv
import io
import json
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable import plan as planning
from jointable.cli import main
from jointable.errors import InputError
from jointable.exercise import exercise_text, exercises
from jointable.plan_label import RECORD_COLUMNS, labels_html, record_csv

FEED = {"name": "feed", "role": "feed", "size": "12/2"}
ON = {"name": "on", "role": "feed through", "size": "12/2"}
RECEPTACLE = {"kind": "receptacle"}


def box(**keys: Any) -> dict[str, Any]:
    return {"name": "A", "enters": [FEED, ON], "device": [RECEPTACLE], "volume_in3": 20, **keys}


def joints(answer: planning.BoxPlan) -> dict[str, str]:
    return {j["joint"]: j["text"] for j in answer.joints}


def test_a_terminal_marked_for_two_wires_needs_no_pigtail(reference: jointable.Reference) -> None:
    found = reference.plan(box(device=[{"kind": "receptacle", "screws": 2}])).boxes[0]
    assert list(joints(found)) == ["ground"]
    assert [t["wire"] for t in found.terminals][:2] == ["feed.hot and on.hot", "feed.neutral and on.neutral"]


def test_a_shared_neutral_never_depends_on_a_device(reference: jointable.Reference) -> None:
    """300.13(B): also where the device would take two wires."""
    cables = [{**FEED, "size": "12/3"}, {**ON, "size": "12/3"}]
    found = reference.plan(box(enters=cables, device=[{"kind": "split receptacle", "screws": 2}]))
    assert joints(found.boxes[0])["neutral"] == "3x12 AWG"
    assert "hot 1" not in joints(found.boxes[0])


@pytest.mark.parametrize(("metal", "grounds"), [(True, "4x12 AWG"), (False, "3x12 AWG")])
def test_a_metal_box_is_bonded(reference: jointable.Reference, metal: bool, grounds: str) -> None:
    assert joints(reference.plan(box(metal=metal)).boxes[0])["ground"] == grounds


def test_a_ground_that_goes_on_through_needs_no_pigtail(reference: jointable.Reference) -> None:
    found = reference.plan(box(grounding="pass-through")).boxes[0]
    ground = next(j for j in found.joints if j["joint"] == "ground")
    assert (ground["text"], ground["on_through_to"]) == ("2x12 AWG", "receptacle ground")
    assert "grounding" in ground["class"]
    assert found.fill.required_in3 == reference.plan(box()).boxes[0].fill.required_in3


def test_an_edit_adds_pigtails_and_joins_ends(reference: jointable.Reference) -> None:
    found = reference.plan(box(joint=[{"name": "hot", "pigtails": 3}])).boxes[0]
    assert joints(found)["hot"] == "5x12 AWG"
    own = [{"name": "mine", "of": ["feed.hot", "on.hot"]}]
    found = reference.plan(box(joint=own)).boxes[0]
    assert joints(found)["mine"] == "3x12 AWG"
    assert "hot" not in joints(found)
    assert all(t["wire"] for t in found.terminals)


def test_an_edit_changes_the_schedule_but_no_conductor_is_lost(reference: jointable.Reference) -> None:
    plain, own = (
        reference.plan(box(joint=e)).boxes[0] for e in ([], [{"name": "x", "of": ["feed.hot", "on.neutral"]}])
    )
    assert own.fill.required_in3 == plain.fill.required_in3
    counted = [sum(int(r["quantity"]) for r in b.rows if r["item"] == "conductor") for b in (plain, own)]
    assert counted == [4, 4]


def test_circuits_stay_apart_but_for_their_grounds(reference: jointable.Reference) -> None:
    cables = [{**FEED, "circuit": "1"}, {**ON, "circuit": "1"}, {**FEED, "name": "f2", "circuit": "2"},
              {**ON, "name": "o2", "circuit": "2"}]  # fmt: skip
    found = reference.plan(box(enters=cables, device=[], metal=False)).boxes[0]
    assert joints(found) == {
        "1 hot": "2x12 AWG", "1 neutral": "2x12 AWG", "ground": "4x12 AWG", "2 hot": "2x12 AWG",
        "2 neutral": "2x12 AWG",
    }  # fmt: skip


def test_take_off_counts_pigtails_connectors_and_boxes_alike(reference: jointable.Reference) -> None:
    found = reference.plan([box(boxes=3), box(name="B")])
    assert found.take_off["pigtails"] == [
        {"size": "12 AWG", "grounding": False, "quantity": 8, "length_mm": Decimal(150), "total_mm": 1200},
        {"size": "12 AWG", "grounding": True, "quantity": 4, "length_mm": Decimal(150), "total_mm": 600},
    ]
    assert sum(c["quantity"] for c in found.take_off["connectors"]) == 12


def test_room_and_gain_are_told(reference: jointable.Reference) -> None:
    room = reference.plan(box()).boxes[0].room
    assert room is not None
    assert room["estimate"]
    assert room["gain_cm3"] >= 0


def test_two_fills_at_most_for_all_boxes(reference: jointable.Reference, monkeypatch: Any) -> None:
    asked = []
    real = planning.fill
    monkeypatch.setattr(planning, "fill", lambda *a: asked.append(len(a[1])) or real(*a))
    many = [box(name=f"b{n}", volume_in3=20 + n % 7) for n in range(50)]
    found = reference.plan(many)
    assert len(asked) == 1
    assert [b.box for b in found] == [b["name"] for b in many]
    assert [b.fill.available_in3 for b in found] == [20 + n % 7 for n in range(50)]


BAD = [
    ('[[enters]]\nsize = "12/9"\n', 2, "size", "'12/9'"),
    ('[[enters]]\nsize = "12/2"\nrole = "fead"\n', 3, "role", "'fead'"),
    ('[[enters]]\nsize = "12/2"\n[[device]]\nkind = "swich"\n', 4, "kind", "did you mean 'switch'"),
    ('[[enters]]\nsize = "12/2"\n[[enters]]\nsiz = "14/2"\n', 4, "siz", "did you mean 'size'"),
    ('size = "4 x 9 square"\n[[enters]]\nsize = "12/2"\n', 1, "size", "4 x 9 square"),
    ('[[enters]]\nsize = "12/2"\n[[item]]\nitem = "bx"\n', 4, "item", "'bx'"),
    ('[[enters]]\nsize = "12/2"\n[[joint]]\nname = "hot"\nof = ["feed.hit"]\n', 5, "of", "'feed.hit'"),
    ("[[enters]\n", 1, None, "no TOML"),
]


@pytest.mark.parametrize(("text", "line", "column", "told"), BAD)
def test_bad_input_is_one_line_with_its_place(
    text: str, line: int, column: str | None, told: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "a.toml"
    path.write_text(text)
    out = tmp_path / "out.csv"
    assert main(["plan", str(path), "--output", str(out)]) == 2
    said = capsys.readouterr()
    assert said.err.startswith(f"{path}:{line}: ")
    assert said.err.count("\n") == 1
    assert told in said.err
    assert (column or "") in said.err
    assert not said.out
    assert not out.exists()


def test_a_plan_without_circuit_among_several_is_refused(reference: jointable.Reference) -> None:
    cables = [{**FEED, "circuit": "1"}, {**ON, "circuit": "2"}]
    with pytest.raises(InputError, match="which circuit"):
        reference.plan(box(enters=cables))


def test_the_command_writes_a_schedule_that_fill_takes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "boxes.csv"
    assert main(["plan", "--pattern", "end-of-run-switch", "--output", str(out), "--json"]) == 0
    answer = json.loads(capsys.readouterr().out)
    assert main(["fill", str(out), "--json"]) == 0
    filled = json.loads(capsys.readouterr().out)
    assert [b["fill"]["required_in3"] for b in answer["boxes"]] == [r["required_in3"] for r in filled]
    assert all(b["cautions"] and b["data_version"] for b in answer["boxes"])


@pytest.mark.parametrize("words", [["plan"], ["plan", "--pattern", "no-such"], ["plan", "nowhere.toml"]])
def test_usage_is_told_in_one_line(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    assert main(words) == 2
    assert capsys.readouterr().err.count("\n") == 1


def test_an_overfull_plan_ends_with_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "a.toml"
    path.write_text('volume_in3 = 5\n[[enters]]\nsize = "12/2"\n[[device]]\nkind = "receptacle"\n')
    assert main(["plan", str(path), "--show-work"]) == 1
    said = capsys.readouterr().out
    assert "11.25 > 5" in said


def test_labels_and_record(reference: jointable.Reference) -> None:
    made = reference.plan([box(name="<K1>"), box(name="K2")])
    page = labels_html(made, "2026-11-25")
    assert page.count('class="label"') == 2
    assert "&lt;K1&gt;" in page
    assert "<K1>" not in page
    assert "2026-11-25" in page
    assert made.data_version in page
    assert "nec-2023" in page
    rows = list(csv.DictReader(io.StringIO(record_csv(made, "2026-11-25"))))
    assert tuple(rows[0]) == RECORD_COLUMNS
    assert [r["required_in3"] for r in rows] == ["15.75", "15.75"]
    with pytest.raises(InputError, match="not a date"):
        labels_html(made, "25.11.2026")


def test_exercises_repeat_and_differ_by_seed(reference: jointable.Reference) -> None:
    first, again, other = (exercises(reference, seed, 9) for seed in (1, 1, 2))
    assert first == again != other
    assert any(e.source for e in first)
    shown = exercise_text(first, 1, "v", True)
    assert all(e.answer in shown for e in first)
    assert "Answer" not in exercise_text(first, 1, "v", False)


def test_each_worked_sum_adds_up(reference: jointable.Reference) -> None:
    """The numbers of a sum line, added with a pencil, give what stands behind the equals sign."""
    sums = [s for seed in range(8) for e in exercises(reference, seed, 9) for s in e.steps if s[:4] == "sum:"]
    assert len(sums) > 20
    for line in sums:
        parts, total = line.removeprefix("sum: ").removesuffix(" in³").split(" = ")
        assert sum(map(Decimal, parts.split(" + "))) == Decimal(total)


def test_joint_and_fill_show_their_work(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["joint", "4x12 + 1x14", "--family", "twist-on", "--show-work"]) == 0
    said = capsys.readouterr().out
    assert "4 x 12 AWG: 4 x 3.309 = 13.235 mm²" in said
    assert "4 ≤ 15.316 ≤ 16 mm²" in said
    path = tmp_path / "a.csv"
    path.write_text("box,item,size,quantity\nA,box,4 x 1-1/2 square,\nA,conductor,12,4\n")
    assert main(["fill", str(path), "--show-work", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    assert answer["work"][0] == "A: conductor: 4 x 2.25 (12 AWG) = 9 in³ [314.16(B)(1)]"


def test_without_show_work_nothing_is_added(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["joint", "3x12", "--json"]) == 0
    assert "work" not in json.loads(capsys.readouterr().out)


def test_existing_solid_aluminium_gets_the_referral_and_no_class(reference: jointable.Reference) -> None:
    """CPSC publication 516: a twist-on pigtail is no remedy, so none is bought for such a joint."""
    old = {**FEED, "material": "aluminium", "construction": "solid"}
    found = reference.plan(box(enters=[old, ON])).boxes[0]
    assert all(j["class"] is None for j in found.joints)
    assert all("CPSC publication 516" in j["reason"] for j in found.joints)
    assert {"C5", "C6"} <= {c["id"] for c in found.cautions}
    assert found.take_off["pigtails"] == []


@pytest.mark.parametrize("box", [{"box": "4 x 1-1/2 square"}, {"box": "A", "name": "B"}])
def test_a_box_at_the_top_is_a_name_alone(reference: jointable.Reference, box: dict[str, Any]) -> None:
    with pytest.raises(InputError, match="box gives a name alone"):
        reference.plan({**box, "enters": [{"role": "feed", "size": "12/2"}]})
