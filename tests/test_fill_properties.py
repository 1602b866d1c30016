"""Laws of the box fill that hold whatever the figures are, tried on random boxes."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from fractions import Fraction
from itertools import chain
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

import jointable
from tests.oracle.fill_oracle import EDITIONS, OracleError, fill
from tests.oracle.random_boxes import Maker, Schedule, boxes, schedule

#: Boxes of an example are asked about in one statement, since its planning takes longer than a box.
BOXES = 4
SETTINGS = settings(
    max_examples=4, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much]
)
editions = pytest.mark.parametrize("edition", EDITIONS)
FIGURES = ("space", "required_in3", "required_cm3", "available_in3", "available_cm3", "passes")
Shown = list[dict[str, Any]]


def several(data: st.DataObject, edition: str) -> list[Schedule]:
    """Random boxes that have an answer."""
    return [data.draw(boxes(edition)) for _ in range(BOXES)]


def answers(reference: jointable.Reference, asked: list[Schedule], edition: str) -> list[Shown]:
    """The library's answers to each box, its spaces in order of their names."""
    named = [row | {"box": f"{n} {row['box']}"} for n, rows in enumerate(asked) for row in rows]
    by_box: dict[str, Shown] = {}
    for result in reference.fill(named, edition=edition):
        by_box.setdefault(result.box, []).append(result.to_dict())
    assert list(by_box) == [f"{n} {rows[0]['box']}" for n, rows in enumerate(asked)]
    return [sorted(found, key=lambda shown: shown["space"] or "") for found in by_box.values()]


def pairs(
    reference: jointable.Reference, given: list[Schedule], changed: list[Schedule], edition: str
) -> Iterator[tuple[Shown, Shown]]:
    """The answers to each box before and after its change."""
    assert len(given) == len(changed) > 0
    found = answers(reference, [*given, *changed], edition)
    return zip(found[: len(given)], found[len(given) :], strict=True)


def figures(shown: dict[str, Any]) -> dict[str, Any]:
    """What must not change: the volumes, the verdict, what remains, the largest conductor."""
    room = {line["size"]: line["count"] for line in shown["remaining"] or ()}
    return {name: shown[name] for name in (*FIGURES, "largest_conductor")} | {"remaining": room}


@editions
@SETTINGS
@given(data=st.data())
def test_order_of_items_does_not_matter(
    reference: jointable.Reference, edition: str, data: st.DataObject
) -> None:
    drawn = several(data, edition)
    shuffled = [list(data.draw(st.permutations(rows))) for rows in drawn]
    for before, after in pairs(reference, drawn, shuffled, edition):
        assert [figures(shown) for shown in before] == [figures(shown) for shown in after]


@editions
@SETTINGS
@given(data=st.data())
def test_an_added_item_never_lowers_the_need(
    reference: jointable.Reference, edition: str, data: st.DataObject
) -> None:
    maker = Maker(edition, 0)
    maker.draw = data.draw(st.randoms(use_true_random=False))
    drawn, more = [], []
    for rows in several(data, edition):
        space = rows[0]["space"]
        added = {"box": rows[0]["box"], "space": space} | maker.item(bool(space))
        try:
            fill([*rows, added], edition)
        except OracleError:
            continue
        drawn.append(rows)
        more.append([*rows, added])
    assume(drawn)
    for (before, after), rows in zip(pairs(reference, drawn, more, edition), more, strict=True):
        for old, new in zip(before, after, strict=True):
            assert Fraction(str(new["required_in3"])) >= Fraction(str(old["required_in3"])), rows[-1]
            assert Fraction(str(new["required_cm3"])) >= Fraction(str(old["required_cm3"])), rows[-1]


@editions
@SETTINGS
@given(data=st.data(), more=st.sampled_from(("0.0001", "0.25", "3", "40")))
def test_more_volume_never_turns_pass_into_fail(
    reference: jointable.Reference, edition: str, data: st.DataObject, more: str
) -> None:
    drawn = [rows for rows in several(data, edition) if any(_mark(row) for row in rows)]
    assume(drawn)
    grown = [
        [
            row | {name: str(Decimal(row[name]) + Decimal(more))} if (name := _mark(row)) else row
            for row in rows
        ]
        for rows in drawn
    ]
    order = {False: 0, None: 1, True: 2}  # an open verdict may stay open, a pass stays a pass
    for before, after in pairs(reference, drawn, grown, edition):
        for old, new in zip(before, after, strict=True):
            assert order[new["passes"]] >= order[old["passes"]]
            assert Fraction(str(new["available_in3"])) > Fraction(str(old["available_in3"]))
            assert new["required_in3"] == old["required_in3"]


def _mark(row: dict[str, str]) -> str:
    """The column in which a row that holds the box gives its marked volume."""
    marks = [name for name in ("volume_in3", "volume_cm3") if row.get(name)]
    return marks[0] if marks and row["item"] in ("box", "conduit_body") else ""


@editions
@SETTINGS
@given(data=st.data())
def test_a_row_split_in_two_equal_rows_changes_nothing(
    reference: jointable.Reference, edition: str, data: st.DataObject
) -> None:
    drawn, split = [], []
    for rows in several(data, edition):
        even = [
            index
            for index, row in enumerate(rows)
            if row["item"] not in ("box", "conduit_body") and row["quantity"] not in ("", "0")
            and int(row["quantity"]) % 2 == 0
        ]  # fmt: skip
        if not even:
            continue
        index = data.draw(st.sampled_from(even))
        half = rows[index] | {"quantity": str(int(rows[index]["quantity"]) // 2)}
        drawn.append(rows)
        split.append([*rows[:index], half, half, *rows[index + 1 :]])
    assume(drawn)
    for before, after in pairs(reference, drawn, split, edition):
        assert [figures(shown) for shown in before] == [figures(shown) for shown in after]


@editions
@SETTINGS
@given(data=st.data())
def test_every_line_is_count_times_allowance(
    reference: jointable.Reference, edition: str, data: st.DataObject
) -> None:
    for shown in chain.from_iterable(answers(reference, several(data, edition), edition)):
        for line in shown["lines"]:
            assert line["clause"]
            if line["allowance_in3"] is None:
                continue
            for unit in ("in3", "cm3"):
                product = Fraction(str(line["count"])) * Fraction(str(line[f"allowance_{unit}"]))
                assert product == Fraction(str(line[f"volume_{unit}"])), line


@editions
def test_the_sql_macro_gives_what_fill_gives(reference: jointable.Reference, edition: str) -> None:
    """The macro called by itself on a table, as from a plain client of the database file."""
    rows = schedule(edition, 300, seed=5)
    columns = sorted({name for row in rows for name in row})
    names = ", ".join(f'"{name}" VARCHAR' for name in columns)
    connection = reference.connection.cursor()
    connection.execute(f"CREATE OR REPLACE TEMP TABLE property_items ({names})")
    given = ", ".join("unnest(?::VARCHAR[])" for _ in columns)
    connection.execute(
        f"INSERT INTO property_items SELECT {given}",
        [[row.get(name) or None for row in rows] for name in columns],
    )
    query = (
        "SELECT box, space, required_in3, required_cm3, available_in3, available_cm3, passes "
        f"FROM box_fill('property_items', '{edition}')"
    )
    macro = {(row[0], row[1]): row[2:] for row in connection.execute(query).fetchall()}
    library = [result.to_dict() for result in reference.fill(rows, edition=edition)]
    assert len(macro) == len(library) >= 300
    for shown in library:
        values = macro[shown["box"], shown["space"]]
        assert [Fraction(str(value)) for value in values[:4]] == [
            Fraction(str(shown[name])) for name in FIGURES[1:5]
        ], shown["box"]
        assert values[4] is shown["passes"]
    connection.execute("DROP TABLE property_items")
