"""How figures are written: one number of decimals in a computed column, places numbered as the code numbers them."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check

__all__: list[str] = []

#: Columns that were computed and printed to one number of decimals.
COMPUTED = {
    "packing_equal": ("ratio", "density"),
    "packing_unequal": ("radius_closed", "radius_search", "threshold"),
}
#: Texts that cite places, and the articles that the code has.
CITING = {"caution": "clause", "nec_fill_rule": "what"}
ARTICLES = range(90, 841)


@check(
    "computed-decimals",
    layer="keys",
    reads=tuple(COMPUTED),
    what="every figure of a computed column has as many decimals as the others",
)
def computed_decimals(c: Context) -> Iterator[Comparison]:
    for stem, columns in COMPUTED.items():
        for column in columns:
            rows = [row for row in c.rows(stem) if row[column]]
            decimals = [len(row[column].partition(".")[2]) for row in rows]
            usual = max(set(decimals), key=decimals.count, default=0)
            for row, found in zip(rows, decimals, strict=True):
                yield Comparison(((row, column),), found == usual, 0.0, f"{usual} decimals")


@check(
    "places-numbered",
    layer="keys",
    reads=tuple(CITING),
    what="a section of the code is of an article from 90 to 840 and has at most three digits; no clause begins with 0",
    reason="The articles of NFPA 70 begin with 90, those of its chapters 1 to 8 with 100.",
)
def places_numbered(c: Context) -> Iterator[Comparison]:
    for stem, column in CITING.items():
        for row in c.rows(stem):
            text = re.sub(r"\d+ CFR \S+|UL [^;]*|C22\.\d+|NASA\S* \S+|NFPA 70E", " ", row[column])
            places = re.findall(r"(\d+)\.(\d+)", text)
            ok = all(int(article) in ARTICLES and len(section) <= 3 for article, section in places)
            ok = ok and not re.search(r"(?<![\d.])0\d*\.\d", row[column])
            yield Comparison(((row, column),), ok, 0.0, "places such as 110.14(B)")
