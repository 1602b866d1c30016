"""The audit report: the committed one is that of the published data, and it leaves nothing out."""

from __future__ import annotations

from html.parser import HTMLParser

import jointable
from pipeline.audit import TARGET, as_html, report


def test_the_committed_report_is_that_of_the_data() -> None:
    """Where it is not, `make audit` writes it anew."""
    text = report()
    assert TARGET.read_text("utf-8") == text
    assert TARGET.with_suffix(".html").read_text("utf-8") == as_html(text)


def test_every_source_check_and_correction_is_in_it(reference: jointable.Reference) -> None:
    text = TARGET.read_text("utf-8")
    for query, least in (
        ("SELECT source_id FROM source", 20),
        ("SELECT check_id FROM check_rule", 200),
        ("SELECT raw_key FROM correction", 1),
    ):
        names = [str(r[0]) for r in reference.rows(query)]
        assert len(names) >= least
        assert [n for n in names if n not in text] == []


def test_the_page_stands_alone() -> None:
    found: list[str] = []

    class Outside(HTMLParser):
        def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
            found.extend(v or "" for k, v in attrs if k in ("src", "href") and not (v or "").startswith("#"))

    Outside().feed(TARGET.with_suffix(".html").read_text("utf-8"))
    assert found == []
