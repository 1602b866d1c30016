"""Table pages: descriptions from the catalogue, and a link to the trace of every value."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from datasette.utils import tilde_encode

from jointable.explorer.catalogue import LICENCE, LICENCE_PATH
from jointable.explorer.render import figure, trace_address

__all__ = ["Cell", "cells", "columns_of", "metadata", "row_address", "source_ids_of", "sources_of"]

DATABASE = "jointable"

_DECIMAL = re.compile(r"DECIMAL\(\d+,(\d+)\)")

#: Columns worth counting by, table by table; others can be counted by in the address.
FACETS: Mapping[str, tuple[str, ...]] = {
    "allowance": ("edition",),
    "box": ("edition", "kind", "volume_basis"),
    "box_count": ("edition", "size"),
    "box_limit": ("edition",),
    "cable": ("family", "shape"),
    "cable_conductor": ("role",),
    "check_cell": ("check_id", "table_name"),
    "check_rule": ("layer",),
    "class_limit": ("series", "grip"),
    "class_size": ("series",),
    "combination_class": ("family",),
    "conductor": ("construction",),
    "conductor_size": ("system",),
    "connector_class": ("family", "grip", "variant"),
    "connector_test": ("standard", "role"),
    "correction": ("raw_file",),
    "derivation": ("table_name",),
    "derivation_input": ("table_name",),
    "edition": ("jurisdiction", "basis"),
    "envelope_parameter": ("family",),
    "error_score": ("kind",),
    "family_variant": ("family", "variant"),
    "fill_rule": ("edition", "item"),
    "finding": ("severity",),
    "guidance": ("topic", "kind"),
    "insulated_conductor": ("insulation", "construction"),
    "insulation": ("category",),
    "offered_class": ("wanted", "family", "grip"),
    "overcurrent_limit": ("rule", "material"),
    "packing_ratio": ("optimality",),
    "pattern_part": ("pattern", "part"),
    "provenance": ("table_name", "origin", "access"),
    "room_parameter": ("item",),
    "source": ("kind", "access", "jurisdiction"),
    "temperature_rating": ("category",),
    "value_change": ("table_name", "kind"),
    "verification_point": ("function_name",),
}

#: Evidence tables whose rows are about one published cell, and what they say of it: each leads to its trace.
_ABOUT_CELLS = ("table_name", "row_key", "column_name")
_OF_CELLS = ("column_name", "printed_value", "value", "residual", "old_value", "new_value")


@dataclass(frozen=True, slots=True)
class Cell:
    """One value of a table page: what it shows, and where it leads."""

    column: str
    text: str
    number: bool
    #: The row that the value names, or the page of this row.
    link: str | None
    trace: str | None


def metadata(catalogue: Mapping[str, Any]) -> dict[str, Any]:
    """Datasette's metadata from the catalogue.

    Args:
        catalogue: What is published.

    Returns:
        Titles, descriptions, columns with units, sources, licence and version of every table.
    """
    version = f"Jointable data {catalogue['data_version']}"
    tables = {}
    for name, table in catalogue["tables"].items():
        facets = [c for c in FACETS.get(name, ()) if c in table["columns"]]
        tables[name] = {
            "title": table["title"],
            "description": table["description"],
            "columns": {c: _described(d) for c, d in table["columns"].items()},
            "source": sources_of(table) or version,
            "license": LICENCE,
            "license_url": LICENCE_PATH,
            "about": version,
            "about_url": "/downloads/",
            **({"facets": facets} if facets else {}),
        }
    return {
        "title": "Jointable",
        "license": LICENCE,
        "license_url": LICENCE_PATH,
        "source": version,
        "source_url": "/audit",
        "databases": {DATABASE: {"title": "Tables", "tables": tables}},
    }


def _described(column: Mapping[str, Any]) -> str:
    return f"{column['description']} [{column['unit']}]" if column["unit"] else str(column["description"])


def sources_of(table: Mapping[str, Any]) -> str:
    """The sources of a table by title and edition, each once."""
    named = [
        s["title"] if not s["edition"] else f"{s['title']}, {s['edition']}" for s in table.get("sources", ())
    ]
    return "; ".join(dict.fromkeys(named))


def source_ids_of(table: Mapping[str, Any]) -> str:
    """The sources of a table by id, each once."""
    return "; ".join(dict.fromkeys(s["id"] for s in table.get("sources", ())))


def row_address(table: str, key: Iterable[Any]) -> str:
    """The page of a row."""
    return f"/{DATABASE}/{table}/" + ",".join(tilde_encode(str(k)) for k in key)


def columns_of(catalogue: Mapping[str, Any], table: str, names: Iterable[str]) -> list[dict[str, Any]]:
    """Name, unit and description of columns; a column that is in no catalogue has only its name."""
    known = catalogue["tables"].get(table, {}).get("columns", {})
    return [{"name": n, "unit": None, "description": "", "type": "", **known.get(n, {})} for n in names]


def cells(catalogue: Mapping[str, Any], table: str, row: Sequence[Mapping[str, Any]]) -> list[Cell]:
    """The values of a row with their links.

    Args:
        catalogue: What is published.
        table: The table.
        row: The cells as Datasette prepares them for its table page.

    Returns:
        One cell a column. A value outside the key of a reference table leads to its trace, a value of
        the key to its row, and a value that names a row of another table to that one.
    """
    about = catalogue["tables"].get(table)
    # The first cell is a link to the row that Datasette adds, beside the column itself.
    plain = [c for c in row if not c.get("is_special_link_column")]
    values = {c["column"]: _raw(c) for c in plain}
    if about is None:
        return [_cell(c["column"], values[c["column"]], None, None) for c in plain]
    key = [values.get(name) for name in about["key"]]
    whole = all(v is not None for v in key) and bool(key)
    line = _line(_printed(v, about["columns"].get(n, {})) for n, v in zip(about["key"], key, strict=True))
    out = []
    for column, value in values.items():
        link = _other_row(about, values, column)
        if link is None and column in about["key"] and whole:
            link = row_address(table, key)
        trace = None
        if about["reference"] and whole and column not in about["key"] and value is not None:
            trace = trace_address(table, line, column)
        elif column in _OF_CELLS and value is not None and _is_about_a_cell(values):
            other, other_key, named = (str(values[name]) for name in _ABOUT_CELLS)
            trace = trace_address(other, other_key, named)
        out.append(_cell(column, _typed(value, about["columns"].get(column, {})), link, trace))
    return out


def _is_about_a_cell(values: Mapping[str, Any]) -> bool:
    return all(values.get(name) for name in _ABOUT_CELLS) and values["row_key"] != "*"


def _raw(cell: Mapping[str, Any]) -> Any:
    raw = cell["raw"]
    return raw["value"] if isinstance(raw, dict) else raw


def _typed(value: Any, column: Mapping[str, Any]) -> Any:
    """SQLite has no truth values; the catalogue knows which columns hold them."""
    return bool(value) if column.get("type") == "BOOLEAN" and value is not None else value


def _cell(column: str, value: Any, link: str | None, trace: str | None) -> Cell:
    if isinstance(value, bytes):
        return Cell(column, f"{len(value)} bytes", False, None, None)
    return Cell(
        column, figure(value), isinstance(value, (int, float)) and not isinstance(value, bool), link, trace
    )


def _other_row(about: Mapping[str, Any], values: Mapping[str, Any], column: str) -> str | None:
    for foreign in about["foreign_keys"]:
        key = [values.get(name) for name in foreign["columns"]]
        # The last column of a key of several stands for all; a whole key of ours leads to our own row.
        if foreign["columns"][-1] == column and None not in key and foreign["columns"] != about["key"]:
            return row_address(foreign["table"], key)
    return None


def _printed(value: Any, column: Mapping[str, Any]) -> str:
    """A value of a key as DuckDB prints it: a decimal with all digits of its scale."""
    found = _DECIMAL.match(str(column.get("type", "")))
    if found and isinstance(value, (int, float)):
        return f"{Decimal(repr(value)):.{int(found[1])}f}"
    return str(value)


def _line(values: Iterable[str]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow(list(values))
    return text.getvalue()
