"""Imports go one way: the contracts stand in pyproject.toml."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def _lint(tree: Path) -> subprocess.CompletedProcess[str]:
    tool = Path(sys.executable).parent / "lint-imports"
    environment = {**os.environ, "PYTHONPATH": str(tree)}
    return subprocess.run(
        [str(tool), "--no-cache"], cwd=tree, capture_output=True, text=True, check=False, env=environment
    )


def test_layers_import_only_downwards() -> None:
    done = _lint(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr
    assert " 0 broken" in done.stdout
    assert "Contracts: 0 kept" not in done.stdout


def test_an_import_upwards_is_noticed(tmp_path: Path) -> None:
    """The contracts can fail: a copy of the library in which a low module imports the pipeline."""
    for name in ("jointable", "pipeline"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__", "data"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    with (tmp_path / "jointable" / "errors.py").open("a", encoding="utf-8") as module:
        module.write("import pipeline.build\n")
    assert _lint(tmp_path).returncode == 1
