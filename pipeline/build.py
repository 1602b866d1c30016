"""The build: read, conform, derive, verify, publish; nothing is published unless all of it holds."""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from pipeline import geometry
from pipeline.checks import Context, Outcome, all_checks, run_check
from pipeline.conform import Conformed, conform
from pipeline.corrections import apply_corrections
from pipeline.evidence import evidence_tables
from pipeline.failures import BuildError, Failure
from pipeline.frames import Row, canonical_rows
from pipeline.guard import BROKEN, guarded, unreadable
from pipeline.lock import locked
from pipeline.publish import replace_folder, stage, staged_matches
from pipeline.read import read_raw
from pipeline.readings import Raw
from pipeline.schema import TableSchema, load_raw_schemas, load_schemas
from pipeline.score_record import is_old

__all__ = ["Result", "assemble", "build", "verify", "verify_data"]

Step = Callable[[str], None]

#: How many of the bundles packed in advance each build packs again, and the seed of the draw.
SAMPLE = 12
SEED = 20


@dataclass(frozen=True, slots=True)
class Result:
    """What a build did."""

    tables: int
    rows: int
    checks: int
    changed: tuple[str, ...]


def load(raw_folder: Path, step: Step) -> Raw:
    """Read raw/, hold it against its schemas and apply the corrections ledger."""
    schemas = load_raw_schemas()
    step("read")
    rows = read_raw(raw_folder, schemas)
    _keyed_twice(rows)
    return apply_corrections(rows, schemas)


def _repack(raw_folder: Path, step: Step) -> None:
    """Hold the bundles packed in advance against their inputs, and pack a sample again."""
    rows = geometry.read_table()
    failures = geometry.check_table(rows) or geometry.reprove(rows, SAMPLE, SEED)
    if failures:
        raise BuildError(failures)
    for old in (geometry.stale(), is_old(raw_folder)):
        if old:
            step(old)


def _keyed_twice(rows: Raw) -> None:
    """Compare what was keyed twice before anything else looks at the values."""
    checks = [c for c in all_checks() if c.layer == "second keying"]
    failures = [f for c in checks for f in run_check(c, Context(rows, {})).failures]
    if failures:
        raise BuildError(failures)


def verify_data(raw: Raw, data: Conformed) -> list[Outcome]:
    """Run every check.

    Raises:
        BuildError: Some check failed, or compared nothing.
    """
    context = Context(raw, data.tables, data.readings)
    outcomes = [guarded(check, context) for check in all_checks()]
    failures = [failure for outcome in outcomes for failure in outcome.failures]
    if failures:
        raise BuildError(failures)
    return outcomes


def assemble(raw_folder: Path, step: Step) -> dict[str, list[Row]]:
    """All published tables as canonical rows, verified.

    Raises:
        BuildError: Anything in raw/ is not as it should be.
    """
    schemas = load_schemas()
    raw = load(raw_folder, step)
    step("conform and derive")
    try:
        data = conform(raw, schemas)
    except BROKEN as error:
        raise BuildError(unreadable(raw, error)) from error
    step("verify")
    outcomes = verify_data(raw, data)
    step(f"pack {SAMPLE} bundles again")
    _repack(raw_folder, step)
    evidence = evidence_tables(raw, data, outcomes, all_checks())
    tables = {
        name: canonical_rows(data.tables.get(name, {}).values(), schemas[name])
        for name in schemas
        if name not in evidence
    }
    tables |= {name: canonical_rows(rows, schemas[name]) for name, rows in evidence.items()}
    _covered(tables, schemas)
    return tables


def build(raw_folder: Path, published: Path, step: Step) -> Result:
    """Build published/ from raw/.

    Args:
        raw_folder: The printed tables.
        published: The folder to write; left as it was unless everything holds.
        step: Told the name of each step as it begins.

    Returns:
        What was built and which files changed.

    Raises:
        BuildError: Something does not hold; nothing is published.
        OSError: The folder cannot be written.
    """
    if published.exists() and not published.is_dir():  # told now, not when all is computed
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(published))
    with locked(published):
        tables = assemble(raw_folder, step)
        step("publish")
        with _staging(published) as folder:
            stage(folder, tables, load_schemas(), published)
            changed = replace_folder(folder, published)
    return Result(len(tables), sum(map(len, tables.values())), len(all_checks()), tuple(changed))


def verify(raw_folder: Path, published: Path, step: Step) -> list[str]:
    """Build beside and compare; names of the files that differ. Nothing is written."""
    tables = assemble(raw_folder, step)
    step("compare")
    with tempfile.TemporaryDirectory(prefix="jointable-") as name:
        folder = Path(name) / "published"
        folder.mkdir()
        stage(folder, tables, load_schemas(), Path(name) / "nothing")
        return staged_matches(folder, published)


@contextmanager
def _staging(published: Path) -> Iterator[Path]:
    """An empty folder beside the target, on the same file system so that it can be moved."""
    published.parent.mkdir(parents=True, exist_ok=True)
    folder = Path(tempfile.mkdtemp(prefix=".published-", dir=published.parent))
    folder.chmod(0o755)
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _covered(tables: Mapping[str, list[Row]], schemas: Mapping[str, TableSchema]) -> None:
    """Each data cell has a preferred row of provenance, for itself or for its column, never both."""
    provenance = schemas["provenance"].names
    place = [provenance.index(n) for n in ("table_name", "column_name", "row_key", "reading")]
    cells: dict[tuple[str | None, str | None], set[str | None]] = {}
    for row in tables["provenance"]:
        table, column, key, reading = (row[i] for i in place)
        if reading == "1":
            cells.setdefault((table, column), set()).add(key)
    failures = []
    for name, schema in schemas.items():
        if schema.kind == "reference":
            failures += [
                f
                for column in schema.data_fields
                for f in _uncovered(schema, column.name, tables[name], cells)
            ]
    if failures:
        raise BuildError(failures)


def _uncovered(
    schema: TableSchema,
    column: str,
    rows: list[Row],
    cells: Mapping[tuple[str | None, str | None], set[str | None]],
) -> Iterator[Failure]:
    from pipeline.readings import row_key

    keys = cells.get((schema.name, column), set())
    if "*" in keys:
        if len(keys) > 1:
            yield Failure(
                f"published/{schema.name}.csv",
                None,
                column,
                "*",
                "provenance-once",
                "rows for cells or one for the column, not both",
            )
        return
    at = schema.names.index(column)
    key_at = [schema.names.index(name) for name in schema.primary_key]
    for row in rows:
        key = row_key(tuple(row[i] or "" for i in key_at))
        if row[at] is not None and key not in keys:
            yield Failure(
                f"published/{schema.name}.csv",
                None,
                column,
                key,
                "provenance-present",
                "a preferred row of provenance",
            )
