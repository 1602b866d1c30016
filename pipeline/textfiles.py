"""Frictionless on the text files: form and types, with the file and the line."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from frictionless import Dialect, Resource, Schema, system
from frictionless.formats import CsvControl

from pipeline.failures import BuildError, Failure
from pipeline.schema import RawSchema

__all__ = ["validate_csv", "validate_text"]


def validate_text(folder: Path, schemas: Mapping[str, RawSchema]) -> None:
    """Hold every raw file against the Table Schema that its raw schema describes.

    Files that are missing or cannot be decoded are left to the reader, which says so in its own words.

    Raises:
        BuildError: A cell does not have the form that its column asks for.
    """
    failures: list[Failure] = []
    for stem, schema in schemas.items():
        path = folder / f"{stem}.csv"
        if path.is_file():
            failures += _failures(path, schema)
    if failures:
        raise BuildError(failures)


def validate_csv(path: Path, descriptor: dict[str, Any]) -> list[tuple[int | None, str, str, str, str]]:
    """Line, field, kind, cell and note of everything that frictionless finds wrong in a CSV file."""
    with system.use_context(trusted=True):
        resource = Resource(
            path=str(path),
            format="csv",
            encoding="utf-8",
            schema=Schema.from_descriptor(descriptor),
            dialect=Dialect(controls=[CsvControl(delimiter=",", line_terminator="\n")]),
        )
        report = resource.validate()
    found = report.flatten(["rowNumber", "fieldName", "type", "cell", "note"])
    return [(line, field or "-", kind, cell or "", note or "") for line, field, kind, cell, note in found]


def _failures(path: Path, schema: RawSchema) -> list[Failure]:
    """Cells of a wrong form; headers, ragged rows and keys are the reader's to report."""
    fields = {field.name: field for field in schema.fields}
    return [
        Failure(f"raw/{path.name}", line, name, cell, "raw-form", fields[name].problem(cell) or note)
        for line, name, kind, cell, note in validate_csv(path, schema.descriptor())
        if kind in ("type-error", "constraint-error") and name in fields
    ]
