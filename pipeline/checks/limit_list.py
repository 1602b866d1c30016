"""Limits of boxes: names by size, the ladder of Table 312.6(A), and Canada beside the United States."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import figures
from pipeline.checks.rule_list import LIMIT
from pipeline.readings import RawRow
from pipeline.tables.box import inches
from pipeline.tables.insulated import RUN

__all__: list[str] = []


@check(
    "limit-canada-free-length",
    layer="second evidence",
    reads=("cec_box_limit", LIMIT),
    what="Canada asks for the free conductor that the code of the United States asks for, in millimetres",
)
def limit_canada(c: Context) -> Iterator[Comparison]:
    ours = {(row["rule"]): row for row in c.rows(LIMIT)}
    for row in c.rows("cec_box_limit"):
        other = ours.get(row["rule"])
        right = other["limit_mm"] if other is not None else "a rule of both codes"
        yield Comparison(((row, "limit_mm"), (row, "rule")), row["limit_mm"] == right, 0.0, right)


@check(
    "limit-named",
    layer="keys",
    reads=(LIMIT,),
    what="a limit for some sizes is named by them",
)
def limit_named(c: Context) -> Iterator[Comparison]:
    for row in c.rows(LIMIT):
        kind, _, rest = row["rule"].partition("_")
        sizes = list(rest.removesuffix("_rear").split("_"))
        if kind == "cover":
            sizes = [rest.replace("_", "/")]
            yield Comparison(((row, "size_from"), (row, "rule")), row["size_from"] == sizes[0], 0.0, sizes[0])
        elif kind == "depth" and all(s.isdigit() for s in sizes):
            first = sizes[0] if len(sizes) > 1 else ""
            yield Comparison(
                ((row, "size_from"), (row, "rule")), row["size_from"] == first, 0.0, first or "nothing"
            )
            yield Comparison(((row, "size_to"), (row, "rule")), row["size_to"] == sizes[-1], 0.0, sizes[-1])


@check(
    "limit-cover-ladder",
    layer="cross-check",
    reads=(LIMIT,),
    what="the sizes of Table 312.6(A) follow each other from 4 AWG without a gap, the distance grows with them by half inches or more; "
    "its millimetres are the inches to three figures",
)
def limit_cover_ladder(c: Context) -> Iterator[Comparison]:
    rows = [row for row in c.rows(LIMIT) if row["rule"].startswith("cover_")]
    rows.sort(key=lambda row: RUN.index(row["size_from"]) if row["size_from"] in RUN else -1)
    before: RawRow | None = None
    for row in rows:
        ends = [RUN.index(row[c]) if row[c] in RUN else -1 for c in ("size_from", "size_to")]
        start = RUN.index("4") if before is None else _after(before["size_to"])
        cells = ((row, "size_from"), (row, "size_to"))
        yield Comparison(cells, ends[0] == start and ends[1] >= ends[0], 0.0, f"from {RUN[start]} on")
        half = Decimal(2) * Decimal(inches(row["limit_in"]))
        ok = half == int(half)
        metric = figures_of(half * Decimal("12.7"), 3)
        yield Comparison(
            ((row, "limit_mm"), (row, "limit_in")),
            Decimal(row["limit_mm"]) == metric,
            0.0,
            f"{metric}, to three figures",
        )
        if before is not None:
            step = Decimal(inches(row["limit_in"])) - Decimal(inches(before["limit_in"]))
            ok = ok and Decimal("0.5") <= step <= 2
            yield Comparison(
                ((row, "clause"), (before, "clause")),
                row["clause"] == before["clause"],
                0.0,
                before["clause"],
            )
            yield Comparison(
                ((row, "what"), (before, "what")), row["what"] == before["what"], 0.0, before["what"]
            )
        yield Comparison(((row, "limit_in"),), ok, 0.0, "half inches, more than for the sizes before")
        before = row


def figures_of(value: Decimal, count: int) -> Decimal:
    """A value rounded to so many figures."""
    return value.quantize(figures(value, count), ROUND_HALF_UP)


def _after(size: str) -> int:
    return min(RUN.index(size) + 1, len(RUN) - 1) if size in RUN else -1
