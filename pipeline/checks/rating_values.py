"""Temperature and voltage ratings of connectors and terminals."""

from __future__ import annotations

import re
from collections.abc import Iterator
from decimal import Decimal
from itertools import pairwise

from pipeline.checks import Comparison, Context, check
from pipeline.checks.connector_test_form import NUMBER, RATING, TEST

__all__: list[str] = []

#: What a rating of each category may be.
RATED = {
    "connector": r"as marked|\d+", "termination": r"\d+|as listed|lowest", "luminaire": r"\d+|not above .*|suitable for .*",
    "voltage": r"(?:\d{3,4}\|)+\d{4}|not below .*|\d{4} ac / \d{4} dc|\d{4} / \d{5}",
}  # fmt: skip


@check(
    "rating-form",
    layer="keys",
    reads=(RATING,),
    what="temperatures are in degrees and are rating classes of connectors, voltages in volts, words have no unit",
)
def rating_form(c: Context) -> Iterator[Comparison]:
    classes = {r["value"] for r in c.rows(RATING) if r["item"].startswith("operating temperature class")}
    for row in c.rows(RATING):
        kind = row["category"]
        ok = re.fullmatch(RATED.get(kind, "$^"), row["value"]) is not None
        ok = ok and (not row["value"].isdigit() or row["value"] in classes)
        yield Comparison(((row, "value"), (row, "category")), ok, 0.0, f"a rating of a {kind}")
        unit = "V" if kind == "voltage" else "degC" if row["value"].isdigit() else ""
        yield Comparison(((row, "unit"), (row, "value")), row["unit"] == unit, 0.0, unit or "nothing")


@check(
    "rating-condition",
    layer="keys",
    reads=(RATING,),
    what="classes of connectors are of insulated splices, voltages hold anywhere, terminals go by an ampacity column; other "
    "conditions stand once",
)
def rating_condition(c: Context) -> Iterator[Comparison]:
    shared = {"insulated splicing connector", "any", "default ampacity column"}
    for row in c.rows(RATING):
        item, condition = row["item"], row["condition"]
        if item.startswith("operating temperature class"):
            ok = condition == "insulated splicing connector"
        elif item.startswith("equipment terminals"):
            ok = condition == "default ampacity column"
        elif row["category"] == "voltage" or "recessed" in item:
            ok = condition == "any"
        else:
            ok = condition not in shared and sum(r["condition"] == condition for r in c.rows(RATING)) == 1
        yield Comparison(((row, "condition"), (row, "item")), ok, 0.0, f"the condition of {item}")
        words = {
            "connector": "connector|class",
            "termination": "terminal|pressure|weakest",
            "luminaire": "conductors",
            "voltage": "connector marking|voltage|IEC|486A|Chapter 3",
        }
        yield Comparison(
            ((row, "category"), (row, "item")),
            re.search(words[row["category"]], item) is not None,
            0.0,
            f"the category of {item}",
        )


@check(
    "rating-twin",
    layer="second evidence",
    reads=(RATING, TEST, "connector_family"),
    what="ratings that stand in two places agree: voltage markings, greatest voltages, the ampere limit of terminals, 75 mm beside 3 in",
)
def rating_twin(c: Context) -> Iterator[Comparison]:
    rows = {row["item"]: row for row in c.rows(RATING)}
    marking = next((r for r in c.rows(TEST) if r["test"] == "voltage marking allowed"), None)
    listed = rows.get("insulated connector marking")
    if marking is not None and listed is not None:
        right = marking["value"].split(";")[0].replace(" / ", "|")
        yield Comparison(((listed, "value"), (marking, "value")), listed["value"] == right, 0.0, right)
        again = set(NUMBER.findall(marking["value"].partition(";")[2])) <= set(NUMBER.findall(right))
        yield Comparison(((marking, "value"),), again, 0.0, "the same voltages after the semicolon")
    for name, row in rows.items():
        if name.startswith("486A-486B"):
            most = {r["family"]: r for r in c.rows("connector_family") if r["aspect"] == "greatest_voltage_v"}
            one, other = most.get("screw clamp"), most.get("split bolt")
            right = f"{one['value'] if one else ''} / {other['value'] if other else ''}"
            yield Comparison(
                ((row, "value"), *((r, "value") for r in (one, other) if r)),
                row["value"] == right,
                0.0,
                right,
            )
        metric = re.search(r"(\d+) mm \((\d+) in\)", name)
        if metric:
            off = abs(Decimal(metric[1]) - Decimal(metric[2]) * Decimal("25.4"))
            yield Comparison(
                ((row, "item"),),
                off < 2 and int(metric[1]) % 5 == 0,
                float(off / 2),
                "millimetres in fives beside inches",
            )
    under = next((r for n, r in rows.items() if n.startswith("equipment terminals, circuit")), None)
    over = next((r for n, r in rows.items() if n.startswith("equipment terminals over")), None)
    if under is not None and over is not None:
        a, b = NUMBER.findall(under["item"]), NUMBER.findall(over["item"])
        yield Comparison(
            ((under, "item"), (over, "item")), [a[0], a[-1]] == b, 0.0, f"the limits {' and '.join(b)}"
        )
        ok = (
            under["value"].isdigit()
            and over["value"].isdigit()
            and int(under["value"]) + 15 == int(over["value"])
        )
        yield Comparison(((under, "value"), (over, "value")), ok, 0.0, "one class below the larger terminals")
    direct = [r for r in rows.values() if r["value"].endswith(" dc")]
    for one, other in pairwise(direct):
        yield Comparison(
            ((one, "value"), (other, "value")), one["value"] == other["value"], 0.0, other["value"]
        )


@check(
    "rating-source",
    layer="keys",
    reads=(RATING,),
    what="a rating of a named standard comes from it, of the code from the code; rating classes are common practice",
)
def rating_source(c: Context) -> Iterator[Comparison]:
    named = {
        "IEC": "iec-60998-1",
        "486A-486B": "ul-486a-486b",
        "Chapter": "nfpa-70-2023",
        "operating temperature class": "common-practice",
    }
    for row in c.rows(RATING):
        right = next((s for words, s in named.items() if row["item"].startswith(words)), "")
        if not right:
            right = "ul-486c" if "insulated connector" in row["item"] else "nfpa-70-2023"
        yield Comparison(((row, "source"), (row, "item")), row.source == right, 0.0, right)
