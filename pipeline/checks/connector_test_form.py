"""Rows of connector tests: names, kinds, materials and sources."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.readings import RawRow

__all__: list[str] = []

TEST, RATING, PULL, SIZES = "connector_test", "temperature_rating", "iec_60947_1_pull", "iec_60947_1_size"

NUMBER = re.compile(r"\d+(?:\.\d+)?")
WORD = re.compile(r"[A-Za-z0-9/.%-]+")

#: Unit and role of a test, by words in its name; the first that fits counts.
KINDS = (
    (r"voltage drop", "mV", "limit"), (r"test current", "A", "input"), (r"assigned maximum ampere", "A", "rating"), (r"temperature rise", "K", "limit"),
    (r"cycling, cycles", "cycles", "input"), (r"voltage marking", "V", "marking"), (r"voltage limit", "V", "scope"),
    (r"conductor combinations|exceeds the minimum|strip length", "rule", "marking"), (r"marking", "text", "marking"),
    (r"marking may be", "text", "marking"), (r"scope cross-section|scope, each", "", "scope"), (r"scope", "mm2", "scope"),
    (r"pull test", "N", "limit"), (r"flexing", "mm; mm; kg", "input"),
    (r"ageing", "temperature cycles", "input"), (r"conductors per|range below", "rule", "requirement"),
    (r"sizes not listed|axial", "rule", "limit"), (r"pull force", "N (lbf)", "limit"), (r"clearance", "mm", "limit"),
)  # fmt: skip


#: How a value of each unit is written.
WRITTEN = {
    "A": r"\d+(?:\.\d)?", "K": r"\d+", "cycles": r"\d+", "N": r"\d+", "temperature cycles": r"\d+",
    "V": r"\d{4}|\d{3} / .*", "mV": r"\d+|[\d.]+ or [\d.]+ x .*", "N (lbf)": r"\d+ \(\d+\)",
    "mm": r"[\d.]+ min; .*", "mm; mm; kg": r"bushing [\d.]+; height \d+; mass [\d.]+", "": r"[\d.]+ to [\d.]+",
    "mm2": r"[\d.]+(?:(?:, | to |; )[\d.]+)*", "text": r".*[A-Za-z]{2}.*", "rule": r".*[A-Za-z]{4}.*",
}  # fmt: skip


def tests_of(c: Context, words: str) -> dict[str, RawRow]:
    """Rows of a test by their size."""
    return {row["size"]: row for row in c.rows(TEST) if re.search(words, f"{row['standard']} {row['test']}")}


@check(
    "connector-test-kind",
    layer="keys",
    reads=(TEST,),
    what="a test has the unit and the role of its kind; marking texts have no size, figures by AWG and by mm2 name their system",
)
def connector_test_kind(c: Context) -> Iterator[Comparison]:
    for row in c.rows(TEST):
        name = "where range/voltage marking may be" if row["test"].startswith("where range") else row["test"]
        unit, role = next(((u, r) for words, u, r in KINDS if re.search(words, name)), ("?", "?"))
        if name.startswith("where range"):
            unit = "text"
        yield Comparison(((row, "unit"), (row, "test")), row["unit"] == unit, 0.0, unit or "nothing")
        yield Comparison(((row, "role"), (row, "test")), row["role"] == role, 0.0, role)
        ok = re.fullmatch(WRITTEN.get(unit, "$^"), row["value"]) is not None
        yield Comparison(((row, "value"), (row, "unit")), ok, 0.0, f"a value in {unit or 'mm2'}")
        ok = bool(row["size"]) == bool(row["size_system"])
        metric = row["standard"].startswith(("IEC", "GOST"))
        ok = ok and row["size_system"] in ("", "mm2" if metric else "AWG")
        yield Comparison(
            ((row, "size_system"), (row, "size")), ok, 0.0, "mm2 for IEC and GOST, AWG for others"
        )


@check(
    "connector-test-id",
    layer="keys",
    reads=(TEST,),
    what="the id of a test is made of the words of its standard, test, size and material, in this order",
)
def connector_test_id(c: Context) -> Iterator[Comparison]:
    for row in c.rows(TEST):
        parts = [row["standard"], row["test"], row["size"], row["size_system"], row["material"]]
        words = WORD.findall(" ".join(parts))
        at = 0
        for word in WORD.findall(row["test_id"]):
            at = words.index(word, at) + 1 if word in words[at:] else len(words) + 1
        # The part of the test before a comma or a bracket is in every id.
        short = WORD.findall(re.split(r"[,(]| \d", row["test"])[0])
        ok = at <= len(words) and all(word in WORD.findall(row["test_id"]) for word in short)
        cells = tuple((row, column) for column in ("test_id", "test", "standard", "size", "material"))
        yield Comparison(cells, ok, 0.0, "the words " + " ".join(words))


@check(
    "connector-test-series",
    layer="second evidence",
    reads=(TEST,),
    what="rows of one test by size say the same but for size and value",
)
def connector_test_series(c: Context) -> Iterator[Comparison]:
    series: dict[str, list[RawRow]] = {}
    for row in c.rows(TEST):
        if row["size"] and row["size"] in row["test_id"]:
            name = row["test_id"].replace(f" {row['size']} {row['size_system']}", "")
            series.setdefault(name, []).append(row)
    for rows in series.values():
        for column in ("standard", "test", "size_system", "material", "unit", "role"):
            said = {row[column] for row in rows}
            if len(rows) > 1:
                cells = tuple((row, column) for row in rows)
                yield Comparison(cells, len(said) == 1, 0.0, f"one {column} in all rows of the test")


@check(
    "connector-test-material",
    layer="keys",
    reads=(TEST,),
    what="an id that names aluminium is of aluminium; rows of one test by size are of one material",
)
def connector_test_material(c: Context) -> Iterator[Comparison]:
    materials = {"", "Cu", "Al", "Cu, Al", "Cu, Al, Cu-clad Al", "Cu rigid and/or flexible, unprepared"}
    for row in c.rows(TEST):
        named = " Al" in row["test_id"] and row["size_system"] == "AWG"
        right = {"all": None}.get(row["size"], "Al" if row["test_id"].endswith(" AWG Al") else "")
        ok = row["material"] in materials
        if right == "Al" or (named and right is None):
            ok = ok and row["material"] == "Al"
        elif right == "" and row["size"] and "Al" not in row["test_id"]:
            ok = ok and row["material"].startswith("Cu")
        yield Comparison(((row, "material"), (row, "test_id")), ok, 0.0, "Al" if right == "Al" else "Cu")


@check(
    "connector-test-source",
    layer="keys",
    reads=(TEST,),
    what="a test comes from the standard it is of, from a text that names it, or is said to be inferred",
)
def connector_test_source(c: Context) -> Iterator[Comparison]:
    titles = {row["source"]: row["title"] for row in c.rows("sources")}
    for row in c.rows(TEST):
        named = re.split(r":| chg ", row["standard"])[0]
        ok = (
            named in re.split(r"[,;] ", titles.get(row.source, ""))
            or named in titles.get(row.source, "").split(" loads of ")[-1]
        )
        yield Comparison(
            ((row, "source"), (row, "standard")), ok or "inferred" in row.note, 0.0, f"a source of {named}"
        )


@check(
    "connector-test-words",
    layer="cross-check",
    reads=(TEST,),
    what="words stand where words belong and fit the name of their test; the clamping units of IEC are of copper; only the scope of "
    "twist-on devices says rigid or flexible",
)
def connector_test_words(c: Context) -> Iterator[Comparison]:
    for row in c.rows(TEST):
        copper = row["standard"].startswith(("IEC 60998", "IEC 60999"))
        scope = row["standard"].startswith("IEC 60998-2-4") and row["test"] == "scope, each conductor"
        ok = (not copper or "Al" not in row["material"]) and ("rigid" in row["material"]) == scope
        yield Comparison(
            ((row, "material"), (row, "standard")), ok, 0.0, "copper of the kind that its scope says"
        )
        if row["unit"] in ("text", "rule"):
            figures = any(
                re.fullmatch(WRITTEN[unit], row["value"]) for unit in ("V", "mm; mm; kg", "mm", "N (lbf)")
            )
            told = all((words in row["value"]) == (row["test"] == name) for words, name in _OWN_WORDS.items())
            yield Comparison(
                ((row, "value"), (row, "test")), told and not figures, 0.0, f"words about {row['test']}"
            )


#: Words of a value that belong to one test alone.
_OWN_WORDS = {"insulation to remove": "strip length", "rated capacity": "range below rating"}
