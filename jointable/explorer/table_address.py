"""What may stand in the address of a table beside Datasette's own parameters."""

from __future__ import annotations

import json
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
_COMPARISONS = frozenset(key for key, _, _ in Filters([]).lookups()) | {"exact"}
#: Parameters of Datasette that show the inside or change its limits.
_CLOSED = frozenset({b"_trace", b"_context", b"_timelimit", b"_ttl"})


def check_table_address(path: str, query: bytes, tables: Mapping[str, Any]) -> None:
    """Refuse what Datasette would answer wrongly, or with a word of the inside.

    Args:
        path: The path, `/jointable` and what follows.
        query: The query string.
        tables: The published tables.

    Raises:
        PageError: A form that is not given, a parameter that is closed, or one that is no column.
    """
    _, dot, kind = path.rpartition("/")[2].rpartition(".")
    if dot and kind not in FORMATS:
        raise PageError(404, "A table is given as JSON or CSV; the page of downloads has more.")
    closed = _CLOSED & {pair.partition(b"=")[0] for pair in query.split(b"&")}
    if closed:
        raise PageError(400, f"{min(closed).decode()} is not taken here.")
    parts = path.removesuffix(".json").removesuffix(".csv").split("/")
    columns = tables.get(parts[2], {}).get("columns") if len(parts) == 3 else None
    for name, value in parse_qsl(query.decode("ascii", "replace"), keep_blank_values=True):
        if columns is not None and not name.startswith("_") and not _is_filter(name, columns):
            guess = closest(name.partition("__")[0], list(columns))
            raise PageError(
                400,
                "The table has no such column or comparison.",
                column=name[:60],
                expected=f"did you mean {guess!r}?" if guess else "one of " + ", ".join(columns),
            )
        if name == "_through" and not _names_a_row(value):
            raise PageError(
                400,
                "_through cannot be read.",
                column="_through",
                expected='{"table": …, "column": …, "value": …}',
            )


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
