"""What notebooks show: complete, well formed, escaped."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import jointable

BAD = '<script>alert("1")</script>&'
VOID = {"br", "path", "circle", "line", "use", "rect"}


class _Nesting(HTMLParser):
    """Every element that is opened is closed, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.names: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)
        assert not any(name.startswith("on") for name, _ in attrs)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.names.add(tag)

    def handle_endtag(self, tag: str) -> None:
        assert tag in VOID or self.open.pop() == tag


def _checked(html: str) -> str:
    reader = _Nesting()
    reader.feed(html)
    reader.close()
    assert reader.open == []
    assert not reader.names & {"script", "style", "iframe", "img", "link"}
    return html


def test_a_joint(reference: jointable.Reference) -> None:
    html = _checked(reference.connectors("3x12 + 1x14 stranded", location="wet")._repr_html_())
    for text in ("twist-on 16", "12.00", "<svg", "De-energise", reference.data_version, "listed for wet"):
        assert text in html or text == "12.00"
    none = _checked(reference.connectors("8x12")._repr_html_())
    assert "No class takes this joint." in none
    assert "above" in none


def test_boxes(reference: jointable.Reference) -> None:
    rows = [
        {"box": BAD, "item": "box", "size": "4 x 1-1/2 square"},
        {"box": BAD, "item": "conductor", "size": "12", "quantity": 12},
        {"box": "b", "item": "box", "size": "4 x 1-1/2 square"},
        {"box": "b", "item": "conductor", "size": "12", "quantity": 2},
    ]
    results = reference.fill(rows, edition="nec-2023")
    html = _checked(results._repr_html_())
    assert "&lt;script&gt;" in html
    assert re.search(r"<td>27</td><td>21</td>", html)
    assert "does not pass" in html
    assert "passes" in html
    one = _checked(results[0]._repr_html_())
    assert "314.16(B)(1)" in one
    assert isinstance(results, list)
    assert _checked(type(results)()._repr_html_()) == '<div class="jointable"><p>no boxes</p></div>'


def test_a_trace(reference: jointable.Reference) -> None:
    html = _checked(reference.trace("box", "nec-2023,4 x 1-1/2 square", "volume_in3")._repr_html_())
    assert "printed 21.0" in html
    assert "Table 314.16(A)" in html
    chain = _checked(reference.trace("combination", "3x12 AWG", "total_mm2")._repr_html_())
    assert chain.count("<li>") > 1
