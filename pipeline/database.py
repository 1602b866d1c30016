"""Writing the DuckDB file: tables with keys, checks and comments, views of provenance, the macros."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from graphlib import TopologicalSorter
from pathlib import Path

import duckdb

from pipeline.failures import BuildError, Failure
from pipeline.schema import ROOT, TableSchema

__all__ = ["create_statements", "load_order", "sql_files", "write_duckdb"]

SQL = ROOT / "jointable" / "sql"

#: Opens in 1.2 and later, and in the browser build; older readers fail on keys.
STORAGE = "STORAGE_VERSION 'v1.2.0', BLOCK_SIZE 16384"


def sql_files() -> tuple[Path, ...]:
    """The macro files in the order in which they are loaded."""
    return tuple(sorted(SQL.glob("*.sql")))


def load_order(schemas: Mapping[str, TableSchema]) -> list[str]:
    """Table names so that each stands after the tables its foreign keys name."""
    graph = {
        # Sorted, since the order of a set differs from process to process and the definitions are hashed.
        name: sorted({str(k["reference"]["resource"]) for k in schema.foreign_keys} - {name})
        for name, schema in sorted(schemas.items())
    }
    return list(TopologicalSorter(graph).static_order())


def create_statements(schemas: Mapping[str, TableSchema]) -> str:
    """Everything that makes the database but the rows: tables, views, macros."""
    parts = [schemas[name].ddl() for name in load_order(schemas)]
    parts += [path.read_text("utf-8") for path in sql_files()]
    parts += [_cell_provenance(schemas)]
    parts += [_with_sources(schema) for schema in _reference(schemas)]
    parts.append(_CONTENT_HASH)
    return "\n".join(parts)


def write_duckdb(path: Path, csv_folder: Path, schemas: Mapping[str, TableSchema]) -> None:
    """Write the database from the published CSV files.

    Args:
        path: The file to write; it must not exist.
        csv_folder: Where the CSV files are.
        schemas: The published schemas.

    Raises:
        BuildError: A key, foreign key or check of a table is broken.
    """
    with duckdb.connect(":memory:") as connection:
        connection.execute(f"ATTACH {_text(str(path))} AS published ({STORAGE})")
        connection.execute("USE published")
        for name in load_order(schemas):
            connection.execute(schemas[name].ddl())
            _fill(connection, csv_folder / f"{name}.csv", schemas[name])
        for sql in sql_files():
            try:
                connection.execute(sql.read_text("utf-8"))
            except duckdb.Error as error:
                raise BuildError(
                    [Failure(f"jointable/sql/{sql.name}", None, "-", "", "macro-loads", _first(error))]
                ) from None
        connection.execute(_cell_provenance(schemas))
        for schema in _reference(schemas):
            connection.execute(_with_sources(schema))
        connection.execute(_content_hash(csv_folder, schemas))
        failures = _without_evidence(connection)
        if failures:
            raise BuildError(failures)
        connection.execute("CHECKPOINT published")


def _fill(connection: duckdb.DuckDBPyConnection, csv: Path, schema: TableSchema) -> None:
    columns = ", ".join(f'CAST("{f.name}" AS {f.sql_type})' for f in schema.fields)
    try:
        connection.execute(
            f'INSERT INTO "{schema.name}" SELECT {columns} '
            f"FROM read_csv({_text(str(csv))}, all_varchar = true, header = true, nullstr = '', delim = ',', "
            "quote = '\"', escape = '\"', max_line_size = 10000000, auto_detect = false, columns = "
            + "{"
            + ", ".join(f"'{f.name}': 'VARCHAR'" for f in schema.fields)
            + "})"
        )
    except duckdb.Error as error:
        raise BuildError([_broken(schema, error)]) from None


def _without_evidence(connection: duckdb.DuckDBPyConnection) -> list[Failure]:
    """Values with no preferred provenance or more than one, and values covered by a column's row as well."""
    places = connection.execute(
        "SELECT table_name, row_key, column_name, 'one preferred row of provenance, not ' || count(origin) FROM cell_provenance "
        "GROUP BY ALL HAVING count(*) <> 1 OR count(origin) <> 1 "
        "UNION ALL SELECT table_name, row_key, column_name, 'no row of its own beside that of the column' FROM provenance p "
        "WHERE row_key <> '*' AND EXISTS (FROM provenance d WHERE d.row_key = '*' "
        "AND (d.table_name, d.column_name) = (p.table_name, p.column_name)) "
        "UNION ALL SELECT table_name, row_key, column_name, 'one preferred row of provenance, not ' "
        "|| count(*) FILTER (rank = 'preferred') FROM provenance GROUP BY ALL HAVING count(*) FILTER (rank = 'preferred') <> 1 "
        "ORDER BY ALL LIMIT 20"
    ).fetchall()
    return [
        Failure(f"published/{table}.csv", None, column, key, "provenance-complete", wanted)
        for table, key, column, wanted in places
    ]


def _broken(schema: TableSchema, error: duckdb.Error) -> Failure:
    message = _first(error)
    key = re.search(r'"([^"]*: [^"]*)"', message)
    return Failure(
        f"published/{schema.name}.csv",
        None,
        ",".join(schema.primary_key),
        key.group(1) if key else "",
        "database-keys",
        message,
    )


def _first(error: Exception) -> str:
    return str(error).strip().splitlines()[0]


def _text(value: str) -> str:
    return "'" + value.replace("'", "''") + "'"


def _reference(schemas: Mapping[str, TableSchema]) -> list[TableSchema]:
    return [
        s for _, s in sorted(schemas.items()) if s.kind == "reference" and s.primary_key and s.data_fields
    ]


def key_expression(schema: TableSchema, alias: str) -> str:
    """SQL for the key of a row as one CSV line."""
    return " || ',' || ".join(_csv_cell(f'CAST({alias}."{name}" AS VARCHAR)') for name in schema.primary_key)


def _csv_cell(value: str) -> str:
    quoted = f"'\"' || replace({value}, '\"', '\"\"') || '\"'"
    return f"CASE WHEN contains({value}, ',') OR contains({value}, '\"') THEN {quoted} ELSE {value} END"


def _cell_provenance(schemas: Mapping[str, TableSchema]) -> str:
    """The view that expands the provenance to one row a non-null cell outside the key."""
    parts = []
    for schema in _reference(schemas):
        names = ", ".join(f"'{f.name}'" for f in schema.data_fields)
        values = ", ".join(f't."{f.name}"::VARCHAR' for f in schema.data_fields)
        parts.append(
            f"SELECT '{schema.name}' AS table_name, {key_expression(schema, 't')} AS row_key, "
            f'unnest([{names}]) AS column_name, unnest([{values}]) AS value FROM "{schema.name}" t'
        )
    cells = "\nUNION ALL ".join(parts)
    return (
        "CREATE OR REPLACE VIEW cell_provenance AS\n"
        "WITH cell AS (SELECT * FROM (\n" + cells + ") WHERE value IS NOT NULL)\n"
        "SELECT c.table_name, c.row_key, c.column_name, c.value, p.origin, p.source_id, p.locator, p.access, p.evidence\n"
        "FROM cell c LEFT JOIN provenance p ON p.table_name = c.table_name AND p.column_name = c.column_name\n"
        "  AND p.row_key = c.row_key AND p.reading = 1\n"
        "WHERE NOT EXISTS (FROM provenance d WHERE d.table_name = c.table_name\n"
        "  AND d.column_name = c.column_name AND d.row_key = '*')\n"
        "UNION ALL\n"
        "SELECT c.table_name, c.row_key, c.column_name, c.value, d.origin, d.source_id, d.locator, d.access, d.evidence\n"
        "FROM cell c JOIN provenance d ON d.table_name = c.table_name AND d.column_name = c.column_name AND d.row_key = '*';\n"
        "COMMENT ON VIEW cell_provenance IS 'One row for each non-null cell outside the key, with where it comes from.';\n"
    )


#: A macro that tells the content of all tables in one hash, by which answers say what they rest on.
_CONTENT_HASH = (
    "CREATE OR REPLACE MACRO content_hash() AS '{whole}';\n"
    "COMMENT ON MACRO content_hash IS 'SHA-256 of the lines of SHA256SUMS that name the CSV file of a table: the same "
    "for the same data, wherever it was built.';\n"
)


def _content_hash(csv_folder: Path, schemas: Mapping[str, TableSchema]) -> str:
    files = [f"{name}.csv" for name in sorted(schemas)]
    lines = [f"{hashlib.sha256((csv_folder / f).read_bytes()).hexdigest()}  {f}\n" for f in files]
    return _CONTENT_HASH.format(whole=hashlib.sha256("".join(lines).encode()).hexdigest())


def _with_sources(schema: TableSchema) -> str:
    """The view of a table with where each of its values comes from."""
    packed = (
        "list({column_name: column_name, origin: origin, source_id: source_id, locator: locator, access: access, "
        "printed_value: printed_value, derivation_id: derivation_id} ORDER BY column_name)"
    )
    where = f"FROM provenance WHERE table_name = '{schema.name}' AND reading = 1 AND row_key"
    return (
        f'CREATE OR REPLACE VIEW "{schema.name}_with_sources" AS\n'
        f"SELECT t.*, list_concat(c.sources, (SELECT {packed} {where} = '*')) AS sources\n"
        f"FROM \"{schema.name}\" t LEFT JOIN (SELECT row_key, {packed} AS sources {where} <> '*' GROUP BY row_key) c\n"
        f"ON c.row_key = {key_expression(schema, 't')};\n"
        f"COMMENT ON VIEW \"{schema.name}_with_sources\" IS 'The table {schema.name} with the source of each value.';\n"
    )
