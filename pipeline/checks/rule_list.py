"""The lists of counting rules and limits: what each rule may say, in words of its own, at the place it names."""

from __future__ import annotations

import re
from collections.abc import Iterator

from pipeline.checks import Comparison, Context, check
from pipeline.checks.sources import year_of
from pipeline.intervals import Printed, exact
from pipeline.readings import RawRow

__all__: list[str] = []

FILL = ("nec_fill_rule", "cec_fill_rule")
LIMIT = "nec_box_limit"

#: Figures that only some rules have; every other rule leaves the column empty.
FIGURES = {
    "free_count": ("canopy_wires", "grounding"),
    "beyond_share": ("grounding",),
    "size_limit": ("canopy_wires", "fixture_wire", "large_conductor", "small_conductor"),
    "threshold": ("loop", "deep_device", "marked_box"),
    "threshold_unit": ("loop", "deep_device", "marked_box"),
    "volume_in3": ("barrier_metal", "barrier_nonmetallic"),
    "volume_cm3": ("barrier_metal", "barrier_nonmetallic", "deep_device"),
}
LIMIT_FIGURES = {
    "factor": r"straight_pull|angle_pull|same_conductors",
    "limit_mm": r"cover_.*|depth_(?!large|over).*|side_entry|free_length.*",
    "clearance_mm": r"depth_large|depth_12_10",
    "threshold_mm": r"rack|depth_large|depth_12_10|free_length_outside",
    "size_from": r"straight_pull|angle_pull|same_conductors|cover_.*|depth_\d+_.*|depth_over_4",
    "size_to": r"cover_.*|depth_\d.*",
}

#: What each item is counted by, and which conductor sets its size.
COUNTED = {
    "conductor": ("each", "own|none"),
    "through": ("each", "own"),
    "loop": ("each", "own"),
    "device": ("yoke|gang|each", "largest connected|none"),
    "stud": ("type|any|each", "largest present|largest insulated"),
    "hickey": ("type|any|each", "largest present|largest insulated"),
    "clamp": ("box|each", "largest present|none"),
    "grounding": ("box|each", "largest grounding|own|none"),
    "isolated_grounding": ("set|tally|each", "largest isolated|own|none"),
    "terminal_block": ("assembly|each", "largest connected|none"),
    "connector": ("pair|each", "largest under|none"),
}

#: Words without which a rule does not speak of its item.
NAMED = {
    "conductor": "conductor|allowance", "through": "unbroken|runs through", "loop": "loop",
    "pigtail": "starts and ends|no part of which leaves", "fixture_wire": "fixture wires",
    "fixture_grounding": "of the luminaire|from a domed luminaire", "clamp": "clamp|locknuts", "stud": "stud",
    "hickey": "hickey", "device": "device", "grounding": "grounding conductors|bonding conductor",
    "isolated_grounding": "isolated|additional set", "terminal_block": "terminal block", "connector": "connectors",
    "barrier": "barrier", "extension": "rings", "conduit_body": "conduit body", "box": "box",
}  # fmt: skip


@check(
    "rule-figures",
    layer="cross-check",
    reads=(*FILL, LIMIT),
    what="a rule has the figures that it speaks of and no other",
)
def rule_figures(c: Context) -> Iterator[Comparison]:
    for stem in FILL:
        for row in c.rows(stem):
            for column, rules in FIGURES.items():
                asked = row["rule"] in rules
                asked = asked and not (
                    row["rule"] == "grounding" and row["effect"] == "adds" and int(row["edition"]) < 2020
                )
                asked = asked and not (row["rule"] in ("grounding", "loop", "marked_box") and stem != FILL[0])
                yield Comparison(
                    ((row, column),), bool(row[column]) == asked, 0.0, "a figure" if asked else "nothing"
                )
    for row in c.rows(LIMIT):
        for column, pattern in LIMIT_FIGURES.items():
            wanted = re.fullmatch(pattern, row["rule"]) is not None
            yield Comparison(
                ((row, column),), bool(row[column]) == wanted, 0.0, "a figure" if wanted else "nothing"
            )


@check(
    "rule-allowances",
    layer="cross-check",
    reads=FILL,
    what="a counted item takes one allowance, a long loop and a yoke or gang two, one that is not counted none",
    reason="314.16(B) and Rule 12-3034 know single and double allowances only.",
)
def rule_allowances(c: Context) -> Iterator[Comparison]:
    for stem in FILL:
        for row in c.rows(stem):
            if row["effect"] in ("sets", "limit") or row["volume_cm3"]:
                right = ""
            elif row["effect"] != "adds":
                right = "0"
            else:
                double = row["per"] in ("yoke", "gang") or (row["rule"] == "loop" and bool(row["threshold"]))
                right = "2" if double else "1"
            cells = ((row, "allowances"), (row, "effect"), (row, "per"))
            yield Comparison(cells, row["allowances"] == right, 0.0, right or "nothing")
            sized = row["basis"] != "none"
            yield Comparison(
                ((row, "basis"), (row, "allowances")),
                sized == (right in ("1", "2")),
                0.0,
                "a conductor" if not sized else "none",
            )


@check(
    "rule-item",
    layer="cross-check",
    reads=FILL,
    what="an item is counted by what it comes in, is sized on the conductor it goes with, and is named in the words of its rule",
)
def rule_item(c: Context) -> Iterator[Comparison]:
    for stem in FILL:
        for row in c.rows(stem):
            per, basis = COUNTED.get(row["item"], ("each", "none"))
            yield Comparison(
                ((row, "per"), (row, "item")), re.fullmatch(per, row["per"]) is not None, 0.0, per
            )
            yield Comparison(
                ((row, "basis"), (row, "item")), re.fullmatch(basis, row["basis"]) is not None, 0.0, basis
            )
            words = NAMED.get(row["item"], "$^")
            yield Comparison(
                ((row, "what"), (row, "item")),
                re.search(words, row["what"]) is not None,
                0.0,
                f"words on {row['item']}",
            )
            named = row["rule"].startswith(row["item"].split("_")[0]) or row["item"] in row["rule"]
            odd = (row["rule"], row["item"]) in {
                ("canopy_wires", "fixture_wire"), ("canopy_grounding", "fixture_grounding"), ("deep_device", "device"),
                ("table_box", "box"), ("marked_box", "box"), ("large_conductor", "conductor"),
                ("small_conductor", "conductor"), ("small_fittings", "clamp"),
            }  # fmt: skip
            yield Comparison(((row, "item"), (row, "rule")), named or odd, 0.0, f"the item of {row['rule']}")


@check(
    "rule-effect",
    layer="cross-check",
    reads=FILL,
    what="barriers and clamp assemblies take volume off, boxes and what extends them set it, conductors without allowance are a limit",
)
def rule_effect(c: Context) -> Iterator[Comparison]:
    for stem in FILL:
        for row in c.rows(stem):
            if row["item"] == "barrier" or row["rule"] == "clamp_assembly":
                right = "subtracts"
            elif row["item"] in ("box", "extension", "conduit_body"):
                right = "sets"
            elif row["rule"] in ("large_conductor", "small_conductor"):
                right = "limit"
            else:
                right = "adds" if row["allowances"] not in ("", "0") or row["volume_cm3"] else "none"
            yield Comparison(((row, "effect"), (row, "allowances")), row["effect"] == right, 0.0, right)


@check(
    "rule-words",
    layer="cross-check",
    reads=(*FILL, LIMIT),
    what="no two rules of an edition say the same, but studs and hickeys, and the rows of one table",
)
def rule_words(c: Context) -> Iterator[Comparison]:
    for stem in (*FILL, LIMIT):
        said: dict[tuple[str, str], list[RawRow]] = {}
        for row in c.rows(stem):
            said.setdefault((row["edition"], row["what"]), []).append(row)
        for rows in said.values():
            kinds = {re.sub(r"^(cover)_.*|^(?:stud|hickey)$", r"\1", row["rule"]) for row in rows}
            yield Comparison(
                ((rows[-1], "what"), (rows[-1], "rule")), len(kinds) == 1, 0.0, "words of its own"
            )


@check(
    "rule-twin-fittings",
    layer="second evidence",
    reads=FILL,
    what="studs and hickeys are counted alike in every edition",
)
def rule_twin_fittings(c: Context) -> Iterator[Comparison]:
    for stem in FILL:
        rows = {(row["edition"], row["rule"]): row for row in c.rows(stem)}
        for (edition, rule), row in rows.items():
            other = rows.get((edition, "hickey"))
            if rule == "stud" and other is not None:
                for column in ("clause", "allowances", "per", "basis", "effect", "reading"):
                    cells = ((row, column), (other, column))
                    yield Comparison(cells, row[column] == other[column], 0.0, other[column] or "nothing")


@check(
    "rule-clause",
    layer="cross-check",
    reads=(*FILL, LIMIT, "cec_box_limit"),
    what="the clause of a rule is the place where its row was read",
    reason="The Mexican law and the residential code number other places; their clauses are those of the code they follow.",
)
def rule_clause(c: Context) -> Iterator[Comparison]:
    for stem in (*FILL, LIMIT, "cec_box_limit"):
        for row in c.rows(stem):
            clause, place = row["clause"], row.locator
            if row.source.startswith("nfpa-"):
                ok = clause == place
            elif row.source.startswith("nom-"):
                sections = {part.replace(".", "-") for part in re.findall(r"\d{3}\.\d+", clause)}
                ok = any(section in place for section in sections)
            elif row.source.startswith("csa-"):
                number = place.removeprefix("Rule ").split()[0]
                ok = (
                    re.fullmatch(rf"{number}(?: \d\))?(?: [a-d]\))?(?:, Table 2[23])?|Table 22", clause)
                    is not None
                )
                ok = ok and (clause in place or " " not in place.removeprefix("Rule "))
            else:
                ok = clause.startswith("314.16")
            yield Comparison(((row, "clause"),), ok, 0.0, f"a clause at {place}")


@check(
    "rule-change-is-one",
    layer="second evidence",
    reads=("rule_change", *FILL),
    what="a change that is stated between two editions is one",
)
def rule_change_is_one(c: Context) -> Iterator[Comparison]:
    for change in c.rows("rule_change"):
        rows = sorted(
            (r for r in c.rows(change["file"]) if r["rule"] == change["rule"]),
            key=lambda r: int(r["edition"]),
        )
        newer = next((r for r in rows if r["edition"] == change["edition"]), None)
        older = next((r for r in reversed(rows) if r["edition"] < change["edition"]), None)
        if newer is None or older is None or change["column"] not in newer.cells:
            yield Comparison(((change, "rule"),), False, 0.0, "a rule that two editions print")
            continue
        column = change["column"]
        cells = ((newer, column), (older, column))
        yield Comparison(
            cells,
            newer[column] != older[column],
            0.0,
            f"another than {older[column]!r} of {older['edition']}",
        )


@check(
    "rule-seen-alike",
    layer="keys",
    reads=FILL,
    what="a rule was seen in each edition in that edition's own print, or in every edition in the same one",
)
def rule_seen_alike(c: Context) -> Iterator[Comparison]:
    years = {row["source"]: year_of(row) for row in c.rows("sources")}
    for stem in FILL:
        seen: dict[str, list[RawRow]] = {}
        for row in c.rows(stem):
            seen.setdefault(row["rule"], []).append(row)
        for rows in seen.values():
            own = all(years.get(row.source) == row["edition"] for row in rows)
            cells = tuple((row, "source") for row in rows)
            one = len({row.source for row in rows}) == 1
            yield Comparison(cells, own or one, 0.0, "one source, or for each edition its own")


@check(
    "rule-kept",
    layer="second evidence",
    reads=(*FILL, LIMIT),
    what="a rule of one edition is in every later one that was read whole",
    reason="No rule is known to have been withdrawn; that of clamp assemblies is gone from the copies of 2023 without confirmation.",
)
def rule_kept(c: Context) -> Iterator[Comparison]:
    for stem in (*FILL, LIMIT):
        rules: dict[str, dict[str, RawRow]] = {}
        for row in c.rows(stem):
            rules.setdefault(row["edition"], {})[row["rule"]] = row
        last = max(rules)
        for edition, found in rules.items():
            # Two editions are known by single rules only: 2014 and 2017.
            later = [e for e in rules if e > edition and len(rules[e]) > 2]
            for rule, row in found.items():
                ok = all(rule in rules[e] for e in later if not (rule == "clamp_assembly" and e == last))
                yield Comparison(
                    ((row, "rule"), (row, "edition")), ok, 0.0, f"a rule that {', '.join(later)} has too"
                )


@check(
    "rule-volume-units",
    layer="cross-check",
    reads=FILL,
    what="a volume in cubic centimetres is the one in cubic inches times 16.387064; the depth of a deep device is an inch",
    tolerance="half a unit of the last printed digit",
)
def rule_volume_units(c: Context) -> Iterator[Comparison]:
    for stem in FILL:
        for row in c.rows(stem):
            if row["volume_in3"]:
                true = exact(row["volume_in3"]) * exact("16.387064")
                cells = ((row, "volume_cm3"), (row, "volume_in3"))
                printed = Printed(row["volume_cm3"] or "0")
                yield Comparison(
                    cells, printed.meets(true), true.residual(printed), f"about {float(true.middle):.1f}"
                )
            if row["rule"] == "deep_device":
                yield Comparison(
                    ((row, "threshold"),), row["threshold"] == "25.4", 0.0, "25.4, an inch in millimetres"
                )


@check(
    "rule-loop-length",
    layer="cross-check",
    reads=(FILL[0], LIMIT),
    what="a loop counts twice from twice the free length that 300.14 asks for",
)
def rule_loop_length(c: Context) -> Iterator[Comparison]:
    free = {row["edition"]: row for row in c.rows(LIMIT) if row["rule"] == "free_length"}
    for row in c.rows(FILL[0]):
        if row["rule"] == "loop" and row["edition"] in free:
            right = str(2 * int(free[row["edition"]]["limit_mm"]))
            yield Comparison(
                ((row, "threshold"), (free[row["edition"]], "limit_mm")),
                row["threshold"] == right,
                0.0,
                right,
            )
