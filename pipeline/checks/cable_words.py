"""Scopes of cables in words: what the name of a scope says again, and sizes that other tables have."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

SCOPE, CABLE, TABLE_8 = "cable_scope", "nm_cable", "nec_table_8_metric"


@check(
    "cable-scope-name",
    layer="cross-check",
    reads=(SCOPE,),
    what="the name of a scope begins with its family and says its number of conductors and its shape where it says any",
)
def cable_scope_name(c: Context) -> Iterator[Comparison]:
    for row in c.rows(SCOPE):
        name = row["scope"]
        ok = re.match(rf"{re.escape(row['family'])}(?:\b|-)", name) is not None and (
            name.split()[0].rstrip(",") == row["family"] or row["family"] == "NYM"
        )
        yield Comparison(((row, "family"), (row, "scope")), ok, 0.0, "the family at the head of the scope")
        said = re.search(r"(flat|round), (.*) conductors", name)
        if said:
            yield Comparison(((row, "shape"), (row, "scope")), row["shape"] == said[1], 0.0, said[1])
            yield Comparison(((row, "insulated"), (row, "scope")), row["insulated"] == said[2], 0.0, said[2])
        else:
            flat = row["family"].startswith("UF")
            yield Comparison(
                ((row, "shape"),),
                row["shape"] == ("flat" if flat else "round"),
                0.0,
                "flat for UF, round for armour and NYM",
            )
        form = r"\d(?:, \d)*(?: or \d)?|\d-\d|\d\+"
        figures = [int(n) for n in re.findall(r"\d+", row["insulated"])]
        ok = re.fullmatch(form, row["insulated"]) is not None and figures == sorted(set(figures))
        ok = ok and ("or" not in row["insulated"] or figures[-1] - figures[0] == len(figures) - 1)
        # A span that is open above begins where cables begin: with one conductor, or with two.
        ok = ok and ("+" not in row["insulated"] or figures[0] <= 2)
        yield Comparison(((row, "insulated"),), ok, 0.0, "a number or a rising span of conductors")


@check(
    "cable-scope-grounding",
    layer="cross-check",
    reads=(SCOPE,),
    what="a scope of one family has one grounding conductor; a strip belongs to AC, a green-yellow core to NYM, the choice of bare or "
    "insulated to UF and MC",
)
def cable_scope_grounding(c: Context) -> Iterator[Comparison]:
    words = {
        "NM-B": "^bare grounding", "NMC-B": "^grounding", "AC": "^bonding strip", "NYM": "green-yellow",
        "UF-B": "^bare or insulated", "MC": "^insulated or bare",
    }  # fmt: skip
    for row in c.rows(SCOPE):
        ok = re.search(words.get(row["family"], "$^"), row["grounding"]) is not None
        yield Comparison(
            ((row, "grounding"), (row, "family")), ok, 0.0, f"words as {words.get(row['family'], '')[1:]}"
        )


@check(
    "cable-scope-sizes",
    layer="second evidence",
    reads=(SCOPE, CABLE, TABLE_8),
    what="non-metallic cables go to the sizes that they are listed in, three flat ones to 10 AWG as the wet-place cable; aluminium "
    "starts a size above copper; metal-clad cable has all sizes of Table 8",
)
def cable_scope_sizes(c: Context) -> Iterator[Comparison]:
    listed = [int(r["size"]) for r in c.rows(CABLE)]
    flat_three = [int(r["size"]) for r in c.rows(CABLE) if "flat is allowed" in r.note]
    table = [r["size"] for r in c.rows(TABLE_8)]
    whole = f"{max(listed)}-{min(listed)}"
    part = f"{max(flat_three, default=0)}-{min(flat_three, default=0)}"
    for row in c.rows(SCOPE):
        right = _sizes(row, whole, part, table)
        if right:
            yield Comparison(((row, "sizes"), (row, "family")), row["sizes"] == right, 0.0, right)
        ends = re.findall(r"\d+(?:\.\d+)?(?:/0)?", row["sizes"])
        known = all(e in table or re.fullmatch(r"1\.5|35", e) for e in ends[:2])
        metric = row["family"] == "NYM"
        form = (
            r"[\d.]+-[\d.]+ mm2 class 1/2"
            if metric
            else r"\d+(?: AWG)?-\d+(?:/0)? (?:AWG|kcmil) copper(?:, .* aluminium)?"
        )
        known = known and re.fullmatch(form, row["sizes"]) is not None
        # Building wire starts at 14 AWG; metal-clad cable is made for control wires too.
        known = known and (metric or row["family"] == "MC" or ends[0] == str(max(listed)))
        yield Comparison(((row, "sizes"),), known and len(ends) > 1, 0.0, f"from {max(listed)} AWG to a size")


def _sizes(row: RawRow, whole: str, part: str, table: list[str]) -> str:
    if row["family"].startswith("NM"):
        copper = part if row["family"] == "NMC-B" or "flat, 3" in row["scope"] else whole
        aluminium = f"{int(copper.split('-')[0]) - 2}-{copper.split('-')[1]}"
        return f"{copper} AWG copper, {aluminium} AWG aluminium"
    if row["family"] == "MC":
        sizes = [int(s) for s in table if s.isdigit()]
        return f"18 AWG-{max(sizes)} kcmil copper" if "18" in table else "the sizes of Table 8"
    return ""
