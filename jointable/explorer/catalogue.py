"""What the published tables are, read from the comments and keys of the database: typed nowhere twice."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from jointable.reference import Reference
from jointable.trace import plain

__all__ = ["LICENCE", "LICENCE_PATH", "catalogue"]

LICENCE = "CC BY 4.0"
LICENCE_PATH = "/downloads/LICENSE-DATA"

_UNIT = re.compile(r"^(.*?)(?: \[([^\]]+)\])?$", re.DOTALL)


def catalogue(reference: Reference, _: Mapping[str, Any]) -> dict[str, Any]:
    """Every table with title, description, columns, keys and sources.

    Returns:
        `data_version`, `licence`, `tables` (by name), `choices` (values that forms offer) and `cautions` (those
        that stand beside every answer).
    """
    tables: dict[str, dict[str, Any]] = {}
    for name, comment, count in reference.rows(
        "SELECT table_name, comment, estimated_size FROM duckdb_tables() WHERE schema_name = 'main' ORDER BY 1"
    ):
        title, _, description = (comment or name).partition(". ")
        tables[name] = {
            "title": title.rstrip("."),
            "description": description,
            "columns": {},
            "key": [],
            "foreign_keys": [],
            "sources": [],
            "reference": False,
            "rows": count,
        }
    _columns(reference, tables)
    _keys(reference, tables)
    _sources(reference, tables)
    release = reference.records("FROM release ORDER BY released DESC, data_version DESC LIMIT 1")[0]
    return {
        "data_version": reference.data_version,
        "released": str(release["released"]),
        "licence": LICENCE,
        "tables": tables,
        "choices": _choices(reference),
        "cautions": reference.records(
            "SELECT id, text, clause FROM caution WHERE shown_when = 'always' ORDER BY CAST(id[2:] AS INTEGER)"
        ),
    }


def _columns(reference: Reference, tables: dict[str, dict[str, Any]]) -> None:
    for table, column, comment, kind in reference.rows(
        "SELECT table_name, column_name, comment, data_type FROM duckdb_columns() "
        "WHERE schema_name = 'main' ORDER BY table_name, column_index"
    ):
        if table in tables:
            found = _UNIT.match(comment or "")
            description, unit = found.groups() if found else ("", None)
            tables[table]["columns"][column] = {"description": description, "unit": unit, "type": kind}


def _keys(reference: Reference, tables: dict[str, dict[str, Any]]) -> None:
    for table, kind, columns, other, others in reference.rows(
        "SELECT table_name, constraint_type, constraint_column_names, referenced_table, referenced_column_names "
        "FROM duckdb_constraints() WHERE constraint_type IN ('PRIMARY KEY', 'FOREIGN KEY') ORDER BY constraint_index"
    ):
        if table not in tables:
            continue
        if kind == "PRIMARY KEY":
            tables[table]["key"] = list(columns)
        else:
            tables[table]["foreign_keys"].append(
                {"columns": list(columns), "table": other, "other_columns": list(others)}
            )


def _sources(reference: Reference, tables: dict[str, dict[str, Any]]) -> None:
    """The sources of each table; a table with provenance is a reference table, the others are evidence."""
    for table, source, title, edition in reference.rows(
        "SELECT DISTINCT p.table_name, p.source_id, s.title, s.edition FROM provenance p "
        "LEFT JOIN source s USING (source_id) ORDER BY ALL"
    ):
        if table in tables:
            tables[table]["reference"] = True
            if source:
                tables[table]["sources"].append({"id": source, "title": title, "edition": edition})


def _choices(reference: Reference) -> dict[str, list[str]]:
    """What the forms offer, in the order of the tables."""

    def column(query: str) -> list[str]:
        return [plain(row[0]) for row in reference.rows(query)]

    return {
        "edition": column("SELECT edition FROM edition WHERE has_volume_rule ORDER BY edition"),
        "family": column("SELECT family FROM connector_family ORDER BY family"),
        "box": column("SELECT DISTINCT box FROM box WHERE edition = 'nec-2023' ORDER BY box"),
        "size": column("SELECT DISTINCT size FROM connector_class ORDER BY size"),
    }
