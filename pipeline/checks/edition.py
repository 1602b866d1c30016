"""Editions: names, years, titles, and whether the text of each was read."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

from pipeline.checks import Cell, Comparison, Context, check
from pipeline.checks.sources import year_of
from pipeline.readings import RawRow

__all__: list[str] = []

#: The rules that each code prints, by its short name.
RULES = {"nec": "nec_fill_rule", "cec": "cec_fill_rule"}
#: Sources of each code that print one edition.
PRINTS = {"nec": "nfpa-70-", "cec": "csa-c22.1-"}
#: Where the body that keeps a code stands.
HOME = {
    "nec": "United States", "cec": "Canada", "iec": "international", "bs": "United Kingdom", "din": "Germany",
    "nf": "France", "as": "Australia and New Zealand", "nen": "Netherlands", "cei": "Italy", "sn": "Switzerland",
}  # fmt: skip


@check(
    "edition-name",
    layer="keys",
    reads=("edition",),
    what="the name of an edition is that of its code, and its year where one is stated; the title spells it out",
)
def edition_name(c: Context) -> Iterator[Comparison]:
    for row in c.rows("edition"):
        name, code, year = row["edition"], row["code"], row["year"]
        stem = name.removesuffix(f"-{year}") if year else name
        ok = stem.split("-")[0] == code and (
            name == f"{stem}-{year}" if year else not re.search(r"-(?:19|20)\d\d$", name)
        )
        yield Comparison(
            ((row, "year"), (row, "edition"), (row, "code")), ok, 0.0, f"the year at the end of {name}"
        )
        if code in RULES:
            initials = "".join(re.findall(r"\b[A-Z]", row["title"])[:3]).lower()
            named = row["title"].rpartition("(")[2].rstrip(")").replace(" ", "-").lower() + "-"
            ok = initials == code == stem and row.source.startswith(named) and named == PRINTS[code]
            cells = ((row, "title"), (row, "code"))
            yield Comparison(
                cells, ok, 0.0, f"a title that {code} stands for, with the number of {row.source}"
            )
        else:
            spelt = re.sub(r"[^a-z0-9]+", "-", row["title"].lower())
            ok = spelt.endswith(f"-{stem}-")
            yield Comparison(
                ((row, "title"), (row, "edition")),
                ok,
                0.0,
                f"a title that ends with the designation of {stem}",
            )


@check(
    "edition-home",
    layer="keys",
    reads=("edition",),
    what="a code belongs to the country of the body that keeps it",
)
def edition_home(c: Context) -> Iterator[Comparison]:
    for row in c.rows("edition"):
        right = HOME.get(row["code"], "")
        yield Comparison(((row, "jurisdiction"), (row, "code")), row["jurisdiction"] == right, 0.0, right)


@check(
    "edition-basis",
    layer="cross-check",
    reads=("edition", *RULES.values()),
    what="an edition was read if rules of its year are held, is inferred if it lies between two that were, else it has no rule",
)
def edition_basis(c: Context) -> Iterator[Comparison]:
    read = {code: _read_years(c, code) for code in RULES}
    for row in c.rows("edition"):
        years = read.get(row["code"], {})
        if not years:
            right, rule = "not read", "false"
        elif row["year"] in years:
            right, rule = "read", "true"
        else:
            right, rule = "inferred", "true"
        cells: tuple[Cell, ...] = ((row, "basis"), (row, "code"), (row, "year"))
        cells += ((years[row["year"]], "edition"),) if row["year"] in years else ()
        yield Comparison(cells, row["basis"] == right, 0.0, right)
        yield Comparison(((row, "has_volume_rule"), (row, "code")), row["has_volume_rule"] == rule, 0.0, rule)
        if right == "inferred" and row["year"]:
            within = min(years) < row["year"] < max(years)
            yield Comparison(
                ((row, "year"), *((r, "edition") for r in years.values())),
                within,
                0.0,
                "a year between two that were read",
            )


def _read_years(c: Context, code: str) -> dict[str, RawRow]:
    """Years of a code of which the rule for the plain conductor is held: it heads every edition."""
    return {row["edition"]: row for row in c.rows(RULES[code]) if row["rule"] == "conductor"}


@check(
    "edition-source",
    layer="keys",
    reads=("edition",),
    what="an edition that was read names its own print; an inferred one the nearest print, the earlier of two as near",
)
def edition_source(c: Context) -> Iterator[Comparison]:
    prints = {row["source"]: year_of(row) for row in c.rows("sources")}
    for row in c.rows("edition"):
        prefix = PRINTS.get(row["code"])
        if prefix is None:
            yield Comparison(
                ((row, "source"),), row.source == "installation-codes", 0.0, "installation-codes"
            )
            continue
        # Sources that print one edition end in its year, whole or short.
        own = {y: s for s, y in prints.items() if y and re.fullmatch(re.escape(prefix) + r"(?:20)?\d\d", s)}
        held = {
            y: s
            for y, s in own.items()
            if any(r["year"] == y and r["basis"] == "read" for r in c.rows("edition"))
        }
        if not row["year"] or not held:
            yield Comparison(((row, "year"),), False, 0.0, "a year")
            continue
        nearest = min(held, key=lambda y: (abs(int(y) - int(row["year"])), y))
        yield Comparison(((row, "source"), (row, "year")), row.source == held[nearest], 0.0, held[nearest])


@check(
    "edition-ladder",
    layer="cross-check",
    reads=("edition",),
    what="editions of one code follow each other by three years",
    reason="Both codes appear every third year.",
)
def edition_ladder(c: Context) -> Iterator[Comparison]:
    for code in RULES:
        rows = sorted(
            (r for r in c.rows("edition") if r["code"] == code and r["year"]), key=lambda r: int(r["year"])
        )
        for before, row in itertools.pairwise(rows):
            apart = int(row["year"]) - int(before["year"])
            yield Comparison(
                ((row, "year"), (before, "year")), apart == 3, 0.0, f"three years after {before['year']}"
            )
