"""What the tests share: one open database, and the raw rows and tables of one reading."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

import jointable
from pipeline.build import load
from pipeline.conform import Conformed, conform
from pipeline.readings import Raw
from pipeline.schema import load_schemas

ROOT = Path(__file__).resolve().parent.parent

#: The files that take longest come first: one that is left to the end keeps one worker waiting for the other.
LONGEST = (
    "test_robust_build.py", "test_release.py", "test_browser.py", "test_fill_against_oracle.py", "test_build.py",
    "test_docs.py", "test_explorer_pages.py", "test_score.py", "test_fuzz.py", "test_wheel.py",
    "test_explorer_requests.py", "test_joint_properties.py", "test_provenance.py", "test_ranges.py",
)  # fmt: skip


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put the longest files first."""
    places = {name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: places.get(item.path.name, len(places)))


@pytest.fixture(scope="session")
def reference() -> Iterator[jointable.Reference]:
    """The built database."""
    with jointable.open(ROOT / "published" / "jointable.duckdb") as opened:
        yield opened


@pytest.fixture(scope="session")
def raw() -> Raw:
    """Every raw row after the corrections ledger."""
    return load(ROOT / "raw", lambda _: None)


@pytest.fixture(scope="session")
def conformed(raw: Raw) -> Conformed:
    """The published tables as text."""
    return conform(raw, load_schemas())
