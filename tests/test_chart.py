"""Charts: every cell is the class that `joint` chooses first, and the sheet holds it all inside its paper."""

from __future__ import annotations

import itertools
import json
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import jointable
from jointable.chart import chart_of_family, joint_of_cell
from jointable.chart_sheet import PAPERS, chart_svg
from jointable.cli import main
from jointable.demands import FAMILIES
from jointable.errors import InputError
from tests.joint_oracle import TWIST_ON, takes, wire

CASES = [("twist-on", "standard", "awg"), ("twist-on", "wide", "mm2"), ("crimped butt", None, "awg"),
         ("screwless lever", None, "mm2"), ("split bolt", None, "awg")]  # fmt: skip


@pytest.mark.parametrize(("family", "grip", "sizes"), CASES)
def test_a_cell_is_the_first_choice_of_its_joint(
    reference: jointable.Reference, family: str, grip: str | None, sizes: str
) -> None:
    chart = chart_of_family(reference, family, grip=grip, sizes=sizes)
    cells = [(r.size, top, c) for r in chart.rows for top, c in zip(chart.columns, r.classes, strict=True)]
    compared = 0
    if chart.across == "tap":
        # A tap wider than its run is the run: such a cell is left empty.
        cells = [c for c in cells if c[2]]
    for size, top, shown in cells[:: max(1, len(cells) // 10)]:
        text = joint_of_cell(chart.across, size, top)
        answer = reference.connectors(text, family=family, grip=grip)
        assert (f"{family} {shown}" if shown else None) == (
            answer.choices[0].name if answer.choices else None
        ), text
        compared += 1
    assert compared >= 5


def test_twist_on_against_the_definition(reference: jointable.Reference) -> None:
    """The ladder by itself: the least size whose standard grip takes so many of one size."""
    chart = chart_of_family(reference, grip="standard")
    assert [r.size for r in chart.rows][:3] == ["24 AWG", "22 AWG", "20 AWG"]
    for row in chart.rows:
        for count, shown in zip(chart.columns, row.classes, strict=True):
            wires = [wire(row.size)] * int(count)
            taken = [s for s in TWIST_ON if takes("twist-on", s, None, "standard", wires)]
            assert shown == (taken[0] if taken else None), (row.size, count)


@pytest.mark.parametrize(
    ("paper", "family", "sizes"), list(itertools.product(PAPERS, FAMILIES, ("awg", "mm2")))
)
def test_a_sheet_holds_its_words(reference: jointable.Reference, paper: str, family: str, sizes: str) -> None:
    """No line of words leaves the paper or crosses the fold, and all cells and cautions stand on it."""
    chart = chart_of_family(reference, family, sizes=sizes).to_dict()
    root = ElementTree.fromstring(chart_svg(chart, paper))
    width, height = (float(x) for x in root.attrib["viewBox"].split()[2:])
    assert (root.attrib["width"], root.attrib["height"]) == (f"{width:g}mm", f"{height:g}mm")
    lines = [e for e in root.iter() if e.tag.endswith("}text")]
    for e in lines:
        x, y, size = float(e.attrib["x"]), float(e.attrib["y"]), float(e.attrib["font-size"])
        wide = 0.62 * size * len(e.text or "")
        left = {"start": x, "middle": x - wide / 2}[e.attrib["text-anchor"]]
        limit = width / 2 if paper == "pocket" and x < width / 2 else width
        assert left >= 0, e.text
        assert left + 0.85 * wide <= limit, e.text
        assert size <= y <= height - 1, e.text
    said = " ".join(e.text or "" for e in lines)
    assert re.search(rf"Clauses as in nec-2023.*{re.escape(reference.data_version)}", said)
    for caution in chart["cautions"]:
        assert caution["text"] in said
    shown = [c for row in chart["rows"] for c in row["classes"] if c]
    assert shown
    assert all(f" {c} " in f" {said} " for c in set(shown))


@pytest.mark.parametrize(
    ("options", "told"),
    [
        ({"family": "twiston"}, "unknown family"),
        ({"family": "split bolt", "grip": "wide"}, "not made wide"),
        ({"sizes": "inch"}, "one of awg, mm2"),
        ({"edition": "nec-2026"}, "unknown edition"),
    ],
)
def test_bad_options_are_one_line(reference: jointable.Reference, options: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError, match=told) as caught:
        reference.chart(**options)
    assert "\n" not in str(caught.value)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = tmp_path / "card.svg"
    assert (
        main(["chart", "--family", "crimped pigtail", "--paper", "pocket", "--svg", str(sheet), "--json"])
        == 0
    )
    answer = json.loads(capsys.readouterr().out)
    assert answer["columns"] == ["2", "3", "4", "5", "6"]
    assert "148mm" in sheet.read_text("utf-8")
    assert main(["chart", "--paper", "a3", "--svg", str(tmp_path / "none.svg")]) == 2
    assert "one of a4, letter, pocket" in capsys.readouterr().err
    assert not (tmp_path / "none.svg").exists()
    assert main(["chart"]) == 0
    told = capsys.readouterr().out
    assert re.search(r"^12 +10 +10 +16 +25 +25", told, re.MULTILINE)
    assert "De-energise" in told
