"""Bad raw files, each through the command of the build: named by file, line, column, value; nothing published."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.__main__ import main
from pipeline.schema import ROOT, load_raw_schemas
from pipeline.textfiles import wrong_cells

NAME = "nec_314_16_b_2023.csv"
#: The row of 12 AWG, and its line.
ROW, LINE = "12,36.9,2.25,nfpa-70-2023,Table 314.16(B)(1),secondary,", 5


def _row(new: str) -> Callable[[str], bytes]:
    return lambda text: text.replace(ROW, new, 1).encode()


#: What went wrong: how the file changes, the line and the words that the message must have.
BAD: dict[str, tuple[Callable[[str], bytes], int, tuple[str, ...]]] = {
    "wrong header": (
        lambda text: text.replace("volume_in3", "volume_in", 1).encode(),
        1,
        ("volume_in", "raw-header", "size,volume_cm3,volume_in3,source,locator,access,note"),
    ),
    "ragged row": (_row(ROW.replace("2.25,", "")), LINE, ("7 cells, not 6",)),
    "wrong encoding": (
        lambda text: text.replace(ROW, ROW + "r\u00e9sum\u00e9", 1).encode("latin-1"),
        LINE,
        ("raw-encoding", "UTF-8"),
    ),
    "thousands separator": (
        _row(ROW.replace("36.9", '"1,036.9"')),
        LINE,
        ("volume_cm3", "'1,036.9'", "raw-form", "a number"),
    ),
    "non-breaking space": (
        _row(ROW.replace("36.9", "36.9\u00a0")),
        LINE,
        ("volume_cm3", r"'36.9\xa0'", "raw-form", "a number"),
    ),
    "unit in the cell": (
        _row(ROW.replace("2.25", "2.25 in3")),
        LINE,
        ("volume_in3", "'2.25 in3'", "raw-form", "a number with a decimal point"),
    ),
    "duplicate key": (
        _row(ROW + "\n" + ROW),
        LINE + 1,
        ("size", "'12'", "raw-key", f"also on line {LINE}"),
    ),
    "unknown source": (
        _row(ROW.replace("nfpa-70-2023", "nfpa-70-2032")),
        LINE,
        ("source", "'nfpa-70-2032'", "source-known"),
    ),
    "free text for a source": (
        _row(ROW.replace("nfpa-70-2023", "the code book")),
        LINE,
        ("source", "'the code book'", "source-known"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("wrong", sorted(BAD))
def test_a_bad_raw_file_is_named_and_nothing_is_published(
    wrong: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    change, line, said = BAD[wrong]
    raw = tmp_path / "raw"
    shutil.copytree(ROOT / "raw", raw)
    true = (raw / NAME).read_text("utf-8")
    assert true.splitlines()[LINE - 1] == ROW
    (raw / NAME).write_bytes(change(true))
    assert main(["--raw", str(raw), "--published", str(tmp_path / "out")]) == 1
    told = [text for text in capsys.readouterr().err.splitlines() if text.startswith(f"raw/{NAME}:{line}: ")]
    assert told
    assert any(all(words in text for words in said) for text in told), told
    assert not (tmp_path / "out").exists()


def test_a_source_that_nothing_cites_stops_the_build(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    raw = tmp_path / "raw"
    shutil.copytree(ROOT / "raw", raw)
    sources = (raw / "sources.csv").read_text("utf-8")
    columns = sources.splitlines()[0].count(",") + 1
    row = sources.splitlines()[1].split(",")
    unused = ["unused-book", "A book", "", "", "", row[5], *[""] * (columns - 8), "secondary", ""]
    (raw / "sources.csv").write_text(sources + ",".join(unused) + "\n", "utf-8")
    assert main(["--raw", str(raw), "--published", str(tmp_path / "out")]) == 1
    assert "source-used" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_a_file_that_changed_is_read_again(tmp_path: Path) -> None:
    """Frictionless reads the same bytes once; what was found in them is not said of others."""
    schema, path = load_raw_schemas()[NAME.removesuffix(".csv")], tmp_path / NAME
    true = (ROOT / "raw" / NAME).read_text("utf-8")
    for _ in range(2):
        path.write_text(true, "utf-8")
        assert wrong_cells(path, schema) == []
        path.write_bytes(BAD["unit in the cell"][0](true))
        (told,) = wrong_cells(path, schema)
        assert str(told).startswith(f"raw/{NAME}:{LINE}: volume_in3: '2.25 in3': raw-form")
