"""The room of boxes: an estimate, checked by hand from its parameters."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError
from jointable.room_answer import BoxRoom
from jointable.schedule_joints import JOINED

BOX: dict[str, Any] = {"item": "box", "size": "4 x 1-1/2 square"}
ROWS: list[dict[str, Any]] = [
    BOX,
    {"item": "conductor", "size": "12", "quantity": 4, "joint": "neutral"},
    {"item": "conductor", "size": "12", "quantity": 2, "joint": "hot"},
    {"item": "device"},
]


@pytest.fixture(scope="module")
def reference() -> Iterator[jointable.Reference]:
    with jointable.open() as opened:
        yield opened


def figure(reference: jointable.Reference, item: str, parameter: str) -> float:
    rows = reference.rows(
        "SELECT figure FROM room_parameter WHERE item = ? AND parameter = ?", [item, parameter]
    )
    return float(rows[0][0])


def cylinder(
    reference: jointable.Reference, item: str, area_mm2: float, length: float | None = None
) -> float:
    across = math.sqrt(4 * area_mm2 / math.pi) + 2 * figure(reference, item, "insulation_mm")
    return (length or figure(reference, item, "length_mm")) * math.pi / 4 * across**2 / 1000


def lines(answer: BoxRoom) -> dict[tuple[str, str | None], tuple[int, Any]]:
    return {(x.item, x.size): (x.pieces, float(x.room_cm3 or 0)) for x in answer.lines}


def test_contents_are_the_sum_of_cylinders_and_bodies(reference: jointable.Reference) -> None:
    (answer,) = reference.room(ROWS)
    found = lines(answer)
    twelve = cylinder(reference, "conductor", 3.308772876)
    body = math.prod(figure(reference, "device", s) for s in ("width_mm", "height_mm", "depth_mm")) / 1000
    assert found[("conductor", "12 AWG")] == (6, pytest.approx(6 * twelve, abs=6e-4))
    assert found[("device", None)] == (1, pytest.approx(body, abs=6e-4))
    assert answer.contents_cm3 == sum(x.room_cm3 or 0 for x in answer.lines) + answer.connectors_cm3
    assert answer.inside_cm3 is not None
    assert answer.left_cm3 == answer.inside_cm3 - answer.contents_cm3
    # The printed volume of this box is 21.0 in³.
    assert answer.inside_cm3 == Decimal("21.0") * Decimal("16.387064")


@pytest.mark.parametrize("item", JOINED)
def test_every_conductor_of_a_schedule_takes_room(reference: jointable.Reference, item: str) -> None:
    size, area = ("18", 0.822905) if item.startswith("fixture") else ("12", 3.308772876)
    rows = [BOX, {"item": "conductor", "size": "14"}, {"item": item, "size": size, "quantity": 2}]
    (answer,) = reference.room(rows)
    found = lines(answer)[(item, f"{size} AWG")]
    alone = cylinder(reference, item, area)
    more = 1 if item == "conductor" and size == "14" else 0
    assert found == (2 + more, pytest.approx(2 * alone, rel=1e-3))


def test_a_cable_is_its_conductors_and_one_bare_ground(reference: jointable.Reference) -> None:
    (answer,) = reference.room([BOX, {"item": "cable", "size": "12/3", "quantity": 2}])
    found = lines(answer)
    assert found[("conductor", "12 AWG")][0] == 6
    assert found[("grounding", "12 AWG")] == (
        2,
        pytest.approx(2 * cylinder(reference, "grounding", 3.308772876), abs=1e-3),
    )


def test_the_ground_of_a_thick_cable_is_10_awg(reference: jointable.Reference) -> None:
    (answer,) = reference.room(
        [{"item": "box", "volume_in3": 100}, {"item": "cable", "size": "6/3", "quantity": 1}]
    )
    assert set(lines(answer)) == {("conductor", "6 AWG"), ("grounding", "10 AWG")}


def test_a_stated_depth_a_stated_loop_and_gangs_win(reference: jointable.Reference) -> None:
    (answer,) = reference.room(
        [
            BOX,
            {"item": "device", "depth_mm": 40, "gangs": 2, "conductor_size": "12"},
            {"item": "loop", "size": "12", "loop_mm": 500},
        ]
    )
    found = lines(answer)
    face = figure(reference, "device", "width_mm") * figure(reference, "device", "height_mm")
    assert found[("device", None)] == (2, pytest.approx(face * 40 * 2 / 1000, abs=1e-3))
    assert found[("loop", "12 AWG")][1] == pytest.approx(
        cylinder(reference, "loop", 3.308772876, 500), abs=1e-3
    )


def test_the_gain_is_the_difference_of_the_envelopes(reference: jointable.Reference) -> None:
    envelope = dict(reference.rows("SELECT class, room_cm3 FROM connector_class"))
    (answer,) = reference.room(ROWS, present="twist-on 25 wide")
    assert [(j.name, j.smallest) for j in answer.joints] == [
        ("twist-on 25 wide", "twist-on 16"),
        ("twist-on 25 wide", "twist-on 10"),
    ]
    expected = 2 * envelope["twist-on 25 wide"] - envelope["twist-on 16"] - envelope["twist-on 10"]
    assert answer.gain_cm3 == expected > 0
    taken = 2 * envelope["twist-on 25 wide"]
    assert answer.gain_percent == (expected * 100 / taken).quantize(Decimal("0.1"))


def test_unsaid_the_joints_are_in_the_fewest_classes(reference: jointable.Reference) -> None:
    """4x12 needs class 16; two twelves lie in its range too, so one class serves both."""
    (answer,) = reference.room(ROWS)
    assert {j.name for j in answer.joints} == {"twist-on 16"}
    assert [j.smallest for j in answer.joints] == ["twist-on 16", "twist-on 10"]
    assert any("fewest classes" in a for a in answer.assumptions)


def test_a_class_in_place_that_does_not_take_its_joint_is_said(reference: jointable.Reference) -> None:
    (answer,) = reference.room(ROWS, present={("box 1", "neutral"): "twist-on 10"})
    neutral = answer.joints[0]
    assert neutral.problem == "twist-on 10 does not take it"
    assert neutral.smallest == "twist-on 16"
    assert neutral.gain_cm3 == 0


def test_a_joint_that_no_class_takes_is_told(reference: jointable.Reference) -> None:
    rows: list[dict[str, Any]] = [
        {"item": "box", "volume_in3": 60},
        {"item": "conductor", "size": "12", "quantity": 8, "joint": "neutrals"},
    ]
    (answer,) = reference.room(rows)
    assert answer.joints[0].problem == "no class takes it; its connector is not in the figures"
    assert answer.connectors_cm3 == 0
    assert answer.gain_percent is None


def test_a_connector_row_counts_once(reference: jointable.Reference) -> None:
    rows = [*ROWS, {"item": "connector", "joint": "hot"}, {"item": "connector"}]
    (answer,) = reference.room(rows, edition="nec-2023")
    assert lines(answer)[("connector", None)][0] == 1


def test_room_never_touches_the_fill(reference: jointable.Reference) -> None:
    before = [r.to_dict() for r in reference.fill(ROWS)]
    reference.room(ROWS)
    assert [r.to_dict() for r in reference.fill(ROWS)] == before
    assert "required_in3" not in reference.room(ROWS)[0].to_dict()


def test_spaces_are_kept_apart(reference: jointable.Reference) -> None:
    rows: list[dict[str, Any]] = [
        {"item": "box", "space": "left", "volume_in3": 20},
        {"item": "box", "space": "right", "volume_in3": 30},
        {"item": "conductor", "size": 12, "quantity": 3, "joint": "hot", "space": "left"},
        {"item": "conductor", "size": 14, "quantity": 2, "joint": "bell", "space": "right"},
    ]
    try:
        answers = reference.room(rows)
    except InputError as error:  # pragma: no cover - the form of spaces is the schedule's
        pytest.fail(str(error))
    assert [(a.space, [j.joint for j in a.joints]) for a in answers] == [
        ("left", ["hot"]),
        ("right", ["bell"]),
    ]


def test_many_boxes_at_once_answer_as_each_alone(reference: jointable.Reference) -> None:
    rows: list[dict[str, Any]] = []
    for number in range(120):
        rows += [{"box": f"b{number}", **r} for r in ROWS]
        rows.append({"box": f"b{number}", "item": "conductor", "size": 14, "quantity": number % 5})
    together = reference.room(rows)
    assert len(together) == 120
    for number in (0, 3, 119):
        (alone,) = reference.room([r for r in rows if r["box"] == f"b{number}"])
        assert alone == together[number]


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"present": "twist-on 26"}, "class: 'twist-on 26': no such class"),
        ({"present": {("box 1", "nutral"): "twist-on 16"}}, "no such joint in the schedule"),
        ({"family": "glue"}, "family: 'glue'"),
        ({"grip": "tight"}, "grip: 'tight'"),
        ({"edition": "nec-1899"}, "edition: 'nec-1899'"),
    ],
)
def test_bad_options_are_one_line(reference: jointable.Reference, options: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError) as found:
        reference.room(ROWS, **options)
    assert told in str(found.value)
    assert "\n" not in str(found.value)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "box.csv"
    file.write_text(
        "box,item,size,quantity,joint\nA,box,4 x 1-1/2 square,1,\nA,conductor,12,4,n\nA,device,,1,\n"
    )
    assert main(["room", str(file), "--class", "twist-on 25 wide", "--json"]) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    assert {"box", "space", "inside_cm3", "contents_cm3", "left_cm3", "gain_cm3", "gain_percent"} <= set(
        answer
    )
    assert answer["joints"][0]["smallest"] == "twist-on 16"
    assert answer["estimate"] is True
    assert answer["assumptions"]
    assert answer["cautions"]
    assert main(["room", str(file), "--class", "twist-on 25 wide"]) == 0
    told = capsys.readouterr().out
    assert "twist-on 25 wide to twist-on 16 gains" in told
    assert "estimate" in told
    file.write_text("box,item,size,quantity\nA,box,4 x 1-1/2 square,1\nA,conductor,12,two\n")
    assert main(["room", str(file)]) == 2
    heard = capsys.readouterr()
    assert heard.out == ""
    assert heard.err.count("\n") == 1
    assert "row 3" in heard.err or ":3:" in heard.err


def test_the_macro_answers_in_sql(reference: jointable.Reference) -> None:
    rows = reference.rows(
        "WITH items AS (SELECT 'A' AS box, 'conductor' AS item, '2.5 mm²' AS size, 2 AS quantity) "
        "SELECT size, pieces, room_cm3 FROM box_contents('items')"
    )
    assert rows == [("2.5 mm2", 2, Decimal(str(round(2 * cylinder(reference, "conductor", 2.5), 3))))]
