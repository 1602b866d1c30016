"""Questions asked in SQL, and the list of changes: rows with their column names."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import duckdb

from jointable.errors import InputError

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Rows", "ask", "changes"]


@dataclass(frozen=True, slots=True)
class Rows:
    """The rows of an answer and the names of their columns."""

    names: list[str]
    rows: list[tuple[Any, ...]]

    def records(self) -> list[dict[str, Any]]:
        """The rows as dictionaries; dates and the like become text."""
        return [{n: _json_value(v) for n, v in zip(self.names, row, strict=True)} for row in self.rows]

    def csv(self) -> str:
        """The rows as CSV with a header; null is empty."""
        text = io.StringIO(newline="")
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(self.names)
        writer.writerows(["" if v is None else v for v in row] for row in self.rows)
        return text.getvalue()


def ask(reference: Reference, query: str) -> Rows:
    """Run one query on the read-only database.

    Args:
        reference: The open database.
        query: SQL in DuckDB's dialect.

    Returns:
        The rows with their names.

    Raises:
        InputError: The query cannot be run.

    Source: none; this is a form of this project.

    Example:
        >>> import jointable
        >>> ask(jointable.open(), "SELECT 1 + 1 AS two").rows
        [(2,)]
    """
    try:
        cursor = reference.connection.execute(query)
    except duckdb.Error as error:
        first = next((line for line in str(error).splitlines() if line.strip()), "cannot be run")
        raise InputError(
            first,
            column="QUERY",
            expected='a query over the published tables; see `jointable sql "show tables"`',
        ) from None
    return Rows([c[0] for c in cursor.description or ()], cursor.fetchall() if cursor.description else [])


def changes(reference: Reference, since: str | None = None) -> Rows:
    """The values that changed in releases after a given one.

    Args:
        reference: The open database.
        since: A data version, or None for every change.

    Returns:
        Rows of `value_change`, the newest release first.

    Raises:
        InputError: There is no such release.

    Source: the table `value_change`.

    Example:
        >>> import jointable
        >>> changes(jointable.open()).names[0]
        'data_version'
    """
    known = [
        row[0] for row in reference.rows("SELECT data_version FROM release ORDER BY released, data_version")
    ]
    if since is not None and since not in known:
        raise InputError("no such release", column="FROM", value=since, expected="one of " + ", ".join(known))
    later = known if since is None else known[known.index(since) + 1 :]
    return ask_with(reference, "FROM value_change WHERE list_contains(?, data_version) ORDER BY ALL", [later])


def ask_with(reference: Reference, query: str, parameters: list[Any]) -> Rows:
    """Run one of our own queries with parameters."""
    cursor = reference.connection.execute(query, parameters)
    return Rows([c[0] for c in cursor.description or ()], cursor.fetchall())


def _json_value(value: Any) -> Any:
    if value is None or isinstance(value, (bool, int, float, str)):
        return value
    if isinstance(value, (list, tuple)):
        return [_json_value(v) for v in value]
    if isinstance(value, dict):
        return {k: _json_value(v) for k, v in value.items()}
    from decimal import Decimal

    return value if isinstance(value, Decimal) else str(value)
