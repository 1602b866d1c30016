"""A chart on paper: a drawing in millimetres for A4, Letter, or a card that folds to pocket size.

Black on white, lines and words only. The card is printed on A6 paper, or cut out of a larger sheet,
and folded at its dashed line: the chart outside on one leaf, the cautions on the other.
"""

from __future__ import annotations

import itertools
import textwrap
from collections.abc import Mapping
from dataclasses import dataclass
from html import escape
from typing import Any

from jointable.errors import InputError
from jointable.language import said

__all__ = ["PAPERS", "bare", "chart_corner", "chart_svg", "chart_title"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet in mm: its size, the width of the leaf with the chart, margin, letter height and row height."""

    width: float
    height: float
    leaf: float
    margin: float
    letter: float
    row: float

    @property
    def folded(self) -> bool:
        """Whether the words stand on a leaf of their own."""
        return self.leaf < self.width


PAPERS: Mapping[str, Paper] = {
    "a4": Paper(210, 297, 210, 16, 4.2, 8.5),
    "letter": Paper(215.9, 279.4, 215.9, 16, 4.2, 8.0),
    "pocket": Paper(148, 105, 74, 4.5, 2.5, 4.6),
}

#: How the sizes of a chart are counted, in print.
_UNITS: Mapping[str, str] = {"awg": "AWG", "mm2": "mm²"}

#: A letter of a sans-serif face is about so wide for its height; figures a little more.
_WIDE, _FIGURE = 0.5, 0.58


def chart_svg(chart: Mapping[str, Any], paper: str = "a4") -> str:
    """A chart drawn for printing.

    Args:
        chart: A chart, as `jointable chart --json` prints it.
        paper: `a4`, `letter` or `pocket` (A6, folded once to A7).

    Returns:
        An SVG document; lengths in mm, so that it prints to size.

    Raises:
        InputError: The paper is not known.

    Source: ISO 216 (A sizes); ASME Y14.1, size A (Letter).

    Example:
        >>> import jointable
        >>> from jointable.chart import chart_of_family
        >>> chart = chart_of_family(jointable.open()).to_dict()
        >>> 'width="148mm" height="105mm"' in chart_svg(chart, "pocket")
        True
    """
    if paper not in PAPERS:
        raise InputError("unknown paper", column="paper", value=paper, expected=f"one of {', '.join(PAPERS)}")
    sheet = PAPERS[paper]
    title = chart_title(chart)
    body, y = _table(chart, sheet)
    if sheet.folded:
        body.append(
            f'<path d="M{sheet.leaf} 0V{sheet.height}" stroke-dasharray="1.5 1.5" stroke-width="0.15"/>'
        )
        body += _words(chart, sheet, sheet.leaf + sheet.margin, sheet.margin + sheet.letter)
    else:
        body += _words(chart, sheet, sheet.margin, y + 2 * sheet.letter)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{sheet.width:g}mm" height="{sheet.height:g}mm" '
        f'viewBox="0 0 {sheet.width:g} {sheet.height:g}" role="img" aria-label="{escape(title)}" '
        'font-family="system-ui, sans-serif" fill="#111" stroke="none">'
        f"<title>{escape(title)}</title>"
        f'<rect width="{sheet.width:g}" height="{sheet.height:g}" fill="#fff"/>'
        f'<g stroke="#111" stroke-width="0.2" fill="none">{"".join(b for b in body if b.startswith("<path"))}</g>'
        f"{''.join(b for b in body if not b.startswith('<path'))}</svg>\n"
    )


def chart_title(chart: Mapping[str, Any]) -> str:
    """What a chart shows, in a line.

    Args:
        chart: A chart, as `jointable chart --json` prints it.

    Returns:
        The line.

    Source: none; the words are this project's.

    Example:
        >>> chart_title({"family": "twist-on", "grip": "wide", "across": "conductors"})
        'Smallest twist-on class, wide grip, by size and number of conductors'
    """
    grip = f", {chart['grip']} grip" if chart["grip"] else ""
    by = "run and tap" if chart["across"] == "tap" else f"size and number of {chart['across']}"
    return said(f"Smallest {chart['family']} class{grip}, by {by}", chart.get("language"))


def chart_corner(chart: Mapping[str, Any]) -> str:
    """What the sizes down the side of a chart are, with their unit.

    Args:
        chart: A chart, as `jointable chart --json` prints it.

    Returns:
        The heading of the first column.

    Source: none; the words are this project's.

    Example:
        >>> chart_corner({"sizes": "mm2", "across": "tap"})
        'run mm²'
    """
    unit = _UNITS[chart["sizes"]]
    return f"{said('run', chart.get('language'))} {unit}" if chart["across"] == "tap" else unit


def _text(x: float, y: float, words: str, size: float, anchor: str = "start", weight: str = "") -> str:
    heavy = f' font-weight="{weight}"' if weight else ""
    return f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:.2f}" text-anchor="{anchor}"{heavy}>{escape(words)}</text>'


def _table(chart: Mapping[str, Any], sheet: Paper) -> tuple[list[str], float]:
    """The chart itself, and where it ends."""
    left, right = sheet.margin, sheet.leaf - sheet.margin
    unit = chart_corner(chart)
    columns = [bare(c, chart["sizes"]) for c in chart["columns"]]
    names = [bare(r["size"], chart["sizes"]) for r in chart["rows"]]
    y = sheet.margin + 1.3 * sheet.letter
    body = []
    for line in textwrap.wrap(chart_title(chart), int((right - left) / (1.3 * sheet.letter * _WIDE))):
        body.append(_text(left, y, line, 1.3 * sheet.letter, weight="600"))
        y += 1.6 * sheet.letter
    # A column is as wide as its longest cell, the first as its size; what is left over is shared.
    cells = [
        max([len(c), *(len(r["classes"][i] or "") for r in chart["rows"])]) for i, c in enumerate(columns)
    ]
    letters = sum(cells) + 1.6 * len(cells) + max(len(n) for n in [*names, unit]) + 1.6
    letter = min(sheet.letter, (right - left) / (letters * _FIGURE))
    first = left + (max(len(n) for n in [*names, unit]) + 1.6) * letter * _FIGURE
    share = (right - first) / (sum(cells) + 1.6 * len(cells))
    edges = [first]
    for width in cells:
        edges.append(edges[-1] + (width + 1.6) * share)
    middle = [(a + b) / 2 for a, b in itertools.pairwise(edges)]
    y += 0.4 * sheet.row
    body.append(_text((first + right) / 2, y, chart["across"], 0.85 * letter, "middle"))
    y += 0.75 * sheet.row
    body.append(_text(left, y, unit, letter, weight="600"))
    body += [_text(x, y, c, letter, "middle", "600") for x, c in zip(middle, columns, strict=True)]
    y += 0.3 * sheet.row
    body.append(f'<path d="M{left:.2f} {y:.2f}H{right:.2f}" stroke-width="0.4"/>')
    for name, row in zip(names, chart["rows"], strict=True):
        base = y + 0.68 * sheet.row
        body.append(_text(left, base, name, letter, weight="600"))
        body += [
            _text(x, base, c or "–", letter, "middle") for x, c in zip(middle, row["classes"], strict=True)
        ]
        y += sheet.row
        body.append(f'<path d="M{left:.2f} {y:.2f}H{right:.2f}"/>')
    return body, y


def bare(size: str, sizes: str) -> str:
    """A size without its unit.

    Args:
        size: The size, as printed back.
        sizes: `awg` or `mm2`.

    Returns:
        The number alone.

    Source: none; a form of this project.

    Example:
        >>> bare("2.5 mm2", "mm2")
        '2.5'
    """
    return size.removesuffix(" AWG" if sizes == "awg" else " mm2")


def _words(chart: Mapping[str, Any], sheet: Paper, left: float, top: float) -> list[str]:
    """What the chart rests on, the cautions, and which data it is, wrapped to the leaf."""
    right = sheet.width - sheet.margin
    size = 0.78 * sheet.letter
    told = [
        said(f"For {'; '.join(chart['assumptions'])}. A dash: no class takes it.", chart.get("language")),
        *(f"{c['text']} [{c['clause']}]" for c in chart["cautions"]),
        said(
            f"Clauses as in {chart['edition']}. Jointable data {chart['data_version']}. For planning and teaching.",
            chart.get("language"),
        ),
    ]
    body, y = [], top
    for part in told:
        for line in textwrap.wrap(part, int((right - left) / (size * _WIDE))):
            body.append(_text(left, y, line, size))
            y += 1.3 * size
        y += 0.5 * size
    return body
