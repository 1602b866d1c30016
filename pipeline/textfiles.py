"""Frictionless on the text files: form and types, with the file and the line."""

from __future__ import annotations

import hashlib
from pathlib import Path
from typing import Any

from frictionless import Dialect, Resource, Schema, system
from frictionless.formats import CsvControl

from pipeline.failures import Failure
from pipeline.schema import RawSchema

__all__ = ["validate_csv", "wrong_cells"]

_FOUND: dict[tuple[str, bytes, RawSchema], tuple[Failure, ...]] = {}


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


def wrong_cells(path: Path, schema: RawSchema) -> list[Failure]:
    """Cells of a raw file that do not have the form their column asks for.

    Headers, ragged rows and keys are the reader's to report. Bytes that were held against the same
    schema before in this process are not read by frictionless a second time.
    """
    read = path.name, hashlib.sha256(path.read_bytes()).digest(), schema
    if read not in _FOUND:
        fields = {field.name: field for field in schema.fields}
        _FOUND[read] = tuple(
            Failure(f"raw/{path.name}", line, name, cell, "raw-form", fields[name].problem(cell) or note)
            for line, name, kind, cell, note in validate_csv(path, schema.descriptor())
            if kind in ("type-error", "constraint-error") and name in fields
        )
    return list(_FOUND[read])
