"""Connector tables: every check of theirs can fail, and what is published from them."""

from __future__ import annotations

from dataclasses import replace

import pytest

import jointable
from pipeline.checks import Context, all_checks, run_check
from pipeline.conform import Conformed, conform
from pipeline.readings import Raw, RawRow
from pipeline.schema import load_schemas

#: check -> (raw file, the row's cells, column, a wrong value)
WRONG: dict[str, tuple[str, dict[str, str], str, str]] = {
    "class-size-r5": ("class_size", {"series": "tap", "size_mm2": "63"}, "size_mm2", "36"),
    "class-size-shared": ("class_size", {"series": "twist-on", "size_mm2": "35"}, "size_mm2", "53"),
    "class-size-nominal": ("class_size", {"series": "clamp", "size_mm2": "1.5"}, "size_mm2", "1.8"),
    "class-size-use": ("class_size", {"series": "clamp", "size_mm2": "0.34"}, "use", "class"),
    "class-limit-steps": ("class_limit", {"series": "twist-on", "limit": "least total divisor"}, "figure", "5"),
    "class-limit-shared": ("class_limit", {"series": "crimped", "limit": "narrowest divisor"}, "figure", "40"),
    "class-outcome": ("class_outcome", {"conductors": "3x12 AWG", "class": "twist-on 10"}, "taken", "no"),
    "connector-test-monotone": ("connector_test", {"test": "pull test 1 min, no jerk", "size": "4"}, "value", "90"),
    "connector-test-heat-cycle": ("connector_test", {"value": "175"}, "value", "157"),
    "connector-test-lbf": ("connector_test", {"value": "36 (8)"}, "value", "63 (8)"),
    "connector-test-area": ("connector_test", {"value": "3.3 to 13.3"}, "value", "3.3 to 31.3"),
    "connector-test-named": ("connector_test", {"value": "36 (8)"}, "size", "22"),
    "temperature-class-named": ("temperature_rating", {"item": "operating temperature class 90"}, "value", "80"),
    "planned-temperature-class": ("connector_variant", {"variant": "sealed", "aspect": "planned_degc"}, "value", "150"),
    "family-complete": ("envelope_parameter", {"family": "split bolt", "parameter": "wall_mm"}, "family", "split nut"),
    "room-complete": ("room_parameter", {"item": "loop", "parameter": "insulation_mm"}, "parameter", "depth_mm"),
    "usual-mix-written": ("usual_mix", {"conductors": "2x14 AWG"}, "conductors", "2x14"),
    "family-voltage": ("connector_family", {"family": "twist-on", "aspect": "greatest_voltage_v"}, "value", "1000"),
    "caution-numbered": ("caution", {"id": "C7"}, "id", "C31"),
}  # fmt: skip


def wronged(raw: Raw, file: str, cells: dict[str, str], column: str, value: str) -> Raw:
    """The raw rows with one cell changed."""
    rows: list[RawRow] = list(raw[file])
    at = next(n for n, r in enumerate(rows) if all(r[c] == v for c, v in cells.items()))
    assert rows[at][column] != value
    rows[at] = replace(rows[at], cells={**rows[at].cells, column: value})
    return {**raw, file: rows}


@pytest.mark.parametrize("check_id", sorted(WRONG))
def test_each_check_fails_on_a_wrong_cell(raw: Raw, conformed: Conformed, check_id: str) -> None:
    (check,) = (c for c in all_checks() if c.id == check_id)
    assert run_check(check, Context(raw, conformed.tables, conformed.readings)).failures == []
    file, cells, column, value = WRONG[check_id]
    wrong = wronged(raw, file, cells, column, value)
    outcome = run_check(check, Context(wrong, conformed.tables, conformed.readings))
    assert outcome.failed
    assert any(f.file == f"raw/{file}.csv" for f in outcome.failures)


def test_a_second_source_that_differs_is_seen(raw: Raw) -> None:
    wrong = wronged(raw, "insulation_rating_nom", {"types": "TW"}, "temperature_degc", "75")
    data = conform(wrong, load_schemas())
    (check,) = (c for c in all_checks() if c.id == "temperature-second-source")
    assert run_check(check, Context(wrong, data.tables, data.readings)).failed == 1


@pytest.mark.parametrize("check_id", sorted(WRONG))
def test_a_check_that_finds_nothing_fails(raw: Raw, check_id: str) -> None:
    (check,) = (c for c in all_checks() if c.id == check_id)
    empty: dict[str, list[RawRow]] = {stem: [] for stem in raw}
    outcome = run_check(check, Context(empty, {"connector_class": {}, "conductor_size": {}}))
    assert outcome.compared == 0
    assert "found nothing" in str(outcome.failures[0])


def test_families_and_variants(reference: jointable.Reference) -> None:
    families = {r[0] for r in reference.rows("SELECT family FROM connector_family")}
    assert families == {
        "twist-on", "screwless push-in", "screwless lever", "screw clamp", "crimped butt", "crimped closed end",
        "crimped pigtail", "split bolt", "insulation-piercing",
    }  # fmt: skip
    variants = {r[0] for r in reference.rows("SELECT variant FROM connector_variant")}
    assert variants == {"general", "high temperature", "sealed", "copper-aluminium", "grounding"}
    named = {r[0] for r in reference.rows("SELECT class FROM connector_class")}
    assert {
        "twist-on 16", "twist-on 16 wide", "twist-on 16 grounding", "screwless lever 2.5 x3", "crimped butt 0.4",
        "split bolt 250", "twist-on 6.3 wide high temperature",
    } <= named  # fmt: skip


def test_definitions_say_that_they_are_defined(reference: jointable.Reference) -> None:
    rows = reference.rows(
        "SELECT DISTINCT table_name, origin FROM cell_provenance "
        "WHERE table_name IN ('class_limit', 'envelope_parameter') AND source_id = 'defined'"
    )
    assert {o for _, o in rows} == {"defined"}
    assert {t for t, _ in rows} == {"class_limit", "envelope_parameter"}


def test_cautions_and_tests_are_whole(reference: jointable.Reference) -> None:
    assert reference.rows("SELECT count(*) FROM caution") == [(30,)]
    assert reference.rows("SELECT count(*) FROM connector_test")[0][0] > 80
    # No test figure from memory enters a calculation: nothing derived reads the table.
    assert reference.rows("SELECT count(*) FROM derivation_input WHERE table_name = 'connector_test'") == [
        (0,)
    ]
