"""What a class takes: the mixes at either end and the counts of each size, held against the rule."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest

import jointable
from jointable.errors import InputError

CLASSES: list[dict[str, Any]] = [
    {"size": "16"},
    {"size": 16, "grip": "wide"},
    {"size": "1"},
    {"size": "35"},
    {"size": "4", "family": "screwless lever", "ways": "3"},
    {"size": "2.5", "family": "screw clamp"},
    {"size": "10", "family": "crimped closed end"},
    {"size": "4", "family": "crimped butt"},
    {"size": "63", "family": "split bolt"},
    {"size": "16", "family": "insulation-piercing"},
]


@pytest.mark.parametrize("asked", CLASSES)
def test_every_mix_shown_is_taken(reference: jointable.Reference, asked: dict[str, Any]) -> None:
    answer = reference.range(**asked)
    assert answer["least"]
    assert answer["greatest"]
    for mix in (*answer["least"], *answer["greatest"]):
        found = reference.connectors(mix["text"], family=answer["family"])
        assert answer["class"] in {c.name for c in found.choices}, mix["text"]
        assert found.facts.total_mm2 == mix["total_mm2"]
    least = [m["total_mm2"] for m in answer["least"]]
    greatest = [m["total_mm2"] for m in answer["greatest"]]
    assert least == sorted(least)
    assert greatest == sorted(greatest, reverse=True)
    assert least[0] <= greatest[0]


@pytest.mark.parametrize("asked", CLASSES)
def test_counts_of_each_size(reference: jointable.Reference, asked: dict[str, Any]) -> None:
    answer = reference.range(**asked)
    family, by_size = answer["family"], answer["by_size"]
    assert by_size

    def taken(size: str, count: int) -> bool:
        text = f"{count}x{size} | {count}x{size}" if family == "crimped butt" else f"{count}x{size}"
        return answer["class"] in {c.name for c in reference.connectors(text, family=family).choices}

    first = 1 if family == "crimped butt" else 2
    for row in (by_size[0], by_size[-1], by_size[len(by_size) // 2]):
        right = [n for n in range(first, 7) if taken(row["size"], n)]
        assert (row["min_count"], row["max_count"]) == (right[0], right[-1])
        assert right == list(range(right[0], right[-1] + 1))


def test_no_combination_lies_outside_the_mixes_shown(reference: jointable.Reference) -> None:
    reference.connection.execute(
        "CREATE OR REPLACE TEMP TABLE combined AS SELECT conductors AS joint, "
        "split_part(t, 'x', 1)::INTEGER AS quantity, split_part(t, 'x', 2) AS size "
        "FROM (SELECT conductors, unnest(string_split(conductors, ' + ')) AS t FROM combination)"
    )
    rows = reference.rows(
        "SELECT class, any_value(size), any_value(grip), min(total_mm2), max(total_mm2) "
        "FROM joint_choices('combined', family := 'twist-on') GROUP BY class"
    )
    assert len(rows) == 18
    for name, size, grip, low, high in rows:
        answer = reference.range(size, grip=grip)
        assert answer["class"] == name
        assert (answer["least"][0]["total_mm2"], answer["greatest"][0]["total_mm2"]) == (low, high)


def test_sixteen(reference: jointable.Reference) -> None:
    by_size = {r["size"]: (r["min_count"], r["max_count"]) for r in reference.range("16")["by_size"]}
    assert by_size["12 AWG"] == (2, 4)
    assert by_size["10 AWG"] == (2, 3)
    assert by_size["14 AWG"] == (2, 6)
    assert by_size["4 mm2"] == (2, 4)
    assert "8 AWG" not in by_size


def test_as_json(reference: jointable.Reference) -> None:
    answer = reference.range("2.5", family="screwless push-in", ways=4)
    assert set(answer) >= {
        "class", "family", "size", "ways", "grip", "least", "greatest", "by_size", "data_version",
    }  # fmt: skip
    assert (answer["class"], answer["size"], answer["ways"]) == (
        "screwless push-in 2.5 x4",
        Decimal("2.5"),
        4,
    )
    assert reference.range("2.5", family="screwless push-in")["ways"] == 2


@pytest.mark.parametrize(
    ("size", "options", "says"),
    [
        ("15", {}, "one of 1, 1.6, 2.5, 4, 6.3, 10, 16, 25, 35"),
        ("red", {}, "one of 1, 1.6"),
        ("", {}, "one of 1, 1.6"),
        ("16", {"family": "crimp"}, "did you mean"),
        ("16", {"grip": "loose"}, "one of standard, wide"),
        ("16", {"family": "split bolt", "grip": "wide"}, "not made wide"),
        ("4", {"family": "screwless lever", "ways": "7"}, "2 to 6"),
        ("4", {"family": "screwless lever", "ways": "x"}, "2 to 6"),
    ],
)
def test_classes_that_are_none(
    reference: jointable.Reference, size: str, options: dict[str, Any], says: str
) -> None:
    with pytest.raises(InputError) as caught:
        reference.range(size, **options)
    assert says in str(caught.value)


@pytest.mark.parametrize("size", ["16", "16.0", "16 mm2", " 16 ", 16, Decimal("16.00")])
def test_ways_to_write_a_size(reference: jointable.Reference, size: Any) -> None:
    assert reference.range(size)["class"] == "twist-on 16"


def test_usual_mixes_are_those_that_the_class_takes(reference: jointable.Reference) -> None:
    """Every mix of the table, held against the answer about the joint itself."""
    rows = [r[0] for r in reference.rows("SELECT conductors FROM usual_mix")]
    for size, grip in (("10", "standard"), ("16", "wide"), ("2.5", "standard")):
        answer = reference.range(size, grip=grip)
        told = [m["text"] for m in answer["usual"]]
        taken = {
            text
            for text in rows
            if answer["class"] in {c.name for c in reference.connectors(text, family="twist-on").choices}
        }
        assert taken
        assert set(told) == taken
        totals = [m["total_mm2"] for m in answer["usual"]]
        assert totals == sorted(totals)
    assert any("common practice" in a for a in answer["assumptions"])


def test_a_clamp_has_usual_mixes_too(reference: jointable.Reference) -> None:
    answer = reference.range("2.5", family="screwless lever", ways=3, grip="wide")
    assert "2x1.5 mm2 + 1x0.75 mm2 flexible" in {m["text"] for m in answer["usual"]}


@pytest.mark.parametrize(
    ("family", "size"), [("twist-on", "16"), ("screwless lever", "2.5"), ("crimped closed end", "10")]
)
def test_the_macro_counts_as_the_range_does(reference: jointable.Reference, family: str, size: str) -> None:
    answer = reference.range(size, family=family)
    rows = reference.rows(
        f"SELECT size, min_count, max_count FROM class_counts(family := '{family}') WHERE class = ?",
        [answer["class"]],
    )
    counted = {s: (least, most) for s, least, most in rows}
    wanted = {s["size"]: (s["min_count"], s["max_count"]) for s in answer["by_size"]}
    assert wanted
    assert {s: counted.get(s) for s in wanted} == wanted
