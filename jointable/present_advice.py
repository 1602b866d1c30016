"""Lines of advice, and what could be done with what is carried, as text for people."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.text import Text

from jointable.console import PLAIN
from jointable.language import said

__all__ = ["show_carried", "show_guidance"]

#: The topics of the lines of advice, and their headings.
_HEADINGS = {
    "make_up": "Making it up",
    "aluminium": "Aluminium",
    "electrical": "What the mix means electrically: notes, not a design",
    "wet_place": "Damp, wet and buried places",
}


def show_guidance(out: Console, answer: Mapping[str, Any]) -> None:
    """Print the lines of advice of an answer, topic by topic.

    Args:
        out: The console.
        answer: An answer as `--json` prints it.
    """
    for name, heading in _HEADINGS.items():
        lines = answer.get(name, ())
        if lines:
            out.print(Text(said(heading, answer.get("language")), style="bold"))
        for line in lines:
            caution = f", {line['caution']}" if line.get("caution") else ""
            text = f"  {said(line['kind'], answer.get('language'))}: {line['text']} [{said(line['clause'], answer.get('language'))}{caution}]"
            if not out.encoding.lower().startswith("utf"):
                # Plain characters may be longer, so they stand before the line is broken.
                text = "".join(PLAIN.get(c, c) for c in text)
            out.print(Text(text))


def show_carried(out: Console, carry: Mapping[str, Any] | None, language: str | None = None) -> None:
    """Print what could be done with what is carried, where nothing of it takes the joint.

    Args:
        out: The console.
        carry: The `carry` of an answer about a joint, None where nothing was said to be carried.
        language: The language of the answer; None is English.
    """
    if carry is None or carry["served"]:
        return
    out.print(Text(said("Nothing carried takes it as it is.", language)))
    for could in carry["could"]:
        out.print(Text(f"  {said('Could be done:', language)} {could}"))
    if carry["missing"]:
        out.print(Text(f"  {said('Missing:', language)} " + ", ".join(carry["missing"])))
