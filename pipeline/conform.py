"""Conform and derive: readings of printed cells become published tables, then formulas fill the rest."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from graphlib import TopologicalSorter
from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType

import pipeline.tables
from pipeline.failures import BuildError, Failure
from pipeline.readings import Derivation, Raw, Reading, row_key
from pipeline.schema import TableSchema

__all__ = ["Conformed", "MutableTables", "conform", "derive", "from_readings", "table_modules"]

MutableTables = dict[str, dict[tuple[str, ...], dict[str, str | None]]]


@dataclass(frozen=True, slots=True)
class Conformed:
    """The published tables as text, with every reading and formula they come from."""

    tables: MutableTables
    readings: tuple[Reading, ...]
    derivations: tuple[Derivation, ...]


def table_modules() -> tuple[ModuleType, ...]:
    """The modules that know how a group of raw files becomes tables."""
    return tuple(
        import_module(f"pipeline.tables.{m.name}")
        for m in sorted(iter_modules(pipeline.tables.__path__), key=lambda m: m.name)
    )


def conform(raw: Raw, schemas: Mapping[str, TableSchema]) -> Conformed:
    """Turn raw rows into published tables.

    Args:
        raw: Raw rows by file, after the corrections ledger.
        schemas: The published schemas by name.

    Returns:
        Tables as canonical text, the readings and the derivations.

    Raises:
        BuildError: A value does not fit its column, or a cell has no value or two.
    """
    modules = table_modules()
    readings = tuple(r for m in modules if hasattr(m, "conform") for r in m.conform(raw))
    derivations = tuple(d for m in modules for d in getattr(m, "DERIVATIONS", ()))
    failures: list[Failure] = []
    tables = from_readings(readings, schemas, failures)
    _unclear(readings, derivations, failures)
    if not failures:
        derive(derivations, tables, schemas, failures)
    if failures:
        raise BuildError(failures)
    failures += _incomplete(tables, schemas)
    if failures:
        raise BuildError(failures)
    return Conformed(tables, readings, derivations)


def derive(
    derivations: Iterable[Derivation],
    tables: MutableTables,
    schemas: Mapping[str, TableSchema],
    failures: list[Failure],
) -> None:
    """Fill every computed column, each after those that it reads; stops at the first that fails."""
    for derivation in _ordered(derivations):
        _derive(derivation, tables, schemas, failures)
        if failures:
            return


def from_readings(
    readings: Iterable[Reading], schemas: Mapping[str, TableSchema], failures: list[Failure]
) -> MutableTables:
    """The tables that the preferred readings make; what does not fit goes into `failures`."""
    tables: MutableTables = {}
    first: dict[tuple[str, tuple[str, ...], str], Reading] = {}
    for reading in readings:
        if reading.rank != "preferred":
            continue
        schema = schemas[reading.table]
        place = (reading.table, reading.key, reading.column)
        if place in first:
            other = first[place].row
            failures.append(
                _bad(
                    reading, "cell-once", f"one preferred value; {other.file}.csv:{other.line} gives another"
                )
            )
            continue
        first[place] = reading
        row = tables.setdefault(reading.table, {}).setdefault(
            reading.key, dict(zip(schema.primary_key, reading.key, strict=True))
        )
        if reading.value is None:
            row[reading.column] = None
            continue
        try:
            row[reading.column] = schema.field(reading.column).canonical(reading.value)
        except (ValueError, ArithmeticError) as error:
            failures.append(_bad(reading, "cell-type", f"{error}"))
    return tables


def _bad(reading: Reading, check_id: str, expected: str) -> Failure:
    row = reading.row
    return Failure(
        f"raw/{row.file}.csv",
        row.line,
        reading.raw_column,
        row.cells.get(reading.raw_column, reading.value or ""),
        check_id,
        expected,
    )


def _unclear(readings: Iterable[Reading], derivations: Iterable[Derivation], failures: list[Failure]) -> None:
    derived = {(d.table, d.column) for d in derivations}
    for reading in readings:
        if (reading.table, reading.column) in derived and reading.rank == "preferred":
            failures.append(
                _bad(
                    reading,
                    "cell-origin",
                    f"a column that no formula fills; {reading.table}.{reading.column} has one",
                )
            )


def _ordered(derivations: Iterable[Derivation]) -> list[Derivation]:
    """Formulas in an order in which each finds its inputs."""
    by_column = {(d.table, d.column): d for d in derivations}
    by_table: dict[str, list[Derivation]] = {}
    for d in by_column.values():
        by_table.setdefault(d.table, []).append(d)
    graph = {
        d.id: {
            by_column[(i.table, i.column)].id
            for i in d.inputs
            if (i.table, i.column) in by_column and by_column[(i.table, i.column)].id != d.id
        }
        for d in by_column.values()
    }
    named = {d.id: d for d in by_column.values()}
    return [named[name] for name in TopologicalSorter(graph).static_order()]


def _derive(
    derivation: Derivation, tables: MutableTables, schemas: Mapping[str, TableSchema], failures: list[Failure]
) -> None:
    schema = schemas[derivation.table]
    field = schema.field(derivation.column)
    target = tables.setdefault(derivation.table, {})
    for key, value in derivation.compute(tables).items():
        row = target.setdefault(key, dict(zip(schema.primary_key, key, strict=True)))
        try:
            row[derivation.column] = None if value is None else field.canonical(value)
        except (ValueError, ArithmeticError) as error:
            failures.append(
                Failure(
                    f"published/{schema.name}.csv",
                    None,
                    derivation.column,
                    f"{row_key(key)}: {value}",
                    "cell-type",
                    str(error),
                )
            )


def _incomplete(tables: MutableTables, schemas: Mapping[str, TableSchema]) -> list[Failure]:
    failures = []
    for name, table in tables.items():
        schema = schemas[name]
        for key, row in table.items():
            for field in schema.fields:
                if row.setdefault(field.name, None) is None and field.required:
                    failures.append(
                        Failure(
                            f"published/{name}.csv",
                            None,
                            field.name,
                            row_key(key),
                            "cell-required",
                            f"a value: {field.description}",
                        )
                    )
    return failures
