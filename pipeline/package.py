"""The data package descriptor: what is published, under which terms, from which sources."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.frames import Row
from pipeline.schema import TableSchema

__all__ = ["LICENCE", "descriptor"]

PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"
LICENCE = {
    "name": "CC-BY-4.0",
    "title": "Creative Commons Attribution 4.0",
    "path": "https://creativecommons.org/licenses/by/4.0/",
}


def descriptor(
    folder: Path,
    schemas: Mapping[str, TableSchema],
    hashes: Mapping[str, str],
    fingerprint: str,
    tables: Mapping[str, list[Row]],
    version: str,
) -> dict[str, Any]:
    """The content of datapackage.json (Data Package v2).

    Args:
        folder: Where the CSV and Parquet files are.
        schemas: The published schemas.
        hashes: SHA-256 of the canonical CSV of each table, its content hash.
        fingerprint: Hash of all content, definitions and macros, which tells the databases.
        tables: Canonical rows, for the list of sources.
        version: The data version.

    Returns:
        The descriptor, ready for JSON.
    """
    return {
        "$schema": PROFILE,
        "name": "jointable",
        "title": "Jointable reference tables",
        "description": (
            "Conductors, generic connector size classes and box volumes, each value with its source. "
            "For planning and teaching; the connector's own listing, the local code and the authority "
            "having jurisdiction decide."
        ),
        "version": version,
        "licenses": [LICENCE],
        "sources": [_source(row, schemas["source"]) for row in tables["source"]],
        "fingerprint": fingerprint,
        "resources": [
            _resource(folder, schemas[name], hashes[name], len(tables[name])) for name in sorted(schemas)
        ],
    }


def _source(row: Row, schema: TableSchema) -> dict[str, Any]:
    cells = dict(zip(schema.names, row, strict=True))
    parts = {"title": cells["title"], "version": cells["edition"] or cells["year"]}
    return {key: value for key, value in parts.items() if value}


def _resource(folder: Path, schema: TableSchema, content_hash: str, rows: int) -> dict[str, Any]:
    return {
        "name": schema.name,
        "title": schema.title,
        "description": schema.description,
        "path": f"{schema.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {"delimiter": ",", "lineTerminator": "\n", "header": True},
        "bytes": (folder / f"{schema.name}.csv").stat().st_size,
        "hash": f"sha256:{content_hash}",
        "rows": rows,
        "parquet": f"{schema.name}.parquet",
        "schema": schema.descriptor(),
    }
