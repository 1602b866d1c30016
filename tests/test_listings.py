"""The user's own listings: what they print, what they do not, and what a bad file is told. All invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError
from jointable.joint import JointAnswer
from jointable.listings import load_listings

HEADER = "connector,least,greatest,location,temperature_c,material_mark,note\n"


def write(folder: Path, *rows: str, header: str = HEADER) -> Path:
    path = folder / "mine.csv"
    path.write_text(header + "".join(f"{r}\n" for r in rows), encoding="utf-8")
    return path


def ask(reference: jointable.Reference, path: Path, text: str, **demands: Any) -> JointAnswer:
    return reference.connectors(text, family="twist-on", listings=path, **demands)


def test_a_printed_joint_comes_first(reference: jointable.Reference, tmp_path: Path) -> None:
    path = write(tmp_path, "Alpha,2x14,4x14,,,,", "Alpha,1x12 + 1x14,2x12 + 3x14,,105,,from the box")
    for text, row in (("2x14", 2), ("3x14", 2), ("4x14", 2), ("1x12 + 2x14", 3), ("2x12 + 3x14", 3)):
        first = ask(reference, path, text).choices[0]
        assert first.listing == {"connector": "Alpha", "row": row}
        assert first.name is None
        assert first.reasons == (f"listed by your file, row {row}",)
    assert ask(reference, path, "1x12 + 2x14").choices[0].notes == ("from the box",)


@pytest.mark.parametrize("text", ["5x14", "3x14 stranded", "3x16", "2x12 + 4x14", "2x14 + 1x18", "3x12"])
def test_what_is_not_printed_is_never_first(
    reference: jointable.Reference, tmp_path: Path, text: str
) -> None:
    path = write(tmp_path, "Alpha,2x14,4x14,,,,", "Alpha,1x12 + 1x14,2x12 + 3x14,,,,")
    answer = ask(reference, path, text)
    assert all(c.listing is None for c in answer.choices)
    assert {r.name: r.reason for r in answer.refused}["Alpha"] == "not printed on the package"


def test_the_ends_of_a_row_may_name_different_sizes(reference: jointable.Reference, tmp_path: Path) -> None:
    path = write(tmp_path, "Alpha,2x18,3x12,,,,")
    assert ask(reference, path, "2x18").choices[0].listing
    assert ask(reference, path, "3x12").choices[0].listing
    for text in ("2x12", "2x14", "2x18 + 3x12"):
        assert all(c.listing is None for c in ask(reference, path, text).choices)


def test_conditions_of_a_row(reference: jointable.Reference, tmp_path: Path) -> None:
    path = write(tmp_path, "Dry,2x14,4x14,,,,", "Wet,2x14,4x14,wet,90,cu,", "Metal,2x8,2x8,,,al-cu,")

    def listed(text: str, **demands: Any) -> set[str]:
        return {c.listing["connector"] for c in ask(reference, path, text, **demands).choices if c.listing}

    assert listed("3x14") == {"Dry", "Wet"}
    assert listed("3x14", location="damp") == {"Wet"}
    assert listed("3x14", location="burial") == set()
    assert listed("3x14", temperature_c=90) == {"Wet"}  # no marking, no known rating
    assert listed("3x14", temperature_c=91) == set()
    assert listed("3x14", material_mark="cu") == {"Wet"}
    assert listed("2x8", material_mark="al-cu") == {"Metal"}
    refused = {r.name: r.reason for r in ask(reference, path, "3x14", location="wet").refused}
    assert refused["Dry"] == "row 2: not listed for wet locations"


def test_what_a_row_cannot_say_is_required(reference: jointable.Reference, tmp_path: Path) -> None:
    path = write(tmp_path, "Alpha,2x14,4x14,,,,")
    first = ask(reference, path, "3x14", voltage=600, reopenable=True).choices[0]
    assert "marked for at least 600 V" in first.requires
    assert any("opened and used again" in r for r in first.requires)


def test_a_listing_outside_every_class_is_warned_of(reference: jointable.Reference, tmp_path: Path) -> None:
    answer = ask(reference, write(tmp_path, "Alpha,8x12,8x12,,,,"), "8x12")
    (only,) = answer.choices
    assert only.listing == {"connector": "Alpha", "row": 2}
    assert "warning: this combination lies outside every generic class" in only.notes
    assert answer.split is None


def test_aluminium_rows_do_not_lift_the_referral(reference: jointable.Reference, tmp_path: Path) -> None:
    path = write(tmp_path, "Alpha,2x12 aluminium,2x12 aluminium,,,al-cu,")
    answer = ask(reference, path, "2x12 aluminium")
    assert answer.choices == ()
    assert any("516" in r.reason for r in answer.refused if r.name == "Alpha")


def test_the_environment_names_a_file(
    reference: jointable.Reference, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("JOINTABLE_LISTINGS", raising=False)
    assert reference.connectors("3x12").choices[0].listing is None
    monkeypatch.setenv("JOINTABLE_LISTINGS", str(write(tmp_path, "Alpha,3x12,3x12,,,,")))
    assert reference.connectors("3x12").choices[0].listing


def test_columns_may_be_left_out_and_stand_in_any_order(
    reference: jointable.Reference, tmp_path: Path
) -> None:
    path = write(tmp_path, "4x14,2x14,Alpha", header="Greatest,least,connector\n")
    assert load_listings(path, reference).rows[0].connector == "Alpha"


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "the file is empty"),
        (HEADER, "no rows below the header"),
        ("connector,least\nA,2x14\n", "greatest: the column is missing"),
        ("connector,least,greatest,colour\nA,2x14,4x14,red\n", "colour: 'colour': unknown column"),
        ("connector,least,least,greatest\nA,2x14,2x14,4x14\n", "the column stands twice"),
        (HEADER + "A,2x14\n", "mine.csv:2: the row has 2 cells and the header 7"),
        (HEADER + ",2x14,4x14,,,,\n", "mine.csv:2: connector"),
        (HEADER + "A,,4x14,,,,\n", "mine.csv:2: least"),
        (HEADER + "A,2x14,,,,,\n", "mine.csv:2: greatest"),
        (HEADER + "A,2x14 solod,4x14,,,,\n", "unknown word 'solod'; did you mean solid?"),
        (HEADER + "A,2x14,4x3mm2,,,,\n", "mine.csv:2: greatest"),
        (HEADER + "A,5x14,4x14,,,,\n", "mine.csv:2: least: '5x14': 5 of 14 AWG here, 4 in the greatest"),
        (HEADER + "A,2x14,4x14,moon,,,\n", "mine.csv:2: location: 'moon'"),
        (HEADER + "A,2x14,4x14,,hot,,\n", "mine.csv:2: temperature_c: 'hot'"),
        (HEADER + "A,2x14,4x14,,,tin,\n", "mine.csv:2: material_mark: 'tin'"),
        (HEADER + "B,2x12,3x12,,,,\nA,2x14,4x14,moon,,,\n", "mine.csv:3: location"),
        (HEADER + 'A,"2x14,4x14,,,,\n', "cannot be read"),
    ],
)
def test_a_bad_file_is_told_in_one_line(
    reference: jointable.Reference, tmp_path: Path, text: str, says: str
) -> None:
    path = tmp_path / "mine.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_listings(path, reference)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_files_that_are_not_text(reference: jointable.Reference, tmp_path: Path) -> None:
    path = tmp_path / "mine.csv"
    path.write_bytes(HEADER.encode() + b"A,2x14,4x14,,,,caf\xe9\n")
    with pytest.raises(InputError, match="UTF-8"):
        load_listings(path, reference)
    with pytest.raises(InputError, match="no such file"):
        load_listings(tmp_path / "none.csv", reference)
    with pytest.raises(InputError, match="cannot be read"):
        load_listings(tmp_path, reference)


def test_the_printed_answer_names_the_row(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Every listing that prints the joint is shown with its row; what it warns of bears its name."""
    path = write(tmp_path, *(f"Alpha {n},2x12,8x12,,,," for n in range(5)))
    assert main(["joint", "8x12", "--listings", str(path)]) == 0
    told = capsys.readouterr().out
    assert [f"Alpha {n}: listed by your file, row {n + 2}" in told for n in range(5)] == [True] * 5
    assert "Alpha 4: warning: this combination lies outside every generic class" in told
    assert "None" not in told
