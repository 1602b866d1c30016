"""The report of a schedule: complete, to scale, without a request to outside, plain on paper."""

from __future__ import annotations

import hashlib
import json
import re
from decimal import Decimal
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.report import TABLES, content_hashes, html_report
from jointable.report_bar import WIDTH, bar, hatches, legend, segments

VOID = {"meta", "link", "br", "hr", "img", "input", "path", "rect", "circle"}
PACKAGE = Path(__file__).parent.parent / "published" / "datapackage.json"


def line(item: str, count: int, volume: str, clause: str) -> dict[str, Any]:
    cubic = Decimal(volume)
    return {
        "item": item,
        "count": Decimal(count),
        "size": "12 AWG",
        "allowance_in3": cubic / count,
        "allowance_cm3": cubic / count * Decimal("16.387064"),
        "volume_in3": cubic,
        "volume_cm3": cubic * Decimal("16.387064"),
        "clause": clause,
        "provenance": ["allowance/nec-2023,12 AWG/volume_in3"],
    }


def box(**changes: Any) -> dict[str, Any]:
    lines = [
        line("conductor", 4, "9", "314.16(B)(1)"),
        line("through", 1, "2.25", "314.16(B)(1)"),
        line("device", 2, "4.5", "314.16(B)(4)"),
    ]
    return {
        "box": "Kitchen <1>",
        "space": None,
        "edition": "nec-2023",
        "data_version": "2026.11.0",
        "required_in3": Decimal("15.75"),
        "required_cm3": Decimal("258.096258"),
        "available_in3": Decimal("21"),
        "available_cm3": Decimal("344.128344"),
        "passes": True,
        "remaining": [{"size": "14 AWG", "count": 2}, {"size": "12 AWG", "count": 2}],
        "largest_conductor": "12 AWG",
        "lines": lines,
        "limits": [
            {
                "clause": "314.24(B)(4)",
                "what": "inside depth",
                "needed": Decimal("30.2"),
                "given": None,
                "passes": None,
                "unit": "mm",
                "provenance": [],
            }
        ],
        "assumptions": ["no edition was given: nec-2023"],
        "cautions": [{"id": "C2", "text": "Use a listed connector", "clause": "NEC 110.3(B)"}],
        "boxes": 1,
        "note": "by the sink",
        **changes,
    }


class Page(HTMLParser):
    """Collects text and attributes, and fails on a tag that is not closed."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text = ""
        self.attributes: list[tuple[str, str, str]] = []
        self.feed(page)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.attributes += [(tag, name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag, tag

    def handle_data(self, data: str) -> None:
        if self.open[-1:] != ["style"]:
            self.text += f" {data.strip()}" if data.strip() else ""


def test_everything_of_the_answer_is_on_the_page() -> None:
    page = Page(html_report([box(), box(box="B", passes=False), box(box="C", passes=None)], name="a&b.csv"))
    for words in (
        "Box fill: a&b.csv",
        "Kitchen <1>",
        "needs 15.75 in³ (258.1 cm³), has 21 in³ (344.1 cm³)",
        "1 of 3 pass, 1 do not, 1 undecided",
        "passes",
        "does not pass",
        "undecided",
        "314.16(B)(1)",
        "314.16(B)(4)",
        "314.24(B)(4)",
        "inside depth",
        "Not checked, for want of a figure: 314.24(B)(4) inside depth (30.2 mm)",
        "no edition was given: nec-2023",
        "Use a listed connector (NEC 110.3(B))",
        "2026.11.0",
        "by the sink",
        "2 of 14 AWG, 2 of 12 AWG",
    ):
        assert words in page.text, words


def test_the_page_asks_nothing_of_the_outside() -> None:
    page = html_report([box()], name="a.csv")
    assert "http:" not in page
    assert "https:" not in page
    assert "@import" not in page
    found = Page(page).attributes
    assert not [a for a in found if a[1] in ("src", "srcset", "action", "data", "ping")]
    links = [value for _, name, value in found if name == "href"]
    assert links
    assert all(link.startswith("#box-") for link in links)
    assert set(re.findall(r"url\((.)", page)) == {"#"}
    policy = [value for _, name, value in found if name == "content" and "default-src" in value]
    assert policy == ["default-src 'none'; style-src 'unsafe-inline'"]


def test_text_of_a_schedule_stays_text() -> None:
    page = html_report([box(box="<script>alert(1)</script>", note='"><img src=x>')], name="<b>")
    assert "<script" not in page
    assert "<img" not in page
    assert "<b>" not in page


def test_the_bar_is_to_scale() -> None:
    result = box()
    clauses = ["314.16(B)(1)", "314.16(B)(4)"]
    drawn = bar(result, clauses)
    widths = [Decimal(w) for w in re.findall(r'<rect x="[\d.]+" y="\d+" width="([\d.]+)"', drawn)]
    limit = Decimal(re.findall(r'<path d="M([\d.]+) \d+V', drawn)[0])
    assert len(widths) == 2
    for width, volume in zip(widths, ("11.25", "4.5"), strict=True):
        assert abs(width / limit - Decimal(volume) / 21) < Decimal("0.0001")
    assert sum(widths) < limit < WIDTH
    assert "15.75 in³ needed, 21 in³ there" in drawn


def test_an_overfull_bar_goes_past_its_limit() -> None:
    drawn = bar(box(available_in3=Decimal(10), passes=False), ["314.16(B)(1)", "314.16(B)(4)"])
    ends = [
        Decimal(x) + Decimal(w) for x, w in re.findall(r'<rect x="([\d.]+)" y="\d+" width="([\d.]+)"', drawn)
    ]
    limit = Decimal(re.findall(r'<path d="M([\d.]+) \d+V', drawn)[0])
    assert max(ends) > limit


def test_a_clause_has_one_hatch_on_all_boxes() -> None:
    clauses = ["314.16(B)(1)", "314.16(B)(4)"]
    assert segments(box(), "volume_in3") == [(clauses[0], Decimal("11.25")), (clauses[1], Decimal("4.5"))]
    for part in (bar(box(), clauses), legend(box(), clauses)):
        assert re.findall(r"url\(#h(\d)\)", part) == ["0", "1"]
    patterns = re.findall(r'<pattern id="h(\d)".*?</pattern>', hatches(clauses))
    assert patterns == ["0", "1"]
    cells = re.findall(r"<g [^>]*>(.*?)</g>", hatches([str(n) for n in range(8)]))
    assert len(set(cells)) == 8


def test_a_limit_that_was_checked_has_its_verdict() -> None:
    limit = {**box()["limits"][0], "given": Decimal("25.5"), "passes": False}
    page = Page(html_report([box(limits=[limit])], name="a.csv")).text
    assert "Not checked" not in page
    assert re.search(r"314\.24\(B\)\(4\)\s+inside depth\s+30\.2 mm\s+25\.5 mm\s+does not pass", page)


def test_a_box_without_a_known_volume_has_no_limit() -> None:
    result = box(available_in3=None, available_cm3=None, passes=None)
    assert "limit" not in bar(result, ["314.16(B)(1)", "314.16(B)(4)"])
    assert "its volume is not known" in html_report([result], name="a")


def test_colour_carries_no_meaning() -> None:
    page = html_report([box(), box(passes=False)], name="a.csv")
    colours = re.findall(r"#[0-9a-f]{3,6}\b", page.lower())
    assert colours
    for colour in colours:
        digits = colour[1:]
        channels = {digits[i : i + len(digits) // 3] for i in range(0, len(digits), len(digits) // 3)}
        assert len(channels) == 1, f"{colour} is no grey"


def test_it_prints_on_any_paper_and_in_the_dark() -> None:
    page = html_report([box()], name="a.csv")
    assert "@page" in page
    assert not re.search(r"@page[^}]*size", page), "a fixed size would be wrong on A4 or on Letter"
    assert "@media print" in page
    assert "prefers-color-scheme: dark" in page
    assert '<html lang="en">' in page


def test_canada_sees_millilitres_first() -> None:
    page = Page(html_report([box(edition="cec-2021", first_unit="cm3")], name="a.csv")).text
    assert "needs 258.1 mL (15.75 in³)" in page
    page = Page(html_report([box(edition="cec-2021", first_unit="in3")], name="a.csv")).text
    assert "needs 15.75 in³ (258.1 mL)" in page


def test_invented_boxes_are_marked() -> None:
    assert "invented" in html_report([box()], name="a.csv", invented=True)
    assert "invented" not in html_report([box()], name="a.csv")


def test_the_hashes_are_those_of_the_data_package() -> None:
    if not PACKAGE.is_file():
        pytest.skip("published/ has not been built")
    package = json.loads(PACKAGE.read_text("utf-8"))
    stated = {r["name"]: r["hash"].removeprefix("sha256:") for r in package["resources"]}
    with jointable.open() as reference:
        hashes = content_hashes(reference)
    assert hashes == {name: stated[name] for name in TABLES}
    page = html_report([box()], name="a.csv", hashes=hashes)
    assert all(value in page for value in hashes.values())
    assert len(hashlib.sha256().hexdigest()) == len(next(iter(hashes.values())))
