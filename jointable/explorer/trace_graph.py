"""The chain of a value as a graph from left to right: the value first, printed figures last."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

from jointable.trace import plain

__all__ = ["Box", "Graph", "graph"]

#: Measures of the drawing, in its own units.
WIDTH, HEIGHT, GAP_X, GAP_Y = 232, 82, 56, 16
#: Boxes drawn; the text names the rest.
MOST = 36
#: Characters that fit in a box.
FITS = 31


@dataclass(slots=True)
class Box:
    """One value of the chain, or the print that it was read from."""

    node: Mapping[str, Any]
    depth: int
    top: float = 0.0
    parents: list[Box] = field(default_factory=list)
    printed: bool = False

    @property
    def x(self) -> int:
        """Left edge."""
        return self.depth * (WIDTH + GAP_X)

    @property
    def y(self) -> float:
        """Upper edge."""
        return self.top

    @property
    def lines(self) -> tuple[str, str, str, str]:
        """Column, key, value and origin, or title, place, figure and access; cut to what fits."""
        node = self.node
        if self.printed:
            title = str(node.get("title") or node["source"])
            said = node["printed"] if node.get("printed") is not None else plain(node["value"])
            return (
                cut(title),
                cut(str(node["locator"] or "")),
                cut(f"“{said}”"),
                cut(f"seen: {node['access']}"),
            )
        unit = f" {node['unit']}" if node.get("unit") else ""
        corrected = ", corrected" if node.get("corrections") else ""
        value = f"{plain(node['value'])}{unit}"
        origin = f"{node['origin'] or 'no source'}{corrected}"
        return cut(f"{node['table']}.{node['column']}"), cut(str(node["key"])), cut(value), cut(origin)

    @property
    def kind(self) -> str:
        """Whether it is printed, computed or defined: the line around it differs."""
        return "print" if self.printed else str(self.node.get("origin") or "unknown")


@dataclass(frozen=True, slots=True)
class Graph:
    """Boxes with their places, and the lines between them."""

    boxes: tuple[Box, ...]
    width: int
    height: float
    left_out: int

    @property
    def lines(self) -> list[str]:
        """The path of each line, from a value to what it is computed from."""
        out = []
        for box in self.boxes:
            for parent in box.parents:
                x1, y1 = parent.x + WIDTH, parent.y + HEIGHT / 2
                x2, y2 = box.x, box.y + HEIGHT / 2
                middle = (x1 + x2) / 2
                out.append(f"M{x1} {y1:g}C{middle:g} {y1:g} {middle:g} {y2:g} {x2} {y2:g}")
        return out


def graph(answer: Mapping[str, Any]) -> Graph:
    """Lay out the chain of a value.

    Args:
        answer: The answer of `trace`.

    Returns:
        A graph in which no two boxes overlap. A value that is read twice is drawn once.

    Example:
        >>> node = {"table": "t", "key": "k", "column": "c", "value": 1, "unit": None, "origin": "quoted",
        ...         "printed": "1.0", "source": "s", "title": "A book", "locator": "page 3", "access": "secondary",
        ...         "inputs": []}
        >>> [box.lines for box in graph(node).boxes]
        [('t.c', 'k', '1', 'quoted'), ('A book', 'page 3', '“1.0”', 'seen: secondary')]
    """
    boxes: dict[str, Box] = {}
    left_out = 0
    for node, depth, parent in _walk(answer, 0, None):
        name = f"{node['table']}/{node['key']}/{node['column']}"
        above = boxes.get(parent) if parent else None
        if parent and above is None:
            left_out += 1
            continue
        if name not in boxes:
            if len(boxes) >= MOST:
                left_out += 1
                continue
            boxes[name] = Box(node, depth)
        if above is not None and above not in boxes[name].parents:
            boxes[name].parents.append(above)
    left_out += _add_prints(boxes)
    height = _place(list(boxes.values()))
    width = max(b.x for b in boxes.values()) + WIDTH
    return Graph(tuple(boxes.values()), width, height, left_out)


def _walk(
    node: Mapping[str, Any], depth: int, parent: str | None
) -> Iterator[tuple[Mapping[str, Any], int, str | None]]:
    yield node, depth, parent
    name = f"{node['table']}/{node['key']}/{node['column']}"
    for inner in node["inputs"]:
        yield from _walk(inner, depth + 1, name)


def _add_prints(boxes: dict[str, Box]) -> int:
    """Behind each value that was read, the print it was read from; how many find no room."""
    left_out = 0
    for box in list(boxes.values()):
        if not box.node.get("source"):
            continue
        name = "print/" + "/".join(str(box.node.get(n)) for n in ("source", "locator", "printed"))
        if name not in boxes:
            if len(boxes) >= 2 * MOST:
                left_out += 1
                continue
            boxes[name] = Box(box.node, box.depth + 1, printed=True)
        boxes[name].depth = max(boxes[name].depth, box.depth + 1)
        boxes[name].parents.append(box)
    return left_out


def _place(boxes: list[Box]) -> float:
    """Columns by depth, each centred beside the tallest, but not so far down that a phone shows none of it."""
    columns: dict[int, list[Box]] = {}
    for box in boxes:
        columns.setdefault(box.depth, []).append(box)
    tallest = max(len(c) for c in columns.values()) * (HEIGHT + GAP_Y) - GAP_Y
    for column in columns.values():
        height = len(column) * (HEIGHT + GAP_Y) - GAP_Y
        for number, box in enumerate(column):
            box.top = min((tallest - height) / 2, 2 * HEIGHT) + number * (HEIGHT + GAP_Y)
    return tallest


def cut(text: str) -> str:
    """Text that fits in a box."""
    return text if len(text) <= FITS else text[: FITS - 1] + "…"
