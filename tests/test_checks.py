"""Every check can fail: on a broken cell that it compares, and where it has nothing to compare."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pipeline.checks import Check, Context, Outcome, all_checks
from pipeline.checks.second_keying import HAS, second_files
from pipeline.guard import guarded, unreadable
from pipeline.mutations import APART
from pipeline.readings import Raw
from pipeline.schema import PROVENANCE_COLUMNS, load_raw_schemas
from pipeline.score import read_printed
from pipeline.verifier import Recorder, Verifier

CHECKS = all_checks()
#: Files that say what is known of others; any check may look at them.
KNOWN = {"sources", "known_departures", "box_departure", "rule_change", "corrections"}
#: Raw data cells that neither a check nor a second keying covers: none.
UNCOVERED: set[tuple[str, str]] = set()


@pytest.fixture(scope="module")
def verifier() -> Verifier:
    return Verifier(read_printed())


def _context(verifier: Verifier, raw: Raw) -> Context:
    return Context(raw, verifier.tables, [r for found in verifier.readings.values() for r in found])


def _true(check: Check, verifier: Verifier) -> Outcome:
    return guarded(check, _context(verifier, verifier.raw))


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_check_says_what_it_does_and_holds(check: Check, verifier: Verifier) -> None:
    assert check.what
    assert check.tolerance
    assert check.reads
    assert set(check.reads) <= set(load_raw_schemas())
    outcome = _true(check, verifier)
    assert not outcome.failures
    assert outcome.compared > 0


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_check_names_every_file_that_it_reads(check: Check, verifier: Verifier) -> None:
    raw = Recorder(verifier.raw)
    guarded(check, Context(raw, verifier.tables, _context(verifier, verifier.raw).all_readings))
    assert raw.asked <= set(check.reads) | KNOWN


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_check_fails_where_it_compares_nothing(check: Check, verifier: Verifier) -> None:
    raw = {
        stem: rows if stem in KNOWN and stem not in check.reads else [] for stem, rows in verifier.raw.items()
    }
    outcome = guarded(check, Context(raw, {key: {} for key in verifier.tables}, ()))
    assert outcome.failures
    assert outcome.failures[0].check_id == check.id


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_check_fails_on_a_broken_cell(check: Check, verifier: Verifier) -> None:
    cells = [cell for cell in _true(check, verifier).cells if cell[0] in check.reads]
    assert cells
    assert any(_fails(check, verifier, cell, text) for cell in cells for text in _broken(verifier, cell))


def _broken(verifier: Verifier, cell: tuple[str, int, str]) -> list[str]:
    stem, line, column = cell
    row = next(r for r in verifier.raw[stem] if r.line == line)
    others = {r[column] for r in verifier.raw[stem]} - {row[column], ""}
    text = row[column]
    slips = [
        text[:i] + str((int(d) + 5) % 10) + text[i + 1 :] for i, d in enumerate(text) if d in "0123456789"
    ]
    return [f"{text}7", "7", *slips, *sorted(others)[:3]]


def _fails(check: Check, verifier: Verifier, cell: tuple[str, int, str], text: str) -> bool:
    stem, line, column = cell
    rows = [
        replace(r, cells={**r.cells, column: text}, as_printed={}) if r.line == line else r
        for r in verifier.raw[stem]
    ]
    raw = {**verifier.raw, stem: rows}
    readings = [r for m, found in verifier.readings.items() for r in (_again(m, raw) or found)]
    return bool(guarded(check, Context(raw, verifier.tables, readings)).failures)


def _again(module: object, raw: Raw) -> list[object]:
    """The readings that one group of tables makes of changed rows, where it can read them."""
    if getattr(module, "__name__", "") != "pipeline.tables.connector":
        return []
    try:
        return list(module.conform(raw))  # type: ignore[attr-defined]
    except (KeyError, ValueError, ArithmeticError):
        return []


def test_every_raw_cell_is_covered(verifier: Verifier) -> None:
    covered = {cell for check in CHECKS for cell in _true(check, verifier).cells}
    bare = {
        (stem, column)
        for stem, rows in verifier.raw.items()
        if stem not in APART
        for row in rows
        for column, text in row.cells.items()
        if text and column not in PROVENANCE_COLUMNS and (stem, row.line, column) not in covered
    }
    assert bare == UNCOVERED


@pytest.mark.parametrize("stem", sorted(second_files()))
def test_second_keying_has_the_rows_and_columns_of_its_file(stem: str, verifier: Verifier) -> None:
    columns, rows = second_files()[stem]
    schema = load_raw_schemas()[stem]
    assert set(schema.primary_key) <= set(columns)
    assert {name.removesuffix(HAS) for name in columns} <= set(schema.names)
    keys = [tuple(row[c] for c in schema.primary_key) for row in rows]
    assert sorted(keys) == sorted(
        tuple(r.printed(c) for c in schema.primary_key) for r in verifier.printed[stem]
    )


def test_unreadable_rows_are_named_by_the_checks_of_print(verifier: Verifier) -> None:
    rows = [replace(r, cells={**r.cells, "trade_size_in": "3 x  x 2"}) for r in verifier.raw["cec_table_23"]]
    found = unreadable({**verifier.raw, "cec_table_23": rows}, ValueError("no"))
    assert found[0].file == "raw/cec_table_23.csv"
    assert unreadable(verifier.raw, ValueError("no such thing"))[0].check_id == "conform"
