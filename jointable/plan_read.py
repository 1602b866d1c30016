"""Reading plans: TOML, standard input or mappings, each wrong value told with its line."""

from __future__ import annotations

import os
import re
import sys
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.errors import InputError
from jointable.plan_box import box_of
from jointable.plan_form import ENTRY_KEYS, PlanBox
from jointable.plan_where import Where
from jointable.schedule_csv import decoded
from jointable.schedule_form import text_of

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = [
    "TomlText", "pattern_names", "pattern_or_file", "pattern_text", "plan_of_text", "read_pattern", "read_plan", "tables_of",
]  # fmt: skip

_PATTERNS = Path(__file__).parent / "patterns"


@dataclass(frozen=True, slots=True)
class TomlText:
    """TOML in hand, and what messages call it."""

    text: str
    name: str


def read_plan(reference: Reference, source: Any) -> list[PlanBox]:
    """Read what enters each box and which devices sit in it.

    Args:
        reference: The open database, for the cables.
        source: The path of a TOML file, `-` for TOML on standard input, one mapping, or a list of
            mappings, one a box.

    Returns:
        The boxes in order.

    Raises:
        InputError: It cannot be read, or a key or value is wrong; file, line and value are named.

    Source: none; the form is this project's, on TOML 1.0.

    Example:
        >>> import jointable
        >>> box = {"enters": [{"role": "feed", "size": "12/2"}], "device": [{"kind": "receptacle"}]}
        >>> [b.name for b in read_plan(jointable.open(), box)]
        ['box 1']
    """
    if isinstance(source, list) and source and all(isinstance(b, PlanBox) for b in source):
        return list(source)
    return _boxes(reference, tables_of(source, "plan"))


def tables_of(source: Any, what: str) -> list[tuple[Any, Where]]:
    """The table of each box, with its place for messages.

    Args:
        source: The path of a TOML file, `-` for standard input, a `TomlText`, one mapping, or a list of
            mappings.
        what: What the source is called in messages.

    Returns:
        A table and a place a box.

    Raises:
        InputError: It cannot be read, or is no TOML.

    Source: none; the form is this project's, on TOML 1.0.

    Example:
        >>> [table for table, _ in tables_of({"name": "A"}, "plan")]
        [{'name': 'A'}]
    """
    if isinstance(source, TomlText):
        return _parsed(source.text, source.name)
    if isinstance(source, (str, os.PathLike)):
        return _parsed(*_text(os.fspath(source)))
    if isinstance(source, Mapping):
        return list(_split(source, None))
    if isinstance(source, Iterable) and not isinstance(source, (bytes, bytearray)):
        return [(b, Where(None, "")) for b in source]
    raise InputError(
        f"not a {what}", value=type(source).__name__, expected="a TOML file, '-', or a list of mappings"
    )


def pattern_names() -> list[str]:
    """The names of the patterns that come with the package.

    Returns:
        Names in alphabetical order, as `--pattern` takes them.

    Source: common practice.

    Example:
        >>> len(pattern_names()) >= 8
        True
    """
    return sorted(p.stem for p in _PATTERNS.glob("*.toml"))


def pattern_text(name: str) -> str:
    """The TOML of a pattern, to be used or changed.

    Args:
        name: One of `pattern_names`.

    Returns:
        The text of the file.

    Raises:
        InputError: There is no such pattern.

    Source: common practice.

    Example:
        >>> "[[box]]" in pattern_text("end-of-run-switch")
        True
    """
    if name not in pattern_names():
        raise InputError(
            "no such pattern", column="pattern", value=name, expected=f"one of {', '.join(pattern_names())}"
        )
    return (_PATTERNS / f"{name}.toml").read_text("utf-8")


def pattern_or_file(source: str | None, pattern: str | None) -> tuple[str, str]:
    """The TOML of a plan and what messages call it.

    Args:
        source: The path of a file, or `-`.
        pattern: The name of a pattern, which comes first.

    Returns:
        Its text, and its name.

    Raises:
        InputError: There is no such pattern or file.

    Source: none; the form is this project's.

    Example:
        >>> pattern_or_file(None, "four-way-switch")[1]
        'four-way-switch.toml'
    """
    if pattern is not None:
        return pattern_text(pattern), f"{pattern}.toml"
    return _text(source or "-")


def plan_of_text(reference: Reference, text: str, name: str) -> list[PlanBox]:
    """Read a plan from TOML in hand.

    Args:
        reference: The open database, for the cables.
        text: The TOML.
        name: What messages call it.

    Returns:
        The boxes in order.

    Raises:
        InputError: As `read_plan`.

    Source: none; the form is this project's, on TOML 1.0.

    Example:
        >>> import jointable
        >>> text = 'name = "A"\\n[[enters]]\\nrole = "feed"\\nsize = "12/2"'
        >>> [b.name for b in plan_of_text(jointable.open(), text, "a.toml")]
        ['A']
    """
    return _boxes(reference, _parsed(text, name))


def read_pattern(reference: Reference, name: str) -> list[PlanBox]:
    """The boxes of a pattern that comes with the package.

    Args:
        reference: The open database, for the cables.
        name: One of `pattern_names`.

    Returns:
        Its boxes.

    Raises:
        InputError: There is no such pattern.

    Source: common practice.

    Example:
        >>> import jointable
        >>> [b.name for b in read_pattern(jointable.open(), "four-way-switch")]
        ['switch']
    """
    return _boxes(reference, _parsed(pattern_text(name), f"{name}.toml"))


def _text(place: str) -> tuple[str, str]:
    if place == "-":
        return decoded(sys.stdin.buffer.read(), "standard input"), "standard input"
    try:
        return decoded(Path(place).read_bytes(), place), place
    except OSError as error:
        raise InputError(
            f"cannot be read: {error.strerror or error}", file=place, expected="the path of a TOML plan"
        ) from error


def _parsed(text: str, name: str) -> list[tuple[Any, Where]]:
    try:
        table = tomllib.loads(text, parse_float=Decimal)
    except tomllib.TOMLDecodeError as error:
        place = re.search(r"\(at line (\d+)", str(error))
        raise InputError(
            f"no TOML: {str(error).split(' (at ')[0]}",
            file=name,
            row=int(place[1]) if place else None,
            expected='lines such as size = "12/2"',
        ) from None
    if not table:
        raise InputError("the plan is empty", file=name, expected="[[enters]] for each cable")
    return list(_split(table, Where(name, text)))


def _split(table: Mapping[str, Any], where: Where | None) -> list[tuple[Mapping[str, Any], Where]]:
    """The boxes of a file: tables `[[box]]`, or one box at the top."""
    where = where or Where(None, "")
    boxes = table.get("box")
    if isinstance(boxes, str):
        if "name" in table or re.search(r"[0-9]\s*[x×]\s*[0-9]", boxes):
            raise where.error(
                "box",
                boxes,
                "box gives a name alone",
                'name = "kitchen" for the name, size = "4 x 1-1/2 square" for the box',
            )
        return [({"name": boxes, **{k: v for k, v in table.items() if k != "box"}}, where)]
    if boxes is None:
        return [(table, where)]
    if not isinstance(boxes, list) or not all(isinstance(b, Mapping) for b in boxes):
        raise where.error("box", boxes, "not a list of boxes", 'a name, or [[box]] with name = "A"')
    for key in table.keys() - {"box", "title", "description"}:
        raise where.error(key, table[key], "not with [[box]]", f"it under its box, as [[box.{key}]]")
    return [(b, where.part("box", number)) for number, b in enumerate(boxes)]


def _boxes(reference: Reference, tables: Iterable[tuple[Any, Where]]) -> list[PlanBox]:
    out: list[PlanBox] = []
    seen: set[str] = set()
    alike: dict[str, PlanBox] = {}
    for number, (table, where) in enumerate(tables, 1):
        if not isinstance(table, Mapping):
            raise where.error(None, table, "not a box", f"a mapping with {', '.join(ENTRY_KEYS['box'])}")
        # Boxes alike in all but the name are read, and later computed, once.
        kind = repr([(k, v) for k, v in table.items() if k != "name"])
        made = alike.get(kind)
        if made is None:
            made = alike[kind] = replace(box_of(reference, table, where, f"box {number}"), kind=len(alike))
        name = text_of(table.get("name")) or f"box {number}"
        if name in seen:
            raise where.error("name", name, "the name stands twice", "each box with a name of its own")
        seen.add(name)
        out.append(replace(made, name=name))
    if not out:
        raise InputError("the plan is empty", expected="a box with [[enters]]")
    return out
