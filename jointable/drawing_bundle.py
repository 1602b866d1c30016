"""The bundle of a joint to scale, as lines of SVG: conductors in section, the circle round them, a bore."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from typing import Any

from jointable.bundle import Bundle, enclosing_circle, hidden_conductors, three_circles

__all__ = ["LINE", "MARGIN", "WIDTH", "Body", "Rows", "bore_mm", "bundles", "figure", "n", "text"]

#: Measures of the drawings, in their own units.
WIDTH, MARGIN, LINE = 640.0, 16.0, 20.0
CIRCLE = 300.0

#: A joint in a class of these families is one bundle.
_BUNDLED = ("twist-on", "crimped closed end", "crimped pigtail")

Rows = Sequence[Mapping[str, Any]]

#: SVG elements, what they show in words, and the height they take.
Body = tuple[list[str], str, float]


@dataclass(frozen=True, slots=True)
class _View:
    """One bundle to draw: the whole joint, or an end of a butt joint."""

    end: int | None
    conductors: tuple[Mapping[str, Any], ...]
    bundle: Bundle
    hidden: tuple[int, ...]


def bore_mm(size_mm2: Decimal | float) -> float:
    """The bore of a class that holds a bundle: the circle round three alike that fill it.

    Args:
        size_mm2: The greatest total the class takes, in mm2.

    Returns:
        The bore in mm, unrounded: an estimate of this project's envelope model.

    Source: definition of this project (envelope model); closed form of three circles.

    Example:
        >>> round(bore_mm(10), 2)
        4.44
    """
    radius = math.sqrt(float(size_mm2) / 3 / math.pi)
    return 2 * three_circles(radius, radius, radius)


def bundles(answer: Mapping[str, Any], *, listed: bool) -> tuple[Body, float]:
    """The bundle, or one an end of a butt joint to one scale, with the width they take.

    With `listed`, what the drawing shows stands under it too, over the whole width.
    """
    views = _views(answer["joint"]["conductors"])
    bore = _bore(answer, views)
    widest = max(bore[1] if bore and bore[2] else 0.0, *(view.bundle.diameter for view in views))
    width = WIDTH if listed else len(views) * (CIRCLE + 2 * MARGIN)
    body: list[str] = []
    for at, view in enumerate(views):
        body += _drawn(view, width * (2 * at + 1) / (2 * len(views)), CIRCLE / widest, bore)
    lines = _listed(answer["joint"], views, bore)
    y = 2 * MARGIN + CIRCLE
    for line in lines if listed else ():
        y += LINE
        body.append(text(MARGIN, y, line))
    return (body, " ".join(f"{line}." for line in lines), y + (MARGIN if listed else 0.0)), width


def _views(conductors: Rows) -> list[_View]:
    views = []
    for end in sorted({c.get("end") or 0 for c in conductors}):
        each = tuple(c for c in conductors if (c.get("end") or 0) == end for _ in range(c["count"]))
        found = enclosing_circle([float(c["diameter_mm"]) for c in each])
        views.append(_View(end or None, each, found, hidden_conductors(found)))
    return views


def _bore(answer: Mapping[str, Any], views: list[_View]) -> tuple[str, float, bool] | None:
    """The first class that holds the bundle, its bore in mm, and whether the bundle lies inside it."""
    for choice in answer["choices"]:
        if len(views) == 1 and choice.get("family") in _BUNDLED and choice.get("class"):
            bore = bore_mm(choice["size"])
            return choice["class"], bore, bore >= views[0].bundle.diameter
    return None


def _drawn(view: _View, middle: float, scale: float, bore: tuple[str, float, bool] | None) -> list[str]:
    down = MARGIN + CIRCLE / 2
    body = [_circle(middle, down, view.bundle.diameter / 2 * scale, ' stroke-dasharray="2 4"')]
    if bore and bore[2]:
        body.append(_circle(middle, down, bore[1] / 2 * scale, ' stroke-width="2"'))
    for i, (c, (x, y)) in enumerate(zip(view.conductors, view.bundle.positions, strict=True)):
        radius = view.bundle.diameters[i] / 2 * scale
        body += _conductor(c, middle + x * scale, down - y * scale, radius, i in view.hidden)
    return body


def _conductor(c: Mapping[str, Any], x: float, y: float, radius: float, hidden: bool) -> list[str]:
    """A conductor in section: strands where it has them, a dashed edge where others hide it, its size."""
    edge = ' stroke-dasharray="5 3"' if hidden else ""
    out = [_circle(x, y, radius, f' fill="currentColor" fill-opacity="0.07"{edge}')]
    strand = {"stranded": radius / 3, "flexible": radius / 5}.get(c["construction"])
    if strand:
        out += [
            _circle(x + dx * strand, y + dy * strand, strand, ' stroke-opacity="0.35"')
            for dx, dy in _lay(1 if c["construction"] == "stranded" else 2)
        ]
    name = str(c["size"]).removesuffix(" AWG").removesuffix(" mm2").removesuffix(" kcmil")
    size = min(radius * 0.8, 18.0, 2.6 * radius / max(2, len(name)))
    return [*out, text(x, y + size * 0.36, name, "middle", size)]


def _lay(rings: int) -> list[tuple[float, float]]:
    """Strands of radius 1 in one or two rings round a middle one."""
    out = [(0.0, 0.0)]
    for ring in range(1, rings + 1):
        count = 6 * ring
        turn = [2 * math.pi * i / count for i in range(count)]
        out += [(2 * ring * math.cos(a), 2 * ring * math.sin(a)) for a in turn]
    return out


def _listed(joint: Mapping[str, Any], views: list[_View], bore: tuple[str, float, bool] | None) -> list[str]:
    """What the drawing shows, line by line."""
    lines = []
    for c in joint["conductors"]:
        end = f"end {c['end']}: " if c.get("end") else ""
        lines.append(f"{end}{c['count']} × {c['size']} {c['construction']}, {float(c['diameter_mm']):.2f} mm")
    hidden = dict.fromkeys(str(view.conductors[i]["size"]) for view in views for i in view.hidden)
    if hidden:
        lines.append(f"{', '.join(hidden)} (dashed edge) hidden by the others: lay the thin one outside")
    whole = "bare bundle" if len(views) == 1 else "wider end"
    lines.append(f"{whole} {float(joint['bundle_mm']):g} mm across (dotted line)")
    if bore:
        word = "(full line)" if bore[2] else "for three alike; this bundle opens it wider"
        lines.append(f"bore of {bore[0]} about {bore[1]:.1f} mm, an estimate {word}")
    return lines


def n(value: float) -> str:
    """A coordinate at two decimals, without padding."""
    return f"{value:.2f}".rstrip("0").rstrip(".")


def text(x: float, y: float, words: str, anchor: str = "start", size: float | None = None) -> str:
    """A line of words."""
    sized = f' font-size="{n(size)}"' if size else ""
    return (
        f'<text x="{n(x)}" y="{n(y)}" text-anchor="{anchor}"{sized} fill="currentColor" stroke="none">'
        f"{escape(words)}</text>"
    )


def _circle(x: float, y: float, radius: float, more: str = "") -> str:
    return f'<circle cx="{n(x)}" cy="{n(y)}" r="{n(radius)}"{more}/>'


def figure(value: Any) -> str:
    """Three significant figures or whole, without padding."""
    number = float(value)
    return f"{number:.3g}" if number < 100 else f"{number:.0f}"
