"""Facts about connectors in words: which a family has, what each may say, and which standard says it."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

FAMILY, VARIANT, DEVICE, MADE, TEST, CAUTION = (
    "connector_family",
    "connector_variant",
    "related_device",
    "family_variant",
    "connector_test",
    "caution",
)
NAMES = {FAMILY: "family", VARIANT: "variant", DEVICE: "device"}

NUMBER = re.compile(r"(?<![A-Za-z\d])\d+(?:\.\d+)?")
SECTION = re.compile(r"\d{2,3}\.\d{1,3}(?:\([A-Za-z0-9]+\))*")

DESIGNATION = re.compile(r"(?:(?:UL|NFPA|CSA) \d[\dA-F-]*|IEC \d(?![.\d]* (?:to|mm2))[\d-]*)(?<!-)")

#: Series by the first word of a family, and the part of IEC 60998 that treats it.
SERIES = {
    "twist": "twist-on",
    "screwless": "clamp",
    "screw": "clamp",
    "crimped": "crimped",
    "split": "tap",
    "insulation": "tap",
}
PART = {"twist": "2-4", "screwless": "2-2", "screw": "2-1", "insulation": "2-3"}

#: Types of Federal Specification W-S-610E: twisted, crimped, threaded; it knows no push-in connector.
TYPE = {
    "twist": "Type I", "crimped": "Type II", "screw": "Type III", "split": "Type III", "screwless": "not classed",
    "insulation": "Style F",
}  # fmt: skip

#: What each aspect of a family, a variant or a device may say.
WORDS = {
    FAMILY: {
        "series": r"twist-on|clamp|crimped|tap",
        "standards_term": r".*(?:connector|terminal|clamping unit).*",
        "principle": r".*\b(?:spring|screw|barrel|sleeve|bolt|blades)\b.*",
        "us_standards": r"UL 486C(?:; UL 486A-486B)?|UL 486A-486B",
        "canadian_standards": r"CSA C22\.2 No\. (?:188|65)(?: or No\. 65)?",
        "international_standards": r"IEC 60998-1, IEC 60998-2-[1-4]",
        "reopenable": r"yes|no|if its instructions allow",
        "solid": r"yes|no|if so marked",
        "stranded": r"yes|no|if so marked",
        "flexible": r"yes|no|if so marked",
        "mixing": r".*\b(?:combinations?|opening|terminal|ends|tap)\b.*",
        "conductor_material": r"copper\b.*",
        "size_scope": r"6 AWG and smaller.*|the rated capacity.*|the range of .*",
        "insulated": r"yes|no; .*|body or added cap|made with and without",
        "environment": r"dry(?:, once covered| unless listed otherwise)?|as listed|sealed forms exist",
        "wire_preparation": r"(?:strip|straight end|no bare wire|ends even|as listed|none; ).*",
        "tool": r"none|wrench|.*\btool\b.*",
        "code_sections": rf"{SECTION.pattern}(?:, {SECTION.pattern})*",
        "federal_class": r"not classed|(?:Type I{1,3}(?:, (?:Class [12]|Style [A-G](?: or [A-G])?))?|Style [A-G])(?: \(.*|, by .*)?",
        "greatest_voltage_v": r"\d+",
    },
    VARIANT: {
        "planned_degc": r"\d+",
        "reopenable": r"as its family|no",
        "meaning": r".*\b(?:marked|sealant|tail)\b.*",
        "standards": r"as its family|UL 48?6?\d+[A-F]?.*",
        "code_sections": rf"{SECTION.pattern}(?:(?:, | to )(?:{SECTION.pattern}|\([A-D]\)))*",
    },
    DEVICE: {
        "standards_term": r".*(?:connector|connecting box|ferrule).*",
        "principle": r".*\b(?:half|terminals|weld|tube)\b.*",
        "standards": r"(?:UL|IEC) \d.*",
        "size_scope": r".*\bAWG\b.*|as .*",
        "conductor_material": r"(?:stranded )?copper",
        "code_sections": rf"Article \d{{3}}|{SECTION.pattern}(?:, (?:{SECTION.pattern}|second paragraph))*",
    },
}  # fmt: skip

#: Aspects that not every family has: the parts of IEC 60998 treat these families only.
PARTLY = {"international_standards": tuple(PART)}


def first_word(family: str) -> str:
    return re.split(r"[ -]", family)[0]


def _by_name(c: Context, stem: str) -> dict[str, dict[str, RawRow]]:
    out: dict[str, dict[str, RawRow]] = {}
    for row in c.rows(stem):
        out.setdefault(row[NAMES[stem]], {})[row["aspect"]] = row
    return out


@check(
    "fact-complete",
    layer="keys",
    reads=tuple(NAMES),
    what="every family, variant and device states every aspect of its kind, and no other",
)
def fact_complete(c: Context) -> Iterator[Comparison]:
    for stem, name in NAMES.items():
        for thing, facts in _by_name(c, stem).items():
            wanted = {a for a in WORDS[stem] if a not in PARTLY or first_word(thing) in PARTLY[a]}
            lacking = wanted - set(facts)
            for aspect, row in facts.items():
                ok = aspect in wanted and not lacking
                expected = f"an aspect of {thing}" + (
                    f"; it lacks {', '.join(sorted(lacking))}" if lacking else ""
                )
                yield Comparison(((row, "aspect"), (row, name)), ok, 0.0, expected)


@check(
    "fact-words",
    layer="keys",
    reads=tuple(NAMES),
    what="an aspect says one of the things that it can say",
)
def fact_words(c: Context) -> Iterator[Comparison]:
    for stem in NAMES:
        for row in c.rows(stem):
            form = WORDS[stem].get(row["aspect"], "$^")
            ok = re.fullmatch(form, row["value"]) is not None
            yield Comparison(((row, "value"), (row, "aspect")), ok, 0.0, f"words on {row['aspect']}")


@check(
    "fact-series",
    layer="keys",
    reads=(FAMILY,),
    what="a family belongs to the series, the part of IEC 60998 and the type of the federal specification that its name tells",
)
def fact_series(c: Context) -> Iterator[Comparison]:
    for family, facts in _by_name(c, FAMILY).items():
        word = first_word(family)
        for aspect, right in (
            ("series", SERIES.get(word, "")),
            ("international_standards", f"IEC 60998-1, IEC 60998-{PART.get(word, '')}"),
        ):
            if aspect in facts:
                row = facts[aspect]
                yield Comparison(((row, "value"), (row, "family")), row["value"] == right, 0.0, right)
        kind = facts.get("federal_class")
        if kind is not None:
            right = TYPE.get(word, "")
            yield Comparison(
                ((kind, "value"), (kind, "family")),
                re.match(rf"{right}\b", kind["value"]) is not None,
                0.0,
                right,
            )


@check(
    "fact-standards",
    layer="cross-check",
    reads=(FAMILY,),
    what="a Canadian standard stands beside the American one that it is harmonised with: No. 188 with UL 486C, No. 65 with UL 486A-486B",
)
def fact_standards(c: Context) -> Iterator[Comparison]:
    for facts in _by_name(c, FAMILY).values():
        if "us_standards" in facts and "canadian_standards" in facts:
            us, canada = facts["us_standards"], facts["canadian_standards"]
            numbers = [
                {"UL 486C": "188", "UL 486A-486B": "65"}.get(one, "") for one in us["value"].split("; ")
            ]
            right = "CSA C22.2 " + " or ".join(f"No. {n}" for n in numbers)
            yield Comparison(((canada, "value"), (us, "value")), canada["value"] == right, 0.0, right)


#: Sources that speak of any family.
GENERAL = ("defined", "common-practice", "nfpa-70-2023", "fed-w-s-610e", "nasa-std-8739.4")


@check(
    "fact-source",
    layer="keys",
    reads=(FAMILY,),
    what="what a standard says of a family comes from a standard that the family names",
)
def fact_source(c: Context) -> Iterator[Comparison]:
    titles = {row["source"]: row["title"].split(",")[0] for row in c.rows("sources")}
    for facts in _by_name(c, FAMILY).values():
        named = " ".join(facts[a]["value"] for a in ("us_standards", "international_standards") if a in facts)
        for row in facts.values():
            if row.source not in GENERAL:
                ok = titles.get(row.source, "?") in named
                # The title of a standard is where its own name stands.
                ok = ok and (
                    row.locator != "title"
                    or not row["value"].startswith(("UL", "IEC"))
                    or titles[row.source] in row["value"]
                )
                yield Comparison(((row, "source"), (row, "family")), ok, 0.0, f"a standard among {named}")
            if row["aspect"] in ("federal_class", "code_sections", "series"):
                right = {
                    "federal_class": "fed-w-s-610e",
                    "code_sections": "nfpa-70-2023",
                    "series": "defined",
                }[row["aspect"]]
                yield Comparison(((row, "source"),), row.source == right, 0.0, right)


@check(
    "fact-sections",
    layer="cross-check",
    reads=tuple(NAMES),
    what="the sections of the code that a fact names are those where it was read",
)
def fact_sections(c: Context) -> Iterator[Comparison]:
    for stem in NAMES:
        for row in c.rows(stem):
            if row["aspect"] != "code_sections":
                continue
            named, read = SECTION.findall(row["value"]), SECTION.findall(row.locator)
            ok = all(any(n.startswith(r) for r in read) for n in named)
            ok = ok and all(any(n.startswith(r) for n in named) for r in read)
            ok = ok and (bool(named) or row["value"] == row.locator)
            yield Comparison(((row, "value"),), ok, 0.0, f"sections of {row.locator}")


@check(
    "fact-designation",
    layer="cross-check",
    reads=(*NAMES, CAUTION, "temperature_rating"),
    what="a standard that is named by its number is one of the bibliography, or a part of one that another row cites",
)
def fact_designation(c: Context) -> Iterator[Comparison]:
    known = {name for row in c.rows("sources") for name in DESIGNATION.findall(row["title"])}
    known |= {
        f"IEC 60998-{r.locator[5:]}" for stem in NAMES for r in c.rows(stem) if r.locator.startswith("part ")
    }
    columns = dict.fromkeys(NAMES, "value") | {CAUTION: "clause", "temperature_rating": "item"}
    for stem, column in columns.items():
        for row in c.rows(stem):
            for name in DESIGNATION.findall(re.sub(r"^486A", "UL 486A", row[column])):
                yield Comparison(
                    ((row, column),), name in known, 0.0, f"a standard of sources.csv, not {name}"
                )


@check(
    "device-source",
    layer="keys",
    reads=(DEVICE,),
    what="what is said of a device comes from one standard, which it names; its sections from the code",
)
def device_source(c: Context) -> Iterator[Comparison]:
    titles = {row["source"]: row["title"].split(",")[0] for row in c.rows("sources")}
    for facts in _by_name(c, DEVICE).values():
        for aspect, row in facts.items():
            if aspect == "code_sections":
                ok, expected = row.source == "nfpa-70-2023", "nfpa-70-2023"
            else:
                others = {r.source for a, r in facts.items() if a != "code_sections"}
                expected = "one standard"
                ok = len(others) == 1
                if aspect == "standards":
                    ok = ok and re.sub(r"-\d$", "", titles.get(row.source, "?")) in row["value"]
            yield Comparison(((row, "source"),), ok, 0.0, expected)


@check(
    "fact-alike",
    layer="second evidence",
    reads=(FAMILY,),
    what="families of one series agree in material, Canadian standard, voltage and size where they name the same standards",
    reason="The scope of a standard is one; an uninsulated sleeve goes to a higher voltage.",
)
def fact_alike(c: Context) -> Iterator[Comparison]:
    groups: dict[tuple[str, ...], list[dict[str, RawRow]]] = {}
    for facts in _by_name(c, FAMILY).values():
        key = tuple(
            facts[a]["value"] for a in ("series", "us_standards", "international_standards") if a in facts
        )
        groups.setdefault(key, []).append(facts)
    for found in groups.values():
        for one, other in itertools.pairwise(found):
            for aspect in (
                "conductor_material",
                "size_scope",
                "us_standards",
                "stranded",
                "tool",
                "flexible",
            ):
                if aspect == "flexible" and one["series"]["value"] == "clamp":
                    continue
                a, b = one.get(aspect), other.get(aspect)
                if a is not None and b is not None:
                    yield Comparison(((b, "value"), (a, "value")), a["value"] == b["value"], 0.0, a["value"])


#: Whether a grip may be opened again, by the words of its principle.
REOPENS = (
    ("a lever opens|screw|bolt", "yes"),
    ("spring", "if its instructions allow"),
    ("pressed|blades", "no"),
)


@check(
    "fact-taken",
    layer="cross-check",
    reads=(FAMILY,),
    what="what a family takes and whether it opens follow from how it grips: screws, bolts and levers open again, springs that bite if "
    "the instructions allow, presses and blades never; finer strands go in only if so marked, and not by pushing; blades take a "
    "conductor only if so marked, closed barrels a solid one",
    reason="110.14 takes finer stranding only in connectors identified for it.",
)
def fact_taken(c: Context) -> Iterator[Comparison]:
    for facts in _by_name(c, FAMILY).values():
        if "principle" not in facts:
            continue
        how = facts["principle"]["value"]
        blades, pushed = "blades" in how, "pushed in" in how
        closed = re.search("barrel|capped", how) is not None
        right = {
            "reopenable": next((said for words, said in REOPENS if re.search(words, how)), ""),
            "flexible": "no" if pushed else "if so marked",
            "stranded": "if so marked" if blades else "yes",
            "solid": "if so marked" if blades or closed else "yes",
        }
        for aspect, expected in right.items():
            if aspect in facts:
                row = facts[aspect]
                cells = ((row, "value"), (facts["principle"], "value"))
                yield Comparison(cells, row["value"] == expected, 0.0, expected)


@check(
    "fact-scope",
    layer="cross-check",
    reads=(FAMILY, DEVICE, TEST),
    what="figures of a size scope are those of the scopes of the standards",
)
def fact_scope(c: Context) -> Iterator[Comparison]:
    known = {n for r in c.rows(TEST) if r["role"] == "scope" for n in NUMBER.findall(r["size"])}
    for row in (*c.rows(FAMILY), *c.rows(DEVICE)):
        if (
            row["aspect"] == "size_scope"
            and row["value"]
            and not row.source.startswith(("ul-486a", "ul-486f"))
        ):
            found = set(NUMBER.findall(re.sub(r"IEC \d{5}-\d", "", row["value"])))
            yield Comparison(
                ((row, "value"),), found <= known, 0.0, "figures that a scope in connector_test.csv has"
            )
