"""A release: refused without reasons, whole when it holds, and nothing in between; tried in a copy of the tree."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stdout
from datetime import date
from pathlib import Path

import pytest
import yaml

import jointable
from pipeline import release, releases
from pipeline.changes import Change, Reason, Snapshot, breaking, compare, give_reasons
from pipeline.metadata import citation

ROOT = Path(__file__).resolve().parent.parent
#: The version of the library after the release that is tried here.
LIBRARY = releases.bumped(jointable.__version__, "patch")
Tables = dict[str, list[dict[str, str]]]


def _snapshot(tables: Tables, provenance: list[dict[str, str]] | None = None, unit: str = "mm") -> Snapshot:
    layout = {
        name: {"key": ["k"], "columns": {c: ["VARCHAR", unit if c == "v" else ""] for c in rows[0]}}
        for name, rows in tables.items()
    }
    evidence = {
        (p["table"], p["row"], p["column"]): f"{p['origin']}, {p['access']}" for p in provenance or []
    }
    rows = {name: {r["k"]: dict(r) for r in found} for name, found in tables.items()}
    return Snapshot(layout, rows, evidence, {})


def test_each_kind_of_change_is_found() -> None:
    cell = {"table": "t", "row": "a", "column": "v", "origin": "quoted", "access": "memory"}
    old = _snapshot({"t": [{"k": "a", "v": "1"}, {"k": "b", "v": "2"}, {"k": "c", "v": "3"}]}, [cell])
    new = _snapshot(
        {"t": [{"k": "a", "v": "1"}, {"k": "b", "v": "5"}, {"k": "d", "v": "4"}], "u": [{"k": "x"}]},
        [cell | {"access": "secondary"}],
    )
    assert compare(old, old) == []
    assert compare(old, new) == [
        Change("t", "a", "v", "quoted, memory", "quoted, secondary", "provenance"),
        Change("t", "b", "v", "2", "5", "changed"),
        Change("t", "c", "*", "c,3", None, "withdrawn"),
        Change("t", "d", "*", None, "d,4", "added"),
        Change("u", "*", "*", None, "u", "added"),
    ]
    assert (old.memory_values, new.memory_values) == (1, 0)


def test_what_breaks_a_reader() -> None:
    old = _snapshot({"t": [{"k": "a", "v": "1"}]})
    assert breaking(old, _snapshot({"t": [{"k": "a", "v": "1", "w": ""}], "u": [{"k": ""}]})) == []
    assert breaking(old, _snapshot({"t": [{"k": "a"}]})) == ["t: v: the column is gone"]
    assert breaking(old, _snapshot({"u": [{"k": "a"}]})) == ["t: the table is gone"]
    assert breaking(old, _snapshot({"t": [{"k": "a", "v": "1"}]}, unit="in")) == [
        "t: v: VARCHAR in, was VARCHAR mm"
    ]


def test_reasons_are_needed_and_used() -> None:
    changes = [Change("t", "a", "v", "1", "2", "changed"), Change("t", "b", "v", "1", "2", "changed")]
    done, wrong = give_reasons(changes, [Reason(2, "t", "a", "*", "a slip")], "reasons.csv")
    assert [c.reason for c in done] == ["a slip"]
    assert wrong == ["t: b: v: changed: '1' to '2': no reason; add a row to reasons.csv"]
    _, wrong = give_reasons(
        changes, [Reason(2, "t", "*", "v", "a slip"), Reason(3, "x", "*", "*", "y")], "r.csv"
    )
    assert wrong == ["r.csv:3: x, *, *: no such value changed; take the row out or correct it"]
    _, wrong = give_reasons(changes[:1], [Reason(2, "t", "a", "v", "")], "r.csv")
    assert len(wrong) == 2


def test_the_written_files_are_as_written() -> None:
    """CHANGELOG.md and CITATION.cff come from the list of releases."""
    listed = releases.read_releases(ROOT / "pipeline" / "releases.csv")
    changes = releases.read_value_changes(ROOT / "pipeline" / "value_changes.csv")
    assert (ROOT / "CHANGELOG.md").read_text("utf-8") == releases.changelog(listed, changes)
    newest = listed[-1]
    text = citation(newest.data_version, newest.library_version, newest.released)
    assert (ROOT / "CITATION.cff").read_text("utf-8") == text
    cited = yaml.safe_load(text)
    assert cited["cff-version"] == "1.2.0"
    assert {"message", "title", "authors", "version", "date-released", "license"} <= cited.keys()
    assert cited["version"] == newest.data_version
    assert newest.library_version == jointable.__version__


def test_the_version_can_be_pinned(reference: jointable.Reference) -> None:
    assert (
        jointable.open(reference.path, version=reference.data_version).data_version == reference.data_version
    )
    with pytest.raises(jointable.InputError, match=r"holds data .*one of .*or give the path"):
        jointable.open(reference.path, version="1999.1.0")


def _tree_hashes(tree: Path) -> dict[str, str]:
    return {
        str(p.relative_to(tree)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(tree.rglob("*"))
        if p.is_file() and "__pycache__" not in p.parts and not p.name.endswith("-lock")
    }


Command = Callable[..., subprocess.CompletedProcess[str]]


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of what a release needs, in a path with a space, with the archive of a release before."""
    place = tmp_path_factory.mktemp("a tree") / "copy"
    place.mkdir()
    for name in ("raw", "schemas", "pipeline", "jointable", "docs"):
        ignored = shutil.ignore_patterns("__pycache__", "data", "last_release.zip")
        shutil.copytree(ROOT / name, place / name, ignore=ignored)
    shutil.copy(ROOT / "pyproject.toml", place)
    plans: list[release.Plan] = []
    prepare = release.prepare

    def kept(note: str, library: str | None, today: date) -> release.Plan:
        plans.append(prepare(note, library, today))
        return plans[-1]

    said = io.StringIO()
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(said):
        patch.setattr(release, "ROOT", place)
        patch.setattr(release, "prepare", kept)
        assert release.main(["--dry-run"]) == 0
    assert "0 changes" in said.getvalue()  # the first release has nothing before it
    assert not (place / "pipeline" / "last_release.zip").exists()
    plans[0].snapshot.save(place / "pipeline" / "last_release.zip")
    return place


def _release(tree: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    environment = {**os.environ, "PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(
        [sys.executable, "-m", "pipeline.release", *arguments],
        cwd=tree, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip


def _reword(tree: Path) -> None:
    """Another wording of one caution, and of what was keyed of it a second time."""
    for name, old in (
        ("caution.csv", "De-energise, lock"),
        ("second_keying/caution.csv", "De-energise; lock"),
    ):
        path = tree / "raw" / name
        text = path.read_text("utf-8")
        assert text.count(old) == 1
        path.write_text(text.replace(old, old.replace("De-energise", "Switch off")), "utf-8")


def test_refused_then_released(tree: Path) -> None:
    _reword(tree)
    before = _tree_hashes(tree)
    refused = _release(tree)
    assert refused.returncode == 1
    lines = refused.stderr.strip().splitlines()
    assert lines[0].startswith("caution: C1: text: changed: 'De-energise")
    assert lines[0].endswith("no reason; add a row to pipeline/change_reasons.csv")
    assert lines[1].startswith("note: '': what the release brings")
    assert lines[-1] == "no release; nothing was written"
    assert _tree_hashes(tree) == before

    with (tree / "pipeline" / "change_reasons.csv").open("a", encoding="utf-8") as reasons:
        reasons.write("caution,C1,text,plainer words\n")

    done = _release(
        tree, "--note", "One caution in other words.", "--library", "patch", "--date", "2031-02-03"
    )
    assert done.returncode == 0, done.stderr
    schema = releases.read_releases(tree / "pipeline" / "releases.csv")[-1].schema_version
    assert done.stdout.startswith(f"data 2031.2.0, schema {schema}, library {LIBRARY}: 1 changes")
    _released(tree)


def _released(tree: Path) -> None:
    package = json.loads((tree / "published" / "datapackage.json").read_text("utf-8"))
    described = json.loads((tree / "published" / "croissant.json").read_text("utf-8"))
    assert package["version"] == described["version"] == "2031.2.0"
    assert described["datePublished"] == "2031-02-03"
    assert 'version: "2031.2.0"' in (tree / "CITATION.cff").read_text("utf-8")
    assert f'__version__ = "{LIBRARY}"' in (tree / "jointable" / "__init__.py").read_text("utf-8")
    assert f'version = "{LIBRARY}"' in (tree / "pyproject.toml").read_text("utf-8")
    log = (tree / "CHANGELOG.md").read_text("utf-8")
    assert log.index("Data 2031.2.0") < log.index("### Values changed") < log.index("plainer words")
    assert "values known from memory only" in log
    assert "Data version 2031.2.0" in (tree / "docs" / "audit.md").read_text("utf-8")
    with (tree / "published" / "value_change.csv").open(encoding="utf-8", newline="") as rows:
        (row,) = (r for r in csv.DictReader(rows) if r["data_version"] == "2031.2.0")
    assert (row["kind"], row["reason"], row["row_key"]) == ("changed", "plainer words", "C1")
    assert (tree / "pipeline" / "change_reasons.csv").read_text("utf-8").count("\n") == 1
    for line in (tree / "published" / "SHA256SUMS").read_text("utf-8").splitlines():
        digest, name = line.split("  ")
        assert hashlib.sha256((tree / "published" / name).read_bytes()).hexdigest() == digest
    assert [p.name for p in tree.glob(".published-*")] == [".published-lock"]
    first = releases.read_releases(tree / "pipeline" / "releases.csv")[-2]
    with jointable.open(tree / "published" / "jointable.duckdb") as reference:
        assert [r[1] for r in _changes(reference, first.data_version)] == ["caution"]
    pinned = f"it came with jointable=={first.library_version}: install that version"
    with pytest.raises(jointable.InputError, match=pinned):
        jointable.open(tree / "published" / "jointable.duckdb", version=first.data_version)


def _changes(reference: jointable.Reference, since: str) -> list[tuple[object, ...]]:
    from jointable.query import changes

    return changes(reference, since).rows


def test_nothing_to_release(tree: Path) -> None:
    before = _tree_hashes(tree)
    done = _release(tree, "--note", "Nothing.", "--date", "2032-01-01")
    assert done.returncode == 1
    assert "nothing to release" in done.stderr
    assert _tree_hashes(tree) == before


def test_a_build_that_fails_leaves_all_as_it_was(tree: Path) -> None:
    """The tables hold, but the answers do not: the refusal comes after the copy was built."""
    points = tree / "pipeline" / "precomputed" / "verification_point.csv"
    text = points.read_text("utf-8")
    points.write_text(text.replace("20.25", "20.26"), "utf-8")
    before = _tree_hashes(tree)
    done = _release(tree, "--note", "A slip.", "--library", "patch", "--date", "2033-01-01")
    points.write_text(text, "utf-8")
    assert done.returncode == 1
    assert "the answer differs" in done.stderr
    after = _tree_hashes(tree)
    name = str(points.relative_to(tree))
    assert {k: v for k, v in after.items() if k != name} == {k: v for k, v in before.items() if k != name}
