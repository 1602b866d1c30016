"""Every published value has one preferred row of provenance, and the build fails where it has not."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable
from pathlib import Path

import duckdb
import pytest

import jointable
from pipeline.database import write_duckdb
from pipeline.failures import BuildError
from pipeline.schema import load_schemas

PUBLISHED = Path(__file__).resolve().parent.parent / "published"
Rows = list[dict[str, str]]


def _built(folder: Path, name: str, change: Callable[[Rows], None]) -> Path:
    """A database from the published CSV files, one of them changed."""
    for path in PUBLISHED.glob("*.csv"):
        shutil.copy(path, folder)
    with (folder / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
        rows = list(csv.DictReader(lines))
    columns = list(rows[0])
    change(rows)
    with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    write_duckdb(folder / "out.duckdb", folder, load_schemas())
    return folder / "out.duckdb"


def test_every_value_is_covered_once() -> None:
    with jointable.open() as reference:
        for name, schema in load_schemas().items():
            if schema.kind == "evidence":
                continue
            counts = ", ".join(f'count("{f.name}")' for f in schema.data_fields)
            (held,) = reference.rows(f'SELECT {counts} FROM "{name}"')
            covered = dict(
                reference.rows(
                    "SELECT column_name, count(origin) FROM cell_provenance WHERE table_name = ? GROUP BY 1",
                    [name],
                )
            )
            wanted = {f.name: n for f, n in zip(schema.data_fields, held, strict=True) if n}
            assert covered == wanted, name
        assert reference.rows(
            "SELECT count(*) FROM provenance WHERE source_id IS NULL AND derivation_id IS NULL"
        ) == [(0,)]


def _first(rows: Rows, **wanted: str) -> dict[str, str]:
    return next(r for r in rows if all(r[k] == v for k, v in wanted.items()))


def test_the_unchanged_files_make_a_database(tmp_path: Path) -> None:
    assert _built(tmp_path, "provenance", lambda rows: None).is_file()


def test_a_value_without_provenance_fails(tmp_path: Path) -> None:
    def drop(rows: Rows) -> None:
        rows.remove(_first(rows, table_name="allowance", row_key="nec-2023,12 AWG", column_name="volume_in3"))

    with pytest.raises(BuildError) as caught:
        _built(tmp_path, "provenance", drop)
    assert (
        "published/allowance.csv: volume_in3: 'nec-2023,12 AWG': provenance-complete: one preferred row of provenance, not 0"
        in str(caught.value)
    )


def test_a_second_preferred_row_fails(tmp_path: Path) -> None:
    def double(rows: Rows) -> None:
        one = _first(rows, rank="normal")
        one["rank"] = "preferred"

    with pytest.raises(BuildError, match="provenance-complete: one preferred row of provenance, not 2"):
        _built(tmp_path, "provenance", double)


def test_two_grains_in_one_column_fail(tmp_path: Path) -> None:
    def both(rows: Rows) -> None:
        whole = _first(rows, table_name="combination", row_key="*", column_name="total_mm2")
        rows.append({**whole, "row_key": "2x12 AWG"})

    with pytest.raises(BuildError, match="no row of its own beside that of the column"):
        _built(tmp_path, "provenance", both)


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("provenance", "source_id", "a handbook at home"),
        ("box_count", "size", "15 AWG"),
        ("box", "edition", "nec-1900"),
    ],
)
def test_an_unknown_key_fails(tmp_path: Path, table: str, column: str, value: str) -> None:
    """Free text for a source, or a key that its table does not hold."""

    def change(rows: Rows) -> None:
        next(r for r in rows if r[column])[column] = value

    with pytest.raises(BuildError, match="database-keys") as caught:
        _built(tmp_path, table, change)
    assert f"published/{table}.csv" in str(caught.value)
    assert value in str(caught.value)


def test_the_views_hold_each_row_once_with_its_sources() -> None:
    with duckdb.connect(str(PUBLISHED / "jointable.duckdb"), read_only=True) as connection:
        views = [
            r[0]
            for r in connection.execute(
                "SELECT view_name FROM duckdb_views() WHERE view_name LIKE '%_with_sources' ORDER BY 1"
            ).fetchall()
        ]
        names = {n for n, s in load_schemas().items() if s.kind == "reference"}
        assert {v.removesuffix("_with_sources") for v in views} == names
        for view in ("box_with_sources", "allowance_with_sources"):
            table = view.removesuffix("_with_sources")
            (one,) = connection.execute(f"SELECT count(*) FROM {view}").fetchall()
            assert connection.execute(f"SELECT count(*) FROM {table}").fetchall() == [one]
