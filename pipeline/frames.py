"""From text to typed frames: canonical rows, key order, and the pandera schema they are held against."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Mapping

import pandera.polars as pa
import polars as pl

from pipeline.failures import BuildError, Failure
from pipeline.schema import Field, TableSchema

__all__ = ["canonical_csv", "canonical_rows", "pandera_schema", "typed_frame", "validate_frame"]

Row = tuple[str | None, ...]


def canonical_rows(records: Iterable[Mapping[str, str | None]], schema: TableSchema) -> list[Row]:
    """Rows as published text, in the order of their keys.

    Raises:
        BuildError: A value does not fit its column, or is missing where one is required.
    """
    failures: list[Failure] = []
    rows = [tuple(_cell(record, f, schema, failures) for f in schema.fields) for record in records]
    if failures:
        raise BuildError(failures)
    places = [schema.names.index(name) for name in schema.primary_key]
    numeric = {i for i in places if schema.fields[i].type == "integer"}
    return sorted(rows, key=lambda row: tuple(_order(row[i], i in numeric) for i in places))


def _order(value: str | None, numeric: bool) -> tuple[int, str]:
    return (int(value or 0), "") if numeric else (0, value or "")


def _cell(
    record: Mapping[str, str | None], f: Field, schema: TableSchema, failures: list[Failure]
) -> str | None:
    value = record.get(f.name)
    if value is None:
        if f.required:
            failures.append(_failure(schema, record, f, "", "cell-required", f"a value: {f.description}"))
        return None
    try:
        return f.canonical(value)
    except (ValueError, ArithmeticError) as error:
        failures.append(_failure(schema, record, f, value, "cell-type", str(error)))
        return None


def _failure(
    schema: TableSchema, record: Mapping[str, str | None], f: Field, value: str, check: str, expected: str
) -> Failure:
    key = ",".join(str(record.get(name)) for name in schema.primary_key)
    return Failure(f"published/{schema.name}.csv", None, f.name, f"{key}: {value}", check, expected)


def canonical_csv(rows: Iterable[Row], schema: TableSchema) -> bytes:
    """The published CSV: UTF-8, LF, comma, a header, no byte order mark; null is empty."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(schema.names)
    writer.writerows(["" if v is None else v for v in row] for row in rows)
    return text.getvalue().encode("utf-8")


def typed_frame(rows: list[Row], schema: TableSchema) -> pl.DataFrame:
    """The rows as a frame with the schema's types."""
    columns = {f.name: [row[i] for row in rows] for i, f in enumerate(schema.fields)}
    frame = pl.DataFrame(columns, schema=dict.fromkeys(schema.names, pl.String))
    return frame.select(_typed(f) for f in schema.fields)


def _typed(f: Field) -> pl.Expr:
    column = pl.col(f.name)
    if f.type == "number":
        whole, scale = f.precision or (18, 6)
        return column.cast(pl.Decimal(whole, scale))
    if f.type == "integer":
        return column.cast(pl.Int32)
    if f.type == "boolean":
        return column == "true"
    if f.type == "date":
        return column.str.to_date()
    return column


def pandera_schema(schema: TableSchema) -> pa.DataFrameSchema:
    """The pandera schema that a typed frame of this table must satisfy."""
    return pa.DataFrameSchema(
        {f.name: pa.Column(_dtype(f), checks=_checks(f), nullable=not f.required) for f in schema.fields},
        unique=list(schema.primary_key) or None,
        strict=True,
        ordered=True,
        name=schema.name,
    )


def validate_frame(frame: pl.DataFrame, schema: TableSchema) -> None:
    """Hold a collected frame against its schema.

    Raises:
        BuildError: Anything does not fit; each failure names column, value and rule.
    """
    try:
        pandera_schema(schema).validate(frame, lazy=True)
    except pa.errors.SchemaErrors as error:
        raise BuildError(_failures(error, schema)) from None


def _failures(error: pa.errors.SchemaErrors, schema: TableSchema) -> list[Failure]:
    cases = error.failure_cases
    return [
        Failure(
            f"published/{schema.name}.csv",
            None,
            str(case.get("column") or "-"),
            str(case.get("failure_case")),
            "frame-schema",
            str(case.get("check")),
        )
        for case in cases.to_dicts()[:50]
    ] or [Failure(f"published/{schema.name}.csv", None, "-", "", "frame-schema", str(error))]


def _dtype(f: Field) -> pl.DataType:
    if f.type == "number":
        return pl.Decimal(*(f.precision or (18, 6)))
    return {"string": pl.String(), "integer": pl.Int32(), "boolean": pl.Boolean(), "date": pl.Date()}[f.type]


def _checks(f: Field) -> list[pa.Check]:
    rules, out = f.rules, []
    if "enum" in rules:
        out.append(pa.Check.isin([str(v) for v in rules["enum"]]))
    if "minimum" in rules:
        out.append(pa.Check.ge(rules["minimum"]))
    if "maximum" in rules:
        out.append(pa.Check.le(rules["maximum"]))
    if "pattern" in rules:
        out.append(pa.Check.str_matches(f"^(?:{rules['pattern']})$"))
    if f.type == "string":
        out.append(pa.Check.str_length(min_value=1))
    return out
