"""Non-metallic and flat cables: make-up against grounding rules, names and twin types."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import increasing
from pipeline.readings import RawRow
from pipeline.tables.insulated import RUN

NM, GROUNDING, SCOPE, BS = "nm_cable", "nm_grounding", "cable_scope", "bs_6004_cable"
SIZES = "iec_60228_class_2"


@check(
    "nm-cable-grounding",
    layer="second evidence",
    reads=(NM, GROUNDING),
    what="the grounding conductor of a non-metallic cable is the one that the rule by circuit conductor gives, the same size to "
    "10 AWG, and rises with the circuit conductor",
)
def nm_cable_grounding(c: Context) -> Iterator[Comparison]:
    rule = {row["circuit_size"]: row for row in c.rows(GROUNDING)}
    for row in c.rows(NM):
        other = rule.get(row["size"])
        expected = other["grounding_size"] if other is not None else "none"
        cells = (
            (row, "grounding_size"),
            (row, "size"),
            *(((other, "grounding_size"),) if other is not None else ()),
        )
        yield Comparison(cells, row["grounding_size"] == expected, 0.0, f"{expected}, by raw/{GROUNDING}.csv")
    for size in ("14", "12", "10", "8", "6", "4", "3", "2"):
        first = c.rows(GROUNDING)[0]
        yield Comparison(((first, "circuit_size"),), size in rule, 0.0, f"a row for {size} AWG")
    ordered = sorted(
        c.rows(GROUNDING), key=lambda r: -int(r["circuit_size"]) if r["circuit_size"].isdigit() else 0
    )
    yield from increasing(ordered, "grounding_size", strictly=False, falling=True)
    for row in ordered:
        circuit, ground = (
            int(row[k]) if row[k].isdigit() else -1 for k in ("circuit_size", "grounding_size")
        )
        ok = ground == circuit if circuit >= 10 else ground in (8, 10)
        yield Comparison(
            ((row, "grounding_size"), (row, "circuit_size")),
            ok,
            0.0,
            "the same size to 10 AWG; 10 or 8 AWG above",
        )


@check(
    "nm-cable-name",
    layer="cross-check",
    reads=(NM,),
    what="the designation names the size and the number of insulated conductors; two lie flat, more are round; each size has two "
    "and three, and 14 and 12 AWG four",
)
def nm_cable_name(c: Context) -> Iterator[Comparison]:
    found = {(row["size"], row["insulated"]) for row in c.rows(NM)}
    for row in c.rows(NM):
        counts = {"2": "2", "3": "3", "4": "2/2"}.get(row["insulated"], "none")
        expected = f"{row['size']}/{counts} with ground"
        yield Comparison(
            ((row, "designation"), (row, "size"), (row, "insulated")),
            row["designation"] == expected,
            0.0,
            expected,
        )
        flat = (row["insulated"] == "2") == (row["shape"] == "flat")
        yield Comparison(
            ((row, "shape"), (row, "insulated")), flat, 0.0, "flat for two conductors, round for more"
        )
    for size in ("14", "12", "10", "8", "6", "4", "2"):
        for count in ("2", "3", "4") if size in ("14", "12") else ("2", "3"):
            yield Comparison(
                ((c.rows(NM)[0], "size"),), (size, count) in found, 0.0, f"a cable {size}/{count}"
            )


@check(
    "bs-6004-make-up",
    layer="second evidence",
    reads=(BS, SIZES),
    what="twin and three-core cables of one area have one protective conductor, never larger than a core and never falling; "
    "areas run without a gap",
)
def bs_6004_make_up(c: Context) -> Iterator[Comparison]:
    areas = {row["mm2"] for row in c.rows(SIZES)}
    by_code: dict[str, dict[str, RawRow]] = {"6242Y": {}, "6243Y": {}}
    for row in c.rows(BS):
        by_code.setdefault(row["code"], {})[row["mm2"]] = row
        cores = {"6242Y": "2", "6243Y": "3"}.get(row["code"], "no")
        yield Comparison(((row, "cores"), (row, "code")), row["cores"] == cores, 0.0, f"{cores} cores")
        bare, core = Decimal(row["protective_mm2"]), Decimal(row["mm2"])
        usual = (
            bare <= core if core <= Decimal("1.5") else Decimal("1.6") * bare <= core <= Decimal("2.7") * bare
        )
        yield Comparison(
            ((row, "protective_mm2"), (row, "mm2")),
            usual,
            0.0,
            "about half of a core, the same for the smallest",
        )
        yield Comparison(
            ((row, "protective_mm2"), (row, "mm2")),
            {row["mm2"], row["protective_mm2"]} <= areas,
            0.0,
            "areas of IEC 60228",
        )
    for mm2, row in by_code["6243Y"].items():
        other = by_code["6242Y"].get(mm2)
        same = other is not None and other["protective_mm2"] == row["protective_mm2"]
        cells = (
            (row, "protective_mm2"),
            (row, "mm2"),
            *(((other, "protective_mm2"),) if other is not None else ()),
        )
        yield Comparison(cells, same, 0.0, "as the twin cable of the area")
    for code, most in (("6242Y", "16"), ("6243Y", "16")):
        rows = sorted(by_code[code].values(), key=lambda r: Decimal(r["mm2"]))
        yield from increasing(rows, "protective_mm2", strictly=False)
        largest = max((Decimal(r["mm2"]) for r in rows), default=Decimal(0))
        for mm2 in areas:
            if 1 <= Decimal(mm2) <= min(Decimal(most), max(largest, Decimal(6))):
                yield Comparison(
                    ((c.rows(BS)[0], "mm2"),), mm2 in by_code[code], 0.0, f"a row of {code} at {mm2} mm2"
                )


@check(
    "cable-scope",
    layer="cross-check",
    reads=(SCOPE, NM),
    what="scopes name sizes that exist; aluminium begins two AWG sizes larger than copper and ends alike; cables lie inside them",
)
def cable_scope(c: Context) -> Iterator[Comparison]:
    for row in c.rows(SCOPE):
        ends = [
            re.findall(r"(\d+(?:/0)?)(?: AWG)?-(\d+(?:/0)?) (?:AWG|kcmil)", part)
            for part in row["sizes"].split(", ")
        ]
        for found in ends:
            for low, high in found:
                ok = low in RUN and high in RUN and RUN.index(low) < RUN.index(high)
                yield Comparison(((row, "sizes"),), ok, 0.0, "a run of sizes of the code")
        if len(ends) == 2 and ends[0] and ends[1]:
            (copper, to), (aluminium, until) = ends[0][0], ends[1][0]
            ok = copper == "14" and aluminium == "12" and to == until
            yield Comparison(
                ((row, "sizes"),), ok, 0.0, "copper from 14 AWG, aluminium from 12 AWG, both to one size"
            )
        yield Comparison(
            ((row, "scope"), (row, "family")),
            row["scope"].startswith(row["family"]),
            0.0,
            "a scope named after its family",
        )
        if "conductors" in row["scope"]:
            yield Comparison(
                ((row, "insulated"), (row, "scope")),
                f", {row['insulated']} conductors" in row["scope"],
                0.0,
                "the numbers of the scope",
            )
            yield Comparison(
                ((row, "shape"), (row, "scope")),
                f" {row['shape']}," in row["scope"],
                0.0,
                "the shape of the scope",
            )
        source = {"NM-B": "ul-719", "NMC-B": "ul-719", "NYM": "din-vde-0250-204"}.get(
            row["family"], "nfpa-70"
        )
        yield Comparison(((row, "source"), (row, "family")), row.source == source, 0.0, source)
    yield from _scopes_alike(c)
    flat = next((row for row in c.rows(SCOPE) if row["scope"].startswith("NM-B round")), c.rows(SCOPE)[0])
    for row in c.rows(NM):
        inside = (
            row["size"] in RUN
            and RUN.index("14") <= RUN.index(row["size"]) <= RUN.index("2")
            and row["insulated"] in flat["insulated"]
        )
        yield Comparison(
            ((flat, "insulated"), (flat, "sizes"), (row, "insulated")),
            inside,
            0.0,
            f"a scope that holds {row['designation']}",
        )


def _scopes_alike(c: Context) -> Iterator[Comparison]:
    """Round cables go as far as flat ones of two conductors; flat ones of three as far in either family."""
    rows = {row["scope"]: row for row in c.rows(SCOPE)}
    pairs = (
        ("NM-B flat, 2 conductors", "NM-B round, 2, 3 or 4 conductors"),
        ("NM-B flat, 3 conductors", "NMC-B flat, 2 or 3 conductors"),
    )
    for names in pairs:
        one, other = (rows.get(name) for name in names)
        if one is None or other is None:
            yield Comparison(((c.rows(SCOPE)[0], "scope"),), False, 0.0, "rows " + " and ".join(names))
        else:
            yield Comparison(
                ((one, "sizes"), (other, "sizes")),
                one["sizes"] == other["sizes"],
                0.0,
                f"{other['sizes']}, as {names[1]}",
            )
    for family in ("UF-B", "AC", "MC", "NYM"):
        found = any(row["family"] == family for row in rows.values())
        yield Comparison(((c.rows(SCOPE)[0], "family"),), found, 0.0, f"a row for {family}")
