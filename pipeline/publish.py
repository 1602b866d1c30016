"""Publishing: everything is written beside, compared with what stands there, and moved in one step."""

from __future__ import annotations

import ctypes
import hashlib
import json
import os
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pipeline.database import create_statements, load_order, write_duckdb
from pipeline.frames import Row, canonical_csv, typed_frame, validate_frame
from pipeline.metadata import croissant
from pipeline.package import LICENCE, descriptor
from pipeline.schema import TableSchema
from pipeline.twin import write_sqlite

__all__ = ["replace_folder", "sha256", "stage", "staged_matches"]

#: The parts of published/ that are built but not committed; they are told by their content hashes.
DATABASES = ("jointable.duckdb", "jointable.sqlite")
PACKAGE = "datapackage.json"
CROISSANT = "croissant.json"
SUMS = "SHA256SUMS"

_EXCHANGE = 2  # RENAME_EXCHANGE of renameat2(2)
_AT_FDCWD = -100


def sha256(data: bytes) -> str:
    """The SHA-256 of some bytes as hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def stage(
    folder: Path, tables: Mapping[str, list[Row]], schemas: Mapping[str, TableSchema], old: Path
) -> None:
    """Write a whole published/ into an empty folder.

    Args:
        folder: The empty folder.
        tables: Canonical rows of every published table.
        schemas: The published schemas.
        old: What is published now; a database whose content is unchanged is taken from there.
    """
    hashes: dict[str, str] = {}
    newest = max(tables["release"], key=lambda row: (row[2] or "", row[0] or ""))
    version, released = str(newest[0]), str(newest[2])
    for name, schema in schemas.items():
        data = canonical_csv(tables[name], schema)
        (folder / f"{name}.csv").write_bytes(data)
        hashes[name] = sha256(data)
        frame = typed_frame(tables[name], schema)
        validate_frame(frame, schema)
        frame.write_parquet(
            folder / f"{name}.parquet", compression="zstd", statistics=True, metadata=_about(schema, version)
        )
    fingerprint = sha256(json.dumps([sorted(hashes.items()), create_statements(schemas)]).encode())
    _databases(folder, old, schemas, fingerprint)
    package = descriptor(folder, schemas, hashes, fingerprint, tables, version)
    for name, content in ((PACKAGE, package), (CROISSANT, croissant(folder, schemas, version, released))):
        (folder / name).write_text(json.dumps(content, indent=1, ensure_ascii=False) + "\n", "utf-8")
    (folder / SUMS).write_text(_sums(folder), "utf-8")


def _about(schema: TableSchema, version: str) -> dict[str, str]:
    """What a Parquet file says of itself, so that it can be passed on alone."""
    return {
        "title": schema.title,
        "licence": LICENCE["name"],
        "source": "Jointable reference tables; the table `provenance` names the source of each value",
        "data_version": version,
    }


def _databases(folder: Path, old: Path, schemas: Mapping[str, TableSchema], fingerprint: str) -> None:
    """A DuckDB file differs in bytes from build to build, so an unchanged one is kept."""
    if _fingerprint(old) == fingerprint and all((old / name).is_file() for name in DATABASES):
        for name in DATABASES:
            os.link(old / name, folder / name)
        return
    write_duckdb(folder / DATABASES[0], folder, schemas)
    write_sqlite(folder / DATABASES[1], folder / DATABASES[0], load_order(schemas))


def _fingerprint(folder: Path) -> str | None:
    try:
        package: dict[str, Any] = json.loads((folder / PACKAGE).read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return str(package.get("fingerprint"))


def _sums(folder: Path) -> str:
    names = sorted(p.name for p in folder.iterdir() if p.name not in (*DATABASES, SUMS))
    return "".join(f"{sha256((folder / name).read_bytes())}  {name}\n" for name in names)


def staged_matches(staged: Path, published: Path) -> list[str]:
    """Names of the files that differ between a staged folder and what is published.

    The databases are compared by the fingerprint that the package states of them.
    """
    if not published.is_dir():
        return sorted(p.name for p in staged.iterdir())
    names = {p.name for p in staged.iterdir()} | {p.name for p in published.iterdir()}
    return sorted(name for name in names if _differs(staged / name, published / name))


def _differs(new: Path, old: Path) -> bool:
    if new.name in DATABASES:
        return not old.is_file() or _fingerprint(new.parent) != _fingerprint(old.parent)
    return not new.is_file() or not old.is_file() or new.read_bytes() != old.read_bytes()


def replace_folder(staged: Path, published: Path) -> list[str]:
    """Put a staged folder in the place of the published one, in one step.

    A file that is unchanged keeps its old self, so that only what changed looks changed.

    Returns:
        The names of the files that changed.
    """
    changed = staged_matches(staged, published)
    if not changed:
        shutil.rmtree(staged)
        return []
    if not published.exists():
        os.rename(staged, published)
        return changed
    for path in sorted(published.iterdir()):
        if path.name not in changed and path.is_file():
            (staged / path.name).unlink(missing_ok=True)
            os.link(path, staged / path.name)
    _exchange(staged, published)
    shutil.rmtree(staged)
    return changed


def _exchange(a: Path, b: Path) -> None:
    """Swap two folders in one step where the system can, so that no reader ever finds a mixture."""
    libc = ctypes.CDLL(None, use_errno=True)
    swap = getattr(libc, "renameat2", None)
    if swap is not None and swap(_AT_FDCWD, os.fsencode(a), _AT_FDCWD, os.fsencode(b), _EXCHANGE) == 0:
        return
    aside = b.with_name(b.name + ".old")
    os.rename(b, aside)
    os.rename(a, b)
    os.rename(aside, a)
