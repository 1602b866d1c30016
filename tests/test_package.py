"""The data package as others read it: valid descriptors, and files that hold what they say."""

from __future__ import annotations

import copy
import csv
import hashlib
import json
import re
import shutil
from pathlib import Path
from typing import Any

import duckdb
import pytest
from frictionless import Package, system, validate

ROOT = Path(__file__).resolve().parent.parent
PUBLISHED = ROOT / "published"

#: Types of Table Schema (Data Package v2, "Table Schema", field types).
TYPES = {
    "string", "number", "integer", "boolean", "object", "array", "list", "datetime", "date", "time", "year",
    "yearmonth", "duration", "geopoint", "geojson", "any",
}  # fmt: skip
CONSTRAINTS = {
    "required", "unique", "minLength", "maxLength", "minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum",
    "jsonSchema", "pattern", "enum",
}  # fmt: skip


@pytest.fixture(scope="module")
def package() -> dict[str, Any]:
    """datapackage.json."""
    loaded: dict[str, Any] = json.loads((PUBLISHED / "datapackage.json").read_text("utf-8"))
    return loaded


def problems(package: dict[str, Any]) -> list[str]:
    """What Data Package v2 requires and the descriptor lacks (the standard's sections by name)."""
    out = []
    if package.get("$schema") != "https://datapackage.org/profiles/2.0/datapackage.json":
        out.append("Data Package: $schema names the profile")
    if not package.get("resources"):
        out.append("Data Package: at least one resource")
    for place in ("licenses", "sources"):
        if not package.get(place):
            out.append(f"Data Package: {place}")
    out += [
        "Data Package: a licence has name or path"
        for x in package.get("licenses", ())
        if not {"name", "path"} & x.keys()
    ]
    out += [
        "Data Package: a source has title, path or email"
        for x in package.get("sources", ())
        if not {"title", "path", "email"} & x.keys()
    ]
    names = [r.get("name") for r in package.get("resources", ())]
    if len(set(names)) != len(names):
        out.append("Data Resource: names are unique")
    for r in package.get("resources", ()):
        out += [f"{r.get('name')}: {text}" for text in _resource_problems(r, names)]
    return out


def _resource_problems(r: dict[str, Any], names: list[Any]) -> list[str]:
    out = []
    if not isinstance(r.get("name"), str):
        out.append("Data Resource: name")
    path = r.get("path", "")
    if not path or path.startswith(("/", "~")) or ".." in Path(path).parts:
        out.append("Data Resource: a relative path without ..")
    if not re.fullmatch(r"sha256:[0-9a-f]{64}", r.get("hash", "")):
        out.append("Data Resource: hash with its algorithm")
    if not isinstance(r.get("bytes"), int):
        out.append("Data Resource: bytes")
    fields = r.get("schema", {}).get("fields", [])
    if not fields:
        out.append("Table Schema: fields")
    known = [f.get("name") for f in fields]
    if len(set(known)) != len(known):
        out.append("Table Schema: field names are unique")
    out += [f"Table Schema: type of {f.get('name')}" for f in fields if f.get("type") not in TYPES]
    out += [
        f"Table Schema: constraints of {f.get('name')}"
        for f in fields
        if f.get("constraints", {}).keys() - CONSTRAINTS
    ]
    for name in r.get("schema", {}).get("primaryKey", []):
        if name not in known:
            out.append("Table Schema: primaryKey names a field")
    for key in r.get("schema", {}).get("foreignKeys", []):
        if not set(key["fields"]) <= set(known) or key["reference"].get("resource") not in {*names, "", None}:
            out.append("Table Schema: foreignKeys name fields and a resource")
    return out


def test_the_descriptor_is_valid(package: dict[str, Any]) -> None:
    assert len(package["resources"]) > 40
    assert problems(package) == []
    with system.use_context(trusted=True):
        assert Package.metadata_validate(package) is not None
        assert list(Package.metadata_validate(package)) == []


@pytest.mark.parametrize(
    "harm",
    [
        lambda p: p.pop("resources"),
        lambda p: p["resources"][0].pop("name"),
        lambda p: p["resources"][0].update(path="../x.csv"),
        lambda p: p["resources"][0]["schema"]["fields"][0].update(type="decimal"),
        lambda p: p["resources"][0]["schema"].update(primaryKey=["none"]),
        lambda p: p["licenses"].append({}),
    ],
)
def test_a_bad_descriptor_is_noticed(package: dict[str, Any], harm: Any) -> None:
    worse = copy.deepcopy(package)
    harm(worse)
    assert problems(worse)


def test_published_csv_is_as_described(package: dict[str, Any]) -> None:
    """frictionless reads each file by the descriptor: header, types, keys, foreign keys, constraints."""
    report = validate(str(PUBLISHED / "datapackage.json"), limit_errors=5)
    assert report.stats["tasks"] == len(package["resources"])
    assert report.flatten(["name", "rowNumber", "fieldName", "type", "note"]) == []
    assert report.valid
    rows = {task.name: task.stats.get("rows", 0) for task in report.tasks}
    assert rows == {r["name"]: r["rows"] for r in package["resources"]}


def test_a_wrong_cell_is_noticed(package: dict[str, Any], tmp_path: Path) -> None:
    (resource,) = (copy.deepcopy(r) for r in package["resources"] if r["name"] == "caution")
    text = (PUBLISHED / "caution.csv").read_text("utf-8")
    first = text.splitlines()[1]
    (tmp_path / "caution.csv").write_text(text + first + "\n", "utf-8")
    for name in ("hash", "bytes"):
        del resource[name]
    resource["schema"].pop("foreignKeys", None)
    (tmp_path / "datapackage.json").write_text(json.dumps(package | {"resources": [resource]}), "utf-8")
    report = validate(str(tmp_path / "datapackage.json"))
    assert ("primary-key",) in {tuple(found) for found in report.flatten(["type"])}


def test_hashes_and_sizes(package: dict[str, Any]) -> None:
    for r in package["resources"]:
        data = (PUBLISHED / r["path"]).read_bytes()
        assert r["bytes"] == len(data)
        assert r["hash"] == f"sha256:{hashlib.sha256(data).hexdigest()}"
    listed = dict(
        reversed(line.split("  ")) for line in (PUBLISHED / "SHA256SUMS").read_text("utf-8").splitlines()
    )
    assert listed.keys() == {
        p.name
        for p in PUBLISHED.iterdir()
        if p.suffix not in (".duckdb", ".sqlite") and p.name != "SHA256SUMS"
    }
    for name, digest in listed.items():
        assert hashlib.sha256((PUBLISHED / name).read_bytes()).hexdigest() == digest


def test_every_form_holds_the_same_rows(package: dict[str, Any], tmp_path: Path) -> None:
    # A copy, since connections of one process to one file share their settings, and others lock them.
    copied = shutil.copy(PUBLISHED / "jointable.duckdb", tmp_path)
    with duckdb.connect(str(copied), read_only=True) as connection:
        for r in package["resources"]:
            name, parquet = r["name"], PUBLISHED / r["parquet"]
            both = f"(FROM '{parquet}' EXCEPT ALL FROM {name}) UNION ALL (FROM {name} EXCEPT ALL FROM '{parquet}')"
            assert connection.execute(f"SELECT count(*) FROM ({both})").fetchone() == (0,), name
            assert connection.execute(f"SELECT count(*) FROM {name}").fetchone() == (r["rows"],)
            kinds = {c[1] for c in connection.execute(f"DESCRIBE FROM '{parquet}'").fetchall()}
            assert not kinds & {"DOUBLE", "FLOAT"} or name in ("error_score",), name


def test_croissant_describes_the_same(package: dict[str, Any]) -> None:
    """The Croissant format 1.0: files with checksums, record sets whose fields are columns of them."""
    about = json.loads((PUBLISHED / "croissant.json").read_text("utf-8"))
    assert about["@type"] == "sc:Dataset"
    assert about["conformsTo"] == "http://mlcommons.org/croissant/1.0"
    for name in ("name", "description", "license", "version", "datePublished", "creator", "keywords"):
        assert about.get(name)
    files = {f["@id"]: f for f in about["distribution"]}
    assert files.keys() == {r["path"] for r in package["resources"]}
    for r in package["resources"]:
        assert f"sha256:{files[r['path']]['sha256']}" == r["hash"]
    for record_set in about["recordSet"]:
        with (PUBLISHED / f"{record_set['@id']}.csv").open(encoding="utf-8", newline="") as lines:
            header = next(csv.reader(lines))
        assert [f["source"]["extract"]["column"] for f in record_set["field"]] == header
        known = {f["@id"] for f in record_set["field"]}
        assert {k["@id"] for k in record_set.get("key", [])} <= known
    ids = [x["@id"] for s in about["recordSet"] for x in s["field"]]
    assert len(ids) == len(set(ids))
