"""`python -m pipeline.release`: compare with the last release, give it numbers, build, verify, write.

Everything happens in a copy of the tree; what it gives is moved into place only when all of it holds.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from jointable.reference import SCHEMA_VERSIONS
from pipeline.build import assemble
from pipeline.changes import Change, Snapshot, breaking, compare, give_reasons, read_reasons
from pipeline.failures import BuildError
from pipeline.lock import locked
from pipeline.metadata import citation
from pipeline.publish import replace_folder
from pipeline.releases import (
    Release,
    bumped,
    changelog,
    next_version,
    read_releases,
    read_value_changes,
    releases_csv,
    value_changes_csv,
)
from pipeline.schema import ROOT, load_schemas

__all__ = ["RefusedError", "main", "prepare"]

RELEASES = "pipeline/releases.csv"
CHANGES = "pipeline/value_changes.csv"
REASONS = "pipeline/change_reasons.csv"
LAST = "pipeline/last_release.zip"
AUDIT = ("docs/audit.md", "docs/audit.html")
_REASONS_HEADER = "table_name,row_key,column_name,reason\n"
#: Where the version of the library stands.
_VERSIONED = {
    "pyproject.toml": r'^version = "([^"]+)"$',
    "jointable/__init__.py": r'^__version__ = "([^"]+)"$',
}
#: What a build in a copy needs.
_COPIED = ("raw", "schemas", "pipeline", "jointable", "docs", "pyproject.toml")
#: Lines shown of a refusal.
_MOST_LINES = 200


class RefusedError(Exception):
    """The release does not hold; one line for each thing that is wrong."""

    def __init__(self, lines: list[str]) -> None:
        super().__init__("\n".join(lines))
        self.lines = lines


@dataclass(frozen=True, slots=True)
class Plan:
    """A release that holds: its row, what changed, and the new text of each file."""

    release: Release
    changes: list[Change]
    snapshot: Snapshot
    files: Mapping[str, str]


def prepare(note: str, library: str | None, today: date) -> Plan:
    """Compare the tables of the tree with the last release.

    Args:
        note: What the release brings, in a line; the first release has one already.
        library: The part of the library's version to raise, or None.
        today: The day of the release.

    Returns:
        The plan; nothing is written.

    Raises:
        RefusedError: A value changed without a reason, or nothing changed.
        BuildError: The tables themselves do not hold.
    """
    new = Snapshot.of(assemble(ROOT / "raw", lambda _: None), load_schemas())
    releases = read_releases(ROOT / RELEASES)
    if not (ROOT / LAST).is_file():
        first = replace(
            releases[-1], released=today.isoformat(), note=note or releases[-1].note,
            memory_values=str(new.memory_values),
        )  # fmt: skip
        return _plan(first, [], new, [*releases[:-1], first])
    old = Snapshot.load(ROOT / LAST)
    changes, wrong = give_reasons(compare(old, new), read_reasons(ROOT / REASONS), REASONS)
    broken = breaking(old, new)
    schema = int(releases[-1].schema_version) + bool(broken)
    if not note:
        wrong.append("note: '': what the release brings, in a line; make release NOTE=\"…\"")
    if not changes and library is None:
        wrong.append(
            "no value changed, and no part of the library's version is to be raised: nothing to release"
        )
    if broken and schema not in SCHEMA_VERSIONS:
        wrong += [f"schemas/{line}: breaks a reader of schema {schema - 1}" for line in broken]
        wrong.append(f"jointable/reference.py: SCHEMA_VERSIONS: {SCHEMA_VERSIONS}: say that {schema} is read")
    try:
        version = next_version(releases[-1].data_version, today)
    except ValueError as error:
        wrong.append(f"date: {error}")
    if wrong:
        raise RefusedError(wrong)
    release = Release(
        version, str(schema), today.isoformat(), note,
        bumped(releases[-1].library_version, library), str(new.memory_values),
    )  # fmt: skip
    return _plan(release, changes, new, [*releases, release])


def _plan(release: Release, changes: list[Change], new: Snapshot, releases: list[Release]) -> Plan:
    all_changes = read_value_changes(ROOT / CHANGES) + [(release.data_version, c) for c in changes]
    files = {
        RELEASES: releases_csv(releases),
        CHANGES: value_changes_csv(all_changes),
        REASONS: _REASONS_HEADER,
        "CHANGELOG.md": changelog(releases, all_changes),
        "CITATION.cff": citation(release.data_version, release.library_version, release.released),
    }
    for name, pattern in _VERSIONED.items():
        text = (ROOT / name).read_text("utf-8")
        found = re.search(pattern, text, re.MULTILINE)
        if found is None:
            raise RefusedError([f"{name}: the version of the library is not there"])
        files[name] = text[: found.start(1)] + release.library_version + text[found.end(1) :]
    return Plan(release, changes, new, files)


def carry_out(plan: Plan, step: Callable[[str], None]) -> None:
    """Build and verify in a copy of the tree, then move everything into place.

    Raises:
        RefusedError: The build or its verification fails; nothing has been written.
    """
    with locked(ROOT / "published"), _copy() as copy:
        for name, text in plan.files.items():
            (copy / name).write_text(text, "utf-8")
        plan.snapshot.save(copy / LAST)
        step("build")
        _run(copy, "pipeline")
        step("verify")
        _run(copy, "pipeline.points", "--check")
        _run(copy, "pipeline", "--verify")
        _run(copy, "pipeline.audit")
        step("move into place")
        with _undone_on_error([*plan.files, LAST, *AUDIT]):
            for name in (*plan.files, LAST, *AUDIT):
                os.replace(copy / name, ROOT / name)
            replace_folder(copy / "published", ROOT / "published")


@contextmanager
def _copy() -> Iterator[Path]:
    """A copy of the tree beside it, on the same file system so that its files can be moved."""
    copy = Path(tempfile.mkdtemp(prefix=".published-", dir=ROOT))
    copy.chmod(0o755)
    try:
        for name in _COPIED:
            if (ROOT / name).is_dir():
                shutil.copytree(
                    ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", "data")
                )
            else:
                shutil.copy2(ROOT / name, copy / name)
        yield copy
    finally:
        shutil.rmtree(copy, ignore_errors=True)


def _run(copy: Path, module: str, *arguments: str) -> None:
    environment = {**os.environ, "PYTHONPATH": str(copy), "PYTHONDONTWRITEBYTECODE": "1"}
    environment.pop("JOINTABLE_DATABASE", None)
    done = subprocess.run(
        [sys.executable, "-m", module, *arguments],
        cwd=copy, env=environment, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if done.returncode:
        raise RefusedError([line for line in done.stderr.splitlines() if not line.endswith("…")])


@contextmanager
def _undone_on_error(names: list[str]) -> Iterator[None]:
    """Put the old files back when anything goes wrong between the first and the last of them."""
    old = {name: (ROOT / name).read_bytes() if (ROOT / name).is_file() else None for name in names}
    try:
        yield
    except BaseException:
        for name, data in old.items():
            if data is None:
                (ROOT / name).unlink(missing_ok=True)
            else:
                (ROOT / name).write_bytes(data)
        raise


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; 0 released, 1 refused and nothing written, 2 wrong usage."""
    options = _parser().parse_args(arguments)
    try:
        plan = prepare(options.note.strip(), options.library, options.date)
        if options.dry_run:
            for change in plan.changes:
                print(f"{change}: {change.reason}")
        else:
            carry_out(plan, lambda name: print(f"{name} …", file=sys.stderr, flush=True))
    except (RefusedError, BuildError) as error:
        lines = str(error).splitlines()
        more = [f"and {len(lines) - _MOST_LINES} more"] if len(lines) > _MOST_LINES else []
        print(*lines[:_MOST_LINES], *more, "no release; nothing was written", sep="\n", file=sys.stderr)
        return 1
    except OSError as error:
        print(f"{error.filename or ROOT}: {error.strerror or error}; nothing was written", file=sys.stderr)
        return 1
    r = plan.release
    print(
        f"data {r.data_version}, schema {r.schema_version}, library {r.library_version}: "
        f"{len(plan.changes):,} changes, {int(r.memory_values):,} values known from memory only"
    )
    return 0


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="python -m pipeline.release", description=__doc__)
    parser.add_argument("--note", default="", help="what the release brings, in a line")
    parser.add_argument("--library", choices=("patch", "minor", "major"), help="raise the library's version")
    parser.add_argument("--date", type=date.fromisoformat, default=date.today(), help="the day (YYYY-MM-DD)")
    parser.add_argument("--dry-run", action="store_true", help="say what changed; write nothing")
    return parser


if __name__ == "__main__":
    sys.exit(main())
