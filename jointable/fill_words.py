"""The words of a fill: editions that can be asked for, assumptions, cautions, and what was meant."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from jointable.errors import InputError
from jointable.schedule_form import Problem, closest

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["DEFAULT_EDITION", "Words", "known_edition", "with_hint", "words_of"]

#: The edition where none is asked for; the result says so.
DEFAULT_EDITION = "nec-2023"

#: The words that a column of a schedule may hold.
_WORDS: Mapping[str, tuple[str, ...]] = {
    "item": (
        "box",
        "conduit_body",
        "cable",
        "conductor",
        "through",
        "loop",
        "pigtail",
        "grounding",
        "isolated_grounding",
        "fixture_wire",
        "fixture_grounding",
        "clamp",
        "stud",
        "hickey",
        "device",
        "terminal_block",
        "connector",
        "barrier",
        "extension",
        "raceway",
    ),
    "wall": ("left", "right", "top", "bottom", "back"),
    "pull": ("straight", "angle", "u", "splice"),
    "location": ("dry", "damp", "wet", "burial"),
    "construction": ("solid", "stranded", "flexible"),
}


@dataclass(frozen=True, slots=True)
class Words:
    """What the database says in words, read once.

    Attributes:
        editions: Each edition, and whether it has a volume rule.
        assumptions: Text by id.
        cautions: Text and clause by id.
        boxes: The names of the standard boxes of each edition.
    """

    editions: Mapping[str, bool]
    assumptions: Mapping[str, str]
    cautions: Mapping[str, tuple[str, str | None]]
    boxes: Mapping[str, tuple[str, ...]]

    def assumption(self, id: str) -> str:
        """The text of an assumption."""
        return self.assumptions.get(id, id)

    def caution(self, id: str) -> dict[str, str | None]:
        """A caution with its id, text and clause."""
        text, clause = self.cautions[id]
        return {"id": id, "text": text, "clause": clause}


_READ: WeakKeyDictionary[Reference, Words] = WeakKeyDictionary()


def words_of(reference: Reference) -> Words:
    """What a database says in words; it is read once."""
    found = _READ.get(reference)
    if found is None:
        boxes: dict[str, list[str]] = {}
        for edition, box in reference.rows("SELECT edition, box FROM box ORDER BY edition, box"):
            boxes.setdefault(edition, []).append(box)
        found = Words(
            dict(reference.rows("SELECT edition, has_volume_rule FROM edition ORDER BY edition")),
            dict(reference.rows("SELECT id, text FROM assumption")),
            {r[0]: r[1:] for r in reference.rows("SELECT id, text, clause FROM caution")},
            {edition: tuple(names) for edition, names in boxes.items()},
        )
        _READ[reference] = found
    return found


def known_edition(reference: Reference, edition: str | None) -> str:
    """An edition that can be asked for.

    Args:
        reference: The open database.
        edition: As it was asked for; None for the default.

    Returns:
        Its name in the table `edition`.

    Raises:
        InputError: There is no such edition, or it has no volume rule.

    Source: the table `edition`.

    Example:
        >>> import jointable
        >>> known_edition(jointable.open(), None)
        'nec-2023'
    """
    if edition is None:
        return DEFAULT_EDITION
    editions = words_of(reference).editions
    name = str(edition).strip().lower()
    with_rule = [e for e, has_rule in editions.items() if has_rule]
    if name not in editions:
        guess = closest(name, with_rule)
        hint = f"did you mean {guess}? " if guess else ""
        raise InputError(
            "unknown edition",
            column="edition",
            value=edition,
            expected=f"{hint}there are {', '.join(with_rule)}",
        )
    if not editions[name]:
        raise InputError(
            "no such rule: this code sets no volume for boxes",
            column="edition",
            value=edition,
            expected=f"editions with a volume rule are {', '.join(with_rule)}",
        )
    return name


def with_hint(reference: Reference, problem: Problem, edition: str) -> Problem:
    """A problem with the word that was probably meant, if one is alike."""
    if problem.column is None or not problem.value or "did you mean" in (problem.expected or ""):
        return problem
    guess = _meant(problem.column, problem.value, words_of(reference).boxes.get(edition, ()))
    if guess is None or guess == problem.value:
        return problem
    rest = f" {problem.expected}" if problem.expected else ""
    return replace(problem, expected=f"did you mean {guess!r}?{rest}")


def _meant(column: str, value: str, boxes: Iterable[str]) -> str | None:
    words = _WORDS.get(column)
    if words and value.strip().lower() not in words:
        return closest(value, words)
    # A box is written with its sides, so only a value that looks like one is likened to a box.
    if column == "size" and " x " in value.replace("×", "x"):
        return closest(value, boxes)
    return None
