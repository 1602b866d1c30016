"""The corrections ledger: what is misprinted stays as printed, each entry says why and fails when it no longer fits."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipeline.checks import Context, all_checks
from pipeline.corrections import apply_corrections
from pipeline.failures import BuildError
from pipeline.guard import guarded
from pipeline.readings import RawRow, row_key
from pipeline.schema import load_raw_schemas
from pipeline.score import read_printed
from pipeline.verifier import Verifier

SCHEMAS = load_raw_schemas()
PRINTED = read_printed()
LEDGER = PRINTED["corrections"]
NAMES = [f"{e['file']}:{e['key']}:{e['column']}" for e in LEDGER]


def _row(entry: RawRow) -> int:
    keys = SCHEMAS[entry["file"]].primary_key
    rows = PRINTED[entry["file"]]
    return next(i for i, row in enumerate(rows) if row_key(tuple(row[c] for c in keys)) == entry["key"])


@pytest.mark.parametrize("entry", LEDGER, ids=NAMES)
def test_entry_says_what_it_finds_and_why(entry: RawRow) -> None:
    printed = PRINTED[entry["file"]][_row(entry)]
    assert printed[entry["column"]] == entry["printed"] != entry["corrected"]
    assert entry["reason"]
    assert entry["evidence"]
    assert entry["source"] == printed.source
    corrected = apply_corrections(PRINTED, SCHEMAS)[entry["file"]][_row(entry)]
    assert corrected[entry["column"]] == entry["corrected"]
    assert corrected.printed(entry["column"]) == entry["printed"]


@pytest.mark.parametrize("entry", LEDGER, ids=NAMES)
def test_entry_fails_when_its_misprint_is_gone(entry: RawRow) -> None:
    stem, index = entry["file"], _row(entry)
    rows = [*PRINTED[stem]]
    rows[index] = replace(rows[index], cells={**rows[index].cells, entry["column"]: entry["corrected"]})
    with pytest.raises(BuildError, match="correction-expects") as caught:
        apply_corrections({**PRINTED, stem: rows}, SCHEMAS)
    assert f"raw/corrections.csv:{entry.line}" in str(caught.value)
    del rows[index]
    with pytest.raises(BuildError, match="correction-cell"):
        apply_corrections({**PRINTED, stem: rows}, SCHEMAS)


@pytest.fixture(scope="module")
def verifier() -> Verifier:
    return Verifier(PRINTED)


@pytest.mark.parametrize("entry", LEDGER, ids=NAMES)
def test_entry_is_needed(entry: RawRow, verifier: Verifier) -> None:
    """Without it some check fails on the printed figure."""
    ledger = [e for e in LEDGER if e is not entry]
    raw = apply_corrections({**PRINTED, "corrections": ledger}, SCHEMAS)
    context = Context(raw, verifier.tables, [r for found in verifier.readings.values() for r in found])
    failing = [
        c.id
        for c in all_checks()
        if entry["file"] in c.reads and c.layer != "second keying" and guarded(c, context).failures
    ]
    assert failing
