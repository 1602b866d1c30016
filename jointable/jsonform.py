"""JSON with exact numbers: a decimal is written as the digits it has, never through a float."""

from __future__ import annotations

import json
from decimal import Decimal
from typing import Any

__all__ = ["dumps"]


def dumps(value: Any, indent: int | None = 1) -> str:
    """Write a value as JSON.

    Args:
        value: Dictionaries, lists, text, numbers (decimals included), booleans, None.
        indent: Spaces a level, or None for one line.

    Returns:
        JSON text; decimals are numbers without padding zeros.

    Raises:
        TypeError: The value holds something that JSON has no form for.

    Source: RFC 8259 (2017), section 6, for the form of numbers.

    Example:
        >>> from decimal import Decimal
        >>> dumps({"volume_in3": Decimal("2.2500"), "passes": None}, indent=None)
        '{"volume_in3": 2.25, "passes": null}'
    """
    return "".join(_parts(value, "\n" if indent is not None else "", indent or 0))


def _parts(value: Any, start: str, indent: int) -> list[str]:
    if isinstance(value, Decimal):
        return [_number(value)]
    if isinstance(value, dict):
        items = [
            [json.dumps(str(k), ensure_ascii=False), ": ", *_parts(v, _deeper(start, indent), indent)]
            for k, v in value.items()
        ]
        return _joined(items, "{", "}", start, indent)
    if isinstance(value, (list, tuple)):
        return _joined([_parts(v, _deeper(start, indent), indent) for v in value], "[", "]", start, indent)
    return [json.dumps(value, ensure_ascii=False)]


def _deeper(start: str, indent: int) -> str:
    return start + " " * indent if start else ""


def _joined(items: list[list[str]], left: str, right: str, start: str, indent: int) -> list[str]:
    if not items:
        return [left + right]
    inner = _deeper(start, indent)
    out = [left]
    for number, item in enumerate(items):
        out += [("," if start else ", ") if number else "", inner, *item]
    return [*out, start, right]


def _number(value: Decimal) -> str:
    text = format(value, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text
