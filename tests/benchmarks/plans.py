"""Planned boxes: joints, classes, fill and take-off in one call, against the plain fill of their schedule."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import jointable
from tests.benchmarks.figures import Figure, median

__all__ = ["boxes", "measure"]

_CABLES = ("12/2", "14/2")
#: The aim: so many times the plain fill of the schedule, at most.
_AIM = 3


def boxes(count: int, kinds: int) -> list[dict[str, Any]]:
    """So many boxes of so many kinds; what is in a box depends on its number alone.

    Args:
        count: How many boxes.
        kinds: How many of them differ in more than the name.

    Returns:
        Plans of one box each.
    """
    out = []
    for number in range(count):
        kind = number % kinds
        cables = [
            {"role": "feed through", "size": _CABLES[(kind >> n) & 1], "name": f"on {n}"}
            for n in range(1 + kind % 3)
        ]
        out.append(
            {
                "name": f"box {number}",
                "enters": [{"role": "feed", "size": "12/2", "name": "feed"}, *cables],
                "device": [{"kind": "receptacle"}] * (1 + kind % 2),
                "volume_in3": f"{20 + kind / 1000:.3f}",
            }
        )
    return out


def measure(quick: bool) -> Iterator[Figure]:
    """The figures."""
    reference = jointable.open()
    reference.plan(boxes(2, 2))
    for count, kinds in ((2_000, 200), (500, 500)) if quick else ((100_000, 1_000), (4_000, 4_000)):
        asked = boxes(count, kinds)
        schedule: list[dict[str, Any]] = []

        def planned(asked: list[dict[str, Any]] = asked, schedule: list[dict[str, Any]] = schedule) -> None:
            schedule[:] = reference.plan(asked).schedule

        took = median(planned, 1)
        plain = median(lambda s=schedule: reference.fill(s), 1)  # type: ignore[misc]
        what = f"`plan` of {count:,} boxes of {kinds:,} kinds"
        yield Figure(
            what, took, "s", "`fill` of its schedule", took / plain, f"at most {_AIM}", took / plain <= _AIM
        )
