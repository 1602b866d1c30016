"""Publishing: old or new, never a mixture; unchanged files keep their old self."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from pipeline.failures import BuildError
from pipeline.frames import canonical_csv, canonical_rows, pandera_schema, typed_frame, validate_frame
from pipeline.publish import replace_folder, staged_matches
from pipeline.schema import Field, TableSchema

WIRE = TableSchema(
    name="wire",
    title="Wire",
    description="A table for the tests.",
    fields=(
        Field("size", "string", "Size.", constraints={"required": True, "enum": ["14 AWG", "12 AWG"]}),
        Field("area_mm2", "number", "Area.", "mm2", (9, 3), {"required": True, "minimum": 0}),
        Field("strands", "integer", "Strands."),
        Field("insulated", "boolean", "Whether insulated."),
    ),
    primary_key=("size",),
)
ROWS = [
    {"size": "14 AWG", "area_mm2": "2.08", "strands": "7", "insulated": "true"},
    {"size": "12 AWG", "area_mm2": "3.31", "strands": None, "insulated": "false"},
]


def _folder(path: Path, **files: str) -> Path:
    path.mkdir()
    for name, text in files.items():
        (path / f"{name}.csv").write_text(text)
    return path


def test_canonical_csv_is_in_key_order_at_the_schemas_scale() -> None:
    assert canonical_csv(canonical_rows(ROWS, WIRE), WIRE) == (
        b"size,area_mm2,strands,insulated\n12 AWG,3.310,,false\n14 AWG,2.080,7,true\n"
    )


@pytest.mark.parametrize(
    ("column", "value", "said"),
    [
        ("area_mm2", "2.0801", "at most 3 decimals"),
        ("area_mm2", "two", "a decimal number"),
        ("area_mm2", None, "cell-required"),
        ("strands", "7.5", "cell-type"),
        ("insulated", "yes", "true or false"),
    ],
)
def test_a_value_that_does_not_fit_is_named(column: str, value: str | None, said: str) -> None:
    with pytest.raises(BuildError) as caught:
        canonical_rows([{**ROWS[0], column: value}], WIRE)
    assert said in str(caught.value)
    assert column in str(caught.value)


@pytest.mark.parametrize(
    "change",
    [{"area_mm2": "-1"}, {"size": "13 AWG"}, {"size": "12 AWG"}],
    ids=["below the minimum", "not in the list", "a key twice"],
)
def test_pandera_rejects_bad_frames(change: dict[str, str]) -> None:
    rows = canonical_rows([{**ROWS[0], **change}, ROWS[1]], WIRE)
    with pytest.raises(BuildError) as caught:
        validate_frame(typed_frame(rows, WIRE), WIRE)
    assert "published/wire.csv" in str(caught.value)


def test_pandera_schema_holds_the_true_frame() -> None:
    frame = typed_frame(canonical_rows(ROWS, WIRE), WIRE)
    assert pandera_schema(WIRE).validate(frame).shape == (2, 4)


def test_duckdb_table_has_types_keys_checks_and_comments() -> None:
    import duckdb

    with duckdb.connect() as connection:
        connection.execute(WIRE.ddl())
        connection.execute("INSERT INTO wire VALUES ('14 AWG', 2.08, 7, true)")
        for bad in (
            "('14 AWG', 1, 1, true)",
            "('13 AWG', 1, 1, true)",
            "('12 AWG', -1, 1, true)",
            "(NULL, 1, 1, true)",
        ):
            with pytest.raises(duckdb.Error):
                connection.execute(f"INSERT INTO wire VALUES {bad}")
        comment = connection.execute(
            "SELECT data_type, comment FROM duckdb_columns() WHERE table_name = 'wire' AND column_name = 'area_mm2'"
        ).fetchone()
        assert comment == ("DECIMAL(9,3)", "Area. [mm2]")


def test_unchanged_files_keep_their_old_self(tmp_path: Path) -> None:
    old = _folder(tmp_path / "published", same="1\n", other="1\n")
    os.utime(old / "same.csv", (1, 1))
    new = _folder(tmp_path / "new", same="1\n", other="2\n", more="3\n")
    assert replace_folder(new, old) == ["more.csv", "other.csv"]
    assert (old / "same.csv").stat().st_mtime == 1
    assert (old / "other.csv").read_text() == "2\n"
    assert not new.exists()


def test_nothing_moves_when_nothing_changed(tmp_path: Path) -> None:
    old = _folder(tmp_path / "published", same="1\n")
    inode = old.stat().st_ino
    assert replace_folder(_folder(tmp_path / "new", same="1\n"), old) == []
    assert old.stat().st_ino == inode


def test_a_file_that_is_gone_counts_as_a_difference(tmp_path: Path) -> None:
    old = _folder(tmp_path / "published", same="1\n", stale="1\n")
    assert staged_matches(_folder(tmp_path / "new", same="1\n"), old) == ["stale.csv"]
