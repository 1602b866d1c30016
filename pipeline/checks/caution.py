"""Cautions: when they are shown, what they cite, and the figures in their words."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.checks.connector_facts import CAUTION, DEVICE, FAMILY, NUMBER, TEST, VARIANT

__all__: list[str] = []

#: Files whose rows cite sections and clauses.
CITING = (FAMILY, VARIANT, DEVICE, TEST, "nec_fill_rule", "cec_fill_rule")


#: Cautions that belong on answers (C9 on a lone conductor), and the words in them that say when.
ON_ANSWERS = (*range(1, 10), 12, 13, 26, 28, 30)
WHEN = {
    "free end": "free end",
    "burial": "burial", "damp or wet": "[Dd]amp or wet", "flexible": "stranding", "aluminium": "aluminium branch",
    "mixed metals": "touch one another",
}  # fmt: skip


@check(
    "caution-shown",
    layer="cross-check",
    reads=(CAUTION,),
    what="a caution is shown when its words say so; those that belong to the work, not to an answer, never",
)
def caution_shown(c: Context) -> Iterator[Comparison]:
    for row in c.rows(CAUTION):
        when = next((name for name, words in WHEN.items() if re.search(words, row["text"])), "always")
        right = when if int(row["id"][1:] or 0) in ON_ANSWERS else "never"
        yield Comparison(
            ((row, "shown_when"), (row, "text"), (row, "id")), row["shown_when"] == right, 0.0, right
        )


@check(
    "caution-own-words",
    layer="keys",
    reads=(CAUTION,),
    what="no two cautions say the same",
)
def caution_own_words(c: Context) -> Iterator[Comparison]:
    said: dict[str, int] = {}
    for row in c.rows(CAUTION):
        said[row["text"]] = said.get(row["text"], 0) + 1
    for row in c.rows(CAUTION):
        yield Comparison(((row, "text"),), said[row["text"]] == 1, 0.0, "words of its own")


#: How a clause begins that a source prints.
CITED = {
    "nfpa-70-2023": "NEC ", "nfpa-70e": "NFPA 70E", "cpsc-516": "CPSC publication 516", "cfr-46": "46 CFR ",
    "common-practice": "common practice|general",
}  # fmt: skip


@check(
    "caution-clause",
    layer="cross-check",
    reads=(CAUTION, *CITING),
    what="a caution cites the place where it was read first; further sections that it cites are cited elsewhere too",
)
def caution_clause(c: Context) -> Iterator[Comparison]:
    cited = _cited(c)
    for row in c.rows(CAUTION):
        begins = re.match(CITED.get(row.source, "$^"), row["clause"]) is not None
        numbered = any(ch.isdigit() for ch in row.locator)
        ok = begins and (not numbered or _whole(row.locator, row["clause"]))
        yield Comparison(
            ((row, "clause"), (row, "source")),
            ok,
            0.0,
            f"a clause that begins with {row.locator!r} of {row.source}",
        )
        for number in re.findall(r"publication (\d+)", row["text"]):
            yield Comparison(
                ((row, "text"), (row, "clause")),
                number in row["clause"],
                0.0,
                "the publication of its clause",
            )
        further = row["clause"].replace(row.locator, "", 1) if numbered else row["clause"]
        further = re.sub(r"\d+ CFR \S+", "", further)
        for place in re.findall(r"\d+[\d.()A-Z-]*", further):
            if place not in ("70", "46", "516"):
                known = any(place == p or p.startswith(place) for p in cited)
                yield Comparison(
                    ((row, "clause"),), known, 0.0, f"a place that another row cites, not {place}"
                )


def _whole(place: str, text: str) -> bool:
    """Whether a text names a place, and not a longer number that holds it."""
    return re.search(rf"(?<![\d.]){re.escape(place)}(?![\d.]*\d)", text) is not None


@check(
    "caution-regulation",
    layer="cross-check",
    reads=(CAUTION, "guidance"),
    what="a section of the federal regulations that a caution cites is the place it was read, or a line of guidance cites it too",
)
def caution_regulation(c: Context) -> Iterator[Comparison]:
    cited = " ; ".join(r["clause"] for r in c.rows("guidance"))
    for row in c.rows(CAUTION):
        for title, section in re.findall(r"(\d+) CFR ([\d.]+(?:\([a-z]\))?)", row["clause"]):
            known = _whole(f"{title} CFR {section}", cited) or _whole(section, row.locator)
            yield Comparison(
                ((row, "clause"),), known, 0.0, f"a section that guidance cites, not {title} CFR {section}"
            )


def _cited(c: Context) -> set[str]:
    """Every place that rows of the connector and rule files name, and the numbers of standards."""
    texts = [r.locator for stem in CITING for r in c.rows(stem)]
    texts += [r["value"] for stem in (FAMILY, VARIANT, DEVICE) for r in c.rows(stem)]
    texts += [r["title"] for r in c.rows("sources")]
    return {place for text in texts for place in re.findall(r"\d+[\d.()A-Z-]*", text)}


@check(
    "caution-figures",
    layer="second evidence",
    reads=(CAUTION, "nec_box_limit", "temperature_rating", *CITING),
    what="figures in the words of a caution are those of the rule it cites: free conductor, temperature at ballasts, voltage of signs",
)
def caution_figures(c: Context) -> Iterator[Comparison]:
    free = {
        r[k] for r in c.rows("nec_box_limit") if r["clause"] == "300.14" for k in ("limit_mm", "limit_in")
    }
    hot = {r["value"] for r in c.rows("temperature_rating") if r.locator == "410.68"}
    signs = {
        n
        for r in c.rows(TEST)
        if r["test"] == "voltage marking allowed"
        for n in NUMBER.findall(r["value"].partition(";")[2])
    }
    least = {r["size"] for r in c.rows(TEST) if r["test"] == "static heating, test current"}
    for row in c.rows(CAUTION):
        known = (
            free
            if "300.14" in row["clause"]
            else hot
            if "410.68" in row["clause"]
            else signs
            if "110.4" in row["clause"]
            else least
        )
        text = re.sub(r"publication \d+|\d{3}\.\d+\([A-Z]\)", "", row["text"])
        for figure in NUMBER.findall(text):
            yield Comparison(
                ((row, "text"),), figure in known, 0.0, f"one of {', '.join(sorted(known))}, not {figure}"
            )
        for place in re.findall(r"\d{3}\.\d+\([A-Z]\)", row["text"]):
            yield Comparison(
                ((row, "text"),), place in _cited(c), 0.0, f"a place that another row cites, not {place}"
            )
