"""A raw file that is not as it should be is rejected with file, line, column, value and the right form."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.failures import BuildError
from pipeline.forms import FORMS
from pipeline.read import read_raw
from pipeline.schema import RawField, RawSchema, load_raw_schemas

WIRE = RawSchema(
    name="wire",
    title="Wire",
    description="Two printed columns.",
    fields=(
        RawField("size", FORMS["size"], "Size."),
        RawField("area", FORMS["decimal"], "Area.", unit="mm2"),
        RawField("source", FORMS["code"], "Source."),
        RawField("locator", FORMS["text"], "Locator."),
        RawField("access", FORMS["text"], "Access.", enum=("secondary", "memory")),
        RawField("note", FORMS["text"], "Note.", required=False),
    ),
    primary_key=("size",),
)
SCHEMAS = {"sources": load_raw_schemas()["sources"], "wire": WIRE}
SOURCES = (
    "source,title,edition,year,publisher,kind,jurisdiction,licence,access,note\n"
    "book,A Book,,,,handbook,,,secondary,\n"
)
HEADER = "size,area,source,locator,access,note"
GOOD = f"{HEADER}\n14,2.08,book,Table 1,secondary,\n12,3.31,book,Table 1,secondary,\n"


def _read(folder: Path, wire: bytes, sources: str = SOURCES) -> None:
    (folder / "sources.csv").write_text(sources, "utf-8")
    (folder / "wire.csv").write_bytes(wire)
    read_raw(folder, SCHEMAS)


def test_good_file_passes(tmp_path: Path) -> None:
    _read(tmp_path, GOOD.encode())


@pytest.mark.parametrize(
    ("wire", "said"),
    [
        (GOOD.replace("area", "areas", 1), "raw/wire.csv:1: areas"),
        (GOOD.replace("size,area", "area,size", 1), "raw-header: the header size,area"),
        (GOOD.replace("12,3.31,", "12,3.31,x,", 1), "raw/wire.csv:3: -"),
        (GOOD.replace(",secondary,\n12", ",secondary\n12", 1), "6 cells, not 5"),
        (GOOD.replace("3.31", "3,310.5"), "raw/wire.csv:3: -"),
        (GOOD.replace("3.31", '"3,310.5"'), "raw/wire.csv:3: area: '3,310.5': raw-form: a number"),
        (GOOD.replace("3.31", "3.31\u00a0"), "raw/wire.csv:3: area: '3.31\\xa0': raw-form"),
        (GOOD.replace("3.31", "3.31 mm2"), "area: '3.31 mm2': raw-form: a number with a decimal point"),
        (GOOD.replace("3.31", ""), "raw/wire.csv:3: area: '': raw-form: a value"),
        (GOOD.replace("12,", "14,", 1), "raw-key: a key that stands once; it is also on line 2"),
        (GOOD.replace("12,3.31,book", "12,3.31,boook"), "source-known"),
        (GOOD.replace("12,3.31", "12.5.1,3.31"), "raw/wire.csv:3: size: '12.5.1'"),
        (
            GOOD.replace("Table 1,secondary", "Table 1,TODO", 1),
            "access: 'TODO': raw-form: one of secondary, memory",
        ),
        (HEADER + "\n", "at least one row"),
        ("", "a header line"),
    ],
)
def test_bad_text_is_named(tmp_path: Path, wire: str, said: str) -> None:
    with pytest.raises(BuildError) as caught:
        _read(tmp_path, wire.encode("utf-8"))
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("wire", "said"),
    [
        (GOOD.encode("utf-16"), "raw-encoding"),
        (GOOD.replace("Table 1", "Tabl\u00e9 1").encode("latin-1"), "raw/wire.csv:2"),
        (b"\xef\xbb\xbf" + GOOD.encode(), "byte order mark"),
        (GOOD.replace("Table 1", '"Table 1', 1).encode(), "raw-csv"),
    ],
)
def test_bad_bytes_are_named(tmp_path: Path, wire: bytes, said: str) -> None:
    with pytest.raises(BuildError) as caught:
        _read(tmp_path, wire)
    assert said in str(caught.value)


def test_unused_source_and_unknown_file_are_named(tmp_path: Path) -> None:
    (tmp_path / "stray.csv").write_text("a\n1\n")
    with pytest.raises(BuildError) as caught:
        _read(tmp_path, GOOD.encode(), SOURCES + "other,Another,,,,handbook,,,secondary,\n")
    assert "source-used" in str(caught.value)
    assert "raw/stray.csv" in str(caught.value)


@pytest.mark.parametrize(
    "rewrite", ['"14","2.08","book","Table 1","secondary",""', "14,2.08,book,Table 1,secondary,"]
)
@pytest.mark.parametrize("ending", ["\n", "\r\n"])
def test_value_preserving_rewrites_pass(tmp_path: Path, rewrite: str, ending: str) -> None:
    lines = [HEADER, "12,3.31,book,Table 1,secondary,", rewrite]
    _read(tmp_path, (ending.join(lines) + ending).encode())
