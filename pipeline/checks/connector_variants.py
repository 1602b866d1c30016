"""Variants of connector families: which family is made in which, and how."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.checks.connector_facts import FAMILY, MADE, SERIES, first_word

__all__: list[str] = []


@check(
    "variant-families",
    layer="keys",
    reads=(MADE, FAMILY),
    what="every family is made general, sealed and copper-aluminium; grounding those with a closed end, for high temperature those "
    "that twist, crimp or screw",
    reason="A through-hole wants a closed end; springs of push-in and lever clamps and piercing bodies are not made for heat.",
)
def variant_families(c: Context) -> Iterator[Comparison]:
    families = {row["family"] for row in c.rows(FAMILY)}
    hot = {f for f in families if SERIES.get(first_word(f)) in ("twist-on", "crimped") or f == "screw clamp"}
    closed = {
        f for f in hot if SERIES.get(first_word(f)) in ("twist-on", "crimped") and not f.endswith("butt")
    }
    wanted = {
        "general": families,
        "sealed": families,
        "copper-aluminium": families,
        "high temperature": hot,
        "grounding": closed,
    }
    made = {(row["family"], row["variant"]) for row in c.rows(MADE)}
    for row in c.rows(MADE):
        right = wanted.get(row["variant"], set())
        ok = row["family"] in right and all((f, row["variant"]) in made for f in right)
        yield Comparison(((row, "family"), (row, "variant")), ok, 0.0, f"each of {', '.join(sorted(right))}")


def _most(words: list[str]) -> str:
    """The words that stand most often."""
    return max(sorted(set(words)), key=words.count, default="")


#: How each variant is made: words, and the source of those that all families share.
AS_MADE = {
    "general": "as the family is made", "sealed": "sealed", "copper-aluminium": "compound|spacer",
    "high temperature": "high-temperature", "grounding": "hole|left long",
}  # fmt: skip


@check(
    "variant-made-as",
    layer="keys",
    reads=(MADE,),
    what="a variant is made as its name says, by the same source in every family that makes it so; a piercing body is no splice kit",
)
def variant_made_as(c: Context) -> Iterator[Comparison]:
    alike: dict[tuple[str, str], set[str]] = {}
    for row in c.rows(MADE):
        alike.setdefault((row["variant"], row["made_as"]), set()).add(row.source)
    usual = {
        variant: _most([r["made_as"] for r in c.rows(MADE) if r["variant"] == variant]) for variant in AS_MADE
    }
    odd = {("split bolt", "sealed"), ("split bolt", "copper-aluminium"), ("crimped pigtail", "grounding")}
    for row in c.rows(MADE):
        ok = re.search(AS_MADE[row["variant"]], row["made_as"]) is not None
        ok = ok and ((row["family"], row["variant"]) in odd) == (row["made_as"] != usual[row["variant"]])
        cells = ((row, "made_as"), (row, "variant"))
        yield Comparison(cells, ok, 0.0, usual[row["variant"]])
        one = len(alike[row["variant"], row["made_as"]]) == 1
        yield Comparison(((row, "source"),), one, 0.0, "one source of all that are made so")


@check(
    "variant-reopenable",
    layer="cross-check",
    reads=("connector_variant", MADE),
    what="a variant that is closed by sealant, compound or a tail through its end is not opened again; the others go by their family",
    reason="Sealant and compound are spent once; a tail keeps the joint together. What adds neither changes nothing.",
)
def variant_reopenable(c: Context) -> Iterator[Comparison]:
    closed = {
        r["variant"] for r in c.rows(MADE) if re.search(r"sealed|compound|hole|left long", r["made_as"])
    }
    for row in c.rows("connector_variant"):
        if row["aspect"] == "reopenable":
            right = "no" if row["variant"] in closed else "as its family"
            yield Comparison(((row, "value"), (row, "variant")), row["value"] == right, 0.0, right)
