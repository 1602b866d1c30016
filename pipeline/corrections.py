"""The corrections ledger: what is printed stays in raw/; a correction says what it expects to find."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from pipeline.failures import BuildError, Failure
from pipeline.read import RawText
from pipeline.readings import RawRow, row_key
from pipeline.schema import RawSchema

__all__ = ["apply_corrections"]


def apply_corrections(rows: RawText, schemas: Mapping[str, RawSchema]) -> RawText:
    """Replace each misprint by its correction, keeping the printed text beside it.

    Raises:
        BuildError: A correction names a cell that is not there, or no longer finds what it expects.
    """
    ledger = rows.get("corrections", [])
    failures: list[Failure] = []
    out = {stem: list(table) for stem, table in rows.items()}
    places = {
        stem: {row_key(tuple(row[c] for c in schemas[stem].primary_key)): i for i, row in enumerate(table)}
        for stem, table in out.items()
        if stem in {entry["file"] for entry in ledger}
    }
    for entry in ledger:
        index = places.get(entry["file"], {}).get(entry["key"])
        if index is None or entry["column"] not in out[entry["file"]][index].cells:
            failures.append(_missing(entry))
            continue
        row = out[entry["file"]][index]
        if row.printed(entry["column"]) != entry["printed"]:
            failures.append(
                Failure(
                    "raw/corrections.csv",
                    entry.line,
                    "printed",
                    entry["printed"],
                    "correction-expects",
                    f"what raw/{row.file}.csv:{row.line} prints, {row.printed(entry['column'])!r}",
                )
            )
            continue
        out[entry["file"]][index] = _corrected(row, entry)
    if failures:
        raise BuildError(failures)
    return out


def _corrected(row: RawRow, entry: RawRow) -> RawRow:
    column = entry["column"]
    return replace(
        row,
        cells={**row.cells, column: entry["corrected"]},
        as_printed={**row.as_printed, column: row.printed(column)},
    )


def _missing(entry: RawRow) -> Failure:
    return Failure(
        "raw/corrections.csv",
        entry.line,
        "key",
        f"{entry['file']}: {entry['key']}: {entry['column']}",
        "correction-cell",
        "a cell that stands in raw/",
    )
