"""The smallest standard box for a planned box: by the volume that its contents need, and its shape."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from jointable.advice_ideas import StandardBox, sections
from jointable.plan_form import PlanBox

__all__ = ["METAL_SHAPES", "SUITS", "smallest"]

#: Shapes of the standard boxes that are metal: all those of 314.16(A).
METAL_SHAPES = ("device", "masonry", "round", "square", "FS or FD")

#: Which boxes are looked at for what sits on them, common practice.
SUITS = (
    "looked at by common practice: ceiling boxes for a luminaire or fan, device boxes a gang each, square "
    "boxes for up to two gangs under a cover, square and round boxes for joints alone"
)


def smallest(
    box: PlanBox, required_in3: Decimal, tables: Sequence[StandardBox]
) -> tuple[StandardBox, int] | None:
    """The smallest standard box that holds a planned box.

    Args:
        box: The planned box.
        required_in3: What its contents need by the code [in³].
        tables: The standard boxes of the edition.

    Returns:
        The box and the number of its sections; None where no standard box is large enough.

    Source: the table `box` of the edition; which shape suits is common practice.

    Example:
        >>> from jointable.plan_form import PlanBox
        >>> table = StandardBox("4 x 1-1/2 square", "4 square", "square", Decimal(21), False)
        >>> smallest(PlanBox("A", (), (), (), ()), Decimal(20), [table])[0].name
        '4 x 1-1/2 square'
    """
    found = [
        (table.volume * sections(table, max(1, box.gangs)), table.name, table)
        for table in tables
        if _suits(table, box)
    ]
    held = [(volume, name, table) for volume, name, table in found if volume >= required_in3]
    if not held:
        return None
    table = min(held, key=lambda h: h[:2])[2]
    return table, sections(table, max(1, box.gangs))


def _suits(table: StandardBox, box: PlanBox) -> bool:
    hangs = any(e.leads for e in box.entries)
    if hangs and not box.devices:
        return table.shape in ("round", "square")
    if box.devices:
        if table.shape == "square":
            return box.gangs <= 2
        # A "single" box has one gang however many are put together.
        return table.per_gang and not ("single" in table.name and box.gangs > 1)
    return table.shape in ("round", "square")
