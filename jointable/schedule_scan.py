"""Rows that stay where they are, read as the cells of a schedule in memory are: the same rules for one and for millions.

Text loses the space around it, what is then empty is nothing, as is a number that is none, and a row with a hidden
character is no row.
"""

from __future__ import annotations

import duckdb

from jointable.errors import InputError
from jointable.schedule_form import FILE_ROW, HIDDEN, Problem, bad_space, hidden_problem

__all__ = ["as_read", "hidden_rows", "holds_hidden"]

_NUL = "\x00"
_LOOK_ALIKE = "".join(mark for mark in HIDDEN if mark != _NUL)
_TEXT = ("VARCHAR", "ENUM")
_FLOATS = ("DOUBLE", "FLOAT")
_NO_CELLS = ("BOOLEAN", "BLOB", "BIT", "STRUCT", "MAP", "UNION")


def as_read(connection: duckdb.DuckDBPyConnection, rows: str, name: str | None = None) -> str:
    """The columns of some rows as they are read, as the list of a SELECT.

    Args:
        connection: Where the rows are.
        rows: What stands after FROM.
        name: What messages call the schedule.

    Returns:
        A list of expressions, each named as the column of a schedule that it is.

    Raises:
        InputError: A column holds neither text nor numbers.

    Source: none; the form is this project's.

    Example:
        >>> with duckdb.connect() as connection:
        ...     rows = "(SELECT ' A ' AS box, '  ' AS size, 'nan'::DOUBLE AS quantity)"
        ...     connection.execute(f"SELECT {as_read(connection, rows)} FROM {rows}").fetchall()
        [('A', None, None)]
    """
    return ", ".join(_read(column, kind, name) for column, kind in _columns(connection, rows))


def holds_hidden(connection: duckdb.DuckDBPyConnection, rows: str) -> str:
    """Whether a row holds a hidden character in any cell but its note, as a condition of SQL.

    Args:
        connection: Where the rows are.
        rows: What stands after FROM.

    Returns:
        The condition.

    Source: none; the form is this project's.

    Example:
        >>> with duckdb.connect() as connection:
        ...     rows = "(SELECT '12\\u00a0' AS size UNION ALL SELECT '½')"
        ...     connection.execute(f"FROM {rows} WHERE {holds_hidden(connection, rows)}").fetchall()
        [('12\\xa0',)]
    """
    cells = [f'CAST("{c}" AS VARCHAR)' for c in _text_columns(connection, rows)]
    # Text of plain letters, which is nearly all, has as many bytes as characters, and is asked no pattern.
    said = [
        f"CASE WHEN strlen({c}) <> length({c}) THEN regexp_matches({c}, '[{_LOOK_ALIKE}]') ELSE contains({c}, chr(0)) END"
        for c in cells
    ]
    return f"(({' OR '.join(said) or 'false'}) IS TRUE)"


def hidden_rows(connection: duckdb.DuckDBPyConnection, rows: str) -> list[Problem]:
    """The rows that hold a hidden character, each with the first cell that does.

    Args:
        connection: Where the rows are.
        rows: What stands after FROM, with the row of the file in `file_row`.

    Returns:
        A problem a row.

    Source: none; the form is this project's.

    Example:
        >>> with duckdb.connect() as connection:
        ...     rows = "(SELECT 3 AS file_row, ' A' AS box, '12\\u00a0' AS size)"
        ...     [(p.file_row, p.box, p.column) for p in hidden_rows(connection, rows)]
        [(3, 'A', 'size')]
    """
    columns = [c for c, _ in _columns(connection, rows)]
    names = [_name(c) for c in columns]
    found = connection.execute(
        f"SELECT {', '.join(_quoted(c) for c in columns)} FROM {rows} WHERE {holds_hidden(connection, rows)} "
        f"ORDER BY {FILE_ROW}"
    ).fetchall()
    return [_problem(dict(zip(names, row, strict=True))) for row in found]


def _problem(row: dict[str, object]) -> Problem:
    box = str(row["box"]).strip() if row.get("box") is not None else None
    file_row = row[FILE_ROW]
    cells = ((c, v) for c, v in row.items() if isinstance(v, str) and c != "note")
    column, text, what = next((c, v, what) for c, v in cells if (what := bad_space(v)))
    return hidden_problem(file_row if isinstance(file_row, int) else None, box, column, text, what)


def _columns(connection: duckdb.DuckDBPyConnection, rows: str) -> list[tuple[str, str]]:
    return [(row[0], row[1]) for row in connection.execute(f"DESCRIBE FROM {rows}").fetchall()]


def _text_columns(connection: duckdb.DuckDBPyConnection, rows: str) -> list[str]:
    told = _columns(connection, rows)
    return [column for column, kind in told if kind.startswith(_TEXT) and _name(column) != "note"]


def _read(column: str, kind: str, name: str | None) -> str:
    cell = _quoted(column)
    if kind.startswith(_NO_CELLS) or kind.endswith("]"):
        raise InputError(
            "not text or numbers", file=name, column=_name(column), value=kind, expected="text or numbers"
        )
    if kind.startswith(_TEXT):
        cell = f"nullif(trim(CAST({cell} AS VARCHAR), E' \\t\\n\\r\\x0b\\x0c'), '')"
    elif kind in _FLOATS:
        cell = f"nullif({cell}, CAST('nan' AS {kind}))"
    return f"{cell} AS {_quoted(_name(column))}"


def _name(column: str) -> str:
    return column.strip().lower()


def _quoted(column: str) -> str:
    return '"' + column.replace('"', '""') + '"'
