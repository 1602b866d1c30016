"""The documents: every block of code runs, every link leads somewhere, what is generated is as generated."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from tests.documents import ROOT, blocks, pages, run_page

_LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
_HEADING = re.compile(r"^#+ (.*)$", re.MULTILINE)

#: One page for each question that a reader comes with.
WANTED = ("performance", "data-dictionary", "audit")  # fmt: skip


@pytest.mark.parametrize("page", pages(), ids=lambda p: str(p.relative_to(ROOT)))
def test_every_block_runs(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    ran = run_page(page, tmp_path, Path(sys.executable).parent, ROOT / "published" / "jointable.duckdb")
    told = sum(b.language in ("sh", "python", "sql") for b in blocks(page))
    assert ran == told


def test_blocks_were_found_at_all() -> None:
    kinds = [b.language for page in pages() for b in blocks(page)]
    assert kinds.count("python") >= 1
    assert kinds.count("sh") >= 2


@pytest.mark.parametrize("name", WANTED)
def test_the_pages_are_there(name: str) -> None:
    assert (ROOT / "docs" / f"{name}.md").is_file()


@pytest.mark.parametrize("page", pages(), ids=lambda p: str(p.relative_to(ROOT)))
def test_links_lead_somewhere(page: Path) -> None:
    for target in _LINK.findall(page.read_text("utf-8")):
        if re.match(r"[a-z]+:", target):
            continue
        path, _, anchor = target.partition("#")
        found = page if not path else (page.parent / path)
        assert found.exists(), f"{page.name}: {target}"
        if anchor and found.suffix == ".md":
            known = {_slug(h) for h in _HEADING.findall(found.read_text("utf-8"))}
            assert anchor in known, f"{page.name}: {target}: one of {sorted(known)}"


def _slug(heading: str) -> str:
    return re.sub(r"[^\w\- ]", "", heading.lower()).strip().replace(" ", "-")
