"""The SQLite twin for the explorer: the same rows, written from DuckDB's catalogue."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import duckdb

__all__ = ["write_sqlite"]

Keys = dict[tuple[str, str], list[tuple[list[str], str, list[str]]]]


def write_sqlite(path: Path, database: Path, order: list[str]) -> None:
    """Write the twin of a DuckDB file; equal content gives equal bytes.

    Args:
        path: The file to write; it must not exist.
        database: The DuckDB file.
        order: Table names, each after those its foreign keys name.
    """
    with duckdb.connect(str(database), read_only=True) as source, sqlite3.connect(path) as target:
        target.execute("PRAGMA page_size = 4096")
        target.execute("PRAGMA journal_mode = OFF")
        every, keys = _columns(source), _keys(source)
        for name in order:
            columns = every[name]
            target.execute(_ddl(name, columns, keys))
            marks = ", ".join("?" for _ in columns)
            values = ", ".join(_value(column, kind) for column, kind, _ in columns)
            rows = source.execute(f'SELECT {values} FROM "{name}" ORDER BY {_order(keys, name)}').fetchall()
            target.executemany(f'INSERT INTO "{name}" VALUES ({marks})', rows)
        target.commit()
        target.execute("VACUUM")
    target.close()


def _columns(source: duckdb.DuckDBPyConnection) -> dict[str, list[tuple[str, str, bool]]]:
    """Name, type and whether it may be null of each column, by table: the catalogue is read once."""
    found: dict[str, list[tuple[str, str, bool]]] = {}
    for table, *column in source.execute(
        "SELECT table_name, column_name, data_type, is_nullable FROM duckdb_columns() ORDER BY table_name, column_index"
    ).fetchall():
        found.setdefault(table, []).append((column[0], column[1], column[2]))
    return found


def _keys(source: duckdb.DuckDBPyConnection) -> Keys:
    """Columns, table and columns referred to, by table and kind of key."""
    found: Keys = {}
    for table, kind, *key in source.execute(
        "SELECT table_name, constraint_type, constraint_column_names, referenced_table, referenced_column_names "
        "FROM duckdb_constraints() ORDER BY table_name, constraint_index"
    ).fetchall():
        found.setdefault((table, kind), []).append((key[0], key[1], key[2]))
    return found


def _order(keys: Keys, name: str) -> str:
    primary = keys.get((name, "PRIMARY KEY"))
    return _names(primary[0][0]) if primary else "ALL"


def _ddl(name: str, columns: list[tuple[str, str, bool]], keys: Keys) -> str:
    lines = [f'"{c}" {_type(kind)}{"" if nullable else " NOT NULL"}' for c, kind, nullable in columns]
    lines += [f"PRIMARY KEY ({_names(k)})" for k, _, _ in keys.get((name, "PRIMARY KEY"), ())]
    lines += [f"UNIQUE ({_names(k)})" for k, _, _ in keys.get((name, "UNIQUE"), ())]
    lines += [
        f'FOREIGN KEY ({_names(k)}) REFERENCES "{table}" ({_names(columns)})'
        for k, table, columns in keys.get((name, "FOREIGN KEY"), ())
    ]
    return f'CREATE TABLE "{name}" (\n  ' + ",\n  ".join(lines) + "\n) STRICT"


def _names(columns: list[str]) -> str:
    return ", ".join(f'"{column}"' for column in columns)


def _type(kind: str) -> str:
    if kind in ("INTEGER", "BOOLEAN"):
        return "INTEGER"
    return "REAL" if kind.startswith("DECIMAL") else "TEXT"


def _value(column: str, kind: str) -> str:
    if kind == "BOOLEAN":
        return f'CAST("{column}" AS INTEGER)'
    if kind.startswith("DECIMAL"):
        return f'CAST("{column}" AS DOUBLE)'
    return f'CAST("{column}" AS VARCHAR)' if kind == "DATE" else f'"{column}"'
