"""The ready patterns as rows of a table, so that they can be asked for in SQL and traced like any other fact."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from jointable.plan_read import pattern_names, pattern_text

__all__ = ["pattern_rows"]

#: Keys that have a column of their own.
_APART = ("name", "title", "role", "kind", "size", "circuit", "enters", "device", "fittings")


def pattern_rows() -> Iterator[dict[str, str]]:
    """Every part of every pattern that comes with the package.

    Returns:
        Rows in the columns of the table `pattern_part`; what is not said is an empty text.

    Source: common practice.

    Example:
        >>> row = next(r for r in pattern_rows() if r["what"] == "device")
        >>> row["part"]
        'device 1'
    """
    for name in pattern_names():
        table = tomllib.loads(pattern_text(name))
        for number, box in enumerate(table.get("box", [table]), 1):
            yield from _box(name, str(table["title"]), box, str(box.get("name", f"box {number}")))


def _box(pattern: str, title: str, box: Mapping[str, Any], name: str) -> Iterator[dict[str, str]]:
    yield _row(pattern, title, name, "box", "box", str(box.get("title", title)), box)
    for what, key in (("enters", "role"), ("device", "kind")):
        for number, part in enumerate(box.get(what, ()), 1):
            yield _row(pattern, title, name, f"{what} {number}", what, str(part.get(key, "feed")), part)
    for number, fitting in enumerate(box.get("fittings", ()), 1):
        yield _row(pattern, title, name, f"fitting {number}", "fitting", str(fitting), {})


def _row(
    pattern: str, title: str, box: str, part: str, what: str, of: str, said: Mapping[str, Any]
) -> dict[str, str]:
    rest = {k: v for k, v in said.items() if k not in _APART and not (what == "box" and k == "description")}
    # A name tells two cables of one role apart, so that joints can be read from the table.
    if what != "box" and "name" in said:
        rest = {"name": said["name"], **rest}
    return {
        "pattern": pattern,
        "box": box,
        "part": part,
        "title": title,
        "what": what,
        "of": of,
        "size": str(said.get("size", "")),
        "circuit": str(said.get("circuit", "")),
        "says": "; ".join(f"{k} = {json.dumps(v, ensure_ascii=False)}" for k, v in rest.items()),
    }
