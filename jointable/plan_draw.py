"""A planned box as a plain line diagram: what enters on the left, joints as dots, devices on the right."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from typing import Any

from jointable.language import said

__all__ = ["plan_svg"]

#: Measures in units of the drawing.
_ROW, _TOP, _LEFT, _JOINT, _RIGHT, _WIDTH = 22, 40, 190, 330, 470, 680

_STYLE = (
    "<style>:root{color-scheme:light dark}svg{color:#1d2126;background:#fff}"
    "@media (prefers-color-scheme:dark){svg{color:#e4e6e8;background:#15181b}}</style>"
)


def plan_svg(box: Mapping[str, Any], *, standalone: bool = False, language: str | None = None) -> str:
    """The line diagram of one box.

    Args:
        box: A box of the answer of `plan`, as `--json` prints it.
        standalone: Whether it is a file of its own, with its style.
        language: The language of its headings; None is English.

    Returns:
        An SVG element in the colour of the text around it; title and description say the same in words.

    Source: none; the drawing is this project's.

    Example:
        >>> import jointable
        >>> made = jointable.open().plan({"enters": [{"size": "12/2"}], "device": [{"kind": "receptacle"}]})
        >>> "<title>Box box 1</title>" in plan_svg(made.boxes[0].to_dict())
        True
    """
    ends, places = _rows(box)
    height = _TOP + _ROW * max(len(ends), len(places), 1) + 20
    headings = (("enters", 12), ("joints", _JOINT - 30), ("terminals", _RIGHT + 10))
    parts = [_text(x, 22, said(heading, language)) for heading, x in headings]
    parts.append(f'<rect x="{_LEFT - 20}" y="30" width="{_RIGHT - _LEFT + 30}" height="{height - 40}"/>')
    at = {name: _TOP + _ROW * n + 10 for n, name in enumerate(ends)}
    to = {name: _TOP + _ROW * n + 10 for n, name in enumerate(places)}
    parts += [_text(12, y + 4, name) for name, y in at.items()]
    parts += [_text(_RIGHT + 18, y + 4, name) for name, y in to.items()]
    for joint in box["joints"]:
        parts += _joint(joint, at, to)
    for terminal in box["terminals"]:
        place = f"{terminal['device']} {terminal['terminal']}"
        for wire in (terminal["wire"] or "").split(" and "):
            if wire in at:
                parts.append(_line(_LEFT - 40, at[wire], _RIGHT + 10, to[place]))
    for end in box["free_ends"]:
        y = at[end["end"]]
        parts.append(_line(_LEFT - 40, y, _LEFT + 30, y))
        parts.append(f'<line x1="{_LEFT + 30}" y1="{y - 5}" x2="{_LEFT + 30}" y2="{y + 5}"/>')
    # Last, so that no line runs through the name of a joint.
    parts += [
        _text(_JOINT - 20, _height(joint, at) - 9, joint["joint"], over=True) for joint in box["joints"]
    ]
    style = _STYLE if standalone else ""
    title = f"{said('Box', language)} {box['box']}"
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDTH} {height}" role="img" width="{_WIDTH}">'
        f"<title>{escape(title)}</title><desc>{escape(_words(box, language))}</desc>{style}"
        '<g fill="none" stroke="currentColor" stroke-width="1.2" font-family="system-ui,sans-serif" '
        f'font-size="12">{"".join(parts)}</g></svg>'
    )


def _rows(box: Mapping[str, Any]) -> tuple[list[str], list[str]]:
    """The names at the left, those of a joint beside one another, and at the right."""
    ends = [name for j in box["joints"] for name in j["of"]]
    for terminal in box["terminals"]:
        wires = (terminal["wire"] or "").removesuffix(", on through the connector").split(" and ")
        ends += [w for w in wires if "." in w and w not in ends]
    ends += [e["end"] for e in box["free_ends"]]
    order = sorted(dict.fromkeys(ends), key=lambda name: ends.index(name))
    return order, [f"{t['device']} {t['terminal']}" for t in box["terminals"]]


def _joint(joint: Mapping[str, Any], at: Mapping[str, int], to: Mapping[str, int]) -> list[str]:
    y = _height(joint, at)
    out = [_line(_LEFT - 40, at[name], _JOINT, y) for name in joint["of"]]
    places = [p["to"].removesuffix(" lead") for p in joint["pigtails"]]
    places += [joint["on_through_to"]] if joint["on_through_to"] else []
    out += [_line(_JOINT, y, _RIGHT + 10, to[p]) for p in places if p in to]
    out.append(f'<circle cx="{_JOINT}" cy="{y}" r="5" fill="currentColor"/>')
    return out


def _height(joint: Mapping[str, Any], at: Mapping[str, int]) -> int:
    """Where a joint stands: amid the ends that meet in it."""
    ys = [at[name] for name in joint["of"]]
    return sum(ys) // len(ys) if ys else _TOP


def _line(x1: int, y1: int, x2: int, y2: int) -> str:
    return f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}"/>'


def _text(x: int, y: int, words: str, *, over: bool = False) -> str:
    """Words; those that stand over lines have a rim in the colour of the ground."""
    rim = 'stroke="Canvas" stroke-width="4" paint-order="stroke"' if over else 'stroke="none"'
    return f'<text x="{x}" y="{y}" fill="currentColor" {rim}>{escape(words)}</text>'


def _words(box: Mapping[str, Any], language: str | None) -> str:
    joints = []
    for j in box["joints"]:
        members = [*j["of"], *(said(f"a pigtail to {p['to']}", language) for p in j["pigtails"])]
        joints.append(f"{said('Joint', language)} {j['joint']}: {', '.join(members)}.")
    nothing = said("nothing", language)
    terminals = [f"{t['device']} {t['terminal']}: {t['wire'] or nothing}." for t in box["terminals"]]
    free = [said(f"{e['end']} is left free and covered.", language) for e in box["free_ends"]]
    return " ".join([*joints, *terminals, *free])
