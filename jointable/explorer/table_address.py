"""What may stand in the address of a table beside Datasette's own parameters."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import parse_qsl

from datasette.filters import Filters

from jointable.explorer.site import PageError
from jointable.schedule_form import closest

__all__ = ["FORMATS", "check_table_address"]

#: Forms of a table beside its page.
FORMATS = ("json", "csv", "blob")
#: What may stand behind a column and two underscores.
_COMPARISONS = (frozenset(key for key, _, _ in Filters([]).lookups()) | {"exact"}) - {
    # No column holds an array.
    "arraycontains",
    "arraynotcontains",
}
_NUMERIC = frozenset({"", "exact", "not", "gt", "gte", "lt", "lte"})
#: Parameters of Datasette that show the inside or change its limits.
_CLOSED = frozenset({b"_trace", b"_context", b"_timelimit", b"_ttl"})
#: Parameters of Datasette that are taken; of others it takes no notice.
_TAKEN = frozenset(
    """_blob_column _blob_hash _col _dl _extras _facet _facet_date _facet_size _header _hide_sql _json
    _json_infinity _label _labels _next _nl _nocol _nocount _nofacet _nosuggest _shape _show_sql _size _sort
    _sort_by_desc _sort_desc _stream _through _where""".split()
)
_OF_THE_FORM = re.compile(r"_filter_(column|op|value)(_\d+)?")

#: Parameters of a question that is ready to ask, and those of them that it takes for a number.
_PARAMETER = re.compile(r":(\w+)")
_NUMBER = re.compile(r"cast\(coalesce\(nullif\(:(\w+)")


def check_table_address(
    path: str, query: bytes, tables: Mapping[str, Any], queries: Mapping[str, Any]
) -> None:
    """Refuse what Datasette would answer wrongly, or with a word of the inside.

    Args:
        path: The path, `/jointable` and what follows.
        query: The query string.
        tables: The published tables.
        queries: The questions that are ready to ask.

    Raises:
        PageError: A form that is not given, a key of other parts than the table's, a parameter that is closed,
            one that is no column or belongs to no question, or a text where a number is compared.
    """
    _, dot, kind = path.rpartition("/")[2].rpartition(".")
    if dot and kind not in FORMATS:
        raise PageError(404, "A table is given as JSON or CSV; the page of downloads has more.")
    closed = _CLOSED & {pair.partition(b"=")[0] for pair in query.split(b"&")}
    if closed:
        raise PageError(400, f"{min(closed).decode()} is not taken here.")
    parts = path.removesuffix(".json").removesuffix(".csv").split("/")
    if len(parts) == 4:
        _check_key(parts[2], parts[3], tables)
    columns = tables.get(parts[2], {}).get("columns") if len(parts) == 3 else None
    question = queries.get(parts[2]) if len(parts) == 3 else None
    seen: set[str] = set()
    for name, value in parse_qsl(query.decode("ascii", "replace"), keep_blank_values=True):
        if name.startswith("_"):
            _check_parameter(name)
        elif columns is not None and not _is_filter(name, columns):
            raise PageError(
                400,
                "The table has no such column or comparison.",
                column=name[:60],
                expected=_right_column(name, columns),
            )
        elif columns is not None:
            _check_number(name, value, columns)
        if question is not None and not name.startswith("_"):
            if name in seen:
                raise PageError(400, f"{name}: given twice", column=name, expected="each parameter once")
            seen.add(name)
            _check_question(question["sql"], name, value)
        if name == "_through" and not _names_a_row(value):
            raise PageError(
                400,
                "_through cannot be read.",
                column="_through",
                expected='{"table": …, "column": …, "value": …}',
            )


def _check_parameter(name: str) -> None:
    if name in _TAKEN or _OF_THE_FORM.fullmatch(name):
        return
    guess = closest(name, sorted(_TAKEN))
    raise PageError(
        400,
        f"{name[:60]}: no such parameter of a table.",
        column=name[:60],
        expected=f"did you mean {guess!r}?" if guess else "one of " + ", ".join(sorted(_TAKEN)),
    )


def _right_column(name: str, columns: Mapping[str, Any]) -> str:
    column, _, comparison = name.partition("__")
    if column in columns and comparison:
        return f"{column}__ and one of " + ", ".join(sorted(_COMPARISONS))
    guess = closest(column, list(columns))
    return f"did you mean {guess!r}?" if guess else "one of " + ", ".join(columns)


def _check_key(table: str, key: str, tables: Mapping[str, Any]) -> None:
    names = tables.get(table, {}).get("key", ())
    if names and key.count(",") + 1 != len(names):
        raise PageError(404, f"A row of {table} is named by {', '.join(names)}, parted by commas.")


def _check_number(name: str, value: str, columns: Mapping[str, Any]) -> None:
    """Refuse a text where a column holds numbers: SQLite finds every number below it."""
    column, _, comparison = name.partition("__")
    holds = str(columns[column].get("type", ""))
    if comparison in _NUMERIC and holds.startswith(("DECIMAL", "INT")) and value and not _is_number(value):
        raise PageError(400, f"{name}: {value[:60]!r}: not a number", column=name, expected="such as 18.5")


def _check_question(sql: str, name: str, value: str) -> None:
    """Refuse what SQLite would leave out or take for 0: the answer would be that to another question."""
    known = list(dict.fromkeys(_PARAMETER.findall(sql)))
    if name not in known:
        raise PageError(
            400,
            "The question has no such parameter.",
            column=name[:60],
            expected="one of " + ", ".join(known) if known else "none: it takes no parameters",
        )
    if name in _NUMBER.findall(sql) and value and not _is_number(value):
        raise PageError(400, f"{name}: {value[:60]!r}: not a number", column=name, expected="such as 18.5")


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text)) and text.isascii() and "_" not in text
    except ValueError:
        return False


def _is_filter(name: str, columns: Iterable[str]) -> bool:
    """Whether a parameter is a column, or a column and a comparison; SQLite takes any other for a text."""
    column, _, comparison = name.partition("__")
    return column in columns and (not comparison or comparison in _COMPARISONS)


def _names_a_row(value: str) -> bool:
    try:
        found = json.loads(value)
    except (ValueError, RecursionError):
        return False
    return isinstance(found, dict) and {"table", "column", "value"} <= found.keys()
