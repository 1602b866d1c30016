"""Usual mixes: the words beside a mix fit how many conductors it has and of what kind; and some class takes it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal

from jointable.notation import Joint
from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

AWG, METRIC = r"x[\d/]+ AWG", r"x[\d.]+ mm2"
SIZE = rf"(?:{AWG}|{METRIC})"
LEAD = rf"{SIZE} (?:stranded|flexible)"

#: What a mix looks like that is met as the words say: counts and kinds, no sizes.
MET_AS = {
    "a conductor that goes on": f"2{SIZE}",
    "a device fed through": f"3{AWG}",
    "a socket fed through": f"3{METRIC}",
    "a branch": f"3{METRIC}",
    "several branches": f"[45]{METRIC}",
    "neutrals or grounds of several cables": f"[45]{AWG}",
    "neutrals or grounds of many cables": f"6{AWG}",
    "several large conductors": f"4{AWG}",
    "a large appliance": rf"3{AWG}|1{AWG} \+ 2{AWG}",
    "a thinner branch": rf"\d{SIZE} \+ 1{SIZE}",
    "thinner branches": rf"1{SIZE} \+ 2{SIZE}",
    "a luminaire lead": rf"1{SIZE} \+ 1{LEAD}",
    "a luminaire lead, fed through": rf"2{SIZE} \+ 1{LEAD}",
    "two luminaire leads": rf"1{SIZE} \+ 2{LEAD}",
    "a luminaire or motor lead": rf"1{SIZE} \+ 1{LEAD}",
    "leads of equipment": rf"[23]{LEAD}",
    "a control or bell circuit": f"2{AWG}",
    "a signal circuit": f"[23]{AWG}",
}  # fmt: skip

#: Branch wiring is 14 AWG (2.08 mm2) or 1.5 mm2 at the least, common practice; these are thinner, or may be.
THIN = ("a control or bell circuit", "a signal circuit")
LEADS = ("leads of equipment",)
BRANCH_MM2 = Decimal("1.5")
#: Bell and control wires are 20 AWG (0.52 mm2) or more, signal wires less, common practice.
SIGNAL_MM2 = Decimal("0.5")
LARGE = ("a large appliance", "several large conductors")
LARGE_MM2 = Decimal(5)


@check(
    "usual-mix-words",
    layer="cross-check",
    reads=("usual_mix",),
    what="the words beside a mix fit its conductors: how many, solid or stranded, branch wiring or thinner, large ones",
    reason="Branch wiring of 14 AWG or 1.5 mm2 and more, bell wires thinner and signal wires thinner still, is common practice.",
)
def usual_mix_words(c: Context) -> Iterator[Comparison]:
    areas = {key[0]: Decimal(str(row["area_mm2"])) for key, row in c.tables["conductor_size"].items()}
    for row in c.rows("usual_mix"):
        words = row["met_as"]
        pattern = MET_AS.get(words, r"(?!)")
        ok = re.fullmatch(pattern, row["conductors"]) is not None
        if ok:
            widest = areas.get(Joint.parse(row["conductors"]).conductors[0].size, Decimal(0))
            ok = words in LEADS or (widest >= BRANCH_MM2) != (words in THIN)
            ok = ok and (words not in LARGE or widest > LARGE_MM2)
            ok = ok and (words not in THIN or (widest < SIGNAL_MM2) == (words == "a signal circuit"))
        yield Comparison(((row, "met_as"), (row, "conductors")), ok, 0.0, f"as of {words}: {pattern}")


@check(
    "usual-mix-taken",
    layer="cross-check",
    reads=("usual_mix",),
    what="the AWG sizes of usual mixes are even ones from 24 to 6, as trade sizes are; some general twist-on class takes each mix",
)
def usual_mix_taken(c: Context) -> Iterator[Comparison]:
    areas = {key[0]: Decimal(str(row["area_mm2"])) for key, row in c.tables["conductor_size"].items()}
    classes = [
        {name: Decimal(str(row[name])) for name in _LIMITS}
        for row in c.tables["connector_class"].values()
        if row["family"] == "twist-on" and row["variant"] == "general"
    ]
    for row in c.rows("usual_mix"):
        terms = re.findall(r"(\d+)x(\S+ \S+)", row["conductors"])
        held = [(int(n), size, areas.get(size, Decimal(0))) for n, size in terms]
        trade = all(not size.endswith("AWG") or size.split()[0] in TRADE for _, size, _ in held)
        ok = bool(held) and trade and any(_takes(one, held) for one in classes)
        yield Comparison(((row, "conductors"),), ok, 0.0, "sizes of the trade that a twist-on class takes")


@check(
    "usual-mix-counts",
    layer="cross-check",
    reads=("usual_mix",),
    what="of branch wiring of one size, the usual counts run from two without a gap, and a thicker size has no more of them",
    reason="The thicker the conductors, the fewer meet in one joint: common practice.",
)
def usual_mix_counts(c: Context) -> Iterator[Comparison]:
    areas = {key[0]: Decimal(str(row["area_mm2"])) for key, row in c.tables["conductor_size"].items()}
    found: dict[tuple[str, Decimal, str], dict[int, RawRow]] = {}
    for row in c.rows("usual_mix"):
        alone = re.fullmatch(r"(\d+)x(\S+ (AWG|mm2))", row["conductors"])
        if alone and areas.get(alone[2], Decimal(0)) >= BRANCH_MM2:
            found.setdefault((alone[3], areas[alone[2]], alone[2]), {})[int(alone[1])] = row
    most: dict[str, int] = {}
    for (system, _, size), rows in sorted(found.items()):
        limit = most.get(system, max(rows))
        for count, row in rows.items():
            ok = count <= limit and all(n in rows for n in range(2, count))
            yield Comparison(((row, "conductors"),), ok, 0.0, f"2 to {limit} of {size} without a gap")
        most[system] = max(rows)


TRADE = tuple(str(n) for n in range(6, 26, 2))
_LIMITS = (
    "min_total_mm2", "max_total_mm2", "min_conductor_mm2", "max_conductor_mm2", "min_conductors", "max_conductors",
)  # fmt: skip


def _takes(one: dict[str, Decimal], held: list[tuple[int, str, Decimal]]) -> bool:
    total, count = sum(n * area for n, _, area in held), sum(n for n, _, _ in held)
    return (
        one["min_total_mm2"] <= total <= one["max_total_mm2"]
        and one["min_conductors"] <= count <= one["max_conductors"]
        and all(one["min_conductor_mm2"] <= area <= one["max_conductor_mm2"] for _, _, area in held)
    )
