"""The verification points: asked again, every answer is the committed one to the last digit."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path

import pytest

import jointable
from pipeline import points

#: Every question that the library answers, and the macros that the database offers for them.
PUBLIC = {f"Reference.{n}" for n in vars(jointable.Reference) if not n.startswith("_")} - {
    f"Reference.{n}" for n in ("close", "content_hash", "data_version", "records", "rows")
}


@pytest.fixture(scope="module")
def computed(reference: jointable.Reference) -> list[points.Point]:
    """Every point asked again."""
    return points.computed(reference)


def test_every_answer_is_the_committed_one(computed: list[points.Point]) -> None:
    wanted = {p[0]: p for p in points.committed()}
    found = {p[0]: p for p in computed}
    assert found.keys() == wanted.keys()
    assert [name for name in wanted if found[name] != wanted[name]] == []


def test_three_points_for_each_public_function() -> None:
    counts = Counter(p[1] for p in points.committed())
    assert counts.keys() >= {*PUBLIC, "Joint.parse", "box_fill", "box_fill_lines", "joint_choices"}
    assert min(counts.values()) >= 3
    assert counts.keys() == points.FUNCTIONS.keys()


def test_they_are_published_and_printed(reference: jointable.Reference) -> None:
    rows = reference.rows("SELECT point, function_name, input, answer FROM verification_point")
    assert sorted(rows) == sorted(points.committed())
    assert points.PAGE.read_text("utf-8") == points.page(points.committed())
    for _, _, asked, answered in points.committed():
        json.loads(asked)
        json.loads(answered)


def test_a_changed_answer_is_noticed(
    computed: list[points.Point],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    text = points.TARGET.read_text("utf-8")
    assert "20.25" in text
    other = tmp_path / points.TARGET.name
    other.write_text(text.replace("20.25", "20.26"), "utf-8")
    monkeypatch.setattr(points, "TARGET", other)
    monkeypatch.setattr(points, "computed", lambda _: computed)
    assert points.main(["--check"]) == 1
    assert "the answer differs" in capsys.readouterr().err
