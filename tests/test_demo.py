"""The demo schedule: realistic, marked as invented, right where it says so, overfull on purpose."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.demo import NAME, demo_schedule
from jointable.fill import fill
from jointable.fill_command import run


@pytest.fixture(scope="module")
def reference() -> Any:
    with jointable.open() as opened:
        yield opened


@pytest.fixture(scope="module")
def rows() -> list[dict[str, str]]:
    with demo_schedule().open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


@pytest.fixture(scope="module")
def results(reference: Any) -> list[Any]:
    return fill(reference, demo_schedule())


def test_it_is_marked_as_invented(rows: list[dict[str, str]]) -> None:
    assert "invented" in NAME
    assert "invented" in rows[0]["note"]


def test_it_is_as_large_and_mixed_as_a_small_building(rows: list[dict[str, str]]) -> None:
    assert len({r["box"] for r in rows}) >= 30
    items = {r["item"] for r in rows}
    assert items >= {
        "box", "conduit_body", "cable", "conductor", "through", "loop", "pigtail", "grounding", "isolated_grounding",
        "fixture_wire", "fixture_grounding", "clamp", "stud", "hickey", "device", "terminal_block", "barrier",
        "extension", "raceway",
    }  # fmt: skip
    assert {r["location"] for r in rows} >= {"damp", "wet", "burial"}
    sections = [int(r["quantity"]) for r in rows if r["item"] == "box" and r["quantity"]]
    assert max(sections) >= 4
    assert any(r["boxes"] for r in rows)
    devices = [r for r in rows if r["item"] == "device"]
    assert len(devices) > 15
    joints = {(r["box"], r["joint"]) for r in rows if r["joint"]}
    assert len(joints) > 60
    neutrals = [int(r["quantity"]) for r in rows if r["joint"] == "neutral" and r["item"] == "conductor"]
    assert max(neutrals) >= 8
    assert not [r for r in rows if r["item"] == "cable" and r["joint"]]


def test_just_the_boxes_that_say_so_fail(rows: list[dict[str, str]], results: list[Any]) -> None:
    on_purpose = {r["box"] for r in rows if "on purpose" in r["note"]}
    assert len(on_purpose) >= 6
    assert {r.box for r in results if r.passes is False} == on_purpose
    assert not [r.box for r in results if r.passes is None]


def test_those_that_say_exactly_full_are(rows: list[dict[str, str]], results: list[Any]) -> None:
    exact = {r["box"] for r in rows if "exactly full" in r["note"]}
    assert exact
    for result in results:
        if result.box in exact:
            assert result.required_in3 == result.available_in3
            assert result.passes


def test_the_command_runs_it_and_reports(reference: Any, results: list[Any], tmp_path: Path) -> None:
    done = run(reference, None, report=tmp_path / "demo.html")
    assert done.exit_code == 1
    assert done.results is not None
    assert [r.box for r in done.results] == [r.box for r in results]
    assert any("invented" in line for line in done.messages)
    page = (tmp_path / "demo.html").read_text("utf-8")
    assert "invented" in page
    assert all(r.box in page for r in results)
    advised = [r for r in done.results if r.passes is False and r.changes]
    assert advised


def test_stock_can_read_it(reference: Any) -> None:
    answer = reference.stock(demo_schedule())
    assert answer["classes"]
