"""Answers in French and Spanish: every sentence has a translation, and figures, units and keys stay what they are.

The sentences are asked of the library itself, by questions that bring out as many of its reasons as they can,
and of the tables that hold sentences. Source of the terms: the vocabulary of the French edition of C22.1 and of
NOM-001-SEDE-2012, from memory.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

import jointable
from jointable import language as speaking
from jointable.cli import main
from jointable.demo import demo_schedule
from jointable.errors import InputError
from jointable.explorer.answers import ANSWERS
from jointable.fill_command import advised
from jointable.jsonform import dumps
from jointable.language import said, sentences, translated
from jointable.notation import Joint
from jointable.plan_read import pattern_names, pattern_text, plan_of_text
from jointable.saved import rows_given
from jointable.schedule import read_schedule

LOCALE = Path(speaking.__file__).parent / "locale"
OTHERS = ("fr", "es")

JOINTS: list[tuple[str, dict[str, Any]]] = [
    ("3x12 + 1x14", {}),
    ("3x12", {"rank": "margin", "temperature_c": 90, "location": "damp", "voltage": 480}),
    ("7x12", {"family": "twist-on", "rank": "classes"}),
    ("3x12 stranded", {"family": "split bolt"}),
    ("7x14", {"family": "screwless lever", "reopenable": True}),
    ("2x12 aluminium", {}),
    ("2x4/0 aluminium", {"family": "twist-on"}),
    ("1x12 + 1x4 aluminium", {"reopenable": True}),
    ("1x12 copper-clad + 1x12", {"material_mark": "cu"}),
    ("2x10 + 1x20 + 1x26", {"family": "twist-on"}),
    ("2x12 + 1x18 flexible", {}),
    ("2x12 + 1x18 flexible", {"material_mark": "al-cu"}),
    ("2x14 flexible | 3x12 stranded", {}),
    ("5x14", {"family": "twist-on", "location": "burial"}),
    ("3x12", {"pass_through": True}),
    ("3x12", {"temperature_c": 120}),
    ("3x12", {"temperature_c": 160}),
    ("3x12", {"voltage": 3000}),
    ("2x12", {"family": "crimped butt"}),
    ("2x4/0", {"family": "insulation-piercing", "location": "wet"}),
    ("1x250 kcmil + 1x6", {"family": "split bolt", "reopenable": True}),
    ("3x1.5mm2 + 1x0.34mm2", {"family": "twist-on"}),
    ("1x12", {}),
]
LISTINGS = (
    "connector,least,greatest,location,temperature_c,material_mark\n"
    "one,2x12,4x12,damp,60,\ntwo,3x12,3x12,burial,105,al-cu\nthree,6x14,7x14,,,\n"
)
CANADA = (
    "box,item,size,quantity,conductor_size,loop_mm,depth_mm,volume_cm3,joint\n"
    "A,box,4 x 1-1/2 square,,,,,,\nA,cable,12/2,2,,,,,\nA,connector,,3,12,,,,\nA,clamp,,,,,,,\nA,stud,,,,,,,\n"
    "B,box,,,,,,400,\nB,cable,14/2,2,,,,,\nB,device,,,14,,60,,\nB,loop,14,,,200,,,\nB,terminal_block,,,14,,,,\n"
)


def _joints(reference: jointable.Reference, folder: Path) -> Iterator[Any]:
    for text, demands in JOINTS:
        yield reference.connectors(text, **demands).to_dict()
    mine = folder / "mine.csv"
    mine.write_text(LISTINGS, "utf-8")
    for demands in (
        {},
        {"location": "wet", "temperature_c": 90, "material_mark": "cu"},
        {"location": "burial"},
    ):
        yield reference.connectors("3x12", listings=mine, voltage=300, **demands).to_dict()
    yield reference.connectors("7x14", listings=mine, material_mark="al-cu").to_dict()


def _boxes(reference: jointable.Reference) -> Iterator[Any]:
    demo = read_schedule(demo_schedule())
    filled = advised(reference, demo, list(reference.fill(demo)), "nec-2023")
    yield from (r.to_dict() for r in filled)
    small = read_schedule([row for row in rows_given(demo.records()) if str(row["box"])[0] in "OP"])
    yield from (r.to_dict() for r in reference.fill(small, edition="nec-2014"))
    yield from (r.to_dict() for r in reference.room(small, present="twist-on 25 wide"))
    yield reference.stock(demo)


def _canada(reference: jointable.Reference, folder: Path) -> Iterator[Any]:
    path = folder / "canada.csv"
    path.write_text(CANADA, "utf-8")
    yield from (r.to_dict() for r in reference.fill(path, edition="cec-2021"))


def _plans(reference: jointable.Reference) -> Iterator[Any]:
    for number, name in enumerate(pattern_names()[::4]):
        edition = "cec-2021" if number % 4 == 1 else "nec-2023"
        boxes = plan_of_text(reference, pattern_text(name), name)
        yield reference.plan(boxes, edition, family="screwless lever" if number % 3 == 2 else None).to_dict()


@pytest.fixture(scope="module")
def answers(reference: jointable.Reference, tmp_path_factory: pytest.TempPathFactory) -> list[Any]:
    """Answers to many questions, as `--json` prints them."""
    folder = tmp_path_factory.mktemp("language")
    found = [*_joints(reference, folder), *_boxes(reference), *_canada(reference, folder), *_plans(reference)]
    for family, size, grip in (
        ("twist-on", "16", "wide"),
        ("crimped butt", "4", None),
        ("split bolt", "16", None),
    ):
        found.append(reference.range(size, family=family, grip=grip or "standard"))
        found.append(reference.chart(family=family))
    found.append(reference.chart(family="screwless lever", sizes="mm2"))
    opened = [
        {"conductors": "3x12", "class": "twist-on 10", "add": "1x12", "reused": True, "location": "wet"},
        {"conductors": "2x12 aluminium + 1x12", "class": "twist-on 16"},
        {"conductors": "2x14", "class": "twist-on 25", "free_mm": 90},
    ]
    found += [reference.check({"joint": [joint]}).to_dict() for joint in opened]
    return [json.loads(dumps(a), parse_float=Decimal) for a in found]


@pytest.fixture(scope="module")
def spoken(answers: list[Any]) -> list[str]:
    """Every sentence of these answers, each once."""
    return list(dict.fromkeys(text for a in answers for _, text in sentences(a)))


def missing(texts: list[str], language: str) -> list[str]:
    """Sentences without a translation."""
    return [t for t in texts if translated({"reason": t}, language)["reason"] == t and not is_joint(t)]


def is_joint(text: str) -> bool:
    """Whether a text is joint notation, which is the same in every language."""
    try:
        return bool(Joint.parse(text).count)
    except InputError:
        return False


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_of_the_answers_is_translated(spoken: list[str], language: str) -> None:
    assert len(spoken) > 200
    assert missing(spoken, language) == []


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_of_the_tables_is_translated(reference: jointable.Reference, language: str) -> None:
    # Those that no question above brings out are held against the tables they come from.
    for query in (
        "SELECT text FROM caution",
        "SELECT text FROM assumption",
        "SELECT met_as FROM usual_mix",
        "SELECT text FROM guidance",
        "SELECT unnest([what, why, action]) FROM finding",
        "SELECT DISTINCT what FROM box_limit",
    ):
        texts = [text for (text,) in reference.rows(query)]
        assert texts, query
        assert missing(texts, language) == []


def _figures(text: str) -> list[str]:
    return sorted(re.findall(r"[0-9]+(?:[.,/-][0-9]+)*", text))


def _units(text: str) -> list[str]:
    units = r"\b(?:[mc]m[²³23]?|in[³3]|mL|kcmil|AWG|V)(?!\w)|°C|%|NEC|CEC|IEC|CPSC|UL|AL-CU|CU\b"
    return sorted(re.findall(units, text))


@pytest.mark.parametrize("language", OTHERS)
def test_figures_and_units_are_those_of_the_english_sentence(spoken: list[str], language: str) -> None:
    held = 0
    for text in spoken:
        told = translated({"reason": text}, language)["reason"]
        assert _figures(told) == _figures(text), told
        assert _units(told) == _units(text), told
        held += bool(_figures(text))
    assert held > 100


def _bare(value: Any, found: list[Any], key: str = "") -> list[Any]:
    """Every key, and every value that is no text, in their order."""
    if isinstance(value, dict):
        for k, v in value.items():
            found.append(k)
            _bare(v, found, k)
    elif isinstance(value, list):
        found.append(len(value))
        for v in value:
            _bare(v, found, key)
    elif not isinstance(value, str):
        found.append(value)
    return found


@pytest.mark.parametrize("language", OTHERS)
def test_keys_numbers_names_and_clauses_are_equal(answers: list[Any], language: str) -> None:
    names = (
        "class",
        "family",
        "size",
        "grip",
        "variant",
        "clause",
        "id",
        "box",
        "item",
        "data_version",
        "joint",
    )
    for answer in answers:
        told = json.loads(dumps(translated(answer, language)), parse_float=Decimal)
        assert told.pop("language") == language
        assert _bare(told, []) == _bare(answer, [])
        for name in names:
            assert told.get(name) == answer.get(name)
        for ours, theirs in zip(answer.get("refused", []), told.get("refused", []), strict=True):
            assert {n: ours[n] for n in ours if n in names} == {n: theirs[n] for n in theirs if n in names}
        for ours, theirs in zip(answer.get("cautions", []), told.get("cautions", []), strict=True):
            assert (ours["id"], ours["clause"]) == (theirs["id"], theirs["clause"])
            assert ours["text"] != theirs["text"]
    assert translated(answers[0], "en") == {**answers[0], "language": "en"}
    assert translated(answers[0], None) == answers[0]


def test_the_users_own_words_stay(reference: jointable.Reference) -> None:
    rows = [
        {"box": "copper", "item": "box", "size": "4 x 1-1/2 square", "note": "marked CU"},
        {"box": "copper", "item": "conductor", "size": "12", "quantity": 3},
    ]
    told = translated(reference.fill(rows)[0].to_dict(), "fr")
    assert (told["box"], told["note"]) == ("copper", "marked CU")
    kept = {"inputs": {"reason": "marked CU"}, "schedule": [{"text": "marked CU"}], "reason": "marked CU"}
    assert translated(kept, "es") == {**kept, "reason": "marcado CU", "language": "es"}


#: Words that forbid, restrict or oblige; a caution that loses them loses its force.
_FORCE = {
    "en": r"\b(?:not|no|never|only|must|limited)\b",
    "fr": r"\b(?:ne|pas|aucun|aucune|jamais|seule|seulement|doi(?:ven)?t|exige|limité|non)\b|\bn'",
    "es": r"\b(?:no|ni|ningún|ninguna|nunca|solo|deben?|sin|limitada)\b",
}


@pytest.mark.parametrize("language", OTHERS)
def test_cautions_keep_their_force_and_nothing_claims_compliance(
    reference: jointable.Reference, spoken: list[str], language: str
) -> None:
    held = 0
    for (text,) in reference.rows("SELECT text FROM caution"):
        if re.search(_FORCE["en"], text, re.IGNORECASE):
            told = translated({"reason": text}, language)["reason"]
            assert re.search(_FORCE[language], told, re.IGNORECASE), told
            held += 1
    assert held >= 15
    for text in _messages(language).values():
        assert not re.search(r"conform|complian|cumpl|satisfai[st] au", text, re.IGNORECASE), text


def _messages(language: str) -> dict[tuple[str | None, str], str]:
    with (LOCALE / language / "LC_MESSAGES" / "jointable.po").open("rb") as file:
        catalogue = read_po(file)
    return {(m.context, str(m.id)): str(m.string) for m in catalogue if m.id}


def _compiled(text: bytes) -> bytes:
    out = BytesIO()
    write_mo(out, read_po(BytesIO(text)))
    return out.getvalue()


@pytest.mark.parametrize("language", OTHERS)
def test_the_catalogue_is_whole_and_compiled(language: str) -> None:
    folder = LOCALE / language / "LC_MESSAGES"
    text = (folder / "jointable.po").read_bytes()
    assert (folder / "jointable.mo").read_bytes() == _compiled(text)
    # An edit of the text alone is noticed.
    changed = text.replace(b'msgid "marked CU"\nmsgstr "', b'msgid "marked CU"\nmsgstr "x')
    assert changed != text
    assert (folder / "jointable.mo").read_bytes() != _compiled(changed)
    messages = _messages(language)
    assert list(messages) == list(_messages("fr"))
    for (_, message), told in messages.items():
        assert told.strip(), message
        assert sorted(re.findall(r"\{\w+\}", told)) == sorted(re.findall(r"\{\w+\}", message)), message
        assert _figures(told) == _figures(message), message
    assert b"From memory" in text


def test_a_missing_entry_is_noticed(spoken: list[str], monkeypatch: pytest.MonkeyPatch) -> None:
    whole = speaking._catalogue("fr")
    fewer = tuple(
        t for t in whole.templates if "that this class" not in t.anchor and "above the" not in t.anchor
    )
    assert len(fewer) < len(whole.templates)
    speaking._sentence.cache_clear()
    less = speaking._Catalogue(whole.whole, fewer, whole.words)
    monkeypatch.setattr(speaking, "_catalogue", lambda _: less)
    try:
        found = missing(spoken, "fr")
    finally:
        speaking._sentence.cache_clear()
    assert found
    # What has no entry stays English, whole.
    assert all(" above the " in text for text in found)


def test_a_word_that_is_a_name_does_not_become_another() -> None:
    reason = "high temperature screw clamp connectors are not made to be opened again"
    assert translated({"reason": reason}, "fr")["reason"] == (
        "les connecteurs à serrage par vis (variante : haute température) ne sont pas faits pour être rouverts"
    )
    assert said("nothing that is in the catalogue", "es") == "nothing that is in the catalogue"


@pytest.mark.parametrize(
    "words", [["joint", "3x12"], ["fill", "--demo"], ["chart"], ["range", "16"]], ids=" ".join
)
def test_an_unknown_language_is_one_clear_line(capsys: pytest.CaptureFixture[str], words: list[str]) -> None:
    assert main([*words, "--language", "frr"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err == "language: 'frr': unknown language; did you mean fr?\n"
    with pytest.raises(InputError, match="one of en, fr, es"):
        translated({}, "de")


@pytest.mark.parametrize(
    ("language", "words"),
    [
        ("fr", ["joint", "8x12", "--family", "twist-on"]),
        ("es", ["range", "16"]),
        ("fr", ["chart"]),
        ("es", ["fill", "boxes.csv"]),
        ("fr", ["stock", "boxes.csv"]),
        ("es", ["room", "boxes.csv"]),
        ("fr", ["plan", "--pattern", "four-way-switch"]),
    ],
    ids=lambda value: value if isinstance(value, str) else value[0],
)
def test_each_command_speaks_and_its_answer_can_be_rechecked(
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    language: str,
    words: list[str],
) -> None:
    for name in ("LANGUAGE", "LC_ALL", "LANG"):
        monkeypatch.setenv(name, "es_MX.UTF-8")
    file = tmp_path / "boxes.csv"
    file.write_text(
        "box,item,size,quantity,joint\nA,box,3 x 2 x 2 device,,\nA,conductor,12,7,n\nA,device,12,,\n", "utf-8"
    )
    asked = [str(file) if w == file.name else w for w in words]
    english = _printed(capsys, [*asked, "--json"])
    assert "language" not in (english[0] if isinstance(english, list) else english)
    told = _printed(capsys, [*asked, "--json", "--language", language])
    one = told[0] if isinstance(told, list) else told
    assert one["language"] == language
    assert _bare(told, []) != _bare(english, [])  # the language itself
    assert translated(english, language) == told
    kept = tmp_path / f"{language}.json"
    kept.write_text(dumps(told), "utf-8")
    assert main(["recheck", str(kept)]) == 0, capsys.readouterr().out
    capsys.readouterr()
    assert main([*asked, "--language", language]) in (0, 1)
    text = " ".join(capsys.readouterr().out.split())
    first = next(c["text"] for c in _cautions(one))
    assert first in text
    assert said("Assumed:", language) in text


def _printed(capsys: pytest.CaptureFixture[str], words: list[str]) -> Any:
    assert main(words) in (0, 1)
    return json.loads(capsys.readouterr().out, parse_float=Decimal)


def _cautions(answer: dict[str, Any]) -> list[dict[str, str]]:
    return answer["cautions"] if "cautions" in answer else answer["boxes"][0]["cautions"]  # type: ignore[no-any-return]


@pytest.mark.parametrize(
    ("name", "parameters", "reach"),
    [
        ("joint", {"conductors": "3x12"}, lambda a: a),
        ("range", {"size": "16"}, lambda a: a),
        ("chart", {"family": "twist-on"}, lambda a: a),
        ("box", {"items": "box 3 x 2 x 2 device\n7 conductor 12", "beside": "1"}, lambda a: a["boxes"][0]),
        ("plan", {"pattern": "four-way-switch"}, lambda a: a),
        ("stock", {"schedule": "box,item,size,quantity,joint\nA,conductor,12,3,n"}, lambda a: a),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_page_is_answered_in_a_language(
    reference: jointable.Reference,
    name: str,
    parameters: dict[str, str],
    reach: Callable[[Any], dict[str, Any]],
) -> None:
    english = reach(ANSWERS[name](reference, parameters))
    told = reach(ANSWERS[name](reference, {**parameters, "language": "es"}))
    assert told["language"] == "es"
    # What stands beside a box is left out where the time of a page is over.
    beside = ("what_changes_it", "smallest_boxes", "other_editions")
    assert {**told, **dict.fromkeys(beside)} == {**translated(english, "es"), **dict.fromkeys(beside)}
    assert _cautions(told)[0]["text"].startswith("Desenergizar")
    with pytest.raises(InputError, match="unknown language"):
        ANSWERS[name](reference, {**parameters, "language": "de"})
