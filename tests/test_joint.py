"""Which classes take a joint: the limits exactly, the decision table of demands, and the form of the answer."""

from __future__ import annotations

import json
from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest

import jointable
from jointable.errors import InputError
from jointable.jsonform import dumps
from jointable.known import known
from tests.joint_oracle import CLAMPS

BUNDLED = ("twist-on", "crimped closed end", "crimped pigtail")


def names(reference: jointable.Reference, text: str, **demands: Any) -> list[str | None]:
    return [c.name for c in reference.connectors(text, **demands).choices]


def families(answer: Any) -> set[str]:
    return {c.family for c in answer.choices}


def reasons(reference: jointable.Reference, text: str, **demands: Any) -> dict[str, str]:
    return {str(r.name): r.reason for r in reference.connectors(text, **demands).refused}


# Limits, exactly


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("4x2.5mm2", "twist-on 10"),  # 10.0, on the limit
        ("4x4mm2", "twist-on 16"),  # 16.0, on the limit
        ("2x0.5mm2", "twist-on 1"),
        ("3x12", "twist-on 10"),
        ("3x10", "twist-on 16"),
        ("3x14", "twist-on 6.3"),
        ("4x12", "twist-on 16"),
        ("4x10", "twist-on 25"),
        ("3x8", "twist-on 35"),
        ("2x8 + 1x6", "twist-on 35"),
        ("2x12 + 1x18 stranded", "twist-on 10"),
    ],
)
def test_the_smallest_twist_on_class(reference: jointable.Reference, text: str, first: str) -> None:
    assert names(reference, text, family="twist-on")[0] == first


def test_limits_are_inclusive(reference: jointable.Reference) -> None:
    assert "twist-on 35" in names(reference, "2x16mm2 + 2x1.5mm2", family="twist-on")  # 35.0 exactly
    taken = names(reference, "4x1mm2", family="twist-on")  # 4.0 = 16/4
    assert "twist-on 16" in taken
    assert "twist-on 25" not in taken  # 25/4 = 6.25
    wide = names(reference, "2x0.5mm2", family="twist-on", grip="wide")  # 1.0 = 16/16
    assert "twist-on 16 wide" in wide
    assert "twist-on 25 wide" not in wide


def test_widest_and_narrowest(reference: jointable.Reference) -> None:
    refused = reasons(reference, "1x10 + 1x14", family="twist-on")
    assert refused["twist-on 10"] == "10 AWG (5.3 mm²) is wider than the 5.0 mm² this class takes"
    thin = reasons(reference, "2x10 + 1x24", family="twist-on")
    assert thin["twist-on 16"] == "24 AWG (0.2 mm²) is narrower than the 0.32 mm² this class takes"
    assert "twist-on 35" not in names(reference, "1x25mm2 + 1x4mm2", family="twist-on")  # over 16 mm²


def test_two_to_six(reference: jointable.Reference) -> None:
    assert "twist-on 16" in names(reference, "6x14", family="twist-on")
    refused = reasons(reference, "7x14", family="twist-on")
    assert refused["twist-on 16"] == "7 conductors are above the 6 this class takes"


@pytest.mark.parametrize(
    ("text", "name", "reason"),
    [
        ("1x14 + 1x16", "twist-on 16", "total 3.4 mm² is below the 4.0 mm² this class needs"),
        ("4x12", "twist-on 10", "total 13.2 mm² is above the 10.0 mm² this class takes"),
        ("3x20", "twist-on 6.3", "total 1.55 mm² is below the 1.575 mm² this class needs"),
    ],
)
def test_reasons_in_words(reference: jointable.Reference, text: str, name: str, reason: str) -> None:
    assert reasons(reference, text, family="twist-on")[name] == reason


def test_near_misses(reference: jointable.Reference) -> None:
    near = {r.name: r.near_miss for r in reference.connectors("4x12", family="twist-on").refused}
    assert near["twist-on 10"] == "without one 12 AWG it would fit"
    assert near["twist-on 4"] is None
    short = {r.name: r.near_miss for r in reference.connectors("1x14 + 1x16", family="twist-on").refused}
    assert short["twist-on 16"] == "with one 16 AWG more it would fit"


# Other families


@pytest.mark.parametrize("family", CLAMPS)
def test_clamps(reference: jointable.Reference, family: str) -> None:
    # Fewest ways first; AWG by its metric pair: 12 counts as 4, 14 as 2.5.
    assert names(reference, "3x12", family=family)[0] == f"{family} 4 x3"
    assert names(reference, "2x12 + 1x14", family=family)[0] == f"{family} 4 x3"
    taken = names(reference, "2x2.5mm2", family=family)
    assert taken[0] == f"{family} 2.5 x2"
    assert {f"{family} 2.5 x{n}" for n in range(2, 7)} <= set(taken)  # spare ways
    ways = [int(str(n).split(" x")[1].split(" ")[0]) for n in taken]
    assert ways == sorted(ways)
    # Standard from the second next smaller size: 10 takes 4 to 10; wide from a sixteenth.
    assert f"{family} 10 x2" in names(reference, "1x4mm2 + 1x10mm2", family=family)
    assert f"{family} 10 x2" not in names(reference, "1x2.5mm2 + 1x10mm2", family=family)
    assert f"{family} 10 x2 wide" in names(reference, "1x0.75mm2 + 1x10mm2", family=family)
    assert f"{family} 10 x2 wide" not in names(reference, "1x0.5mm2 + 1x10mm2", family=family)  # 10/16
    assert f"{family} 0.5 x2" in names(reference, "2x22", family=family)  # by area, 0.2 to 0.5


@pytest.mark.parametrize("family", ["crimped closed end", "crimped pigtail"])
def test_sleeves(reference: jointable.Reference, family: str) -> None:
    assert names(reference, "3x12", family=family)[0] == f"{family} 10"
    taken = names(reference, "2x0.5 mm2", family=family)
    assert taken == [f"{family} 1", f"{family} 1.6", f"{family} 2.5"]  # 1.0 = 2.5/2.5
    assert names(reference, "1x6 + 1x4", family=family) == []  # over 16 mm²
    assert names(reference, "7x14", family=family) == []


def test_butt_joints(reference: jointable.Reference) -> None:
    assert names(reference, "1x14 | 1x14") == ["crimped butt 2.5", "crimped butt 4"]
    assert names(reference, "1x14 + 1x14", family="crimped butt") == ["crimped butt 2.5", "crimped butt 4"]
    assert names(reference, "2x14 | 1x12") == ["crimped butt 6.3"]  # each end by itself
    assert names(reference, "6x22 | 1x14") != []
    assert names(reference, "7x22 | 1x14") == []
    assert names(reference, "1x14 | 1x6") == []
    assert reasons(reference, "1x14 | 1x6")["crimped butt 16"].startswith("total 2.1 mm² of one end is below")


def test_butt_joints_need_their_ends(reference: jointable.Reference) -> None:
    with pytest.raises(InputError, match="which of the 3"):
        reference.connectors("3x14", family="crimped butt")
    with pytest.raises(InputError, match="butt joint"):
        reference.connectors("2x14 | 1x12", family="twist-on")
    assert "crimped butt" not in families(reference.connectors("3x14"))
    assert "crimped butt" in families(reference.connectors("2x14"))


@pytest.mark.parametrize("family", ["split bolt", "insulation-piercing"])
def test_taps(reference: jointable.Reference, family: str) -> None:
    assert names(reference, "1x4/0 + 1x2", family=family) == [f"{family} 160", f"{family} 250"]
    assert names(reference, "2x4/0", family=family) == [f"{family} 160", f"{family} 250"]
    assert names(reference, "1x4/0 + 1x8", family=family) == []  # below 160/16
    # The run lies over a quarter of the size: 4 mm² is not over 16/4.
    assert names(reference, "2x4mm2", family=family) == [f"{family} 6.3", f"{family} 10"]
    assert names(reference, "3x6", family=family) == []
    assert names(reference, "2x500 kcmil", family=family) == []  # 253 over 250


def test_the_order_in_a_family(reference: jointable.Reference) -> None:
    for text in ("3x12", "2x14", "2x12 + 1x14"):
        answer = reference.connectors(text)
        for family in families(answer):
            own = [c for c in answer.choices if c.family == family]
            keys = [(c.ways or 0, c.room_cm3 or 0, c.grip == "wide") for c in own]
            assert keys == sorted(keys)
        assert answer.choices[0].family == "twist-on"


def test_wide_takes_more_room_than_standard(reference: jointable.Reference) -> None:
    rooms = {
        (size, grip): room
        for size, grip, room in reference.rows(
            "SELECT size, grip, room_cm3 FROM connector_class WHERE family = 'twist-on' AND variant = 'general'"
        )
    }
    assert len(rooms) == 18
    for size in {s for s, _ in rooms}:
        assert rooms[(size, "wide")] > rooms[(size, "standard")]


# The decision table of demands

THROUGH = "listed for grounding, with a pass-through for one conductor"


@pytest.mark.parametrize(
    ("demands", "variant", "requires"),
    [
        ({}, "general", []),
        ({"location": "dry"}, "general", []),
        ({"location": "damp"}, "general", ["listed for damp locations"]),
        ({"location": "wet"}, "sealed", ["listed for wet locations"]),
        ({"location": "burial"}, "sealed", ["listed for direct burial"]),
        ({"temperature_c": "90"}, "general", ["marked for at least 90 °C"]),
        ({"temperature_c": 105}, "general", ["marked for at least 105 °C"]),
        ({"temperature_c": "105.5"}, "high temperature", ["marked for at least 105.5 °C"]),
        ({"temperature_c": 150}, "high temperature", ["marked for at least 150 °C"]),
        ({"voltage": "600"}, "general", ["marked for at least 600 V"]),
        ({"material_mark": "cu"}, "general", ["marked CU"]),
        ({"material_mark": "al-cu"}, "copper-aluminium", ["marked AL-CU"]),
        ({"pass_through": True}, "grounding", [THROUGH]),
        (
            {"location": "wet", "temperature_c": 130},
            "sealed",
            ["listed for wet locations", "marked for at least 130 °C"],
        ),
        ({"location": "burial", "pass_through": True}, "sealed", ["listed for direct burial", THROUGH]),
        ({"pass_through": True, "material_mark": "al-cu"}, "grounding", [THROUGH, "marked AL-CU"]),
        (
            {"material_mark": "al-cu", "temperature_c": 130},
            "copper-aluminium",
            ["marked for at least 130 °C", "marked AL-CU"],
        ),
        ({"reopenable": True}, "general", ["instructions that let it be opened and used again"]),
    ],
)
def test_demands_choose_one_variant_and_the_rest_is_required(
    reference: jointable.Reference, demands: dict[str, Any], variant: str, requires: list[str]
) -> None:
    answer = reference.connectors("3x12", family="twist-on", **demands)
    assert answer.choices
    assert {c.variant for c in answer.choices} == {variant}
    assert sorted(answer.choices[0].requires) == sorted(requires)
    suffix = "" if variant == "general" else f" {variant}"
    assert answer.choices[0].name == f"twist-on 10{suffix}"
    assert all(str(r.name).endswith(suffix) for r in answer.refused)


def test_nothing_is_planned_above_150(reference: jointable.Reference) -> None:
    answer = reference.connectors("3x12", temperature_c="150.1", family="twist-on")
    assert answer.choices == ()
    assert {r.reason for r in answer.refused} == {"no class is planned above 150 °C"}


def test_variants_that_a_family_is_not_made_in(reference: jointable.Reference) -> None:
    assert families(reference.connectors("3x12", pass_through=True)) == set(BUNDLED)
    answer = reference.connectors("3x12", pass_through=True, family="screwless lever")
    assert answer.choices == ()
    said = "no screwless lever connector is made as grounding, which is asked for"
    assert {r.reason for r in answer.refused} == {said}
    hot = families(reference.connectors("2x12", temperature_c=130))
    assert hot == {"screw clamp", "crimped butt", *BUNDLED}


def test_every_family_has_a_sealed_form(reference: jointable.Reference) -> None:
    wet = reference.connectors("2x12", location="wet")
    assert families(wet) == families(reference.connectors("2x12"))
    assert {c.variant for c in wet.choices} == {"sealed"}


@pytest.mark.parametrize(
    ("family", "opens"),
    [
        ("twist-on", "if"), ("screwless push-in", "if"), ("screwless lever", "yes"), ("screw clamp", "yes"),
        ("crimped closed end", "no"), ("crimped pigtail", "no"), ("crimped butt", "no"), ("split bolt", "yes"),
        ("insulation-piercing", "no"),
    ],
)  # fmt: skip
def test_opening_again(reference: jointable.Reference, family: str, opens: str) -> None:
    answer = reference.connectors("1x10 + 1x12", family=family, reopenable=True)
    if opens == "no":
        assert answer.choices == ()
        assert all("not made to be opened again" in r.reason for r in answer.refused)
    else:
        said = "instructions that let it be opened and used again" in answer.choices[0].requires
        assert said == (opens == "if")
    assert reference.connectors("1x10 + 1x12", family=family, reopenable=True, location="wet").choices == ()


@pytest.mark.parametrize(
    ("volts", "left"),
    [(600, 9), (2000, 9), (2001, 2), (8000, 2), (8001, 1), (35000, 1), (35001, 0)],
)
def test_voltage(reference: jointable.Reference, volts: int, left: int) -> None:
    """Above 2000 V only uninsulated connectors: pigtail sleeves to 8000, split bolts to 35000."""
    assert len(families(reference.connectors("1x10 + 1x12", voltage=volts))) == left


def test_uninsulated_families_say_so(reference: jointable.Reference) -> None:
    for c in reference.connectors("1x10 + 1x12").choices:
        assert any("uninsulated" in n for n in c.notes) == (c.family in ("crimped pigtail", "split bolt"))


# Materials and constructions


@pytest.mark.parametrize(
    "text", ["2x12 aluminium", "2x10 solid aluminium + 1x12", "3x6mm2 aluminium", "2x8 solid aluminium"]
)
def test_solid_aluminium_gets_the_referral_and_nothing_else(
    reference: jointable.Reference, text: str
) -> None:
    asked: list[dict[str, Any]] = [{}, {"material_mark": "al-cu"}, {"location": "wet"}]
    for demands in asked:
        answer = reference.connectors(text, **demands)
        assert answer.choices == ()
        assert answer.split is None
        assert "516" in str(answer.split_reason)
        assert {r.reason for r in answer.refused} == {answer.split_reason}
        assert "C6" in {c["id"] for c in answer.cautions}


def test_copper_with_aluminium_only_in_copper_aluminium(reference: jointable.Reference) -> None:
    answer = reference.connectors("2x8 + 1x8 aluminium")
    assert answer.choices
    assert {c.variant for c in answer.choices} == {"copper-aluminium"}
    assert all("marked AL-CU" in c.requires for c in answer.choices)
    assert {"C5", "C6"} <= {c["id"] for c in answer.cautions}
    refused = reference.connectors("2x8 + 1x8 aluminium", material_mark="cu")
    assert refused.choices == ()
    assert all("marked CU alone" in r.reason for r in refused.refused)


def test_copper_clad(reference: jointable.Reference) -> None:
    alone = reference.connectors("2x12 copper-clad", family="twist-on").choices[0]
    assert alone.variant == "general"
    assert alone.requires == ("identified for copper-clad aluminium",)
    mixed = reference.connectors("2x12 copper-clad + 1x12", family="twist-on").choices[0]
    assert mixed.variant == "copper-aluminium"
    assert set(mixed.requires) == {"marked AL-CU", "identified for copper-clad aluminium"}


@pytest.mark.parametrize(
    ("family", "solid", "stranded", "flexible"),
    [
        ("twist-on", "yes", "yes", "if"), ("screwless push-in", "yes", "yes", "no"),
        ("screwless lever", "yes", "yes", "if"), ("screw clamp", "yes", "yes", "if"),
        ("crimped butt", "if", "yes", "if"), ("crimped closed end", "if", "yes", "if"),
        ("crimped pigtail", "yes", "yes", "if"), ("split bolt", "yes", "yes", "if"),
        ("insulation-piercing", "if", "if", "if"),
    ],
)  # fmt: skip
def test_constructions(
    reference: jointable.Reference, family: str, solid: str, stranded: str, flexible: str
) -> None:
    for made, taken in (("solid", solid), ("stranded", stranded), ("flexible", flexible)):
        answer = reference.connectors(f"2x10 {made}", family=family)
        if taken == "no":
            assert answer.choices == ()
            assert all(r.reason.endswith("take no flexible conductor as it comes") for r in answer.refused)
        else:
            assert (f"identified for {made} conductors" in answer.choices[0].requires) == (taken == "if")


def test_flexible_conductors_and_compound(reference: jointable.Reference) -> None:
    answer = reference.connectors("2x12 flexible", material_mark="al-cu", family="twist-on")
    assert answer.choices == ()
    assert "C7" in {c["id"] for c in answer.cautions}


# Notes


def notes(reference: jointable.Reference, text: str, family: str = "twist-on") -> str:
    return "; ".join(reference.connectors(text, family=family).choices[0].notes)


def test_a_hidden_conductor_is_noted(reference: jointable.Reference) -> None:
    # 2.588 mm twice leave room for 0.647 mm under their common tangent: 22 AWG (0.644) fits.
    assert "22 AWG is hidden by the others: lay the thin one outside" in notes(reference, "2x10 + 1x22")
    assert "hidden" not in notes(reference, "2x10 + 1x20")
    assert notes(reference, "3x12") == ""


def test_the_ratio_note(reference: jointable.Reference) -> None:
    assert "over 6.5" in notes(reference, "2x10 + 1x19")  # 8.06
    assert "over 6.5" not in notes(reference, "2x10 + 1x18")  # 6.39


def test_the_thin_note(reference: jointable.Reference) -> None:
    assert "outside IEC 60998-2-4" in notes(reference, "3x22")
    assert "IEC" not in notes(reference, "3x0.5mm2")
    assert "IEC" not in notes(reference, "3x22", "crimped pigtail")


# The form of the answer


def test_the_answer_as_json(reference: jointable.Reference) -> None:
    answer = json.loads(dumps(reference.connectors("3x12 + 1x14 stranded").to_dict()), parse_float=Decimal)
    assert set(answer) >= {
        "data_version", "joint", "choices", "refused", "split", "split_reason", "assumptions", "cautions",
    }  # fmt: skip
    joint = answer["joint"]
    assert joint["text"] == "3x12 AWG + 1x14 AWG stranded"
    assert set(joint["conductors"][0]) >= {
        "count", "size", "construction", "material", "area_mm2", "diameter_mm",
    }  # fmt: skip
    assert joint["total_mm2"] == sum(c["count"] * c["area_mm2"] for c in joint["conductors"])
    for choice in answer["choices"]:
        assert set(choice) >= {
            "class", "family", "size", "ways", "grip", "variant", "total_min_mm2", "total_max_mm2", "margin",
            "room_cm3", "requires", "notes", "reasons", "listing", "provenance",
        }  # fmt: skip
        assert choice["listing"] is None
        assert choice["reasons"]
    for refusal in answer["refused"]:
        assert set(refusal) >= {"class", "family", "size", "ways", "grip", "reason"}
    for caution in answer["cautions"]:
        assert set(caution) == {"id", "text", "clause"}


def test_margins(reference: jointable.Reference) -> None:
    for c in reference.connectors("2x10").choices:
        if c.family in BUNDLED:
            assert isinstance(c.margin, float)
            assert 0 <= c.margin <= 1
        else:
            assert (c.margin, c.total_min_mm2, c.total_max_mm2) == (None, None, None)
    assert reference.connectors("4x4mm2", family="twist-on").choices[0].margin == 1.0


def test_provenance_can_be_traced(reference: jointable.Reference) -> None:
    seen: set[str | None] = set()
    for choice in reference.connectors("1x10 + 1x12").choices:
        if choice.family not in seen:
            seen.add(choice.family)
            for place in choice.provenance:
                table, key, column = place.split("/")
                found = reference.trace(table, key, column)
                assert found.value is not None
                assert found.inputs
    assert len(seen) == 9


def test_cautions_by_occasion(reference: jointable.Reference) -> None:
    def ids(text: str, **demands: Any) -> set[str]:
        return {c["id"] for c in reference.connectors(text, **demands).cautions}

    always = ids("2x12")
    assert always == {"C1", "C2", "C3", "C4", "C8", "C26", "C28", "C30"}
    assert ids("2x12", location="burial") - always == {"C12", "C13"}
    assert ids("2x12", location="damp") - always == {"C13"}
    assert ids("2x12 flexible") - always == {"C7"}
    assert ids("1x12") - always == {"C9"}


def test_one_conductor_is_an_end_cap(reference: jointable.Reference) -> None:
    answer = reference.connectors("1x12")
    assert answer.choices == ()
    assert "an end cap, not a joint" in str(answer.split_reason)


def test_assumptions(reference: jointable.Reference) -> None:
    said = reference.connectors("2x12 flexible", temperature_c=90).assumptions
    assert "12 AWG is copper" in said
    assert any("105 °C" in a and "common practice" in a for a in said)
    assert any("class 5" in a for a in said)
    assert any("dry" in a for a in said)
    assert not any("dry" in a for a in reference.connectors("2x12", location="dry").assumptions)


@pytest.mark.parametrize(
    ("demands", "says"),
    [
        ({"family": "twiston"}, "did you mean twist-on?"),
        ({"family": "lever"}, "did you mean screwless lever?"),
        ({"grip": "narrow"}, "one of standard, wide"),
        ({"location": "moist"}, "one of dry, damp, wet, burial"),
        ({"temperature_c": "hot"}, "degrees Celsius"),
        ({"temperature_c": "nan"}, "degrees Celsius"),
        ({"material_mark": "zinc"}, "unknown material mark"),
        ({"voltage": "0"}, "not above 0"),
        ({"voltage": "x"}, "volts"),
        ({"family": "split bolt", "grip": "wide"}, "not made wide"),
    ],
)
def test_demands_that_are_none(reference: jointable.Reference, demands: dict[str, Any], says: str) -> None:
    with pytest.raises(InputError) as caught:
        reference.connectors("2x12", **demands)
    assert says in str(caught.value)


def test_sizes_outside_the_tables(reference: jointable.Reference) -> None:
    with pytest.raises(InputError, match=r"such as 2\.5 mm2 or 4 mm2"):
        reference.connectors("2x3mm2")
    with pytest.raises(InputError, match="not a size of the tables"):
        reference.connectors("2x12 kcmil")


def test_the_bundle_is_rounded_up(reference: jointable.Reference) -> None:
    assert reference.connectors("2x12").facts.bundle_mm == Decimal("4.106")  # 2 × 2.0525254


def test_the_order_can_be_changed(reference: jointable.Reference) -> None:
    """3x12 totals 9.93 mm²: class 10 is least; 16 wide (1 to 16) and 25 wide take most combinations."""

    def order(rank: str) -> list[Any]:
        return list(reference.connectors("3x12", family="twist-on", rank=rank).choices)

    room, classes, margin = order("room"), order("classes"), order("margin")
    assert {c.name for c in room} == {c.name for c in classes} == {c.name for c in margin}
    assert [c.room_cm3 for c in room] == sorted(c.room_cm3 for c in room if c.room_cm3)
    off = [abs(c.margin - 0.5) for c in margin if c.margin is not None]
    assert off == sorted(off)
    assert off[0] < abs((room[0].margin or 0) - 0.5)
    assert classes[0].grip == "wide"
    assert classes[0].name != room[0].name


def test_families_stay_together_in_every_order(reference: jointable.Reference) -> None:
    for rank in ("room", "classes", "margin"):
        families = [c.family for c in reference.connectors("2x12", rank=rank).choices]
        assert len(set(families)) > 3
        assert len([1 for a, b in pairwise(families) if a != b]) == len(set(families)) - 1


def test_another_order_is_said_and_an_unknown_one_refused(reference: jointable.Reference) -> None:
    usual = reference.connectors("3x12").assumptions
    other = reference.connectors("3x12", rank="margin").assumptions
    assert [a for a in other if a not in usual] == [
        "order: the class in whose range the total lies most central first"
    ]
    with pytest.raises(InputError, match="rank: 'price': unknown rank; one of room, classes, margin"):
        reference.connectors("3x12", rank="price")


def test_no_temperature_below_absolute_zero(reference: jointable.Reference) -> None:
    with pytest.raises(InputError, match=r"temperature: '-273\.16': below absolute zero"):
        reference.connectors("2x12", temperature_c="-273.16")
    assert reference.connectors("2x12", temperature_c="-40", family="twist-on").choices


def test_a_near_miss_stands_in_the_printed_answer(capsys: pytest.CaptureFixture[str]) -> None:
    """Eight twelves go in no class; a table of refusals says which change would do."""
    from jointable.cli import main

    assert main(["joint", "7x12", "--family", "twist-on"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "No class takes this joint." in told
    assert main(["joint", "5x10", "--family", "twist-on", "--grip", "standard"]) == 0
    assert "it would fit" in " ".join(capsys.readouterr().out.split())


def test_answers_that_are_kept_are_few(reference: jointable.Reference) -> None:
    """A server that is asked for ever different joints stays small: each answer takes some 50 KB."""
    kept = known(reference).answers
    for voltage in range(1, 140):
        reference.connectors("3x12", family="twist-on", voltage=str(voltage))
    assert 50 < len(kept) <= 64
