"""Drawings of a joint: its bundle to scale in the bore of a class, and the ranges of the classes as bars.

Lines and light fills in the colour of the text around them; what a line means is said in words beside
it, never by colour. Nothing here is a picture of a product. An SVG that stands by itself brings its own
style for light and dark; one that goes into a page has none, so that a strict page takes it.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Mapping
from html import escape
from typing import Any

from jointable.drawing_bundle import LINE, MARGIN, WIDTH, Body, Rows, bore_mm, bundles, figure, n, text

__all__ = ["bore_mm", "bundle_svg", "joint_svg", "ranges_svg"]

#: Measures of the bars, and of a letter of their names, in the units of the drawing.
ROW, BAR, LETTER = 22.0, 10.0, 7.2

#: A refused class is drawn where it starts or ends within one step of the ladder of the joint.
_NEAR = 1.6

_STYLE = (
    "<style>:root{color-scheme:light dark}.jointable{color:#1d2126;background:#fff;"
    "font-family:system-ui,sans-serif}@media (prefers-color-scheme:dark){.jointable{color:#e4e6e8;"
    "background:#15181b}}</style>"
)


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
    drawn, width = bundles(answer, listed=False)
    return _svg(f"Bundle of {answer['joint']['text']}", drawn, standalone, width)


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
    return _svg(f"Classes for {answer['joint']['text']}", _ranges(answer, ranges, 0.0), standalone)


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
    (bundle, said, upper), _ = bundles(answer, listed=True)
    bars, also, height = _ranges(answer, ranges, upper)
    return _svg(f"Joint {answer['joint']['text']}", (bundle + bars, f"{said} {also}", height), standalone)


def _svg(title: str, drawn: Body, standalone: bool, width: float = WIDTH) -> str:
    body, words, height = drawn
    name = "j" + hashlib.sha256("".join([title, words, *body]).encode()).hexdigest()[:10]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="jointable" viewBox="0 0 {n(width)} {n(height)}" role="img" '
        f'aria-labelledby="{name}t {name}d" fill="none" stroke="currentColor" font-size="13">'
        f'<title id="{name}t">{escape(title)}</title><desc id="{name}d">{escape(words.strip())}</desc>'
        f"{_STYLE if standalone else ''}{''.join(body)}</svg>"
    )


def _ranges(answer: Mapping[str, Any], ranges: Rows, top: float) -> Body:
    total = float(answer["joint"]["total_mm2"])
    rows = _shown(ranges or [{**c, "admitted": True} for c in answer["choices"]], total)
    if not rows:
        none = "no class has a range of total area near this joint"
        return [text(MARGIN, top + LINE, none)], f"{none}.", top + 2 * LINE
    low = min(total, *(r[1] for r in rows)) / 1.15
    high = max(total, *(r[2] for r in rows)) * 1.15
    names = [name if takes else f"{name}, refused" for name, _, _, takes in rows]
    left = MARGIN + LETTER * max(map(len, names))
    across = (WIDTH - left - 2 * MARGIN) / math.log(high / low)

    def x(area: float) -> float:
        return left + MARGIN + math.log(area / low) * across

    body = [text(x(total), top + LINE, f"total {figure(total)} mm²", _anchor(x(total), left))]
    words, y = [], top + 1.5 * LINE
    for label, (name, least, most, takes) in zip(names, rows, strict=True):
        body.append(text(left, y + BAR, label, "end"))
        body.append(_bar(x(least), x(most), y, takes))
        words.append(f"{name}: {'takes' if takes else 'refused,'} {figure(least)} to {figure(most)} mm².")
        y += ROW
    body.append(f'<path d="M{n(x(total))} {n(top + 1.25 * LINE)}V{n(y)}" stroke-width="2"/>')
    body += _axis(low, high, x, y)
    said = f"The joint has {figure(total)} mm² in all. " + " ".join(words)
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


def _bar(start: float, end: float, y: float, takes: bool) -> str:
    edge = 'fill="currentColor" fill-opacity="0.16" stroke-width="1.5"' if takes else 'stroke-dasharray="3 3"'
    return f'<rect x="{n(start)}" y="{n(y)}" width="{n(end - start)}" height="{n(BAR)}" {edge}/>'


def _anchor(x: float, left: float) -> str:
    return "end" if x > WIDTH * 0.8 else "start" if x < left + 4 * MARGIN else "middle"


def _axis(low: float, high: float, x: Any, y: float) -> list[str]:
    body = [f'<path d="M{n(x(low))} {n(y)}H{n(x(high))}"/>', text(x(low) - MARGIN, y + LINE, "mm²", "end")]
    for decade in range(math.floor(math.log10(low)), math.ceil(math.log10(high)) + 1):
        for step in (1, 2, 5):
            area = step * 10.0**decade
            if low <= area <= high:
                body.append(f'<path d="M{n(x(area))} {n(y)}v5"/>')
                body.append(text(x(area), y + LINE, f"{area:g}", "middle"))
    return body
