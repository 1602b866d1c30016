"""What stands beside an answer in French and Spanish: headings, labels, the steps of the work, exercises.

The words are asked of the pages, forms and drawings themselves. Source of the terms: as in `test_language`.
"""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError
from jointable.exercise import exercise_dict, exercise_html, exercises
from jointable.explorer.answers import ANSWERS
from jointable.explorer.questions import QUESTIONS
from jointable.explorer.render import TEMPLATES
from jointable.jsonform import dumps
from jointable.language import said
from jointable.plan_draw import plan_svg
from jointable.plan_label import labels_html
from jointable.plan_read import pattern_names, pattern_text, plan_of_text
from jointable.plan_work import boxes_work, fill_work, joint_work, work_of_plan

LANGUAGES = ("fr", "es")
#: Pages that answer; a trace shows data.
PAGES = "joint range chart box plan check exercise stock".split()
#: Words that are alike in the three languages, and what is no word: data, names of classes, beginnings.
ALIKE = frozenset(
    "Total|Total, mm²|Source|Conditions|Verdict|Joints|Joint|Classes|Volume|Conductor|Terminal|A4|cm³|3 × 12 AWG|"
    "twist-on|standard|2|twist-on 16|twist-on 16 wide|awg|nec-2023|twist-on, AWG|a pigtail to |"
    "one goes on through to |rank|classes|margin|least|a4|letter|pocket".split("|")
)


def _words_of_pages() -> list[str]:
    found: list[str] = []
    for name in (*PAGES, "fill", "parts", "label"):
        text = (TEMPLATES / f"{name}.html").read_text("utf-8")
        for call in re.findall(r"\{\{ _\((.*?)\) \}\}", text):
            found += re.findall(r'"([^"]*)"', call)
    for name in PAGES:
        question = QUESTIONS[name]
        found += [question.title, question.about, *(label for label, _ in question.examples)]
        for field in question.fields:
            if field.name != "brief":  # of the JSON form alone
                found += [field.label, field.help, field.empty]
    return [w for w in dict.fromkeys(found) if w and w not in ALIKE and not w.startswith(" ")]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_heading_and_label_of_the_pages_is_translated(language: str) -> None:
    words = _words_of_pages()
    assert len(words) > 150
    assert [w for w in words if said(w, language) == w] == []


def _english(line: str) -> bool:
    return bool(re.search(r"\b(the|sum of|so it|box holds|too small|left|takes)\b", line))


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_steps_of_the_work_are_told_with_the_same_figures(
    reference: jointable.Reference, language: str
) -> None:
    boxes = plan_of_text(reference, pattern_text("end-of-run-switch"), "plan")
    plan = reference.plan(boxes).to_dict()
    pairs = list(
        zip(
            (line for b in work_of_plan(reference, plan).values() for line in b),
            (line for b in work_of_plan(reference, plan, language).values() for line in b),
            strict=True,
        )
    )
    for text in ("4x12 + 1x14", "8x12", "2x14 | 1x12", "1x12"):
        answer = reference.connectors(text).to_dict()
        pairs += zip(joint_work(answer), joint_work(answer, language=language), strict=True)
    full = [{"item": "box", "size": "4 x 1-1/2 round"}, {"item": "cable", "size": "12/2", "quantity": 9}]
    result = reference.fill(full)[0].to_dict()
    pairs += zip(boxes_work(result), boxes_work(result, language), strict=True)
    changed = 0
    for ours, theirs in pairs:
        assert re.findall(r"\d[\d./]*", ours) == re.findall(r"\d[\d./]*", theirs), theirs
        assert not _english(theirs), theirs
        changed += ours != theirs
    assert changed > 15


@pytest.mark.parametrize("language", LANGUAGES)
def test_titles_of_patterns_labels_and_diagrams_are_told(
    reference: jointable.Reference, language: str
) -> None:
    titles = {
        box.title for name in pattern_names() for box in plan_of_text(reference, pattern_text(name), name)
    }
    assert len(titles) > 10
    assert [t for t in titles if said(t, language) == t] == []
    made = reference.plan(plan_of_text(reference, pattern_text("end-of-run-switch"), "plan"))
    label = labels_html(made, "2026-11-25", language)
    assert said("Box labels", language) in label
    assert "2026-11-25" in label
    assert "compliance" not in label
    drawing = plan_svg(made.boxes[0].to_dict(), language=language)
    assert f">{said('enters', language)}<" in drawing
    assert ">enters<" not in drawing


@pytest.mark.parametrize("language", LANGUAGES)
def test_exercises_are_told_with_the_same_figures(reference: jointable.Reference, language: str) -> None:
    ours, theirs = exercises(reference, 4, 18), exercises(reference, 4, 18, None, language)
    for one, other in zip(ours, theirs, strict=True):
        assert one.question != other.question
        assert not _english(other.question), other.question
        assert re.findall(r"\d[\d./]*", one.question) == re.findall(r"\d[\d./]*", other.question)
        assert one.source == other.source


def test_exercises_print_with_the_answers_on_a_page_of_their_own(reference: jointable.Reference) -> None:
    made = exercises(reference, 7, 4)
    page = exercise_html(made, 7, "v", True)
    asked, worked = page.split('<section class="answers">')
    assert asked.count("<li>") == worked.count("<li>") == 4
    assert "break-before:page" in page
    assert all(e.answer not in asked or e.answer in e.question for e in made if "in³" in e.answer)
    assert '<section class="answers">' not in exercise_html(made, 7, "v", False)


def test_exercises_are_written_to_a_file_to_print(tmp_path: Any, capsys: pytest.CaptureFixture[str]) -> None:
    target = tmp_path / "sheet.html"
    assert main(["exercise", "--seed", "3", "--count", "2", "--answers", "--output", str(target)]) == 0
    assert target.read_text("utf-8").startswith("<!DOCTYPE html>")
    capsys.readouterr()
    wrong = tmp_path / "sheet.docx"
    assert main(["exercise", "--output", str(wrong)]) == 2
    assert ".html" in capsys.readouterr().err
    assert not wrong.exists()


def test_pages_show_the_lines_that_the_commands_print(
    reference: jointable.Reference, capsys: pytest.CaptureFixture[str]
) -> None:
    def asked(*words: str) -> Any:
        main([*words, "--show-work", "--json"])
        return json.loads(capsys.readouterr().out, parse_float=Decimal)

    page = ANSWERS["joint"](reference, {"conductors": "4x12 + 1x14", "work": "1", "language": "es"})
    assert page["work"] == asked("joint", "4x12 + 1x14", "--language", "es")["work"]
    page = ANSWERS["plan"](reference, {"pattern": "end-of-run-switch", "work": "1"})
    assert page["work"] == asked("plan", "--pattern", "end-of-run-switch")["work"]
    lines = "box 4 x 1-1/2 square\n2 cable 12/2"
    for more in ({}, {"beside": True}):
        found = ANSWERS["box"](reference, {"items": lines, "work": "1", "language": "fr", **more})
        box = (found["boxes"] if more else found)[0]
        assert box["work"] == boxes_work(box_of(reference, lines), "fr")
    assert "work" not in ANSWERS["joint"](reference, {"conductors": "3x12"})


def box_of(reference: jointable.Reference, lines: str) -> Any:
    """The box of some item lines, in English."""
    return ANSWERS["box"](reference, {"items": lines})[0]


def test_the_work_of_a_plan_names_the_class_of_any_family_and_place(reference: jointable.Reference) -> None:
    text = pattern_text("receptacle-feed-through")
    for family in ("screwless lever", "twist-on"):
        plan = reference.plan(plan_of_text(reference, text, "plan"), family=family).to_dict()
        work = work_of_plan(reference, plan)
        for box in plan["boxes"]:
            for joint in box["joints"]:
                assert any(f"{joint['class']}:" in line for line in work[box["box"]]), joint
    wet = {"name": "w", "location": "wet", "enters": [{"size": "12/2"}], "device": [{"kind": "receptacle"}]}
    plan = reference.plan(wet).to_dict()
    assert "no class takes" not in " ".join(work_of_plan(reference, plan)["w"])


def test_labels_and_record_of_a_page(reference: jointable.Reference) -> None:
    asked = {"pattern": "end-of-run-switch", "date": "2026-11-25"}
    found = ANSWERS["label"](reference, asked)
    assert found["labels"].count('<section class="label">') == 2
    assert [line.split(",")[0] for line in found["record"].splitlines()] == ["box", "switch", "luminaire"]
    with pytest.raises(InputError, match="date"):
        ANSWERS["label"](reference, {**asked, "date": "25.11.2026"})


def test_exercises_of_a_page(reference: jointable.Reference) -> None:
    page = ANSWERS["exercise"](reference, {"seed": "7", "count": "3"})
    whole = exercise_dict(exercises(reference, 7, 3), 7, reference.data_version, True)
    assert dumps(page) == dumps(whole)
    assert "answer" not in ANSWERS["exercise"](reference, {"blank": "1"})["exercises"][0]
    for name, value in (("seed", "-1"), ("seed", "x"), ("count", "0"), ("count", "1e2"), ("edition", "n")):
        with pytest.raises(InputError):
            ANSWERS["exercise"](reference, {name: value})


def test_an_overfull_box_is_told_by_its_work(reference: jointable.Reference) -> None:
    rows = [{"item": "box", "volume_in3": "10"}, {"item": "conductor", "size": 12, "quantity": 6}]
    lines = fill_work(reference.fill(rows)[0].to_dict())
    assert lines[-1] == "13.5 > 10, the box is too small: 3.5 in³ too many"
