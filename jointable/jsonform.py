"""JSON with exact numbers: a decimal is written as the digits it has, never through a float."""

from __future__ import annotations

import json
from collections.abc import Callable
from decimal import Decimal
from functools import lru_cache
from typing import Any

__all__ = ["dumps"]

_text = json.encoder.encode_basestring


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
    out: list[str] = []
    _write(out, value, "\n" if indent is not None else "", " " * (indent or 0))
    return "".join(out)


def _write(out: list[str], value: Any, start: str, step: str) -> None:
    """Append the parts of a value; an answer has thousands, so each costs as little as it can."""
    leaf = _LEAVES.get(type(value))
    if leaf is not None:
        out.append(leaf(value))
    elif isinstance(value, dict):
        inner = start and start + step
        between = ("," if start else ", ") + inner
        lead = "{" + inner
        for key, one in value.items():
            leaf = _LEAVES.get(type(one))
            if leaf is not None:  # most are, and a call less for each is a third of the time
                out.append(lead + _key(key) + leaf(one))
            else:
                out.append(lead + _key(key))
                _write(out, one, inner, step)
            lead = between
        out.append(start + "}" if value else "{}")
    elif isinstance(value, (list, tuple)):
        inner = start and start + step
        between = ("," if start else ", ") + inner
        lead = "[" + inner
        for one in value:
            out.append(lead)
            _write(out, one, inner, step)
            lead = between
        out.append(start + "]" if value else "[]")
    elif isinstance(value, str):
        out.append(_text(value))
    elif isinstance(value, Decimal):
        out.append(_number(value))
    else:
        out.append(json.dumps(value))


@lru_cache(maxsize=1024)
def _key(key: Any) -> str:
    return _text(str(key)) + ": "


@lru_cache(maxsize=4096)
def _number(value: Decimal) -> str:
    """The digits of a decimal; equal ones have the same, since padding zeros are left out."""
    text = format(value, "f")
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


#: How a value without parts is written, by its very type; what is derived from these goes the longer way.
_LEAVES: dict[type, Callable[[Any], str]] = {
    str: _text,
    Decimal: _number,
    int: str,
    bool: {True: "true", False: "false"}.__getitem__,
    type(None): {None: "null"}.__getitem__,
}
