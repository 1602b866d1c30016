"""A build that is killed, meets another, or cannot write leaves old or new tables, never a mixture.

`JOINTABLE_KILLS=100` in the environment, or `python -m tests.test_robust_build 100`, kills a hundred; by
default a few are killed.
"""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PUBLISHED = ROOT / "published"
DATABASES = ("jointable.duckdb", "jointable.sqlite")


#: Of processes that cannot write: what measures coverage would try to, and a compiled module that is cut
#: at the limit would stay and be read by the next process.
_ENVIRONMENT = {k: v for k, v in os.environ.items() if not k.startswith("COVERAGE")} | {
    "PYTHONPATH": str(ROOT), "PYTHONDONTWRITEBYTECODE": "1",
}  # fmt: skip


def _hashes(folder: Path) -> dict[str, str]:
    return {
        p.name: hashlib.sha256(p.read_bytes()).hexdigest()
        for p in folder.iterdir()
        if p.name not in DATABASES
    }


def _build(raw: Path, out: Path, limit: int | None = None) -> subprocess.Popen[str]:
    shell = f"ulimit -f {limit}; " if limit else ""
    command = f'{shell}exec "$0" -m pipeline --raw "$1" --published "$2"'
    return subprocess.Popen(
        ["/bin/sh", "-c", command, sys.executable, str(raw), str(out)],
        cwd=ROOT, env=_ENVIRONMENT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def _other_raw(folder: Path) -> Path:
    """A raw folder that gives other tables: the note of one source differs."""
    raw = Path(shutil.copytree(ROOT / "raw", folder / "raw"))
    path = raw / "sources.csv"
    lines = path.read_text("utf-8").splitlines()
    path.write_text("\n".join([*lines[:-1], lines[-1] + " again"]) + "\n", "utf-8")
    return raw


def kill_builds(times: int, folder: Path, seed: int = 7) -> list[float]:
    """Kill so many builds at random moments; the moments, in seconds."""
    chance = random.Random(seed)
    raw = _other_raw(folder)
    started = time.perf_counter()
    first = _build(raw, folder / "new")
    assert first.wait() == 0, first.communicate()
    whole = time.perf_counter() - started
    old, new = _hashes(PUBLISHED), _hashes(folder / "new")
    assert old != new
    target = folder / "target"
    moments = []
    for _ in range(times):
        if not target.exists() or _hashes(target) == new:
            shutil.rmtree(target, ignore_errors=True)
            shutil.copytree(PUBLISHED, target)
        # Half of the moments fall into the last fifth, where the files are written and swapped.
        moment = whole * (chance.uniform(0.8, 1.05) if chance.random() < 0.5 else chance.random())
        moments.append(moment)
        build = _build(raw, target)
        try:
            build.communicate(timeout=moment)
        except subprocess.TimeoutExpired:
            build.send_signal(signal.SIGKILL)
            build.communicate()
        assert _hashes(target) in (old, new), f"a mixture after {moment:.2f} s"
        assert all((target / name).is_file() for name in DATABASES)
    assert _build(raw, target).wait() == 0
    assert _hashes(target) == new
    return moments


def test_a_killed_build_leaves_old_or_new(tmp_path: Path) -> None:
    times = int(os.environ.get("JOINTABLE_KILLS", "2"))
    assert len(kill_builds(times, tmp_path)) == times


def test_two_builds_at_once(tmp_path: Path) -> None:
    builds = [_build(ROOT / "raw", tmp_path / "out") for _ in range(2)]
    for build in builds:
        _, said = build.communicate()
        assert build.returncode == 0, said
    assert _hashes(tmp_path / "out") == _hashes(PUBLISHED)


def test_a_disk_that_takes_no_more(tmp_path: Path) -> None:
    """A limit on the size of a file stands for the full disk: the write fails in the middle."""
    shutil.copytree(PUBLISHED, tmp_path / "out")
    before = _hashes(tmp_path / "out")
    build = _build(_other_raw(tmp_path), tmp_path / "out", limit=400)
    _, said = build.communicate()
    assert build.returncode == 1
    assert "Traceback" not in said
    assert "nothing was published" in said
    assert _hashes(tmp_path / "out") == before
    assert sorted(p.name for p in tmp_path.iterdir() if p.name.startswith(".published-")) == []


@pytest.mark.parametrize("below", ["file/out", "file"])
def test_a_target_that_cannot_be_written(tmp_path: Path, below: str) -> None:
    (tmp_path / "file").write_text("in the way", "utf-8")
    build = _build(ROOT / "raw", tmp_path / below)
    _, said = build.communicate()
    assert build.returncode == 1
    assert "Traceback" not in said
    assert len([line for line in said.splitlines() if not line.endswith("…")]) <= 2
    assert (tmp_path / "file").read_text("utf-8") == "in the way"


@pytest.mark.parametrize(
    "arguments",
    [
        "fill --demo --report a.html",
        "fill --demo --output a.csv",
        "fill --demo --output a.parquet",
        "fill --demo --output a.jsonl",
        "joint 3x12 --svg a.svg",
    ],
)
def test_an_answer_that_cannot_be_written_whole(arguments: str, tmp_path: Path) -> None:
    """The file cannot grow beyond 512 bytes: one line, exit 2, nothing left behind."""
    done = subprocess.run(
        ["/bin/sh", "-c", f'ulimit -f 1; exec "$0" -m jointable {arguments}', sys.executable],
        cwd=tmp_path, env=_ENVIRONMENT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    (line,) = done.stderr.splitlines()
    assert "written" in line
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("arguments", ["fill --demo", "joint 3x12 --json", "sql 'from allowance' --csv"])
def test_no_room_for_standard_output(arguments: str) -> None:
    done = subprocess.run(
        ["/bin/sh", "-c", f'exec "$0" -m jointable {arguments} > /dev/full', sys.executable],
        cwd=ROOT, env=_ENVIRONMENT, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    assert done.returncode == 2
    assert done.stderr == "standard output: cannot be written (No space left on device)\n"


def test_a_reader_who_stops_reading() -> None:
    done = subprocess.run(
        ["/bin/sh", "-c", '"$0" -m jointable sql "from combination" --csv | head -n 1', sys.executable],
        cwd=ROOT, env=_ENVIRONMENT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout.startswith("conductors,")
    assert done.stderr == ""


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        moments = kill_builds(int(sys.argv[1]), Path(name), seed=int(time.time()))
    print(
        f"{len(moments)} builds killed between {min(moments):.1f} and {max(moments):.1f} s: old or new each time"
    )
