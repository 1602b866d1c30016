"""The macro of admission against an oracle of its own, and its forms against one another."""

from __future__ import annotations

import random
from collections import Counter
from fractions import Fraction
from typing import Any

import pytest

import jointable
from jointable.admission import admit_together, admitted
from jointable.demands import Demands
from jointable.facts import facts_of, facts_sql
from jointable.notation import Joint
from tests.joint_oracle import Wire, classes, takes, wire

SIZES = [f"{n} AWG" for n in range(26, 1, -1)] + ["1/0 AWG", "2/0 AWG", "4/0 AWG"]
SIZES += [f"{m} mm2" for m in ("0.5", "0.75", "1", "1.5", "2.5", "4", "6", "10", "16", "25", "35", "70")]

COMBINED = (
    "CREATE OR REPLACE TEMP TABLE combined AS SELECT conductors AS joint, split_part(t, 'x', 1)::INTEGER AS quantity, "
    "split_part(t, 'x', 2) AS size FROM (SELECT conductors, unnest(string_split(conductors, ' + ')) AS t FROM combination)"
)


def random_joints(count: int, seed: int) -> list[list[str]]:
    """Sizes of joints: most of like sizes, as people make them, some of any."""
    chosen = random.Random(seed)
    out = []
    for _ in range(count):
        middle = chosen.randrange(len(SIZES))
        near = SIZES[max(0, middle - 3) : middle + 4] if chosen.random() < 0.8 else SIZES
        out.append([chosen.choice(near) for _ in range(chosen.randint(2, 7))])
    return out


def load(reference: jointable.Reference, joints: list[list[str]], name: str) -> None:
    """A temporary table of joints in the long form."""
    rows = [(str(n), size, count) for n, sizes in enumerate(joints) for size, count in Counter(sizes).items()]
    reference.connection.execute(
        f"CREATE OR REPLACE TEMP TABLE {name} AS SELECT unnest(?::VARCHAR[]) AS joint, "
        "unnest(?::VARCHAR[]) AS size, unnest(?::INTEGER[]) AS quantity",
        [[r[0] for r in rows], [r[1] for r in rows], [r[2] for r in rows]],
    )


def test_the_classes_are_those_of_the_definition(reference: jointable.Reference) -> None:
    table = {
        (r[0], Fraction(str(r[1])), r[2], r[3])
        for r in reference.rows(
            "SELECT family, size, ways, grip FROM connector_class WHERE variant = 'general'"
        )
    }
    assert table == {(f, Fraction(s), w, g) for f, s, w, g in classes()}


@pytest.mark.parametrize("seed", [1, 2])
def test_the_macro_admits_what_the_definition_admits(reference: jointable.Reference, seed: int) -> None:
    joints = random_joints(200, seed)
    load(reference, joints, "oracle_joints")
    admitted = {
        (r[0], r[1], Fraction(str(r[2])), r[3], r[4])
        for r in reference.rows("SELECT joint, family, size, ways, grip FROM joint_choices('oracle_joints')")
    }
    wires: dict[str, Wire] = {size: wire(size) for size in SIZES}
    taken = 0
    for n, sizes in enumerate(joints):
        held = [wires[s] for s in sizes]
        ends = ([held[0]], [held[1]]) if len(held) == 2 else ()
        for family, size, ways, grip in classes():
            # A push-in clamp and a twist-on go by areas alone here: all conductors are usual ones of copper.
            right = takes(family, size, ways, grip, held, ends)
            key = (str(n), family, Fraction(size), ways, grip)
            assert (key in admitted) == right, (sizes, family, size, ways, grip)
            taken += right
    assert taken > 1500


def test_choices_and_refusals_part_the_classes(reference: jointable.Reference) -> None:
    load(reference, random_joints(100, 3), "parted_joints")
    rows = reference.rows("SELECT DISTINCT admitted, reason IS NULL FROM joint_classes('parted_joints')")
    assert set(rows) == {(True, True), (False, False)}


def test_the_first_choice_is_the_choice_of_least_rank(reference: jointable.Reference) -> None:
    load(reference, random_joints(500, 4), "first_joints")
    first = set(reference.rows("SELECT joint, family, class FROM joint_choice('first_joints')"))
    ranked = set(
        reference.rows(
            "SELECT joint, family, arg_min(class, rank) FROM joint_choices('first_joints') GROUP BY joint, family"
        )
    )
    assert first == ranked
    assert len(first) > 500


def test_combination_class_is_the_first_choice(reference: jointable.Reference) -> None:
    """The table of the pipeline against the macro in the published file."""
    reference.connection.execute(COMBINED)
    first = set(
        reference.rows(
            "SELECT joint, family, class FROM joint_choice('combined') WHERE series <> 'tap' AND family <> 'crimped butt'"
        )
    )
    table = set(reference.rows("SELECT conductors, family, class FROM combination_class"))
    assert table == first
    assert {r[1] for r in table} == {
        "twist-on", "screwless push-in", "screwless lever", "screw clamp", "crimped closed end", "crimped pigtail",
    }  # fmt: skip
    assert ("3x12 AWG", "twist-on", "twist-on 10") in table


def test_facts_are_the_same_in_both_languages(reference: jointable.Reference) -> None:
    texts = (
        "3x12 + 1x14 stranded", "2x8 aluminium + 1x8", "2x14 | 1x12", "2x12 copper-clad + 1x2.5mm2 flexible",
        "1x4/0 + 1x6", "2x10",
    )  # fmt: skip
    for text in texts:
        joint = Joint.parse(text)
        facts = facts_of(reference, joint)
        rows = [(c.size, c.count, c.construction, c.material, c.end) for c in facts.conductors_listed]
        reference.connection.execute(
            "CREATE OR REPLACE TEMP TABLE one_joint AS SELECT 'j' AS joint, unnest(?::VARCHAR[]) AS size, "
            "unnest(?::INTEGER[]) AS quantity, unnest(?::VARCHAR[]) AS construction, unnest(?::VARCHAR[]) AS material, "
            "unnest(?::INTEGER[]) AS end_of",
            [list(column) for column in zip(*rows, strict=True)],
        )
        (macro,) = reference.records("FROM joint_facts('one_joint')")
        given, values = facts_sql({"j": facts}, "given")
        (python,) = reference.records(f"WITH {given} FROM given", values)
        assert {name: python[name] for name in macro} == macro, text
        assert (macro["conductors"], macro["total_mm2"]) == (joint.count, facts.total_mm2)


def test_optional_columns_and_their_defaults(reference: jointable.Reference) -> None:
    query = "SELECT class FROM joint_choices('{}', family := 'twist-on') ORDER BY rank"
    reference.connection.execute(
        "CREATE OR REPLACE TEMP TABLE plain_joint AS SELECT 7 AS joint, '12' AS size, 3 AS quantity"
    )
    reference.connection.execute(
        "CREATE OR REPLACE TEMP TABLE said_joint AS SELECT 7 AS joint, '12 AWG' AS size, 3 AS quantity, "
        "'solid' AS construction, 'copper' AS material"
    )
    plain, said = reference.rows(query.format("plain_joint")), reference.rows(query.format("said_joint"))
    assert plain == said
    assert plain[0] == ("twist-on 10",)


def test_demands_of_the_macro(reference: jointable.Reference) -> None:
    reference.connection.execute(
        "CREATE OR REPLACE TEMP TABLE wet_joint AS SELECT 'a' AS joint, '12 AWG' AS size, 3 AS quantity"
    )
    rows = reference.rows(
        "SELECT class FROM joint_choices('wet_joint', family := 'twist-on', grip := 'wide', location := 'wet') ORDER BY rank"
    )
    assert rows[0] == ("twist-on 10 wide sealed",)


#: Each demand by itself, none, all that go together, and figures that are no whole numbers.
DEMANDS: tuple[dict[str, Any], ...] = (
    {}, {"family": "twist-on"}, {"grip": "wide"}, {"location": "burial"}, {"temperature_c": "90.01"}, {"temperature_c": 0},
    {"temperature_c": "-40.5"}, {"material_mark": "cu"}, {"material_mark": "al-cu"}, {"pass_through": True}, {"reopenable": True},
    {"voltage": "600.5"}, {"voltage": 300},
    {"family": "screwless lever", "location": "wet", "temperature_c": 75, "reopenable": True, "voltage": 1000},
)  # fmt: skip


def test_joints_asked_together_have_demands_of_their_own(reference: jointable.Reference) -> None:
    """A demand that is a column of the facts decides as one that is written in the statement."""
    texts = ("3x12 + 1x14", "2x12 aluminium stranded + 1x12", "2x2.5mm2 flexible")
    asked = [(Joint.parse(text), demands) for text in texts for demands in DEMANDS]
    admit_together(reference, asked)
    reasons = set()
    for joint, demands in asked:
        facts, wanted = facts_of(reference, joint), Demands.of(**demands)
        given, values = facts_sql({"j": facts}, "given")
        written = reference.rows(
            f"WITH {given} SELECT class, admitted, margin, reason FROM classes_of_facts('given'{wanted.sql()})",
            values,
        )
        rows = admitted(reference, facts, wanted)
        assert sorted((r["class"], r["admitted"], r["margin"], r["reason"]) for r in rows) == sorted(
            written
        ), demands
        reasons |= {r["reason"].split(" ")[-1] for r in rows if r["reason"]}
    assert len(reasons) > 5


def test_rows_of_no_conductors_and_unknown_sizes(reference: jointable.Reference) -> None:
    reference.connection.execute(
        "CREATE OR REPLACE TEMP TABLE odd_joints AS SELECT * FROM (VALUES ('a', '12 AWG', 3), ('a', '4/0 AWG', 0), "
        "('b', '12.5 AWG', 2), ('c', '12 AWG', NULL), ('c', '14 AWG', NULL)) AS v(joint, size, quantity)"
    )
    refused = reference.rows(
        "SELECT DISTINCT reason FROM joint_classes('odd_joints', family := 'twist-on') WHERE joint = 'b'"
    )
    assert refused == [("a size that is not in the tables",)]
    taken = reference.rows(
        "SELECT joint, arg_min(class, rank) FROM joint_choices('odd_joints', family := 'twist-on') "
        "GROUP BY joint ORDER BY joint"
    )
    assert taken == [("a", "twist-on 10"), ("c", "twist-on 10")]


def test_quantities_to_their_bound(reference: jointable.Reference) -> None:
    """9,999 of the largest size on twenty rows neither overflow nor fit."""
    reference.connection.execute(
        "CREATE OR REPLACE TEMP TABLE many AS SELECT 'a' AS joint, '2000 kcmil' AS size, 9999 AS quantity FROM range(20)"
    )
    ((conductors, total),) = reference.rows("SELECT conductors, total_mm2 FROM joint_facts('many')")
    ((area,),) = reference.rows("SELECT area_mm2 FROM conductor_size WHERE size = '2000 kcmil'")
    assert conductors == 199980
    assert total == 199980 * area
    assert reference.rows("FROM joint_choice('many')") == []
