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
