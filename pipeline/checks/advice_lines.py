"""What each line of advice and each finding is known by: its sort, its place, its caution, and its figures.

A line is in words of our own, which no source prints; what can be told of it again is written here: when it
is shown, where it was read, which caution it belongs to, which figures it has, and what a finding is worth. It
is written by the same hand and from the same memory: it tells a slip of the pen and is no evidence of its own,
so these checks are of the layer that evidence leaves out.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

#: (topic, line): kind, shown when, clause, caution, editions, source, access, figures.
LINES: dict[tuple[str, str], tuple[str, ...]] = {
    ("make-up", "10 dead"): ("before", "always", "NFPA 70E, 29 CFR 1910.333", "C1", "", "nfpa-70e", "memory", ""),
    ("make-up", "20 strip"): ("strip", "joint", "NEC 110.3(B)", "C2", "", "nfpa-70-2023", "secondary", ""),
    ("make-up", "25 strip cap"): ("strip", "free end", "common practice", "C9", "", "common-practice", "common practice", ""),
    ("make-up", "30 nick"): ("strip", "always", "common practice", "C28", "", "common-practice", "common practice", ""),
    ("make-up", "40 align"): ("align", "twist-on", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "41 align sleeve"): ("align", "crimped", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "42 align clamp"): ("align", "clamp", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "43 align tap"): ("align", "tap", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "50 twist"): ("twist", "twist-on", "common practice", "C27", "", "common-practice", "common practice", ""),
    ("make-up", "51 twist sleeve"): ("twist", "crimped", "NASA-STD-8739.4", "C27", "", "nasa-std-8739.4", "secondary", ""),
    ("make-up", "52 twist clamp"): ("twist", "clamp", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "60 solid and stranded"): ("mix", "solid and stranded", "NEC 110.3(B)", "C3", "", "nfpa-70-2023", "secondary", ""),
    ("make-up", "61 fine strands"): ("mix", "flexible", "NEC 110.14 second paragraph", "C7", "", "nfpa-70-2023", "secondary", ""),
    ("make-up", "70 close"): ("close", "twist-on", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "71 close sleeve"): ("close", "crimped", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "72 close screw"): ("close", "screw", "NEC 110.14(D)", "C11", "", "nfpa-70-2023", "secondary", ""),
    ("make-up", "73 close clamp"): ("close", "clamp", "common practice", "C2", "", "common-practice", "common practice", ""),
    ("make-up", "80 tug"): ("test", "joint", "common practice", "C28", "", "common-practice", "common practice", ""),
    ("make-up", "90 bare"): ("look", "insulated", "common practice", "C28", "", "common-practice", "common practice", ""),
    ("make-up", "91 cover"): ("look", "uninsulated", "NEC 110.14(B)", "C9", "", "nfpa-70-2023", "secondary", ""),
    ("make-up", "92 free end"): ("look", "free end", "NEC 110.14(B)", "C9", "", "nfpa-70-2023", "secondary", ""),
    ("make-up", "93 free end told"): ("look", "free end", "common practice", "C1", "", "common-practice", "common practice", ""),
    ("make-up", "95 length"): ("look", "always", "NEC 300.14", "C17", "", "nfpa-70-2023", "secondary", "150 6 75 3"),
    ("aluminium", "10 jacket"): ("recognise", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "memory", ""),
    ("aluminium", "11 years"): ("recognise", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "memory", "1965 1973"),
    ("aluminium", "12 colour"): ("recognise", "aluminium", "common practice", "C6", "", "common-practice", "common practice", ""),
    ("aluminium", "20 warm"): ("warning", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "memory", ""),
    ("aluminium", "21 flicker"): ("warning", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "memory", ""),
    ("aluminium", "22 smell"): ("warning", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "memory", ""),
    ("aluminium", "30 no pigtail"): ("never", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "secondary", ""),
    ("aluminium", "31 no contact"): ("never", "aluminium", "NEC 110.14 first paragraph", "C5", "", "nfpa-70-2023", "secondary", ""),
    ("aluminium", "32 manufactured homes"): ("never", "aluminium", "24 CFR 3280.801(e)", "C6", "", "cfr-24", "secondary", ""),
    ("aluminium", "33 leave it"): ("never", "solid aluminium", "common practice", "C6", "", "common-practice", "common practice", ""),
    ("aluminium", "40 marked devices"): ("mind", "aluminium", "NEC 406.3(C)", "C8", "", "nfpa-70-2023", "secondary", "15 20"),
    ("aluminium", "41 marked connectors"): ("mind", "aluminium", "UL 486C 10.4 c)", "C5", "", "ul-486c", "secondary", ""),
    ("aluminium", "50 whom"): ("call", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "memory", ""),
    ("aluminium", "51 now"): ("call", "aluminium", "CPSC publication 516", "C6", "", "cpsc-516", "memory", ""),
    ("electrical", "10 smallest"): ("protection", "always", "NEC 240.4", "", "nec-2014/", "nfpa-70", "memory", ""),
    ("electrical", "11 other sizes"): ("protection", "no small limit", "NEC 240.4", "", "nec-2014/", "nfpa-70", "memory", "240.4"),
    ("electrical", "12 metric"): ("protection", "metric", "NEC 240.4(D)", "", "nec-2014/", "nfpa-70", "memory", "240.4"),
    ("electrical", "15 fixture wire"): ("protection", "thin", "NEC 240.5(B)(2)", "", "nec-2014/", "nfpa-70", "memory", ""),
    ("electrical", "20 weakest part"): ("temperature", "always", "NEC 110.14(C)", "C10", "nec-2014/", "nfpa-70-2023", "secondary", ""),
    ("electrical", "21 terminals"): ("temperature", "always", "NEC 110.14(C)(1)(a)", "C10", "nec-2014/", "nfpa-70-2023", "secondary", "100 14 1 60"),
    ("electrical", "30 voltage"): ("voltage", "always", "NEC 110.4", "C23", "nec-2014/", "nfpa-70-2023", "secondary", "1000"),
    ("electrical", "40 power-limited"): ("power-limited", "power-limited", "NEC 725.136", "", "nec-2014/nec-2020", "nfpa-70", "memory", "725.136"),
    ("electrical", "40 power-limited 2023"): ("power-limited", "power-limited", "NEC 725.136; Article 722", "", "nec-2023/", "nfpa-70-2023", "memory", "725.136 722"),
    ("electrical", "50 Canada"): ("scope", "always", "C22.1", "", "cec-2015/", "defined", "original", "22.1"),
    ("wet place", "10 box"): ("permitted", "damp or wet", "NEC 314.15", "C13", "", "nfpa-70-2023", "secondary", ""),
    ("wet place", "11 connector"): ("permitted", "damp or wet", "NEC 110.14(B); 314.15", "C13", "", "nfpa-70-2023", "secondary", ""),
    ("wet place", "12 handhole"): ("permitted", "damp or wet", "NEC 314.30(C)", "C13", "", "nfpa-70-2023", "secondary", ""),
    ("wet place", "20 burial"): ("permitted", "burial", "NEC 300.5(E)", "C12", "", "nfpa-70-2023", "secondary", ""),
    ("wet place", "21 burial listed"): ("permitted", "burial", "NEC 110.14(B)", "C12", "", "nfpa-70-2023", "secondary", ""),
    ("wet place", "30 bolted"): ("preferred", "burial", "common practice", "C12", "", "common-practice", "common practice", ""),
    ("wet place", "31 above"): ("preferred", "damp or wet", "common practice", "C13", "", "common-practice", "common practice", ""),
    ("wet place", "40 strands"): ("reason", "damp or wet", "common practice", "C13", "", "common-practice", "common practice", ""),
    ("wet place", "41 movement"): ("reason", "burial", "common practice", "C12", "", "common-practice", "common practice", ""),
    ("wet place", "42 unseen"): ("reason", "burial", "common practice", "C12", "", "common-practice", "common practice", ""),
}  # fmt: skip

#: (finding, first edition): severity, clause, caution, last edition, source, access, figures.
FINDINGS: dict[tuple[str, str], tuple[str, ...]] = {
    ("too many", "nec-2014"): ("wrong", "NEC 110.3(B); 110.14(B)", "C3", "", "nfpa-70-2023", "secondary", ""),
    ("too few", "nec-2014"): ("wrong", "NEC 110.3(B); 110.14(B)", "C3", "", "nfpa-70-2023", "secondary", ""),
    ("conductor out of range", "nec-2014"): ("wrong", "NEC 110.3(B)", "C3", "", "nfpa-70-2023", "secondary", ""),
    ("not printed", "nec-2014"): ("wrong", "NEC 110.3(B)", "C3", "", "nfpa-70-2023", "secondary", ""),
    ("mixed metals", "nec-2014"): ("stop", "NEC 110.14 first paragraph", "C5", "", "nfpa-70-2023", "secondary", ""),
    ("aluminium not marked", "nec-2014"): ("stop", "NEC 110.14 first paragraph", "C5", "", "nfpa-70-2023", "secondary", ""),
    ("old aluminium", "nec-2014"): ("stop", "CPSC publication 516", "C6", "", "cpsc-516", "secondary", "516"),
    ("re-used crimp", "nec-2014"): ("stop", "common practice", "C26", "", "common-practice", "common practice", ""),
    ("re-used on less", "nec-2014"): ("wrong", "common practice", "C26", "", "common-practice", "common practice", ""),
    ("re-used", "nec-2014"): ("mind", "common practice", "C26", "", "common-practice", "common practice", ""),
    ("damp or wet place", "nec-2014"): ("wrong", "NEC 110.14(B); 314.15", "C13", "", "nfpa-70-2023", "secondary", ""),
    ("buried", "nec-2014"): ("stop", "NEC 110.14(B); 300.5(E)", "C12", "", "nfpa-70-2023", "secondary", ""),
    ("hot place", "nec-2014"): ("wrong", "NEC 110.14(C)", "C10", "", "nfpa-70-2023", "secondary", ""),
    ("voltage", "nec-2014"): ("wrong", "NEC 110.4", "C23", "", "nfpa-70-2023", "secondary", ""),
    ("overfull", "nec-2014"): ("wrong", "NEC 314.16", "C29", "", "nfpa-70-2023", "secondary", ""),
    ("volume not known", "nec-2014"): ("mind", "NEC 314.16(A)", "C29", "", "nfpa-70-2023", "secondary", ""),
    ("free conductor short", "nec-2014"): ("wrong", "NEC 300.14", "C17", "nec-2020", "nfpa-70-2020", "secondary", "2023"),
    ("free conductor short", "nec-2023"): ("wrong", "NEC 300.14", "C17", "", "nfpa-70-2023", "secondary", "150 6 2023"),
    ("free conductor inside", "nec-2014"): ("wrong", "NEC 300.14", "C17", "", "nfpa-70-2020", "secondary", "75 3"),
    ("grounding through a device", "nec-2014"): ("stop", "NEC 250.148(B)", "C19", "", "nfpa-70-2023", "secondary", ""),
    ("neutral through a device", "nec-2014"): ("stop", "NEC 300.13(B)", "C18", "", "nfpa-70-2023", "secondary", ""),
    ("circuits mixed", "nec-2014"): ("stop", "common practice", "C1", "", "common-practice", "common practice", ""),
    ("one conductor left", "nec-2014"): ("wrong", "NEC 110.14(B)", "C9", "", "nfpa-70-2023", "secondary", ""),
    ("uncovered", "nec-2014"): ("stop", "NEC 110.14(B)", "C9", "", "nfpa-70-2023", "secondary", ""),
    ("bare conductor", "nec-2014"): ("wrong", "common practice", "C28", "", "common-practice", "common practice", ""),
    ("class not known", "nec-2014"): ("mind", "NEC 110.3(B)", "C2", "", "nfpa-70-2023", "secondary", ""),
    ("temperature not marked", "nec-2014"): ("mind", "common practice", "C10", "", "common-practice", "common practice", "105"),
}  # fmt: skip

_FIGURE = re.compile(r"\d+(?:[./-]\d+)*")


def _figures(*texts: str) -> str:
    return " ".join(_FIGURE.findall(" | ".join(texts)))


@check(
    "advice-known",
    layer="keys",
    reads=("guidance",),
    what="each line of advice is known by its sort, when it is shown, clause, caution, editions, source and figures",
    reason="The lines are words of this project; what they rest on is told a second time.",
)
def advice_known(c: Context) -> Iterator[Comparison]:
    rows = c.rows("guidance")
    left = dict(LINES)
    for row in rows:
        known = left.pop((row["topic"], row["line"]), None)
        keys = ((row, "topic"), (row, "line"))
        yield Comparison(keys, known is not None, 0.0, "a line that is known, once")
        if known is None:
            continue
        editions = f"{row['edition_from']}/{row['edition_to']}" if row["edition_from"] else row["edition_to"]
        own = {
            "kind": row["kind"], "shown_when": row["shown_when"], "clause": row["clause"], "caution": row["caution"],
            "edition_from": editions, "source": row.source, "access": row.access, "text": _figures(row["text"]),
        }  # fmt: skip
        for (column, value), right in zip(own.items(), known, strict=True):
            yield Comparison(((row, column),), value == right, 0.0, right or "nothing")
    for missing in left:
        yield Comparison(((rows[-1], "line"),), False, 0.0, f"a row {','.join(missing)} too")


@check(
    "finding-known",
    layer="keys",
    reads=("finding",),
    what="each finding is known by how serious it is, clause, caution, editions, source and figures",
    reason="The words are of this project; what they rest on is told a second time.",
)
def finding_known(c: Context) -> Iterator[Comparison]:
    rows = c.rows("finding")
    left = dict(FINDINGS)
    for row in rows:
        known = left.pop((row["finding"], row["edition_from"]), None)
        keys = ((row, "finding"), (row, "edition_from"))
        yield Comparison(keys, known is not None, 0.0, "a finding that is known, once")
        if known is None:
            continue
        own = {
            "severity": row["severity"], "clause": row["clause"], "caution": row["caution"],
            "edition_to": row["edition_to"], "source": row.source, "access": row.access,
            "what": _figures(row["what"], row["why"], row["action"]),
        }  # fmt: skip
        for (column, value), right in zip(own.items(), known, strict=True):
            yield Comparison(((row, column),), value == right, 0.0, right or "nothing")
    for missing in left:
        yield Comparison(((rows[-1], "finding"),), False, 0.0, f"a row {','.join(missing)} too")


@check(
    "overcurrent-clause",
    layer="keys",
    reads=("overcurrent_limit",),
    what="the clauses of an edition are numbered in the order of current and then of size; editions follow one another",
)
def overcurrent_clause(c: Context) -> Iterator[Comparison]:
    small = [r for r in c.rows("overcurrent_limit") if r["rule"] == "small conductors"]
    for edition in {r["edition_from"] for r in small}:
        rows = [r for r in small if r["edition_from"] == edition]
        order = sorted({_place(r) for r in rows})
        for row in rows:
            right = f"240.4(D)({order.index(_place(row)) + 1})"
            cells = ((row, "clause"), (row, "greatest_a"), (row, "size"))
            yield Comparison(cells, row["clause"] == right, 0.0, right)
            ends = "nec-2020" if edition == "nec-2014" else ""
            yield Comparison(((row, "edition_to"),), row["edition_to"] == ends, 0.0, ends or "nothing")
    known = {
        "18 AWG": ("1", "20", "15"),
        "16 AWG": ("2", "20", "30"),
        "14 AWG": ("4", "30", ""),
        "12 AWG": ("6", "50", ""),
    }
    for row in c.rows("overcurrent_limit"):
        yield Comparison(
            ((row, "source"), (row, "access")),
            (row.source, row.access) == ("nfpa-70", "memory"),
            0.0,
            "nfpa-70, memory",
        )
        if row["rule"] == "fixture wire":
            number, amps, length = known.get(row["size"], ("", "", ""))
            printed = (
                row["clause"],
                row["greatest_a"],
                row["length_m"],
                row["edition_from"],
                row["material"],
            )
            wanted = (f"240.5(B)(2)({number})", amps, length, "nec-2014", "copper")
            places = tuple((row, n) for n in ("clause", "greatest_a", "length_m", "edition_from", "material"))
            yield Comparison(places, printed == wanted, 0.0, ", ".join(wanted))


def _place(row: RawRow) -> tuple[int, int]:

    return int(row["greatest_a"] or 0), -int(row["size"].split()[0])
