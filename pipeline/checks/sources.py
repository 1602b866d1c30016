"""Whether the source that a row names can be its source: its places, its access, its edition."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fnmatch import fnmatchcase

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow
from pipeline.schema import load_raw_schemas

__all__ = ["year_of"]

APART = ("sources", "corrections")
FILES = tuple(stem for stem in load_raw_schemas() if stem not in APART)

#: From the least to the best way in which a row can have been seen.
ACCESS = ("memory", "common practice", "secondary", "original")

_SECTION = r"(?:\d{3}|90)\.\d{1,3}(?:\([A-Z0-9a-z]+\))*"
_SECTIONS = rf"{_SECTION}(?:, (?:{_SECTION}|\([A-Z]\)(?:\(\d\))?))*"
_CLAUSE = r"\d{1,2}\.\d{1,2}(?: [a-f]\))?.*"
_PART_2 = r"\d{1,2}\.1\d{2}(?:\.\d)?.*"

#: How each source numbers its places; the first line that fits a source counts.
PLACES: tuple[tuple[str, str], ...] = (
    ("nfpa-70-table-5-sheet", r"Table 5"),
    ("nfpa-70e", r"[a-z ]+"),
    ("nfpa-70*", rf"(?:Article \d{{3}}|Chapter 9 Table (?:5A?|8)|Table \d{{3}}\.\d+.*|{_SECTIONS}(?:,? (?:first|second|last) (?:paragraph|sentence)| Exception)?)"),
    ("irc-*", r"E\d{4}\.\d+, .*"),
    ("code-quotations", rf"{_SECTION} of the \d{{4}} edition"),
    ("nom-*", r"(?:Table )?\d{1,3}A?(?:-\d{2,3}(?:\([ab]\))?|-3)?(?:, .*)?"),
    ("csa-c22.1-24-guide", r"Table 22 as used in .*"),
    ("csa-c22.1-quotations", r"Table 22 as quoted"),
    ("csa-*", r"Rule 12-3\d{3}(?: \d\))?|Table 2[23]"),
    ("cfr-24", r"3280\.\d+(?:\([a-z]\))*"),
    ("cfr-46", r"\d{3}\.\d+-\d+, \d{3}\.\d+(?:\([a-z0-9]\))*"),
    ("ul-719", r"clause 1\.1|334\.108 of the code and the cable standard"),
    ("ul-486a-486b", r"title|scope|marking|Table \d|summary of the test"),
    ("ul-*", rf"title|scope|base connectors|{_CLAUSE}"),
    ("iec-60998-2-4", r"title|cl(?:ause|\.) 1"),
    ("iec-60998-2-*", rf"title|scope|{_PART_2}"),
    ("iec-60998-1", r"cl(?:ause|\.) 1|part 2-\d|Table 2"),
    ("iec-60999-1", r"(?:Table \((?:pull|flexing)\), )?cl\. 9(?: / 15)?"),
    ("iec-60364-*", r"Annex [A-Z]|Table [A-Z]\.\d+\.\d+.*"),
    ("iec-*", r"Tables? (?:[A-Z]\.)?\d+.*|table of type \d\d|Annex [A-Z].*"),
    ("gost-*", r"table of greatest diameters|Table \d+"),
    ("bs-*", r"Table \d|\d{4} edition as quoted"),
    ("nasa-*", r"\d+\.\d(?: [a-z])?(?:, p\. \d+)?|Table \d+-\d(?: note \d)?, p\. \d+|splice contacts"),
    ("fed-*", r"classification|Type I{1,3}"),
    ("iso-3", r"series R5"),
    ("installation-codes", r"no rule of .*"),
    ("awg-table-?", r"Copper wire table"),
    ("awg-metric-*", r"table of [a-z ]+"),
    ("defined", r"definition of the size classes|envelope model|room model|classes of each family|(?:planned temperature of the )?variants|readings of this project"),
    ("*", r"[^\d]+"),
)  # fmt: skip

#: Places that every standard has, so that one name of a place may belong to several sources.
EVERYWHERE = re.compile(r"title|scope|marking|clause 1|cl\. 1|Tables? \d+|Copper wire table|Rule 12-3034")


def _form(source: str) -> str:
    return next(form for name, form in PLACES if fnmatchcase(source, name))


def _groups(c: Context) -> dict[tuple[str, str, str], list[RawRow]]:
    """Rows by source, place and access."""
    out: dict[tuple[str, str, str], list[RawRow]] = {}
    for stem in FILES:
        for row in c.rows(stem):
            out.setdefault((row.source, row.locator, row.access), []).append(row)
    return out


@check(
    "source-place",
    layer="keys",
    reads=FILES,
    what="the place that a row names is numbered as its source numbers places",
    reason="The code numbers sections 110.14(B), the Mexican law 110-14, UL 486C clauses 10.4, Canada rules 12-3034.",
)
def source_place(c: Context) -> Iterator[Comparison]:
    for (source, place, _), rows in _groups(c).items():
        ok = re.fullmatch(_form(source), place) is not None
        cells = tuple((row, "source") for row in rows)
        yield Comparison(cells, ok, 0.0, f"a source that has a place {place!r}")


@check(
    "source-access",
    layer="keys",
    reads=FILES,
    what="no row was seen better than its source; what this project defines, and nothing else, is original",
)
def source_access(c: Context) -> Iterator[Comparison]:
    best = {row["source"]: row for row in c.rows("sources")}
    for (source, _, access), rows in _groups(c).items():
        most = best[source]["access"] if source in best else "memory"
        ok = ACCESS.index(access) <= ACCESS.index(most) and (access == "original") == (source == "defined")
        # A habit of the trade is no memory of a text, and the other way round.
        ok = ok and (access != "common practice" or most == "common practice")
        cells = tuple((row, "access") for row in rows)
        yield Comparison(cells, ok, 0.0, f"{most} or less, as {source} was seen")


@check(
    "source-same-place",
    layer="keys",
    reads=FILES,
    what="rows of one file that name one place, in one edition, name one source",
)
def source_same_place(c: Context) -> Iterator[Comparison]:
    for stem in FILES:
        places: dict[tuple[str, str], list[RawRow]] = {}
        for row in c.rows(stem):
            if not EVERYWHERE.fullmatch(row.locator):
                edition = row.cells.get("edition") or row.cells.get("edition_from") or ""
                places.setdefault((row.locator, edition), []).append(row)
        for (place, _), rows in places.items():
            if len(rows) > 1:
                named = {row.source for row in rows}
                cells = tuple((row, "source") for row in rows)
                yield Comparison(cells, len(named) == 1, 0.0, f"one source of {place!r}, not {len(named)}")


def year_of(source: RawRow) -> str:
    """The year of the code that a source prints; a law or a code on its model says so in its note."""
    model = re.search(r"NFPA 70-(\d{4})", source["note"])
    return model[1] if model else source["year"]


#: Files whose column `edition` is the year of the code that the row prints.
BY_YEAR = ("nec_fill_rule", "cec_fill_rule", "nec_box_limit", "cec_box_limit", "rule_change")
#: Files that print one edition, named by its year.
OF_YEAR = tuple(stem for stem in FILES if re.search(r"_(?:19|20)\d\d$", stem))


@check(
    "source-edition",
    layer="keys",
    reads=(*BY_YEAR, *OF_YEAR),
    what="the source of a row prints the edition that the row is of",
    reason="The Mexican law follows the model of 2011, the residential code of 2018 that of 2017.",
)
def source_edition(c: Context) -> Iterator[Comparison]:
    years = {row["source"]: year_of(row) for row in c.rows("sources")}
    for stem in (*BY_YEAR, *OF_YEAR):
        for row in c.rows(stem):
            right = years.get(row.source, "")
            edition = row.cells.get("edition", stem[-4:])
            column = "edition" if "edition" in row.cells else "source"
            # A source whose edition is not recorded may print any.
            yield Comparison(
                ((row, column), (row, "source")),
                right in ("", edition),
                0.0,
                f"{right}, as {row.source} prints",
            )
