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
    boxes, language = answer["boxes"], answer.get("language")
    if len(boxes) > 1:
        out.print(_summary(boxes, language))
    for box in boxes if len(boxes) <= _MOST_WHOLE else ():
        _show_box(out, box, work.get(box["box"], []), language)
    out.print(Text(said("Take-off of the job", language), style="bold"))
    _show_take_off(out, answer["take_off"], language)
    show_guidance(out, {**merged(boxes), "language": language})
    for text in dict.fromkeys(a for b in boxes for a in b["assumptions"]):
        out.print(Text(f"{said('Assumed:', language)} {text}"))
    for text in dict.fromkeys(_caution(c, language) for b in boxes for c in b["cautions"]):
        out.print(Text(f"! {text}", style="italic"))
    out.print(Text(f"{answer['edition']}, {said('data', language)} {answer['data_version']}", style="dim"))


def _table(language: str | None, *headings: str) -> Table:
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading in headings:
        table.add_column(said(heading, language), overflow="fold")
    return table


def _summary(boxes: Iterable[Mapping[str, Any]], language: str | None) -> Table:
    table = _table(language, "box", "needs in³", "has in³", "", "smallest standard box")
    for b in boxes:
        fill = b["fill"]
        table.add_row(
            Text(b["box"]),
            plain(fill["required_in3"]),
            plain(fill["available_in3"]) or "?",
            _verdict(fill["passes"], language),
            Text(_smallest(b, language)),
        )
    return table


def _show_box(out: Console, box: Mapping[str, Any], work: list[str], language: str | None) -> None:
    title = f": {said(box['title'], language)}" if box["title"] else ""
    out.print(Text(f"{box['box']}{title}", style="bold"))
    joints = _table(language, "joint", "conductors", "class", "why")
    for j in box["joints"]:
        conductors = f"{j['text'] or '?'}: {', '.join(_members(j, language))}"
        taken = "; ".join([j["class"] or j["reason"] or "?", *j["requires"]])
        joints.add_row(Text(j["joint"]), Text(conductors), Text(taken), Text(said(j["clause"], language)))
    if box["joints"]:
        out.print(joints)
    terminals = _table(language, "device", "terminal", "on it", "why")
    for t in box["terminals"]:
        terminals.add_row(
            Text(t["device"]),
            Text(t["terminal"]),
            Text(t["wire"] or said("nothing", language)),
            Text(said(t["clause"], language)),
        )
    if box["terminals"]:
        out.print(terminals)
    for end in box["free_ends"]:
        out.print(Text(said(f"Free end: {end['end']}, {end['size']}, covered [{end['clause']}]", language)))
    out.print(_fill_lines(box["fill"], language))
    out.print(Text(_total(box["fill"], language)))
    out.print(Text(f"{said('Smallest standard box', language)}: {_smallest(box, language)}"))
    if box["room"] is not None:
        out.print(Text(_room(box["room"], language)))
    for note in box["notes"]:
        out.print(Text(f"{said('Note', language)}: {note}"))
    for line in work:
        out.print(Text(line))


def _members(joint: Mapping[str, Any], language: str | None) -> list[str]:
    through = (
        [said(f"one goes on through to {joint['on_through_to']}", language)] if joint["on_through_to"] else []
    )
    return [*joint["of"], *(said(f"pigtail to {p['to']}", language) for p in joint["pigtails"]), *through]


def _fill_lines(fill: Mapping[str, Any], language: str | None) -> Table:
    table = _table(language, "takes room by the code", "count", "size", "in³", "clause")
    for line in fill["lines"]:
        table.add_row(
            line["item"], plain(line["count"]), line["size"] or "", plain(line["volume_in3"]), line["clause"]
        )
    return table


def _total(fill: Mapping[str, Any], language: str | None) -> str:
    has = plain(fill["available_in3"]) or "?"
    sums = f"Needs {plain(fill['required_in3'])} in³ ({_short(fill['required_cm3'])} cm³), has {has} in³"
    return f"{said(sums, language)}: {_verdict(fill['passes'], language)}"


def _verdict(passes: bool | None, language: str | None) -> str:
    return said({True: "holds", False: "too small", None: "undecided"}[passes], language)


def _smallest(box: Mapping[str, Any], language: str | None) -> str:
    found = box["smallest_box"]
    if found is None:
        return said("none that suits", language)
    times = f"{found['sections']} {said('sections of', language)} " if found["sections"] > 1 else ""
    return f"{times}{found['box']} ({plain(found['available_in3'])} in³)"


def _room(room: Mapping[str, Any], language: str | None) -> str:
    inside = _short(room["inside_cm3"])
    text = f"Room, an estimate: contents {_short(room['contents_cm3'])} of {inside} cm³"
    gain = f"; smallest classes throughout gain {_short(room['gain_cm3'])} cm³"
    return said(text + gain, language) + (
        f" ({plain(room['gain_percent'])} %)" if room["gain_percent"] is not None else ""
    )


def _show_take_off(out: Console, parts: Mapping[str, Any], language: str | None) -> None:
    for row in parts["connectors"]:
        out.print(
            Text(f"  {row['quantity']} x {row['class'] or said('no single class, see the joint', language)}")
        )
    for row in parts["pigtails"]:
        kind = said("grounding pigtail" if row["grounding"] else "pigtail", language)
        each, whole = plain(row["length_mm"]), plain(row["total_mm"])
        lengths = said(f"{each} mm each, {whole} mm in all", language)
        out.print(Text(f"  {row['quantity']} x {kind} {row['size']}, {lengths}"))
    if parts["end_caps"]:
        out.print(Text(f"  {parts['end_caps']} x {said('end cap', language)}"))


def _short(value: Decimal | None) -> str:
    return "?" if value is None else plain(Decimal(value).quantize(Decimal("0.1")))


def _caution(caution: Mapping[str, Any], language: str | None) -> str:
    return (
        f"{caution['text']} [{said(caution['clause'], language)}]"
        if caution["clause"]
        else str(caution["text"])
    )
