"""The notation of joints: what it takes, what it prints back, and what it says of anything else."""

from __future__ import annotations

import pytest

import jointable
from jointable.errors import InputError
from jointable.geometry import default_construction
from jointable.notation import INSULATIONS, Joint, Term, parse_size


@pytest.mark.parametrize(
    ("text", "size"),
    [
        ("12", "12 AWG"), ("12 AWG", "12 AWG"), ("12AWG", "12 AWG"), ("12 awg", "12 AWG"), ("#12", "12 AWG"),
        ("4/0", "4/0 AWG"), ("#4/0", "4/0 AWG"), ("1/0 AWG", "1/0 AWG"), ("250 kcmil", "250 kcmil"),
        ("250kcmil", "250 kcmil"), ("2.5 mm2", "2.5 mm2"), ("2.5mm²", "2.5 mm2"), ("2.50 mm2", "2.5 mm2"),
        ("16 mm2", "16 mm2"), ("13", "13 AWG"), (" 10 ", "10 AWG"),
    ],
)  # fmt: skip
def test_sizes_are_read_and_printed_back(text: str, size: str) -> None:
    assert parse_size(text) == size
    assert parse_size(size) == size


@pytest.mark.parametrize(
    "text", ["", "0", "41", "5/0", "0/0", "2.5", "12.0", "-12", "twelve", "12 mm", "0 mm2", "2,5 mm2"]
)
def test_what_is_no_size(text: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_size(text)
    assert len(str(caught.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("text", "back"),
    [
        ("3x12", "3x12 AWG"),
        ("3×12", "3x12 AWG"),
        ("3 X #12 AWG", "3x12 AWG"),
        ("3x12 + 1x14 stranded", "3x12 AWG + 1x14 AWG stranded"),
        ("1x14 stranded+3x12", "3x12 AWG + 1x14 AWG stranded"),
        ("4x2.5mm² flexible", "4x2.5 mm2 flexible"),
        ("2x12 + 1x12", "3x12 AWG"),
        ("2x8 solid + 1x8", "2x8 AWG solid + 1x8 AWG"),
        ("2x8 aluminium + 1x12", "2x8 AWG aluminium + 1x12 AWG"),
        ("2x12 copper-clad aluminium", "2x12 AWG copper-clad"),
        ("2x12 thhn stranded", "2x12 AWG stranded THHN"),
        ("2x14 | 1x12", "2x14 AWG | 1x12 AWG"),
        ("1x250 kcmil + 1x4/0", "1x250 kcmil + 1x4/0 AWG"),
        ("2x13 + 1x2.5 mm2", "2x13 AWG + 1x2.5 mm2"),
    ],
)
def test_joints_are_read_and_printed_back(text: str, back: str) -> None:
    assert str(Joint.parse(text)) == back
    assert Joint.parse(back).conductors == Joint.parse(text).conductors


def test_a_word_belongs_to_its_own_term() -> None:
    first, second = Joint.parse("1x12 stranded aluminium + 1x14").conductors
    assert (first.construction, first.material) == ("stranded", "aluminium")
    assert (second.construction, second.material) == ("solid", "copper")


@pytest.mark.parametrize(
    ("size", "made"),
    [
        ("10", "solid"), ("9", "stranded"), ("8", "stranded"), ("6 mm2", "solid"), ("10 mm2", "stranded"),
        ("4/0", "stranded"),
    ],
)  # fmt: skip
def test_the_usual_construction(size: str, made: str) -> None:
    (term,) = Joint.parse(f"2x{size}").conductors
    assert term.construction == made == default_construction(term.size)


def test_what_is_not_said_is_stated() -> None:
    assert Joint.parse("2x12").assumed == ("12 AWG is solid, the usual construction", "12 AWG is copper")
    assert Joint.parse("2x12 solid copper").assumed == ()


def test_ends_of_a_butt_joint() -> None:
    joint = Joint.parse("2x14 | 1x12")
    assert [(t.count, t.end) for t in joint.conductors] == [(2, 1), (1, 2)]
    assert joint.has_ends
    assert not Joint.parse("2x14").has_ends


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "no conductors"),
        ("   ", "no conductors"),
        ("12", "how many"),
        ("3x", "no term"),
        ("x12", "no term"),
        ("0x12", "count is 0"),
        ("-1x12", "not a whole number above 0"),
        ("1.5x12", "not a whole number above 0"),
        ("3x12 +", "a term is empty"),
        ("2x14 |", "a term is empty"),
        ("1x14|1x12|1x10", "two ends"),
        ("2x13.5", "whole numbers; did you mean 13.5 mm2?"),
        ("2x300", "did you mean 300 kcmil?"),
        ("2x0", "did you mean 1/0?"),
        ("3x12 solod", "did you mean solid?"),
        ("3x12 alumnium", "did you mean aluminium?"),
        ("3x12 TFFFN", "did you mean TFFN?"),
        ("3x12 solid stranded", "two words for the construction"),
        ("2x12, 1x14", "terms joined by +"),
        ("25x12", "25 conductors"),
        ("13x12 + 12x14", "25 conductors"),
    ],
)
def test_what_is_no_joint(text: str, says: str) -> None:
    with pytest.raises(InputError, match="joint") as caught:
        Joint.parse(text)
    message = str(caught.value)
    assert says in message
    assert "\n" not in message


def test_twenty_four_conductors_are_a_joint() -> None:
    assert Joint.parse("24x12").count == 24


def test_of_puts_alike_terms_together() -> None:
    joint = Joint.of([Term(1, "14 AWG", "solid"), Term(2, "12 AWG", "solid"), Term(1, "14 AWG", "solid")])
    assert str(joint) == "2x12 AWG + 2x14 AWG"


def test_insulation_types_are_those_of_the_table(reference: jointable.Reference) -> None:
    table = {row[0] for row in reference.rows("SELECT insulation FROM insulation")}
    assert table
    assert table == set(INSULATIONS)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("3x12 Quark", "unknown word 'Quark'; one of solid, stranded, flexible"),
        ("2x12 AWG AWG", "unknown word 'AWG'; one of"),
        ("3x12 and 1x14", "unknown word 'and'; terms joined by +"),
        ("3x12 1x14", "unknown word '1x14'; terms joined by +"),
        ("3x12; 1x14", "terms joined by +"),
        ("3x12 mm", "unknown word 'mm'; square millimetres right after the number"),
    ],
)
def test_an_unknown_word_is_told_as_written(text: str, told: str) -> None:
    with pytest.raises(InputError) as found:
        Joint.parse(text)
    assert told in str(found.value)
    assert repr(text) in str(found.value)


def test_words_are_read_in_any_case() -> None:
    assert str(Joint.parse("3x12 STRANDED Copper-Clad ALUMINIUM")) == "3x12 AWG stranded copper-clad"
    assert str(Joint.parse("2x12 Thhn")) == "2x12 AWG THHN"
