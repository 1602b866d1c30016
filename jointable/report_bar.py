"""How full a box is, drawn as one horizontal bar: a hatched segment a clause, the limit as a line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_EVEN, Decimal
from html import escape
from typing import Any

__all__ = ["DIGITS", "bar", "hatches", "legend", "segments", "shown"]

#: Inside measures of the drawing, in its own units.
WIDTH, TOP, HEIGHT, FOOT = 800, 18, 26, 16

#: Decimals shown of a volume; a sum of allowances has no more than four in in³ and one in mL.
DIGITS = {"in³": 4, "cm³": 1, "mL": 2}

#: The strokes of each hatch in a cell of 8 by 8; no hatch means anything by itself.
_HATCHES = (
    '<path d="M-2 2l4-4M0 8l8-8M6 10l4-4"/>',
    '<path d="M-2 6l4 4M0 0l8 8M6-2l4 4"/>',
    '<path d="M2 0v8M6 0v8"/>',
    '<path d="M0 2h8M0 6h8"/>',
    '<path d="M0 4h8M4 0v8"/>',
    '<circle cx="2" cy="2" r="1"/><circle cx="6" cy="6" r="1"/>',
    '<path d="M0 0l8 8M8 0l-8 8"/>',
    '<path d="M0 2h4M4 6h4"/>',
)


def shown(value: Any, digits: int | None = None) -> str:
    """A number for people: without padding zeros, rounded only where asked.

    Args:
        value: The number, or None.
        digits: Decimals to round to, or None to keep them all.

    Returns:
        The number as text, empty for None.

    Source: none; the form is this project's.

    Example:
        >>> shown(Decimal("18.0000")), shown(Decimal("294.967152"), 1), shown(None)
        ('18', '295', '')
    """
    if value is None:
        return ""
    number = Decimal(str(value))
    if digits is not None:
        number = number.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_EVEN)
    text = format(number, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


def segments(result: Mapping[str, Any], column: str) -> list[tuple[str, Decimal]]:
    """What each clause takes of a box.

    Args:
        result: One answer of `fill`, as `--json` prints it.
        column: `volume_in3` or `volume_cm3`.

    Returns:
        Clause and volume [in³ or cm³], in the order of the lines; clauses that take nothing are
        left out.

    Source: the clauses of the lines.

    Example:
        >>> segments({"lines": [{"clause": "a", "volume_in3": 2}, {"clause": "a", "volume_in3": 3}]},
        ...          "volume_in3")
        [('a', Decimal('5'))]
    """
    total: dict[str, Decimal] = {}
    for line in result["lines"]:
        clause = line["clause"] or "no clause"
        total[clause] = total.get(clause, Decimal(0)) + Decimal(str(line[column] or 0))
    return [(clause, volume) for clause, volume in total.items() if volume > 0]


def hatches(clauses: Sequence[str]) -> str:
    """The hatches of a page, one for each clause, as an SVG of no size.

    Args:
        clauses: All clauses of the page.

    Returns:
        An SVG element with a pattern `h0`, `h1`, … for each.

    Source: none; the form is this project's.

    Example:
        >>> hatches(["314.16(B)(1)"]).count("<pattern")
        1
    """
    cells = "".join(
        f'<pattern id="h{number}" width="8" height="8" patternUnits="userSpaceOnUse">'
        f'<g stroke="currentColor" stroke-width="1" fill="none">{_HATCHES[number % len(_HATCHES)]}</g></pattern>'
        for number, _ in enumerate(clauses)
    )
    return f'<svg class="defs" aria-hidden="true" focusable="false"><defs>{cells}</defs></svg>'


def bar(result: Mapping[str, Any], clauses: Sequence[str], unit: str = "in³") -> str:
    """Draw one box.

    Args:
        result: One answer of `fill`, as `--json` prints it.
        clauses: All clauses of the page, in the order of its hatches.
        unit: `in³`, `cm³` or `mL`.

    Returns:
        An SVG element; its widths are to scale, its text says the same in words.

    Source: none; the drawing is this project's.

    Example:
        >>> box = {"lines": [], "required_in3": 0, "available_in3": 18, "passes": True}
        >>> "18 in³" in bar(box, [])
        True
    """
    suffix = "in3" if unit == "in³" else "cm3"
    digits = DIGITS[unit]
    parts = segments(result, f"volume_{suffix}")
    required = Decimal(str(result[f"required_{suffix}"] or 0))
    limit = result[f"available_{suffix}"]
    whole = max(required, Decimal(str(limit or 0)), Decimal("0.001")) * Decimal("1.04")

    def x(volume: Decimal) -> str:
        return shown(volume * WIDTH / whole, 2)

    drawn: list[str] = []
    start = Decimal(0)
    for clause, volume in parts:
        drawn.append(
            f'<rect x="{x(start)}" y="{TOP}" width="{x(volume)}" height="{HEIGHT}" '
            f'fill="url(#h{clauses.index(clause)})" stroke="currentColor"/>'
        )
        start += volume
    words = f"{shown(required, digits)} {unit} needed"
    if limit is not None:
        at = Decimal(str(limit))
        words += f", {shown(at, digits)} {unit} there"
        side = "end" if at > whole / 2 else "start"
        drawn.append(
            f'<path d="M{x(at)} {TOP - 6}V{TOP + HEIGHT + 6}" stroke="currentColor" stroke-width="3"/>'
            f'<text x="{x(at)}" y="{TOP - 8}" text-anchor="{side}">limit {shown(at, digits)} {unit}</text>'
        )
    drawn.append(
        f'<text x="{x(min(required, whole))}" y="{TOP + HEIGHT + FOOT - 2}" '
        f'text-anchor="{"end" if required > whole / 2 else "start"}">needed {shown(required, digits)} {unit}</text>'
    )
    base = f'<path d="M0 {TOP + HEIGHT}H{WIDTH}" stroke="currentColor" stroke-width="1"/>'
    return (
        f'<svg class="bar" viewBox="0 0 {WIDTH} {TOP + HEIGHT + FOOT}" role="img" aria-label="{escape(words)}">'
        f"{base}{''.join(drawn)}</svg>"
    )


def legend(result: Mapping[str, Any], clauses: Sequence[str], unit: str = "in³") -> str:
    """What each hatch of a drawing stands for, as a list in words.

    Args:
        result: One answer of `fill`, as `--json` prints it.
        clauses: All clauses of the page, in the order of its hatches.
        unit: `in³`, `cm³` or `mL`.

    Returns:
        A list element, or nothing where nothing takes volume.

    Source: none; the form is this project's.

    Example:
        >>> legend({"lines": []}, [])
        ''
    """
    suffix = "in3" if unit == "in³" else "cm3"
    entries = "".join(
        f'<li><svg width="22" height="14" aria-hidden="true" focusable="false"><rect x=".5" y=".5" width="21" '
        f'height="13" fill="url(#h{clauses.index(clause)})" stroke="currentColor"/></svg>'
        f"{escape(clause)}: {shown(volume, DIGITS[unit])} {unit}</li>"
        for clause, volume in segments(result, f"volume_{suffix}")
    )
    return f'<ul class="legend">{entries}</ul>' if entries else ""
