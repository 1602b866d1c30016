"""The room of boxes as tables for people."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from rich import box as rules
from rich.console import Console
from rich.table import Table
from rich.text import Text

from jointable.language import said
from jointable.trace import plain

__all__ = ["show_room"]


def show_room(out: Console, answers: list[dict[str, Any]]) -> None:
    """Print the answer of `room`: each box in a line, and what is in it where there is one."""
    language = answers[0].get("language") if answers else None
    out.print(_boxes(answers, language))
    for answer in answers if len(answers) == 1 else ():
        out.print(_contents(answer, language))
    for answer in answers:
        for joint in answer["joints"]:
            if joint["problem"]:
                out.print(Text(f"{_name(answer)}, {joint['joint']}: {joint['problem']}"))
            elif joint["class"] != joint["smallest"]:
                change = f"{joint['class']} to {joint['smallest']} gains {plain(joint['gain_cm3'])} cm³"
                out.print(Text(f"{_name(answer)}, {joint['joint']}: {said(change, language)}"))
    out.print(
        Text(
            said(
                "gain: every joint in the smallest class that takes it; gain %: share of what the connectors take",
                language,
            )
        )
    )
    for text in answers[0]["assumptions"] if answers else ():
        out.print(Text(f"{said('Assumed:', language)} {text}"))
    for caution in answers[0]["cautions"] if answers else ():
        clause = f" [{said(caution['clause'], language)}]" if caution["clause"] else ""
        out.print(Text(f"! {caution['text']}{clause}", style="italic"))
    if answers:
        out.print(Text(f"{said('data', language)} {answers[0]['data_version']}", style="dim"))


def _table(language: str | None, *headings: str) -> Table:
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for number, heading in enumerate(headings):
        table.add_column(said(heading, language), justify="right" if number else "left", overflow="fold")
    return table


def _boxes(answers: list[dict[str, Any]], language: str | None) -> Table:
    table = _table(language, "box (estimate, cm³)", "inside", "contents", "%", "left", "gain", "gain %")
    for a in answers:
        table.add_row(
            _name(a),
            _short(a["inside_cm3"]),
            _short(a["contents_cm3"]),
            plain(a["taken_percent"]) or "?",
            _short(a["left_cm3"]),
            _short(a["gain_cm3"]),
            plain(a["gain_percent"]) or "-",
        )
    return table


def _short(volume: Decimal | None) -> str:
    """A volume at one decimal: an estimate is no more exact than that."""
    return "?" if volume is None else str(volume.quantize(Decimal("0.1")))


def _contents(answer: dict[str, Any], language: str | None) -> Table:
    table = _table(language, "content", "pieces", "cm³")
    for line in answer["lines"]:
        name = " ".join(x for x in (line["item"], line["size"]) if x)
        table.add_row(name, str(line["pieces"]), plain(line["room_cm3"]))
    for joint in answer["joints"]:
        if joint["class"]:
            table.add_row(
                f"{joint['class']} ({joint['joint']}: {joint['text']})", "1", plain(joint["room_cm3"])
            )
    return table


def _name(answer: dict[str, Any]) -> str:
    return f"{answer['box']} / {answer['space']}" if answer["space"] else str(answer["box"])
