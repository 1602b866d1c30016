"""Tracing a value: the chain to the printed figures, what covers it, and bad keys."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

import jointable
from jointable.errors import InputError
from jointable.trace import ACCESS, Trace

TABLES = (
    "allowance",
    "box",
    "conductor",
    "conductor_size",
    "combination",
    "combination_class",
    "connector_class",
)


@pytest.fixture(scope="module")
def reference() -> Iterator[jointable.Reference]:
    with jointable.open() as found:
        yield found


def _leaves(found: Trace) -> Iterator[Trace]:
    if not found.inputs:
        yield found
    for each in found.inputs:
        yield from _leaves(each)


def test_a_quoted_value_tells_where_it_was_printed(reference: jointable.Reference) -> None:
    found = reference.trace("allowance", "nec-2023,12 AWG", "volume_in3")
    assert (found.printed, found.origin, found.unit) == ("2.25", "quoted", "in3")
    assert found.source
    assert found.locator
    assert found.edition
    assert found.access in ACCESS
    assert found.checks
    assert all(c["check_id"] for c in found.checks)
    assert found.evidence is not None
    assert found.evidence > 1


@pytest.mark.parametrize("table", TABLES)
def test_every_chain_ends_at_figures_with_a_source(reference: jointable.Reference, table: str) -> None:
    keys = reference.rows(
        "SELECT row_key, column_name FROM cell_provenance WHERE table_name = ? ORDER BY hash(row_key || column_name) LIMIT 6",
        [table],
    )
    assert keys
    for key, column in keys:
        leaves = [leaf for leaf in _leaves(reference.trace(table, key, column)) if not leaf.formula]
        assert leaves or reference.trace(table, key, column).formula
        for leaf in leaves:
            assert leaf.source, leaf.id
            assert leaf.access in ACCESS, leaf.id


def test_the_view_and_the_trace_say_the_same(reference: jointable.Reference) -> None:
    """But for the access of a computed value: the view gives the column's, the trace that of the value."""
    rows = reference.records(
        "FROM cell_provenance WHERE table_name IN ('box', 'conductor_size', 'insulated_conductor') "
        "ORDER BY hash(row_key || column_name) LIMIT 40"
    )
    assert len(rows) == 40
    for row in rows:
        found = reference.trace(row["table_name"], row["row_key"], row["column_name"])
        assert (found.origin, found.source, found.locator) == (
            row["origin"],
            row["source_id"],
            row["locator"],
        )
        assert found.evidence == row["evidence"]
        assert ACCESS.index(str(found.access)) <= ACCESS.index(row["access"])


def test_a_computed_value_is_as_well_known_as_its_own_inputs(reference: jointable.Reference) -> None:
    awg = reference.trace("conductor_size", "12 AWG", "area_mm2")
    assert awg.formula
    assert awg.inputs
    assert not awg.more_inputs
    assert awg.access == max((str(i.access) for i in awg.inputs), key=ACCESS.index)


def test_an_input_that_was_shown_is_named_again_with_its_access(reference: jointable.Reference) -> None:
    found = reference.trace("combination_class", "3x12 AWG,twist-on", "class")
    seen: dict[str, str | None] = {}

    def walk(node: Trace) -> None:
        assert seen.setdefault(node.id, node.access) == node.access
        for each in node.inputs:
            walk(each)

    walk(found)
    assert len(seen) > 50


def test_a_deep_chain_asks_few_queries(
    reference: jointable.Reference, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    plain_rows = jointable.Reference.rows

    def counted(self: jointable.Reference, query: str, parameters: object = None) -> list[tuple[object, ...]]:
        asked.append(query)
        return plain_rows(self, query, parameters)

    reference.trace("combination_class", "2x12 AWG,twist-on", "class")
    monkeypatch.setattr(jointable.Reference, "rows", counted)
    found = reference.trace("combination_class", "3x12 AWG,twist-on", "class")
    assert found.inputs
    assert 0 < len(asked) < 250


def test_a_correction_stands_beside_the_value(reference: jointable.Reference) -> None:
    rows = reference.rows(
        "SELECT p.table_name, p.row_key, p.column_name, c.printed_value, c.corrected_value FROM correction c JOIN provenance p "
        "ON (p.raw_file, p.raw_key, p.raw_column) = (c.raw_file, c.raw_key, c.raw_column) WHERE p.rank = 'preferred' AND p.row_key <> '*'"
    )
    assert rows
    for table, key, column, printed, corrected in rows:
        said = reference.trace(table, key, column).corrections
        assert any((s["printed"], s["corrected"]) == (printed, corrected) and s["reason"] for s in said), key


@pytest.mark.parametrize(
    ("table", "key", "column", "said"),
    [
        ("alowance", "nec-2023,12 AWG", "volume_in3", "did you mean allowance"),
        ("allowance", "nec-2023", "volume_in3", "1 key values, not 2"),
        ("allowance", "0\r0", "volume_in3", "1 key values, not 2"),
        ("allowance", 'nec-2023,"12 AWG', "volume_in3", "not one line of CSV"),
        ("allowance", "nec-2023,13 AWG", "volume_in3", "no such row in allowance"),
        ("allowance", "nec-2023,12 AWG", "volume", "no such column in allowance"),
        ("allowance", "nec-2023,12 AWG", "size", "a column of the key"),
    ],
)
def test_a_wrong_place_is_told_in_one_line(
    reference: jointable.Reference, table: str, key: str, column: str, said: str
) -> None:
    with pytest.raises(InputError) as caught:
        reference.trace(table, key, column)
    assert said in str(caught.value)
    assert "\n" not in str(caught.value)
