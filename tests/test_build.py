"""The whole build: the same bytes twice, nothing rewritten without need, nothing published when something is wrong."""

from __future__ import annotations

import csv
import hashlib
import json
import shutil
from pathlib import Path

import duckdb
import pytest

from pipeline.__main__ import main
from pipeline.schema import load_schemas

ROOT = Path(__file__).resolve().parent.parent
PUBLISHED = ROOT / "published"


@pytest.fixture
def raw_copy(tmp_path: Path) -> Path:
    """A copy of raw/ to break."""
    return Path(shutil.copytree(ROOT / "raw", tmp_path / "raw"))


def _edit(folder: Path, name: str, row: dict[str, str], column: str, value: str) -> None:
    """Change one cell of the one row that has these values."""
    path = folder / f"{name}.csv"
    with path.open(encoding="utf-8", newline="") as lines:
        reader = csv.DictReader(lines)
        names, rows = list(reader.fieldnames or ()), list(reader)
    found = [r for r in rows if all(r[k] == v for k, v in row.items())]
    assert len(found) == 1, found
    assert found[0][column] != value
    found[0][column] = value
    with path.open("w", encoding="utf-8", newline="") as lines:
        writer = csv.DictWriter(lines, names, lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def _hashes(folder: Path) -> dict[str, str]:
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in sorted(folder.iterdir())}


def test_two_builds_give_the_same_files(tmp_path: Path) -> None:
    assert main(["--published", str(tmp_path / "one")]) == 0
    first = _hashes(tmp_path / "one")
    assert main(["--published", str(tmp_path / "one")]) == 0
    assert _hashes(tmp_path / "one") == first
    again = {k: v for k, v in first.items() if k != "jointable.duckdb"}
    assert again == {k: v for k, v in _hashes(PUBLISHED).items() if k != "jointable.duckdb"}


@pytest.mark.parametrize(
    ("name", "row", "column", "value", "said"),
    [
        (
            "nec_314_16_a_2023",
            {"trade_size_in": "3 x 2 x 2-1/2"},
            "n_14",
            "7",
            "raw/nec_314_16_a_2023.csv:14: n_14: '7'",
        ),
        ("nec_314_16_a_2023", {"trade_size_in": "3 x 2 x 2-1/2"}, "volume_in3", "15.2", "box-count-floor"),
        ("nec_314_16_b_2023", {"size": "12"}, "volume_in3", "2.52", "volume_in3"),
        (
            "nec_314_16_a_2023",
            {"trade_size_in": "3 x 2 x 2-1/2"},
            "volume_in3",
            "12.5 in3",
            "raw-form: a number",
        ),
        ("nec_314_16_a_2023", {"trade_size_in": "3 x 2 x 2-1/2"}, "trade_size_in", "3 x 2 x 2", "raw-key"),
        ("nec_314_16_b_2023", {"size": "12"}, "source", "nfpa-70-2032", "source-known"),
        (
            "cec_table_22_ml",
            {"size": "10"},
            "volume_ml",
            "39.6",
            "raw/cec_table_22_ml.csv:4: volume_ml: '39.6': second-keying-cec-table-22-ml",
        ),
    ],
)
def test_a_wrong_cell_publishes_nothing(
    raw_copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, row: dict[str, str], column: str,
    value: str, said: str,
) -> None:  # fmt: skip
    _edit(raw_copy, name, row, column, value)
    assert main(["--raw", str(raw_copy), "--published", str(tmp_path / "out")]) == 1
    err = capsys.readouterr().err
    assert said in err
    assert f"raw/{name}.csv" in err
    assert "nothing was published" in err
    assert not (tmp_path / "out").exists()
    assert not list(tmp_path.glob(".out*-*")) or [p.name for p in tmp_path.glob(".out*")] == [".out-lock"]


def test_a_correction_that_finds_something_else_stops_the_build(
    raw_copy: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with (raw_copy / "corrections.csv").open(encoding="utf-8", newline="") as lines:
        entry = next(csv.DictReader(lines))
    row = {k: entry[k] for k in ("file", "key", "column")}
    _edit(raw_copy, "corrections", row, "printed", entry["printed"] + "9")
    assert main(["--raw", str(raw_copy), "--published", str(tmp_path / "out")]) == 1
    assert "correction-expects" in capsys.readouterr().err


def test_row_order_quoting_and_line_ends_change_nothing(raw_copy: Path, tmp_path: Path) -> None:
    for path in sorted(raw_copy.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            header, *rows = list(csv.reader(lines))
        with path.open("w", encoding="utf-8", newline="") as out:
            csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\r\n").writerows([header, *reversed(rows)])
    assert main(["--raw", str(raw_copy), "--published", str(tmp_path / "out")]) == 0
    changed = {k for k, v in _hashes(tmp_path / "out").items() if v != _hashes(PUBLISHED).get(k)}
    # What a check compares with its neighbour may count otherwise; no published value changes.
    evidence = {
        f"{name}.{form}"
        for name, s in load_schemas().items()
        if s.kind == "evidence"
        for form in ("csv", "parquet")
    }
    assert changed <= evidence | {
        "jointable.duckdb",
        "jointable.sqlite",
        "datapackage.json",
        "croissant.json",
        "SHA256SUMS",
    }


def test_no_column_holds_an_empty_text_and_decimals_have_the_schemas_scale() -> None:
    compared = 0
    for name, schema in load_schemas().items():
        text = (PUBLISHED / f"{name}.csv").read_bytes()
        assert not text.startswith(b"\xef\xbb\xbf")
        assert b"\r" not in text
        with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as lines:
            for row in csv.DictReader(lines):
                for field in schema.fields:
                    if field.type == "number" and row[field.name]:
                        assert len(row[field.name].partition(".")[2]) == (field.precision or (18, 6))[1]
                        compared += 1
    assert compared > 1000


def test_database_parquet_and_csv_hold_the_same_rows(tmp_path: Path) -> None:
    # A copy, since connections of one process to one file share the settings that shut off other files.
    database = shutil.copy(PUBLISHED / "jointable.duckdb", tmp_path / "copy.duckdb")
    package = json.loads((PUBLISHED / "datapackage.json").read_text("utf-8"))
    with duckdb.connect(str(database), read_only=True) as connection:
        for resource in package["resources"]:
            name = resource["name"]
            csv_file, parquet = PUBLISHED / resource["path"], PUBLISHED / resource["parquet"]
            assert resource["hash"] == "sha256:" + hashlib.sha256(csv_file.read_bytes()).hexdigest()
            for other in (
                f"'{parquet}'",
                f"(SELECT * FROM read_csv('{csv_file}', all_varchar = true, nullstr = ''))",
            ):
                text = ", ".join(
                    f'CAST("{f["name"]}" AS VARCHAR) AS "{f["name"]}"' for f in resource["schema"]["fields"]
                )
                ours = f"(SELECT {text} FROM {name})"
                theirs = f"(SELECT {text} FROM {other})"
                for a, b in ((ours, theirs), (theirs, ours)):
                    row = connection.execute(
                        f"SELECT count(*) FROM (FROM {a} EXCEPT ALL FROM {b})"
                    ).fetchone()
                    assert row == (0,), name


def test_parquet_holds_decimals_not_doubles() -> None:
    kinds = duckdb.sql(
        f"SELECT DISTINCT type FROM parquet_schema('{PUBLISHED}/allowance.parquet')"
    ).fetchall()
    assert ("DOUBLE",) not in kinds
    described = duckdb.sql(f"DESCRIBE FROM '{PUBLISHED}/allowance.parquet'").fetchall()
    assert {row[0]: row[1] for row in described}["volume_in3"] == "DECIMAL(9,4)"
