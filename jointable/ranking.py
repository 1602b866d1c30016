"""Orders of the choices: by room, by how many combinations a class takes, or by how central the joint lies."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from jointable.demands import FAMILIES, one_of
from jointable.joint_answer import Choice
from jointable.known import known

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["RANKS", "ranked"]

#: The orders by name, and how an answer says them. Families stay grouped in each.
RANKS = {
    "room": "least room first",
    "classes": "the class that takes most combinations first, so that few classes serve many joints",
    "margin": "the class in whose range the total lies most central first",
}

#: How many rows of the table of combinations each class takes.
_REACH = (
    "WITH given AS (SELECT conductors AS joint, split_part(term, 'x', 1)::INTEGER AS quantity, "
    "split_part(term, 'x', 2) AS size FROM (SELECT conductors, unnest(string_split(conductors, ' + ')) AS term "
    "FROM combination)), given_facts AS (FROM joint_facts('given')) "
    "SELECT a.family, a.size, a.ways, a.grip, count(*) FROM class_admission('given_facts') a "
    "WHERE a.breaks + a.family_breaks = 0 GROUP BY ALL"
)


def ranked(reference: Reference, choices: Sequence[Choice], rank: str) -> tuple[Choice, ...]:
    """Choices in the order asked for, families kept together.

    Args:
        reference: The open database.
        choices: Choices in order of room inside each family.
        rank: `room` (least first), `classes` (the class that takes most of the combinations first) or
            `margin` (the most central first; families without totals stay by room).

    Returns:
        The same choices.

    Raises:
        InputError: There is no such order.

    Source: definitions of this project; the table `combination`.

    Example:
        >>> import jointable
        >>> answer = jointable.open().connectors("3x12", family="twist-on", rank="margin")
        >>> answer.choices[0].name
        'twist-on 35 wide'
    """
    chosen = one_of(rank, tuple(RANKS), "rank") or "room"
    if chosen == "room":
        return tuple(choices)
    key = _central if chosen == "margin" else _reaching(reference)
    return tuple(
        sorted(choices, key=lambda c: (FAMILIES.index(c.family) if c.family else -1, key(c)))  # stable
    )


def _central(choice: Choice) -> float:
    return 0.0 if choice.margin is None else abs(choice.margin - 0.5)


def _reaching(reference: Reference) -> Callable[[Choice], float]:
    table = known(reference)
    if not table.reach:
        table.reach.update({tuple(row[:4]): row[4] for row in reference.rows(_REACH)})
    return lambda c: -table.reach.get((c.family, c.size, c.ways, c.grip), 0)
