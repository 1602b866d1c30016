"""Lines of advice, findings and protection of small conductors: what they cite, and figures that follow one another."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

ADVICE, FINDING, LIMIT = "guidance", "finding", "overcurrent_limit"

#: How a clause begins that a source prints.
CITED = {
    "nfpa-70": "NEC ", "nfpa-70-2020": "NEC ", "nfpa-70-2023": "NEC ", "nfpa-70e": "NFPA 70E",
    "cpsc-516": "CPSC publication 516", "cfr-24": "24 CFR ", "ul-486c": "UL 486C ",
    "nasa-std-8739.4": "NASA-STD-8739.4", "common-practice": "common practice", "defined": "C22.1",
}  # fmt: skip

#: Which topic a step or a sort of advice belongs to.
KINDS = {
    "make-up": "before|strip|align|twist|mix|close|test|look",
    "aluminium": "recognise|warning|never|mind|call",
    "electrical": "protection|temperature|voltage|power-limited|scope",
    "wet place": "permitted|preferred|reason",
}


@check(
    "advice-clause",
    layer="cross-check",
    reads=(ADVICE, FINDING),
    what="a line of advice or a finding cites the place where it was read, in the words of that source",
)
def advice_clause(c: Context) -> Iterator[Comparison]:
    for row in (*c.rows(ADVICE), *c.rows(FINDING)):
        begins = row["clause"].startswith(CITED.get(row.source, "?"))
        numbered = re.match(r"\d+\.\d+", row.locator) is not None
        ok = begins and (not numbered or row.locator in row["clause"])
        expected = f"a clause that begins with {CITED.get(row.source, '?')!r} and has {row.locator!r}"
        yield Comparison(((row, "clause"), (row, "source")), ok, 0.0, expected)


@check(
    "advice-kind",
    layer="keys",
    reads=(ADVICE,),
    what="a line is of a kind of its topic, stands once, and goes by edition only where it tells what a clause means",
)
def advice_kind(c: Context) -> Iterator[Comparison]:
    said: dict[str, int] = {}
    for row in c.rows(ADVICE):
        said[row["text"]] = said.get(row["text"], 0) + 1
    for row in c.rows(ADVICE):
        ok = re.fullmatch(KINDS.get(row["topic"], "$^"), row["kind"]) is not None
        ok = ok and (row["topic"] == "electrical") == bool(row["edition_from"]) and said[row["text"]] == 1
        yield Comparison(((row, "kind"), (row, "topic")), ok, 0.0, f"a kind of {row['topic']}")


@check(
    "finding-edition",
    layer="keys",
    reads=(FINDING,),
    what="a finding that ends with an edition is told anew from the next one, no other stands twice, and each has words of its own",
)
def finding_edition(c: Context) -> Iterator[Comparison]:
    found: dict[str, list[RawRow]] = {}
    for row in c.rows(FINDING):
        found.setdefault(row["finding"], []).append(row)
    for column in ("what", "why", "action"):
        texts: dict[str, set[str]] = {}
        for row in c.rows(FINDING):
            texts.setdefault(row[column], set()).add(row["finding"])
        for row in c.rows(FINDING):
            own = len(texts[row[column]]) == 1
            yield Comparison(((row, column),), own, 0.0, "words of its own, whatever the edition")
    for rows in found.values():
        rows.sort(key=lambda r: r["edition_from"])
        ends = [r["edition_to"] for r in rows]
        ok = ends == [""] or (ends == ["nec-2020", ""] and rows[1]["edition_from"] == "nec-2023")
        for row in rows:
            yield Comparison(
                ((row, "edition_to"), (row, "edition_from")), ok, 0.0, "editions that follow on another"
            )


@check(
    "overcurrent-order",
    layer="cross-check",
    reads=(LIMIT,),
    what="of one material and edition the thicker conductor has the greater protection or length; aluminium and "
    "copper-clad go as the copper one size thinner, rounded to a standard rating",
    reason="240.6 has 15, 20, 25 and 30 A; 7 A and 10 A are those of 240.4(D) for 18 and 16 AWG.",
)
def overcurrent_order(c: Context) -> Iterator[Comparison]:
    by_kind: dict[tuple[str, str, str], list[RawRow]] = {}
    for row in c.rows(LIMIT):
        by_kind.setdefault((row["rule"], row["edition_from"], row["material"]), []).append(row)
    standard = {"7", "10", "15", "20", "25", "30", "50"}
    for rows in by_kind.values():
        rows.sort(key=lambda r: -int(r["size"].split()[0]))
        for thin, thick in itertools.pairwise(rows):
            more = int(thin["greatest_a"] or 0) < int(thick["greatest_a"] or 0)
            more = more or (
                thin["greatest_a"] == thick["greatest_a"]
                and int(thin["length_m"] or 999) < int(thick["length_m"] or 999)
            )
            cells = ((thick, "greatest_a"), (thin, "greatest_a"), (thick, "size"), (thin, "size"))
            yield Comparison(
                cells, more and thick["greatest_a"] in standard, 0.0, "more than the thinner size has"
            )
    for row in c.rows(LIMIT):
        even = row["size"] in ("18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG")
        yield Comparison(((row, "size"),), even, 0.0, "an even size from 18 to 10 AWG")
        if row["material"] == "aluminium":
            ok = row["size"] in ("12 AWG", "10 AWG")
            yield Comparison(
                ((row, "material"), (row, "size")),
                ok,
                0.0,
                "aluminium of 12 or 10 AWG, the least that there is",
            )
    copper = {
        (r["edition_from"], r["size"]): r
        for r in c.rows(LIMIT)
        if r["material"] == "copper" and r["rule"] == "small conductors"
    }
    for row in c.rows(LIMIT):
        full = copper.get((row["edition_from"], row["size"]))
        if row["material"] != "copper" and full is not None:
            ok = int(row["greatest_a"]) == int(full["greatest_a"]) - 5
            yield Comparison(
                ((row, "greatest_a"), (full, "greatest_a")), ok, 0.0, "5 A under copper of the size"
            )
