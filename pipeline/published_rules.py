"""What the published schemas ask of changed tables, without a database; and which changes are less safe.

The build has DuckDB hold the tables against the same schemas; here only rows that differ are looked at.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from decimal import Decimal

from pipeline.conform import MutableTables
from pipeline.schema import Field, TableSchema

__all__ = ["broken_rule", "is_less_safe"]

Row = Mapping[str, str | None]
Schemas = Mapping[str, TableSchema]


def broken_rule(true: MutableTables, tables: MutableTables, schemas: Schemas) -> str:
    """The first rule of a published schema that a changed row breaks, or nothing."""
    for name, rows in tables.items():
        if rows is true.get(name):
            continue
        for key, row in rows.items():
            if row == true.get(name, {}).get(key):
                continue
            for field in schemas[name].fields:
                if _breaks(row.get(field.name), field):
                    return f"schema-{name}-{field.name}"
    return _lost_parent(true, tables, schemas)


def _breaks(value: str | None, field: Field) -> bool:
    rules = field.rules
    if value is None:
        return field.required
    if "enum" in rules and value not in [str(v) for v in rules["enum"]]:
        return True
    if "minimum" in rules and Decimal(value) < Decimal(str(rules["minimum"])):
        return True
    if "maximum" in rules and Decimal(value) > Decimal(str(rules["maximum"])):
        return True
    return "pattern" in rules and re.fullmatch(rules["pattern"], value) is None


def _lost_parent(true: MutableTables, tables: MutableTables, schemas: Schemas) -> str:
    """A foreign key that points nowhere."""
    for name, rows in tables.items():
        for key in schemas[name].foreign_keys:
            parent, columns = key["reference"]["resource"], key["reference"]["fields"]
            if rows is true.get(name) and tables.get(parent) is true.get(parent):
                continue
            known = {tuple(row[c] for c in columns) for row in tables.get(parent, {}).values()}
            wanted = {tuple(row.get(c) for c in key["fields"]) for row in rows.values()}
            if any(None not in one for one in wanted - known):
                return f"foreign-key-{name}-{parent}"
    return ""


def is_less_safe(true: MutableTables, tables: MutableTables, schemas: Schemas) -> bool:
    """Whether something moved to the side on which more is allowed than is true.

    A value that appears or is gone, or a row that is gone, in a column that decides answers is taken for
    less safe, whatever its side.
    """
    return any(
        _moved(before, after, field.less_safe)
        for name, field in _deciding(schemas)
        for before, after in _differences(true.get(name, {}), tables.get(name, {}), field.name)
    )


def _deciding(schemas: Schemas) -> Iterator[tuple[str, Field]]:
    return ((n, field) for n, schema in schemas.items() for field in schema.fields if field.less_safe)


def _differences(
    true: Mapping[tuple[str, ...], Row], rows: Mapping[tuple[str, ...], Row], column: str
) -> Iterator[tuple[str | None, str | None]]:
    if true is rows:
        return
    for key, row in true.items():
        before, after = row.get(column), rows.get(key, {}).get(column)
        if before != after:
            yield before, after


def _moved(before: str | None, after: str | None, side: str) -> bool:
    if before is None or after is None or side == "changed":
        return True
    return (Decimal(after) > Decimal(before)) == (side == "higher")
