"""What was found in opened boxes, as text for people."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.text import Text

from jointable.guidance import merged
from jointable.language import said
from jointable.present_advice import show_guidance
from jointable.trace import plain

__all__ = ["show_check"]

#: How serious a finding is, in words that stand without a colour.
_NOTHING = "Nothing was found by what was told. That is no proof that it is sound."
SEVERITY = {"stop": "STOP", "wrong": "WRONG", "mind": "MIND"}


def show_check(out: Console, answer: Mapping[str, Any]) -> None:
    """Print the answer of `check`.

    Args:
        out: The console.
        answer: The answer as `--json` prints it.
    """
    boxes, language = answer["boxes"], answer.get("language")
    for box in boxes:
        if len(boxes) > 1 or box["title"] or box["fill"]:
            out.print(Text(f"{box['box']}: {box['title']}" if box["title"] else box["box"], style="bold"))
        for joint in box["joints"]:
            _joint(out, joint, language)
        for finding in box["findings"]:
            _finding(out, finding, language)
        if not box["findings"]:
            out.print(Text(said(_NOTHING, language)))
        if box["fill"]:
            out.print(Text(_fill(box, language)))
    show_guidance(out, {**merged(boxes), "language": language})
    for text in dict.fromkeys(a for b in boxes for a in b["assumptions"]):
        out.print(Text(f"{said('Assumed:', language)} {text}"))
    for text in dict.fromkeys(
        f"{c['text']} [{said(c['clause'], language)}]" for b in boxes for c in b["cautions"]
    ):
        out.print(Text(f"! {text}", style="italic"))
    out.print(Text(f"{answer['edition']}, {said('data', language)} {answer['data_version']}", style="dim"))


def _joint(out: Console, joint: Mapping[str, Any], language: str | None) -> None:
    there = f" {said('in', language)} {joint['in']}" if joint["in"] else ""
    change = (
        ""
        if joint["after"] == joint["before"]
        else f", {said('becomes', language)} {joint['after'] or said('nothing', language)}"
    )
    out.print(Text(f"{joint['joint']}: {joint['before']}{there}{change}", style="bold"))
    needs = joint["needs"] or joint["reason"]
    if needs:
        out.print(Text("  " + "; ".join([f"{said('takes it:', language)} {needs}", *joint["requires"]])))


def _finding(out: Console, finding: Mapping[str, Any], language: str | None) -> None:
    where = f"{finding['joint']}: " if finding["joint"] else ""
    when = "" if finding["when"] == "both" else f", {said(finding['when'], language)}"
    detail = f" ({finding['detail']})" if finding["detail"] else ""
    out.print(Text(f"{said(SEVERITY[finding['severity']], language)} {where}{finding['what']}{detail}{when}"))
    out.print(Text(f"  {said('why:', language)} {finding['why']} [{said(finding['clause'], language)}]"))
    out.print(Text(f"  {said('do:', language)} {finding['do']}"))


def _fill(box: Mapping[str, Any], language: str | None) -> str:
    after, before = box["fill"], box["fill_before"]
    text = f"Box: needs {plain(after['required_in3'])} in³, has {plain(after['available_in3']) or '?'} in³"
    if before and before["required_in3"] != after["required_in3"]:
        return said(f"{text}; before the change {plain(before['required_in3'])} in³", language)
    return said(text, language)
