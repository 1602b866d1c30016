"""Second keying: files keyed again from the same facts, compared cell by cell.

`raw/second_keying/NAME.csv` holds the key columns of `raw/NAME.csv` and the columns keyed again. A column
keyed again under its own name must be the same text. One with `_has` behind its name holds, parted by
semicolons, the words and figures that the cell must have, since our words for a fact differ each time they
are written; every figure of the cell must be among them.

Both files were keyed by the same hand from the same reading: this protects against later slips, not against
a misread source. The figures of the envelope model have no other text than the raw file itself.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from pipeline.checks import Check, Comparison, Context, register
from pipeline.readings import RawRow
from pipeline.schema import ROOT, load_raw_schemas

__all__ = ["FOLDER", "HAS", "compare", "second_files"]

FOLDER = ROOT / "raw" / "second_keying"
HAS = "_has"

Second = tuple[tuple[str, ...], list[dict[str, str]]]


@cache
def second_files(folder: Path = FOLDER) -> Mapping[str, Second]:
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
    schema = load_raw_schemas()[stem]
    key = schema.primary_key
    strange = {name.removesuffix(HAS) for name in columns} - set(schema.names) | set(key) - set(columns)
    if strange:
        yield Comparison(
            ((rows[0], key[0]),),
            False,
            0.0,
            f"raw/second_keying/{stem}.csv with columns of raw/{stem}.csv, not {', '.join(sorted(strange))}",
        )
        return
    second = {tuple(row[c] for c in key): row for row in again}
    for row in rows:
        other = second.pop(tuple(row.printed(c) for c in key), None)
        if other is None:
            yield Comparison(((row, key[0]),), False, 0.0, f"a row that raw/second_keying/{stem}.csv has too")
            continue
        for name in columns:
            if name not in key:
                column = name.removesuffix(HAS)
                text, keyed = row.printed(column), other[name]
                same = _has(text, keyed) if name.endswith(HAS) else text == keyed
                yield Comparison(((row, column),), same, 0.0 if same else 1.0, f"{keyed!r} as keyed again")
        yield Comparison(tuple((row, c) for c in key), True, 0.0)
    for missing in second:
        yield Comparison(((rows[-1], key[0]),), False, 0.0, f"a row {','.join(missing)}, as keyed again")


def _has(text: str, keyed: str) -> bool:
    """Whether a text has all that was keyed, and no figure beside."""
    parts = keyed.split("; ") if keyed else []
    figures = set(re.findall(r"\d+(?:[./-]\d+)*", text))
    known = set(re.findall(r"\d+(?:[./-]\d+)*", keyed))
    return bool(text) == bool(keyed) and figures <= known and all(p.lower() in text.lower() for p in parts)


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
