"""The evidence tables: sources, provenance, formulas, corrections and what the checks found."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from decimal import ROUND_HALF_EVEN, Decimal
from pathlib import Path

from jointable.trace import ACCESS
from pipeline.checks import Check, Outcome
from pipeline.conform import Conformed
from pipeline.readings import Derivation, Raw, Reading, row_key
from pipeline.schema import load_raw_schemas

__all__ = ["Records", "evidence_tables"]

Records = list[dict[str, str | None]]

HERE = Path(__file__).resolve().parent
#: The layer of checks that look at form and keys only: they say nothing of whether a value is right.
FORM = "keys"


Cell = tuple[str, str, str]
#: (raw file, line, raw column)
Place = tuple[str, int, str]


def evidence_tables(
    raw: Raw, data: Conformed, outcomes: Iterable[Outcome], rules: Iterable[Check]
) -> dict[str, Records]:
    """Every evidence table as rows of text.

    Args:
        raw: Raw rows by file, after the corrections ledger.
        data: The conformed tables with readings and derivations.
        outcomes: What each check found.
        rules: The checks that ran.

    Returns:
        Rows by table name, in no particular order.
    """
    found = list(outcomes)
    covered = _covered(data.readings, found)
    compares = {o.check.id for o in found if o.check.layer != FORM}
    bearing = {cell: sum(check in compares for check in by_check) for cell, by_check in covered.items()}
    cells = _cell_provenance(data.readings, bearing, _raw_keys())
    return {
        "source": [_renamed(r.cells, source="source_id") for r in raw["sources"]],
        "provenance": cells + _column_provenance(data, cells),
        "derivation": [_derivation(d) for d in data.derivations],
        "derivation_input": [row for d in data.derivations for row in _inputs(d)],
        "correction": [
            _renamed(
                r.cells,
                file="raw_file",
                key="raw_key",
                column="raw_column",
                printed="printed_value",
                corrected="corrected_value",
                source="source_id",
            )
            for r in raw["corrections"]
        ],
        "check_rule": [_rule(c) for c in rules],
        "check_result": [_result(o) for o in found],
        "check_cell": [
            {
                "check_id": check_id,
                "table_name": t,
                "row_key": k,
                "column_name": c,
                "residual": _residual(worst),
            }
            for (t, k, c), by_check in covered.items()
            for check_id, worst in by_check.items()
        ],
        "error_score": _committed(HERE / "precomputed" / "error_score.csv"),
        "verification_point": _committed(HERE / "precomputed" / "verification_point.csv"),
        "value_change": _committed(HERE / "value_changes.csv"),
        "release": _committed(HERE / "releases.csv"),
    }


def _renamed(cells: Mapping[str, str], **names: str) -> dict[str, str | None]:
    return {names.get(k, k): v or None for k, v in cells.items()}


def _committed(path: Path) -> Records:
    if not path.is_file():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        return [{k: v or None for k, v in row.items()} for row in csv.DictReader(lines)]


def _covered(readings: Iterable[Reading], outcomes: list[Outcome]) -> dict[Cell, dict[str, float]]:
    """Published cell -> check -> worst residual there."""
    places: dict[Place, list[Cell]] = {}
    for r in readings:
        if r.value is not None:
            places.setdefault((r.row.file, r.row.line, r.raw_column), []).append(
                (r.table, row_key(r.key), r.column)
            )
    covered: dict[Cell, dict[str, float]] = {}
    for outcome in outcomes:
        for place, residual in outcome.cells.items():
            for cell in places.get(place, ()):
                by_check = covered.setdefault(cell, {})
                by_check[outcome.check.id] = max(by_check.get(outcome.check.id, 0.0), residual)
    return covered


def _raw_keys() -> dict[str, tuple[str, ...]]:
    return {stem: schema.primary_key for stem, schema in load_raw_schemas().items()}


def _cell_provenance(
    readings: Iterable[Reading],
    bearing: Mapping[Cell, int],
    keys: Mapping[str, tuple[str, ...]],
) -> Records:
    by_cell: dict[Cell, list[Reading]] = {}
    for r in readings:
        by_cell.setdefault((r.table, row_key(r.key), r.column), []).append(r)
    rows: Records = []
    for cell, found in by_cell.items():
        found.sort(key=lambda r: ("preferred", "normal", "deprecated").index(r.rank))
        for number, reading in enumerate(found, 1):
            rows.append(_cell_row(cell, number, reading, 1 + bearing.get(cell, 0), keys))
    return rows


def _cell_row(
    cell: Cell, number: int, r: Reading, evidence: int, keys: Mapping[str, tuple[str, ...]]
) -> dict[str, str | None]:
    table, key, column = cell
    cells = r.row.cells
    printed = r.row.printed(r.raw_column) if r.raw_column in cells else r.raw_column
    return {
        "table_name": table,
        "row_key": key,
        "column_name": column,
        "reading": str(number),
        "rank": r.rank,
        "printed_value": printed or None,
        "printed_unit": (r.printed_unit or r.unit) or None,
        "value": r.value,
        "unit": r.unit or None,
        "source_id": r.row.source,
        "locator": r.row.locator,
        "origin": r.origin,
        "access": r.row.access,
        "derivation_id": None,
        "evidence": str(evidence),
        "raw_file": r.row.file,
        "raw_key": row_key(tuple(cells[name] for name in keys[r.row.file])),
        "raw_column": r.raw_column,
        "note": (r.note or r.row.note) or None,
    }


def _column_provenance(data: Conformed, cells: Records) -> Records:
    """One row for each computed column; its access and evidence are the worst of its inputs."""
    known: dict[tuple[str, str], tuple[int, int]] = {}
    for row in cells:
        place = (str(row["table_name"]), str(row["column_name"]))
        access, evidence = known.get(place, (0, 10**6))
        known[place] = (
            max(access, ACCESS.index(str(row["access"]))),
            min(evidence, int(str(row["evidence"]))),
        )
    rows: Records = []
    pending = {(d.table, d.column): d for d in data.derivations}
    for place in list(pending):
        _worst(place, pending, known, set())
    for d in data.derivations:
        access, evidence = known[(d.table, d.column)]
        rows.append(
            {
                "table_name": d.table,
                "row_key": "*",
                "column_name": d.column,
                "reading": "1",
                "rank": "preferred",
                "origin": "derived",
                "access": ACCESS[access],
                "derivation_id": d.id,
                "evidence": str(max(1, evidence)),
                "note": d.note or None,
            }
        )
    return rows


def _worst(
    place: tuple[str, str],
    formulas: Mapping[tuple[str, str], Derivation],
    known: dict[tuple[str, str], tuple[int, int]],
    seen: set[tuple[str, str]],
) -> tuple[int, int]:
    if place in known or place in seen or place not in formulas:
        return known.get(place, (0, 1))
    seen.add(place)
    inputs = [_worst((i.table, i.column), formulas, known, seen) for i in formulas[place].inputs]
    known[place] = (max((a for a, _ in inputs), default=0), min((e for _, e in inputs), default=1))
    return known[place]


def _derivation(d: Derivation) -> dict[str, str | None]:
    return {
        "derivation_id": d.id,
        "table_name": d.table,
        "column_name": d.column,
        "formula": d.formula,
        "note": d.note or None,
    }


def _inputs(d: Derivation) -> Records:
    return [
        {
            "derivation_id": d.id,
            "position": str(n),
            "table_name": i.table,
            "column_name": i.column,
            "join_condition": " AND ".join(
                [*(_condition(k, v) for k, v in i.join.items()), *filter(None, [i.condition])]
            )
            or None,
        }
        for n, i in enumerate(d.inputs, 1)
    ]


def _condition(column: str, ours: str) -> str:
    if ours.startswith("="):
        return f"i.{column} = '" + ours[1:].strip("'").replace("'", "''") + "'"
    return f"i.{column} = r.{ours}"


def _rule(c: Check) -> dict[str, str | None]:
    return {
        "check_id": c.id,
        "layer": c.layer,
        "what": c.what,
        "tolerance": c.tolerance,
        "reason": c.reason or None,
        "reads": ", ".join(c.reads) or None,
    }


def _result(o: Outcome) -> dict[str, str | None]:
    return {
        "check_id": o.check.id,
        "compared": str(o.compared),
        "failed": str(o.failed),
        "worst_residual": _residual(o.worst_residual),
        "cells": str(len(o.cells)),
    }


def _residual(value: float) -> str:
    return str(Decimal(value).quantize(Decimal("0.000001"), ROUND_HALF_EVEN))
