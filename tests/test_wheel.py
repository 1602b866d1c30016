"""The package as others get it: built from the tree, put into an empty environment, used from another folder."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from tests.documents import ROOT, blocks, shell

UV = ROOT / ".tools" / "bin" / "uv"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The wheel and the source archive."""
    folder = tmp_path_factory.mktemp("dist")
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-d", str(folder)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return {"wheel": next(folder.glob("*.whl")), "sdist": next(folder.glob("*.tar.gz"))}


@pytest.fixture(scope="module")
def environment(built: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty environment with the wheel and the hashed requirements of the query library."""
    if not UV.is_file():
        pytest.skip("no uv: `make` sets it up in .tools")
    place = tmp_path_factory.mktemp("a place") / "environment"
    _install(sys.executable, place, built["wheel"])
    return place


def _uv(*arguments: str) -> None:
    done = subprocess.run([str(UV), *arguments], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("version", ["3.12", "3.13", "3.14"])
def test_newer_pythons(version: str, built: dict[str, Path], tmp_path: Path) -> None:
    """The wheel answers on each Python that this system has."""
    if not UV.is_file():
        pytest.skip("no uv: `make` sets it up in .tools")
    python = _python(version)
    if python is None:
        pytest.skip(f"Python {version} is not here")
    _install(python, tmp_path / "environment", built["wheel"])
    code = f"import sys, jointable; assert sys.version.startswith({version!r}); print(len(jointable.open().connectors('3x12').choices))"
    _run(tmp_path / "environment", tmp_path, code)


def _python(version: str) -> str | None:
    """An interpreter that starts: on the path, or in one of the folders that JOINTABLE_PYTHONS names."""
    path = os.pathsep.join((os.environ.get("JOINTABLE_PYTHONS", ""), os.environ["PATH"]))
    found = shutil.which(f"python{version}", path=path)
    if found is None or subprocess.run([found, "-c", "pass"], capture_output=True, check=False).returncode:
        return None
    return found


def _install(python: str, place: Path, wheel: Path) -> None:
    """The wheel and the hashed requirements of the query library, nothing else."""
    _uv("venv", "--quiet", "--python", python, str(place))
    inside = str(place / "bin" / "python")
    requirements = str(ROOT / "requirements" / "library.txt")
    _uv("pip", "install", "--quiet", "--python", inside, "--require-hashes", "-r", requirements)
    _uv("pip", "install", "--quiet", "--python", inside, "--no-deps", "--offline", str(wheel))


def test_the_wheel_holds_the_data_and_the_licences(built: dict[str, Path]) -> None:
    with zipfile.ZipFile(built["wheel"]) as wheel:
        names = {n.partition("/")[2] for n in wheel.namelist()}
        assert wheel.getinfo("jointable/data/jointable.duckdb").file_size > 100_000
        metadata = wheel.read(next(n for n in wheel.namelist() if n.endswith("METADATA"))).decode()
    assert {"data/jointable.duckdb", "data/jointable.sqlite", "demo/schedule.csv", "py.typed"} <= names
    assert {"licenses/LICENSE", "licenses/LICENSE-DATA"} <= names
    assert not any(n.startswith(("raw/", "tests/", "pipeline/")) for n in names)
    needed = {
        line for line in metadata.splitlines() if line.startswith("Requires-Dist") and "extra ==" not in line
    }
    assert {re.split(r"[<>=]", line.split()[1])[0] for line in needed} == {"duckdb", "typer", "rich"}


def test_the_source_archive_builds_the_same_wheel(built: dict[str, Path], tmp_path: Path) -> None:
    with tarfile.open(built["sdist"]) as archive:
        archive.extractall(tmp_path, filter="data")
    (tree,) = tmp_path.iterdir()
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path / "again")],
        cwd=tree, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    (again,) = (tmp_path / "again").glob("*.whl")
    with zipfile.ZipFile(again) as one, zipfile.ZipFile(built["wheel"]) as other:
        assert {(i.filename, i.CRC) for i in one.infolist()} == {
            (i.filename, i.CRC) for i in other.infolist()
        }


def test_readme_runs_from_another_folder(environment: Path, tmp_path: Path) -> None:
    python, ran = [], 0
    for block in blocks(ROOT / "README.md"):
        if block.language in ("csv", "toml") and block.info:
            (tmp_path / block.info).write_text(block.text, "utf-8")
        elif block.language == "sh":
            shell(block, tmp_path, environment / "bin")
            ran += 1
        elif block.language == "python":
            python.append(block.text)
    assert ran >= 1
    assert python
    _run(environment, tmp_path, "\n".join(python))


def test_the_demo_runs_from_the_wheel(environment: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [str(environment / "bin" / "jointable"), "fill", "--demo", "--json"],
        cwd=tmp_path, env=_clean(), capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 1, done.stderr  # some boxes of the demo are overfull on purpose
    answers = json.loads(done.stdout)
    assert len(answers) >= 30
    assert {a["passes"] for a in answers} >= {True, False}


def test_the_extras_are_named(built: dict[str, Path]) -> None:
    with zipfile.ZipFile(built["wheel"]) as wheel:
        metadata = wheel.read(next(n for n in wheel.namelist() if n.endswith("METADATA"))).decode()
    extras = {line.split()[1] for line in metadata.splitlines() if line.startswith("Provides-Extra")}
    assert extras == {"explore", "pipeline", "exact", "spark"}


def test_only_what_the_query_library_needs(environment: Path, tmp_path: Path) -> None:
    """No pipeline, explorer or development part is there, and the data are the package's own."""
    code = (
        "import importlib.util as u, pathlib, sys, jointable\n"
        "names = ('polars', 'pandera', 'frictionless', 'datasette', 'scipy', 'numpy', 'pandas', 'pipeline')\n"
        "assert not [n for n in names if u.find_spec(n)]\n"
        "ref = jointable.open()\n"
        "assert pathlib.Path(sys.prefix) in ref.path.parents, ref.path\n"
        "assert ref.connectors('3x12').choices\n"
    )
    _run(environment, tmp_path, code)


def test_without_the_explorer_the_command_says_what_to_install(environment: Path, tmp_path: Path) -> None:
    done = subprocess.run(
        [str(environment / "bin" / "jointable"), "explore", "--port", "0"],
        cwd=tmp_path, env=_clean(), capture_output=True, text=True, timeout=60, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert "jointable[explore]" in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1


def _clean() -> dict[str, str]:
    return {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "JOINTABLE_DATABASE")}


def _run(environment: Path, folder: Path, code: str) -> None:
    done = subprocess.run(
        [str(environment / "bin" / "python"), "-c", code],
        cwd=folder, env=_clean(), capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
