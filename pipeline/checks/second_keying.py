"""Second keying: files keyed again from the same facts, compared cell by cell.

`raw/second_keying/NAME.csv` holds the key columns of `raw/NAME.csv` and the columns keyed again. Both were
keyed by the same hand from the same reading, so this protects against later slips, not against a misread
source.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from pipeline.checks import Check, Comparison, Context, register
from pipeline.readings import RawRow
from pipeline.schema import ROOT, load_raw_schemas

__all__ = ["FOLDER", "compare", "second_files"]

FOLDER = ROOT / "raw" / "second_keying"


@cache
def second_files(folder: Path = FOLDER) -> Mapping[str, tuple[tuple[str, ...], list[dict[str, str]]]]:
    """Every second file by stem: its columns and its rows."""
    found = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            reader = csv.DictReader(lines)
            found[path.stem] = (tuple(reader.fieldnames or ()), list(reader))
    return found


def compare(stem: str, rows: list[RawRow]) -> Iterator[Comparison]:
    """Compare one raw file with its second keying."""
    columns, again = second_files()[stem]
    key = load_raw_schemas()[stem].primary_key
    second = {tuple(row[c] for c in key): row for row in again}
    for row in rows:
        other = second.pop(tuple(row.printed(c) for c in key), None)
        if other is None:
            yield Comparison(((row, key[0]),), False, 0.0, f"a row that raw/second_keying/{stem}.csv has too")
            continue
        for column in columns:
            if column not in key:
                same = row.printed(column) == other[column]
                yield Comparison(
                    ((row, column),), same, 0.0 if same else 1.0, f"{other[column]!r} as keyed again"
                )
    for missing in second:
        yield Comparison(((rows[-1], key[0]),), False, 0.0, f"a row {','.join(missing)}, as keyed again")


def _check(stem: str) -> Check:
    def run(context: Context) -> Iterator[Comparison]:
        return compare(stem, context.rows(stem))

    return Check(
        f"second-keying-{stem.replace('_', '-')}",
        "second keying",
        (stem,),
        f"raw/{stem}.csv with a second keying of the same figures",
        "exact",
        "Keyed twice by the same hand from the same reading: it shows later slips, not a misread source.",
        run,
    )


for _stem in second_files():
    register(_check(_stem))
