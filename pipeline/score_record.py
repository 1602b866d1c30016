"""The committed error-injection score: where it lies, and of which raw data it is."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

from pipeline.schema import ROOT

__all__ = ["TARGET", "is_old", "raw_hash", "sampled"]

TARGET = Path(__file__).resolve().parent / "precomputed" / "error_score.csv"


def raw_hash(folder: Path = ROOT / "raw") -> str:
    """Hash of everything in raw/, which tells whether a committed score is of this data."""
    digest = hashlib.sha256()
    for path in sorted(folder.rglob("*.csv")):
        digest.update(path.relative_to(folder).as_posix().encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def is_old(folder: Path = ROOT / "raw") -> str:
    """One line to say when the committed score is of other data than this, else nothing."""
    known = sampled().get("raw")
    if known == raw_hash(folder):
        return ""
    return "pipeline/precomputed/error_score.csv: measured on other data than raw/; run `make score`"


def sampled() -> dict[str, object]:
    """What stands beside the committed score: the hash of its data and the sample that tests repeat."""
    path = TARGET.with_suffix(".json")
    return dict(json.loads(path.read_text("utf-8"))) if path.is_file() else {}
