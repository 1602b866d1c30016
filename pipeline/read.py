"""Reading raw/: text in, rows of text out, each with its line; anything unexpected is one clear line."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path

from pipeline.failures import BuildError, Failure
from pipeline.readings import RawRow, row_key
from pipeline.schema import RawSchema
from pipeline.textfiles import wrong_cells

__all__ = ["RawText", "check_rows", "parse_csv", "read_raw", "unknown_sources"]

#: stem -> rows before any correction
RawText = dict[str, list[RawRow]]


def read_raw(folder: Path, schemas: Mapping[str, RawSchema]) -> RawText:
    """Read every raw file and hold it against its schema.

    Args:
        folder: The folder that holds one CSV per schema.
        schemas: The raw schemas by stem.

    Returns:
        The rows of every file by stem.

    Raises:
        BuildError: A file is missing, unknown, or holds anything its schema does not allow.
    """
    failures = [
        Failure(
            f"raw/{path.name}",
            None,
            "-",
            path.stem,
            "raw-file",
            f"a file with a schema schemas/raw/{path.stem}.yaml",
        )
        for path in sorted(folder.glob("*.csv"))
        if path.stem not in schemas
    ]
    rows: RawText = {}
    for stem, schema in schemas.items():
        try:
            rows[stem] = parse_csv(folder / f"{stem}.csv", schema)
        except BuildError as error:
            failures += error.failures
            continue
        # Frictionless holds the text against form and type first; keys are looked at in what passes.
        failures += wrong_cells(folder / f"{stem}.csv", schema) or check_rows(rows[stem], schema)
    failures += unknown_sources(rows)
    if failures:
        raise BuildError(failures)
    return rows


def parse_csv(path: Path, schema: RawSchema) -> list[RawRow]:
    """Read one file into rows of text; form is not looked at yet."""
    name = f"raw/{path.name}"
    text = _decode(path, name)
    parsed = list(_records(text, name))
    if not parsed:
        raise BuildError(
            [Failure(name, 1, "-", "", "raw-header", "a header line: " + ",".join(schema.names))]
        )
    line, header = parsed[0]
    if tuple(header) != schema.names:
        wrong = next(
            (h for h, s in zip(header, schema.names, strict=False) if h != s), header[-1] if header else ""
        )
        raise BuildError(
            [
                Failure(
                    name,
                    line,
                    wrong or "-",
                    ",".join(header),
                    "raw-header",
                    "the header " + ",".join(schema.names),
                )
            ]
        )
    failures = [
        Failure(name, at, "-", ",".join(cells), "raw-row", f"{len(header)} cells, not {len(cells)}")
        for at, cells in parsed[1:]
        if len(cells) != len(header)
    ]
    if len(parsed) == 1:
        failures.append(Failure(name, 2, "-", "", "raw-row", "at least one row"))
    if failures:
        raise BuildError(failures)
    return [RawRow(path.stem, at, dict(zip(header, cells, strict=True))) for at, cells in parsed[1:]]


def check_rows(rows: list[RawRow], schema: RawSchema) -> list[Failure]:
    """Every cell that does not have the form its schema asks for, and every key that stands twice."""
    failures: list[Failure] = []
    seen: dict[tuple[str, ...], int] = {}
    for row in rows:
        for field in schema.fields:
            expected = field.problem(row[field.name])
            if expected:
                failures.append(
                    Failure(
                        f"raw/{row.file}.csv", row.line, field.name, row[field.name], "raw-form", expected
                    )
                )
        key = tuple(row[column] for column in schema.primary_key)
        if key in seen:
            failures.append(
                Failure(
                    f"raw/{row.file}.csv",
                    row.line,
                    ",".join(schema.primary_key),
                    row_key(key),
                    "raw-key",
                    f"a key that stands once; it is also on line {seen[key]}",
                )
            )
        seen.setdefault(key, row.line)
    if schema.rows is not None and len(rows) != schema.rows and not failures:
        failures.append(
            Failure(
                f"raw/{rows[-1].file}.csv",
                rows[-1].line,
                "-",
                f"{len(rows)} rows",
                "raw-rows",
                f"{schema.rows} rows, the number that schemas/raw/{schema.name}.yaml states of the printed table",
            )
        )
    return failures


def _decode(path: Path, name: str) -> str:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise BuildError(
            [Failure(name, None, "-", "", "raw-file", f"a readable file ({error.strerror})")]
        ) from None
    if data.startswith(b"\xef\xbb\xbf"):
        raise BuildError(
            [Failure(name, 1, "-", "\\ufeff", "raw-encoding", "UTF-8 without a byte order mark")]
        )
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise BuildError(
            [Failure(name, line, "-", repr(data[error.start : error.end]), "raw-encoding", "UTF-8 text")]
        ) from None


def _records(text: str, name: str) -> Iterator[tuple[int, list[str]]]:
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    try:
        for cells in reader:
            if cells:
                yield line, cells
            line = reader.line_num + 1
    except csv.Error as error:
        raise BuildError([Failure(name, line, "-", "", "raw-csv", f"well-formed CSV ({error})")]) from None


def unknown_sources(rows: RawText, unused: bool = True) -> list[Failure]:
    """Rows that name a source that is not in the bibliography, and sources that no row names."""
    known = {row["source"] for row in rows.get("sources", [])}
    used: set[str] = set()
    failures = []
    for stem, table in rows.items():
        if stem in ("sources", "corrections"):
            used.update(row["source"] for row in table if stem == "corrections")
            continue
        for row in table:
            used.add(row["source"])
            if row["source"] not in known:
                failures.append(
                    Failure(
                        f"raw/{stem}.csv",
                        row.line,
                        "source",
                        row["source"],
                        "source-known",
                        "the id of a row of raw/sources.csv",
                    )
                )
    if not unused:
        return failures
    failures += [
        Failure(
            "raw/sources.csv",
            row.line,
            "source",
            row["source"],
            "source-used",
            "a source that some row of raw/ names",
        )
        for row in rows.get("sources", [])
        if row["source"] not in used
    ]
    return failures
