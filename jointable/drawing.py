"""Drawings of a joint: its bundle to scale in the bore of a class, and the ranges of the classes as bars.

Lines and light fills in the colour of the text around them; what a line means is said in words beside
it, never by colour. Nothing here is a picture of a product. An SVG that stands by itself brings its own
style for light and dark; one that goes into a page has none, so that a strict page takes it.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from html import escape
from typing import Any

from jointable.bundle import Bundle, enclosing_circle, hidden_conductors, three_circles

__all__ = ["bore_mm", "bundle_svg", "joint_svg", "ranges_svg"]

#: Measures of the drawings, in their own units.
WIDTH, MARGIN, LINE = 640.0, 16.0, 20.0
CIRCLE = 300.0
ROW, BAR, LABEL = 22.0, 10.0, 190.0

#: A refused class is drawn where it starts or ends within one step of the ladder of the joint.
_NEAR = 1.6

#: A joint in a class of these families is one bundle.
_BUNDLED = ("twist-on", "crimped closed end", "crimped pigtail")

_STYLE = (
    "<style>:root{color-scheme:light dark}.jointable{color:#1d2126;background:#fff;"
    "font-family:system-ui,sans-serif}@media (prefers-color-scheme:dark){.jointable{color:#e4e6e8;"
    "background:#15181b}}</style>"
)

Rows = Sequence[Mapping[str, Any]]


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


def bundle_svg(answer: Mapping[str, Any], *, standalone: bool = False) -> str:
    """The bare bundle of a joint to scale, in the bore of the first class that takes it.

    Args:
        answer: An answer of `joint`, as `--json` prints it.
        standalone: Whether the drawing is a file of its own, with its style.

    Returns:
        An SVG element; title and description say the same in words. Diameters are in mm.

    Raises:
        InputError: The joint has more conductors than a bundle is computed for.

    Source: none; the drawing is this project's.

    Example:
        >>> joint = {"text": "2x12 AWG", "bundle_mm": 4.106, "conductors": [
        ...     {"count": 2, "size": "12 AWG", "construction": "solid", "diameter_mm": 2.0525}]}
        >>> "2 × 12 AWG solid, 2.05 mm" in bundle_svg({"joint": joint, "choices": []})
        True
    """
    body, words, height = _bundles(answer)
    return _svg(f"Bundle of {answer['joint']['text']}", words, body, height, standalone)


def ranges_svg(answer: Mapping[str, Any], ranges: Rows = (), *, standalone: bool = False) -> str:
    """The ranges of the classes as bars on a logarithmic axis of area, with the joint marked.

    Args:
        answer: An answer of `joint`, as `--json` prints it.
        ranges: Every class that was asked, with `class`, `admitted`, `total_min_mm2` and
            `total_max_mm2`; by default the choices of the answer.
        standalone: Whether the drawing is a file of its own, with its style.

    Returns:
        An SVG element, areas in mm2; refused classes are drawn where they lie near the joint.

    Source: none; the drawing is this project's.

    Example:
        >>> choice = {"class": "twist-on 10", "total_min_mm2": 2.5, "total_max_mm2": 10}
        >>> joint = {"text": "3x12 AWG", "total_mm2": 9.93, "conductors": []}
        >>> "twist-on 10: takes 2.5 to 10 mm²" in ranges_svg({"joint": joint, "choices": [choice]})
        True
    """
    body, words, height = _ranges(answer, ranges, 0.0)
    return _svg(f"Classes for {answer['joint']['text']}", words, body, height, standalone)


def joint_svg(answer: Mapping[str, Any], ranges: Rows = (), *, standalone: bool = True) -> str:
    """Both drawings of a joint, one under the other.

    Args:
        answer: An answer of `joint`, as `--json` prints it.
        ranges: As `ranges_svg` takes it.
        standalone: Whether the drawing is a file of its own, with its style.

    Returns:
        An SVG element, lengths in mm and areas in mm2.

    Raises:
        InputError: The joint has more conductors than a bundle is computed for.

    Source: none; the drawing is this project's.

    Example:
        >>> joint = {"text": "1x12 AWG", "bundle_mm": 2.053, "total_mm2": 3.31, "conductors": [
        ...     {"count": 1, "size": "12 AWG", "construction": "solid", "diameter_mm": 2.0525}]}
        >>> joint_svg({"joint": joint, "choices": []}).startswith("<svg")
        True
    """
    bundle, said, upper = _bundles(answer)
    bars, also, height = _ranges(answer, ranges, upper)
    return _svg(f"Joint {answer['joint']['text']}", f"{said} {also}", bundle + bars, height, standalone)


def _svg(title: str, words: str, body: list[str], height: float, standalone: bool) -> str:
    name = "j" + hashlib.sha256("".join([title, words, *body]).encode()).hexdigest()[:10]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="jointable" viewBox="0 0 {WIDTH:g} {_n(height)}" role="img" '
        f'aria-labelledby="{name}t {name}d" fill="none" stroke="currentColor" font-size="13">'
        f'<title id="{name}t">{escape(title)}</title><desc id="{name}d">{escape(words.strip())}</desc>'
        f"{_STYLE if standalone else ''}{''.join(body)}</svg>"
    )


def _n(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _text(x: float, y: float, text: str, anchor: str = "start", size: float | None = None) -> str:
    sized = f' font-size="{_n(size)}"' if size else ""
    return (
        f'<text x="{_n(x)}" y="{_n(y)}" text-anchor="{anchor}"{sized} fill="currentColor" stroke="none">'
        f"{escape(text)}</text>"
    )


def _circle(x: float, y: float, radius: float, more: str = "") -> str:
    return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(radius)}"{more}/>'


def _figure(value: Any) -> str:
    """Three significant figures or whole, without padding."""
    number = float(value)
    return f"{number:.3g}" if number < 100 else f"{number:.0f}"


# The bundle


def _bundles(answer: Mapping[str, Any]) -> tuple[list[str], str, float]:
    """The bundle, or one an end of a butt joint, side by side with a list of the conductors under them."""
    conductors = answer["joint"]["conductors"]
    ends = sorted({c["end"] for c in conductors if c.get("end")}) or [None]
    body, words = [], []
    bore = _bore(answer) if ends == [None] else None
    for at, end in enumerate(ends):
        own = [c for c in conductors if c.get("end") == end]
        middle = WIDTH * (2 * at + 1) / (2 * len(ends))
        drawn, said = _bundle(own, middle, bore)
        body += drawn
        words.append(said if end is None else f"End {end}: {said}")
    y = 2 * MARGIN + CIRCLE
    for line in _listed(answer, ends, bore):
        y += LINE
        body.append(_text(MARGIN, y, line))
    return body, " ".join([*words, *(f"{line}." for line in _listed(answer, ends, bore))]), y + MARGIN


def _bore(answer: Mapping[str, Any]) -> tuple[str, float] | None:
    """The class that comes first among those that hold a bundle, and its bore in mm."""
    for choice in answer["choices"]:
        if choice.get("family") in _BUNDLED and choice.get("class"):
            return choice["class"], bore_mm(choice["size"])
    return None


def _bundle(conductors: Rows, middle: float, bore: tuple[str, float] | None) -> tuple[list[str], str]:
    each = [c for c in conductors for _ in range(c["count"])]
    found = enclosing_circle([float(c["diameter_mm"]) for c in each])
    fits = bore is not None and bore[1] >= found.diameter
    widest = bore[1] if bore is not None and fits else found.diameter
    scale, down = CIRCLE / widest, MARGIN + CIRCLE / 2
    body = [_circle(middle, down, found.diameter / 2 * scale, ' stroke-dasharray="2 4"')]
    if bore is not None and fits:
        body.append(_circle(middle, down, bore[1] / 2 * scale, ' stroke-width="2"'))
    hidden = hidden_conductors(found)
    for i, c in enumerate(each):
        x, y = found.positions[i]
        body += _conductor(
            c, middle + x * scale, down - y * scale, found.diameters[i] / 2 * scale, i in hidden
        )
    return body, _said(each, found, hidden)


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
    return [*out, _text(x, y + size * 0.36, name, "middle", size)]


def _lay(rings: int) -> list[tuple[float, float]]:
    """Strands of radius 1 in one or two rings round a middle one."""
    out = [(0.0, 0.0)]
    for ring in range(1, rings + 1):
        count = 6 * ring
        turn = [2 * math.pi * i / count for i in range(count)]
        out += [(2 * ring * math.cos(a), 2 * ring * math.sin(a)) for a in turn]
    return out


def _said(each: Rows, found: Bundle, hidden: tuple[int, ...]) -> str:
    said = (
        f"{len(each)} conductors in a circle of {found.diameter:.2f} mm."
        if len(each) > 1
        else "One conductor."
    )
    if hidden:
        said += " Hidden by others: " + ", ".join(str(each[i]["size"]) for i in hidden) + "."
    return said


def _listed(answer: Mapping[str, Any], ends: Sequence[Any], bore: tuple[str, float] | None) -> list[str]:
    """What the drawing shows, line by line."""
    joint, lines = answer["joint"], []
    for c in joint["conductors"]:
        end = f"end {c['end']}: " if c.get("end") else ""
        lines.append(f"{end}{c['count']} × {c['size']} {c['construction']}, {float(c['diameter_mm']):.2f} mm")
    wide = float(joint["bundle_mm"])
    lines.append(
        f"bare bundle {wide:g} mm across (dotted line)" if ends == [None] else f"wider end {wide:g} mm across"
    )
    if bore is not None:
        fits = bore[1] >= wide
        word = "(full line)" if fits else "for three alike; this bundle opens it wider"
        lines.append(f"bore of {bore[0]} about {bore[1]:.1f} mm, an estimate {word}")
    return lines


# The ranges


def _ranges(answer: Mapping[str, Any], ranges: Rows, top: float) -> tuple[list[str], str, float]:
    total = float(answer["joint"]["total_mm2"])
    rows = _shown(ranges or [{**c, "admitted": True} for c in answer["choices"]], total)
    if not rows:
        return (
            [_text(MARGIN, top + LINE, "no class has a range of total area near this joint")],
            "",
            top + 2 * LINE,
        )
    low = min(total, *(r[1] for r in rows)) / 1.15
    high = max(total, *(r[2] for r in rows)) * 1.15
    across = (WIDTH - LABEL - 2 * MARGIN) / math.log(high / low)

    def x(area: float) -> float:
        return LABEL + MARGIN + math.log(area / low) * across

    body, words, y = (
        [_text(x(total), top + LINE, f"total {_figure(total)} mm²", _anchor(x(total)))],
        [],
        top + 1.5 * LINE,
    )
    for name, least, most, takes in rows:
        body += _bar(name, x(least), x(most), y, takes)
        words.append(f"{name}: {'takes' if takes else 'refused,'} {_figure(least)} to {_figure(most)} mm².")
        y += ROW
    body.append(f'<path d="M{_n(x(total))} {_n(top + 1.25 * LINE)}V{_n(y)}" stroke-width="2"/>')
    body += _axis(low, high, x, y)
    said = f"The joint has {_figure(total)} mm² in all. " + " ".join(words)
    return body, said, y + 2 * LINE


def _shown(ranges: Iterable[Mapping[str, Any]], total: float) -> list[tuple[str, float, float, bool]]:
    """Name, least, greatest and whether it takes the joint, of the classes drawn; each once, as they come."""
    out: dict[str, tuple[str, float, float, bool]] = {}
    for row in ranges:
        if row.get("total_min_mm2") is None or not row.get("class"):
            continue
        least, most = float(row["total_min_mm2"]), float(row["total_max_mm2"])
        if row["admitted"] or least / _NEAR <= total <= most * _NEAR:
            out.setdefault(row["class"], (row["class"], least, most, bool(row["admitted"])))
    return list(out.values())


def _bar(name: str, left: float, right: float, y: float, takes: bool) -> list[str]:
    edge = 'fill="currentColor" fill-opacity="0.16" stroke-width="1.5"' if takes else 'stroke-dasharray="3 3"'
    return [
        _text(LABEL, y + BAR, name if takes else f"{name}, refused", "end"),
        f'<rect x="{_n(left)}" y="{_n(y)}" width="{_n(right - left)}" height="{_n(BAR)}" {edge}/>',
    ]


def _anchor(x: float) -> str:
    return "end" if x > WIDTH * 0.8 else "start" if x < LABEL + 4 * MARGIN else "middle"


def _axis(low: float, high: float, x: Any, y: float) -> list[str]:
    body = [f'<path d="M{_n(x(low))} {_n(y)}H{_n(x(high))}"/>', _text(LABEL, y + LINE, "mm²", "end")]
    for decade in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1):
        for step in (1, 2, 5):
            area = step * 10.0**decade
            if low <= area <= high:
                body.append(f'<path d="M{_n(x(area))} {_n(y)}v5"/>')
                body.append(_text(x(area), y + LINE, f"{area:g}", "middle"))
    return body
