"""Stock: what a schedule's joints need, exactly, and how a schedule is read for it."""

from __future__ import annotations

import csv
import io
import itertools
import random
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.cover import cheapest, fewest, trade_off
from jointable.demo import demo_schedule
from jointable.errors import InputError

Rows = list[dict[str, Any]]
BOX = {"item": "box", "size": "4 x 1-1/2 square"}


def rows_of(joints: dict[str, list[tuple[Any, int]]], box: str = "A", **more: Any) -> Rows:
    return [
        {"box": box, "item": "conductor", "size": size, "quantity": n, "joint": name, **more}
        for name, terms in joints.items()
        for size, n in terms
    ]


def classes_of(reference: jointable.Reference, rows: Any, **options: Any) -> list[tuple[str, int, int]]:
    return [(c["class"], c["joints"], c["quantity"]) for c in reference.stock(rows, **options)["classes"]]


def test_one_class_serves_all_where_it_can(reference: jointable.Reference) -> None:
    rows = rows_of({"a": [(12, 3)], "b": [(14, 4)], "c": [(14, 2), (12, 1)]})
    answer = reference.stock(rows)
    assert [(c["class"], c["joints"]) for c in answer["classes"]] == [("twist-on 10", 3)]
    counts = [p["classes"] for p in answer["curve"]]
    rooms = [p["room_cm3"] for p in answer["curve"]]
    assert counts == sorted(set(counts))
    assert rooms == sorted(set(rooms), reverse=True)


def test_of_the_fewest_the_least_room(reference: jointable.Reference) -> None:
    (only,) = reference.stock(rows_of({"a": [(12, 3)], "b": [(18, 2)]}))["classes"]
    rooms = dict(reference.rows("SELECT class, room_cm3 FROM connector_class"))
    able = [{c.name for c in reference.connectors(t, family="twist-on").choices} for t in ("3x12", "2x18")]
    assert rooms[only["class"]] == min(rooms[n] for n in able[0] & able[1])


@pytest.mark.parametrize(("spare", "quantity"), [(0, 3), ("10", 4), (33.4, 5), (100, 6)])
def test_the_spare_allowance_is_rounded_up(reference: jointable.Reference, spare: Any, quantity: int) -> None:
    rows = rows_of({"a": [(12, 3)], "b": [(12, 3)], "c": [(12, 3)]})
    assert classes_of(reference, rows, spare_percent=spare) == [("twist-on 10", 3, quantity)]


@pytest.mark.parametrize("spare", ["-1", "x", "nan", 1001])
def test_what_is_no_spare_allowance(reference: jointable.Reference, spare: Any) -> None:
    with pytest.raises(InputError, match="spare"):
        reference.stock(rows_of({"a": [(12, 3)]}), spare_percent=spare)


def test_boxes_multiply(reference: jointable.Reference) -> None:
    rows = [*rows_of({"a": [(12, 3)]}), {"box": "A", **BOX, "boxes": 40}]
    assert classes_of(reference, rows, spare_percent=5) == [("twist-on 10", 40, 42)]
    none = [*rows_of({"a": [(12, 3)]}), {"box": "A", **BOX, "boxes": 0}]
    assert classes_of(reference, none) == []


def test_the_location_of_the_box_counts(reference: jointable.Reference) -> None:
    rows = [
        *rows_of({"a": [(12, 3)]}),
        *rows_of({"a": [(12, 3)]}, box="B"),
        {"box": "B", **BOX, "location": "wet"},
    ]
    assert classes_of(reference, rows) == [("twist-on 10", 1, 1), ("twist-on 10 sealed", 1, 1)]
    assert any("wet" in a for a in reference.stock(rows)["assumptions"])


def test_a_joint_is_the_rows_of_one_box_with_one_name(reference: jointable.Reference) -> None:
    rows = [
        *rows_of({"n": [(12, 2)]}),
        {"box": "A", "item": "pigtail", "size": 12, "quantity": 1, "joint": "n"},
        *rows_of({"n": [(14, 2)]}, box="B"),
        {"box": "A", "item": "conductor", "size": 10, "quantity": 5},
        {"box": "A", "item": "grounding", "size": 12, "joint": "g"},
        {"box": "A", "item": "fixture_wire", "size": 18, "construction": "stranded", "joint": "g"},
    ]
    served = {(s["box"], s["joint"]): s["class"] for s in reference.stock(rows, grip="standard")["served"]}
    assert set(served) == {("A", "n"), ("B", "n"), ("A", "g")}
    for key, text in {("A", "n"): "3x12", ("B", "n"): "2x14", ("A", "g"): "1x12 + 1x18 stranded"}.items():
        alone = reference.connectors(text, family="twist-on", grip="standard").choices
        assert served[key] in {c.name for c in alone}


def test_unserved_joints_say_why(reference: jointable.Reference) -> None:
    rows = rows_of({"a": [(12, 8)], "b": [(12, 1)], "c": [(12, 30)], "d": [(40, 2)]})
    unserved = {u["joint"]: u["reason"] for u in reference.stock(rows)["unserved"]}
    assert list(unserved) == ["a", "b", "c", "d"]
    assert unserved["a"] == (
        "8 conductors are above the 6 this class takes; 2 connectors and 1 jumper of 12 AWG would do"
    )
    assert "end cap" in unserved["b"]
    assert "30 conductors" in unserved["c"]
    assert " below " in unserved["d"]


def test_aluminium_is_referred(reference: jointable.Reference) -> None:
    (lost,) = reference.stock(rows_of({"a": [(12, 3)]}, material="aluminium"))["unserved"]
    assert "516" in lost["reason"]


def test_mixed_circuits_are_warned_of(reference: jointable.Reference) -> None:
    rows = [*rows_of({"n": [(12, 2)]}, circuit="1"), *rows_of({"n": [(12, 1)]}, circuit="2")]
    assert reference.stock(rows)["warnings"] == ["box 'A', joint 'n' mixes circuits 1, 2"]
    assert reference.stock(rows_of({"n": [(12, 3)]}, circuit="1"))["warnings"] == []


def test_no_joints(reference: jointable.Reference) -> None:
    answer = reference.stock([{"box": "A", "item": "conductor", "size": 12, "quantity": 3}])
    assert answer["classes"] == answer["unserved"] == answer["curve"] == []
    assert any("no row" in a for a in answer["assumptions"])


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ({"item": "cable", "size": "12/2", "joint": "a"}, "joint"),
        ({"item": "device", "size": "12", "joint": "a"}, "joint"),
        ({"item": "conductor", "size": "12", "quantity": "-1", "joint": "a"}, "quantity"),
        ({"item": "conductor", "size": "12", "quantity": "1.5", "joint": "a"}, "quantity"),
        ({"item": "conductor", "size": "13.5", "joint": "a"}, "did you mean 13.5 mm2"),
        ({"item": "conductor", "size": "3 mm2", "joint": "a", "quantity": 2}, "2.5 mm2 or 4 mm2"),
        ({"item": "conductor", "size": "", "joint": "a"}, "size"),
        ({"item": "conductor", "size": "12", "construction": "woven", "joint": "a"}, "construction"),
        ({"item": "conductor", "size": "12", "material": "tin", "joint": "a"}, "material"),
        ({"item": "box", "size": "4 x 1-1/2 square", "location": "moon"}, "location"),
        ({"item": "box", "size": "4 x 1-1/2 square", "boxes": "2.5"}, "boxes"),
    ],
)
def test_bad_rows_are_named(
    reference: jointable.Reference, tmp_path: Path, row: dict[str, Any], says: str
) -> None:
    columns = ["box", "item", "size", "quantity", "joint", "construction", "material", "location", "boxes"]
    bad = ",".join(str({"box": "A", **row}.get(c, "")) for c in columns)
    path = tmp_path / "boxes.csv"
    path.write_text("\n".join([",".join(columns), "A,conductor,12,3,b,,,,", bad]) + "\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        reference.stock(str(path))
    message = str(caught.value)
    assert says in message
    assert "boxes.csv:3" in message
    assert "\n" not in message


def test_as_json(reference: jointable.Reference) -> None:
    answer = reference.stock(rows_of({"a": [(12, 3)], "b": [(12, 8)]}))
    assert set(answer) >= {"data_version", "classes", "unserved", "curve"}
    assert set(answer["classes"][0]) >= {"class", "family", "size", "ways", "grip", "joints", "quantity"}
    assert set(answer["unserved"][0]) == {"box", "joint", "reason"}
    assert set(answer["curve"][0]) >= {"classes", "room_cm3"}


@pytest.mark.parametrize("family", ["twist-on", "screwless lever", "crimped closed end"])
def test_every_joint_of_the_demo_is_served_or_said(reference: jointable.Reference, family: str) -> None:
    answer = reference.stock(str(demo_schedule()), family=family)
    assert answer["classes"]
    assert len(answer["served"]) + len(answer["unserved"]) > 30
    assert len(answer["classes"]) == answer["curve"][0]["classes"]


def test_room_is_the_sum_over_joints(reference: jointable.Reference) -> None:
    answer = reference.stock(rows_of({"a": [(12, 3)], "b": [(12, 4)]}), grip="standard")
    rooms = dict(reference.rows("SELECT class, room_cm3 FROM connector_class"))
    assert answer["curve"][-1]["room_cm3"] == rooms["twist-on 10"] + rooms["twist-on 16"]


# The search


def brute(costs: list[dict[int, int]]) -> list[tuple[int, int]]:
    classes = sorted({c for cost in costs for c in cost})
    out: list[tuple[int, int]] = []
    for count in range(1, len(classes) + 1):
        best: int | None = None
        for chosen in itertools.combinations(classes, count):
            rooms = [min((cost[c] for c in chosen if c in cost), default=None) for cost in costs]
            whole = [r for r in rooms if r is not None]
            if len(whole) == len(costs) and (best is None or sum(whole) < best):
                best = sum(whole)
        if best is not None and (not out or best < out[-1][1]):
            out.append((count, best))
    return out


@pytest.mark.parametrize("seed", range(40))
def test_the_search_against_trying_everything(seed: int) -> None:
    chosen = random.Random(seed)
    rooms = [chosen.randint(1, 30) for _ in range(chosen.randint(1, 9))]
    costs = []
    for _ in range(chosen.randint(1, 12)):
        able = [c for c in range(len(rooms)) if chosen.random() < 0.5] or [chosen.randrange(len(rooms))]
        weight = chosen.randint(1, 20)
        costs.append({c: rooms[c] * weight for c in able})
    right = brute(costs)
    assert [(len(classes), room) for room, classes in trade_off(costs)] == right
    assert fewest(costs) == right[0][0]
    assert right[0][0] == 1 or cheapest(costs, right[0][0] - 1) is None


def test_the_search_against_a_solver_of_another_kind() -> None:
    """The p-median by scipy's mixed-integer solver: an implementation of its own."""
    optimize = pytest.importorskip("scipy.optimize")
    numpy = pytest.importorskip("numpy")
    chosen = random.Random(11)
    rooms = [chosen.randint(5, 90) for _ in range(20)]
    costs: list[dict[int, int]] = []
    for _ in range(25):
        weight = chosen.randint(1, 9)
        able = sorted(chosen.sample(range(20), chosen.randint(2, 8)))
        costs.append({c: rooms[c] * weight for c in able})
    pairs = [(i, c) for i, cost in enumerate(costs) for c in cost]
    width = len(pairs) + 20
    once, opened = numpy.zeros((len(costs), width)), numpy.zeros((len(pairs), width))
    for at, (i, c) in enumerate(pairs):
        once[i, at] = 1
        opened[at, at], opened[at, len(pairs) + c] = 1, -1
    count = numpy.concatenate([numpy.zeros(len(pairs)), numpy.ones(20)])
    found = trade_off(costs)
    assert len(found) > 2
    for room, classes in found:
        solved = optimize.milp(
            numpy.array([costs[i][c] for i, c in pairs] + [0] * 20),
            constraints=[
                optimize.LinearConstraint(once, 1, 1),
                optimize.LinearConstraint(opened, -numpy.inf, 0),
                optimize.LinearConstraint(count, 0, len(classes)),
            ],
            integrality=numpy.ones(width),
            bounds=optimize.Bounds(0, 1),
        )
        assert round(solved.fun) == room


def test_the_command_prints_csv(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The classes as CSV on the output, what is not served beside it: the same figures as in JSON."""
    path = tmp_path / "boxes.csv"
    path.write_text(
        "box,item,size,quantity,joint\nA,conductor,12,3,a\nA,conductor,4/0,2,b\n", encoding="utf-8"
    )
    assert main(["stock", str(path), "--csv", "--spare", "50"]) == 0
    told = capsys.readouterr()
    assert list(csv.DictReader(io.StringIO(told.out))) == [
        {"class": "twist-on 10", "family": "twist-on", "size": "10", "ways": "", "grip": "standard",
         "variant": "general", "joints": "1", "quantity": "2"}
    ]  # fmt: skip
    assert told.err.startswith("not served: A b: total 214.4 mm²")
