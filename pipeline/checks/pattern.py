"""Ready patterns: the table says what the planner reads from the patterns that come with the package."""

from __future__ import annotations

from collections.abc import Iterator

from jointable.pattern_rows import pattern_rows
from pipeline.checks import Comparison, Context, check

__all__: list[str] = []

_KEY = ("pattern", "box", "part")
_COLUMNS = ("title", "what", "of", "size", "circuit", "says")


@check(
    "pattern-as-planned",
    layer="second evidence",
    reads=("pattern_part",),
    what="each part of a ready pattern stands in the table as the planner reads it, and no other does",
    reason="The planner reads TOML; the table is the same for those who ask in SQL.",
)
def pattern_as_planned(c: Context) -> Iterator[Comparison]:
    planned = {tuple(r[k] for k in _KEY): r for r in pattern_rows()}
    rows = c.rows("pattern_part")
    for row in rows:
        other = planned.pop(tuple(row[k] for k in _KEY), None)
        yield Comparison(
            tuple((row, k) for k in _KEY), other is not None, 0.0, "a part of a pattern of the package"
        )
        for column in _COLUMNS if other is not None else ():
            same = row[column] == other[column] if other is not None else False
            expected = repr(other[column]) if other is not None else ""
            yield Comparison(((row, column),), same, 0.0, f"{expected}, as the pattern has it")
    for missing in planned:
        yield Comparison(((rows[-1], "pattern"),), False, 0.0, f"a row {','.join(missing)} too")
