"""The seam to the room estimate: what the planned boxes' contents take physically."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["MOST_ESTIMATED", "rooms"]

#: Up to so many different boxes, their room is estimated unasked.
MOST_ESTIMATED = 200


def rooms(
    reference: Reference,
    rows: Sequence[dict[str, Any]],
    edition: str,
    family: str | None,
    grip: str | None,
) -> dict[str, dict[str, Any]]:
    """What `Reference.room` says of planned boxes.

    Args:
        reference: The open database.
        rows: Their schedule.
        edition: The code edition.
        family, grip: Of the connectors.

    Returns:
        For each box its answer in the form of JSON; volumes in cm³.

    Source: as `jointable.room`.
    """
    answers = reference.room(list(rows), edition=edition, family=family, grip=grip)
    return {answer.box: answer.to_dict() for answer in answers}
