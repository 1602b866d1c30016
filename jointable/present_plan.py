"""A plan as text for people: joints, terminals, fill, room and take-off, box by box."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from rich import box as rules
from rich.console import Console
from rich.table import Table
from rich.text import Text

from jointable.guidance import merged
from jointable.language import said
from jointable.present_advice import show_guidance
from jointable.trace import plain

__all__ = ["show_plan"]

#: Beyond so many boxes only a line for each is shown.
_MOST_WHOLE = 12


def show_plan(out: Console, answer: Mapping[str, Any], work: Mapping[str, list[str]]) -> None:
    """Print a plan.

    Args:
        out: The console.
        answer: The answer of `plan` as `--json` prints it.
        work: For each box the steps of the work, where they were asked for.
    """
    boxes = answer["boxes"]
    if len(boxes) > 1:
        out.print(_summary(boxes))
    for box in boxes if len(boxes) <= _MOST_WHOLE else ():
        _show_box(out, box, work.get(box["box"], []))
    out.print(Text("Take-off of the job", style="bold"))
    _show_take_off(out, answer["take_off"])
    show_guidance(out, merged(boxes))
    for text in dict.fromkeys(a for b in boxes for a in b["assumptions"]):
        out.print(Text(f"{said('Assumed:', answer.get('language'))} {text}"))
    for text in dict.fromkeys(_caution(c) for b in boxes for c in b["cautions"]):
        out.print(Text(f"! {text}", style="italic"))
    out.print(Text(f"{answer['edition']}, data {answer['data_version']}", style="dim"))


def _table(*headings: str) -> Table:
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading in headings:
        table.add_column(heading, overflow="fold")
    return table


def _summary(boxes: Iterable[Mapping[str, Any]]) -> Table:
    table = _table("box", "needs in³", "has in³", "", "smallest standard box")
    for b in boxes:
        fill = b["fill"]
        table.add_row(
            Text(b["box"]),
            plain(fill["required_in3"]),
            plain(fill["available_in3"]) or "?",
            _verdict(fill["passes"]),
            Text(_smallest(b)),
        )
    return table


def _show_box(out: Console, box: Mapping[str, Any], work: list[str]) -> None:
    out.print(Text(f"{box['box']}: {box['title']}" if box["title"] else box["box"], style="bold"))
    joints = _table("joint", "conductors", "class", "why")
    for j in box["joints"]:
        conductors = f"{j['text'] or '?'}: {', '.join(_members(j))}"
        said = "; ".join([j["class"] or j["reason"] or "?", *j["requires"]])
        joints.add_row(Text(j["joint"]), Text(conductors), Text(said), Text(j["clause"]))
    if box["joints"]:
        out.print(joints)
    terminals = _table("device", "terminal", "on it", "why")
    for t in box["terminals"]:
        terminals.add_row(
            Text(t["device"]), Text(t["terminal"]), Text(t["wire"] or "nothing"), Text(t["clause"])
        )
    if box["terminals"]:
        out.print(terminals)
    for end in box["free_ends"]:
        out.print(Text(f"Free end: {end['end']}, {end['size']}, covered [{end['clause']}]"))
    out.print(_fill_lines(box["fill"]))
    out.print(Text(_total(box["fill"])))
    out.print(Text(f"Smallest standard box: {_smallest(box)}"))
    if box["room"] is not None:
        out.print(Text(_room(box["room"])))
    for note in box["notes"]:
        out.print(Text(f"Note: {note}"))
    for line in work:
        out.print(Text(line))


def _members(joint: Mapping[str, Any]) -> list[str]:
    through = [f"one goes on through to {joint['on_through_to']}"] if joint["on_through_to"] else []
    return [*joint["of"], *(f"pigtail to {p['to']}" for p in joint["pigtails"]), *through]


def _fill_lines(fill: Mapping[str, Any]) -> Table:
    table = _table("takes room by the code", "count", "size", "in³", "clause")
    for line in fill["lines"]:
        table.add_row(
            line["item"], plain(line["count"]), line["size"] or "", plain(line["volume_in3"]), line["clause"]
        )
    return table


def _total(fill: Mapping[str, Any]) -> str:
    has = plain(fill["available_in3"]) or "?"
    return (
        f"Needs {plain(fill['required_in3'])} in³ ({_short(fill['required_cm3'])} cm³), has {has} in³: "
        f"{_verdict(fill['passes'])}"
    )


def _verdict(passes: bool | None) -> str:
    return {True: "holds", False: "too small", None: "undecided"}[passes]


def _smallest(box: Mapping[str, Any]) -> str:
    found = box["smallest_box"]
    if found is None:
        return "none that suits"
    times = f"{found['sections']} sections of " if found["sections"] > 1 else ""
    return f"{times}{found['box']} ({plain(found['available_in3'])} in³)"


def _room(room: Mapping[str, Any]) -> str:
    inside = _short(room["inside_cm3"])
    text = f"Room, an estimate: contents {_short(room['contents_cm3'])} of {inside} cm³"
    gain = f"; smallest classes throughout gain {_short(room['gain_cm3'])} cm³"
    return text + gain + (f" ({plain(room['gain_percent'])} %)" if room["gain_percent"] is not None else "")


def _show_take_off(out: Console, parts: Mapping[str, Any]) -> None:
    for row in parts["connectors"]:
        out.print(Text(f"  {row['quantity']} x {row['class'] or 'no single class, see the joint'}"))
    for row in parts["pigtails"]:
        kind = "grounding pigtail" if row["grounding"] else "pigtail"
        each, whole = plain(row["length_mm"]), plain(row["total_mm"])
        out.print(Text(f"  {row['quantity']} x {kind} {row['size']}, {each} mm each, {whole} mm in all"))
    if parts["end_caps"]:
        out.print(Text(f"  {parts['end_caps']} x end cap"))


def _short(value: Decimal | None) -> str:
    return "?" if value is None else plain(Decimal(value).quantize(Decimal("0.1")))


def _caution(caution: Mapping[str, Any]) -> str:
    return f"{caution['text']} [{caution['clause']}]" if caution["clause"] else str(caution["text"])
