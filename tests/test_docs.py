"""The documents: every block of code runs, every link leads somewhere, what is generated is as generated."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

import jointable
from pipeline.dictionary import dictionary
from pipeline.licences import needed, page
from pipeline.schema import load_schemas
from tests.documents import NODE, ROOT, blocks, pages, run_page

_LINK = re.compile(r"\[[^\]]*\]\(([^)\s]+)\)")
_HEADING = re.compile(r"^#+ (.*)$", re.MULTILINE)

#: One page for each question that a reader comes with.
WANTED = (
    "index", "at-the-box", "importing", "querying", "auditing", "use-elsewhere", "method", "limits", "performance",
    "data-dictionary", "audit", "verification-points", "propose-a-correction", "add-a-table", "add-a-source",
    "add-an-edition", "releases", "architecture", "licences",
)  # fmt: skip


@pytest.mark.parametrize("page", pages(), ids=lambda p: str(p.relative_to(ROOT)))
def test_every_block_runs(page: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    ran = run_page(page, tmp_path, Path(sys.executable).parent, ROOT / "published" / "jointable.duckdb")
    run = ("sh", "python", "sql", "js") if NODE.is_dir() and shutil.which("node") else ("sh", "python", "sql")
    told = sum(b.language in run for b in blocks(page))
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


def test_the_dictionary_is_as_the_schemas_say() -> None:
    text = (ROOT / "docs" / "data-dictionary.md").read_text("utf-8")
    assert text == dictionary(load_schemas())


def test_the_licences_are_as_the_packages_say() -> None:
    """The names, since versions and so wordings may differ where another Python resolved them."""
    text = (ROOT / "docs" / "licences.md").read_text("utf-8")
    assert re.findall(r"^\| `([^`]+)`", text, re.MULTILINE) == needed()
    assert text.splitlines()[0] == page().splitlines()[0]


def test_the_drawing_is_of_this_library(reference: jointable.Reference) -> None:
    drawn = (ROOT / "docs" / "images" / "joint.svg").read_text("utf-8")
    assert drawn == reference.connectors("3x12 + 1x14 stranded").svg()


def test_every_picture_has_words() -> None:
    pictures = [
        found for p in pages() for found in re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", p.read_text("utf-8"))
    ]
    assert len(pictures) >= 2
    assert all(len(words) > 10 for words, _ in pictures)


def test_the_site_builds_without_a_warning(tmp_path: Path) -> None:
    """Every page stands in the contents, every link inside leads somewhere."""
    done = subprocess.run(
        [sys.executable, "-m", "sphinx", "--quiet", "--fail-on-warning", "-b", "html", "docs", str(tmp_path)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    for name in WANTED:
        assert (tmp_path / f"{name}.html").is_file()
    html = (tmp_path / "index.html").read_text("utf-8")
    assert not re.search(r"""<(?:script|link|img)[^>]+(?:src|href)=["']https?://""", html)


def test_the_make_targets_are_there() -> None:
    """The targets that the documents and other tools rely on."""
    known = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), re.MULTILINE))
    assert known >= {
        "all", "test", "build", "verify", "check", "geometry", "score", "audit", "bench", "explore", "release",
        "coverage", "docs", "points", "lock",
    }  # fmt: skip
    assert known - {"setup", "clean", "demo"} == {
        name
        for name in known
        if f"make {name}" in (ROOT / "DEVELOPERS.md").read_text("utf-8")
        or name in ("all", "explore", "audit")
    }
