"""What the worker behind the pages answers, asked in this process: every example, and every kind of wrong input."""

from __future__ import annotations

import json

import pytest

import jointable
from jointable.explorer import answers
from jointable.explorer.answer_worker import AnswerWorker
from jointable.explorer.catalogue import catalogue
from jointable.explorer.pipe import opened
from jointable.explorer.questions import QUESTIONS

EXAMPLES = [(q.name, parameters) for q in QUESTIONS.values() for _, parameters in q.examples]


@pytest.mark.parametrize(("name", "parameters"), EXAMPLES)
def test_every_example_is_answered(
    reference: jointable.Reference, name: str, parameters: dict[str, str]
) -> None:
    reply = AnswerWorker(reference).answer({"name": name, "parameters": parameters})
    told = json.loads(opened(reply)["json"])
    boxes = told if name == "box" else [told]
    assert boxes
    assert all(b["data_version"] == reference.data_version for b in boxes)


def test_wrong_input_is_told_and_a_fault_is_not(
    reference: jointable.Reference, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    worker = AnswerWorker(reference)
    wrong = worker.answer({"name": "box", "parameters": {"items": "box 4 x 1-1/2 square\n2 cabel 12/2"}})[
        "wrong"
    ]
    assert (wrong["row"], wrong["column"]) == (2, "items")
    assert "did you mean" in wrong["error"]

    def broken(*_: object) -> None:
        raise ZeroDivisionError("a secret")

    def greedy(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr(answers, "ANSWERS", answers.ANSWERS)
    monkeypatch.setitem(answers.ANSWERS, "joint", broken)  # type: ignore[arg-type]
    assert worker.answer({"name": "joint", "parameters": {}}) == {"failed": "ZeroDivisionError"}
    assert "a secret" in capsys.readouterr().err
    monkeypatch.setitem(answers.ANSWERS, "joint", greedy)  # type: ignore[arg-type]
    assert "more memory" in worker.answer({"name": "joint", "parameters": {}})["wrong"]["error"]


def test_the_catalogue_describes_every_table(reference: jointable.Reference) -> None:
    found = catalogue(reference, {})
    names = {
        r[0] for r in reference.rows("SELECT table_name FROM duckdb_tables() WHERE schema_name = 'main'")
    }
    assert set(found["tables"]) == names
    for table in found["tables"].values():
        assert table["title"]
        assert table["columns"]
    assert sum(bool(t["sources"]) for t in found["tables"].values()) > 20
    assert found["tables"]["box"]["foreign_keys"]
