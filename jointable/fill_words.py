"""The words of a fill: editions that can be asked for, assumptions, cautions, and what was meant."""

from __future__ import annotations

import re
import threading
from collections import OrderedDict
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from jointable.errors import InputError
from jointable.schedule_form import Problem, closest

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["DEFAULT_EDITION", "Words", "known_edition", "occasions_by_box", "with_hint", "words_of"]

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


class Latest:
    """A memory for the latest so many things, safe for several threads.

    Args:
        most: How many it keeps.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable) -> Any:
        """What was put under a key, or None."""
        with self._lock:
            if key not in self._kept:
                return None
            self._kept.move_to_end(key)
            return self._kept[key]

    def put(self, key: Hashable, value: Any) -> None:
        """Keep a value; the one that was asked for the longest ago goes."""
        with self._lock:
            self._kept[key] = value
            self._kept.move_to_end(key)
            if len(self._kept) > self._most:
                self._kept.popitem(last=False)


@dataclass(frozen=True, slots=True)
class Words:
    """What the database says in words, read once.

    Attributes:
        editions: Each edition, and whether it has a volume rule.
        assumptions: Text by id.
        cautions: The cautions, each with the occasion on which it is shown.
        boxes: The names of the standard boxes of each edition.
        ruleless: Countries, and names of codes without their year, that have no volume rule.
        answers: The latest answers, by the question.
    """

    editions: Mapping[str, bool]
    assumptions: Mapping[str, str]
    cautions: tuple[tuple[dict[str, str], str], ...]
    boxes: Mapping[str, tuple[str, ...]]
    ruleless: frozenset[str]
    answers: Latest = field(default_factory=lambda: Latest(64))

    def assumption(self, id: str) -> str:
        """The text of an assumption."""
        return self.assumptions.get(id, id)

    def cautions_on(self, occasions: Collection[str]) -> tuple[dict[str, str], ...]:
        """The cautions of some occasions, and those that are always shown."""
        return tuple(c for c, shown in self.cautions if shown == "always" or shown in occasions)


#: In the order of their numbers: C2 before C10.
_CAUTIONS = "SELECT id, text, clause, shown_when FROM caution ORDER BY length(id), id"


#: Ways to ask for a code that sets no volume: its name, with any year or none, and its country.
_RULELESS = r"""SELECT DISTINCT unnest([lower(jurisdiction), regexp_replace(edition, '-\d{4}$', ''), code]
    || string_split(lower(jurisdiction), ' and ')) FROM edition WHERE NOT has_volume_rule"""


def _caution(name: str, text: str, clause: str, shown_when: str) -> tuple[dict[str, str], str]:
    return {"id": name, "text": text, "clause": clause}, shown_when


_READ: WeakKeyDictionary[Reference, Words] = WeakKeyDictionary()


def words_of(reference: Reference) -> Words:
    """What a database says in words; it is read once.

    Args:
        reference: The open database.

    Returns:
        Its `Words`.

    Source: the tables `edition`, `assumption`, `caution` and `box`.

    Example:
        >>> import jointable
        >>> words_of(jointable.open()).editions["nec-2023"]
        True
    """
    found = _READ.get(reference)
    if found is None:
        boxes: dict[str, list[str]] = {}
        for edition, box in reference.rows("SELECT edition, box FROM box ORDER BY edition, box"):
            boxes.setdefault(edition, []).append(box)
        found = Words(
            dict(reference.rows("SELECT edition, has_volume_rule FROM edition ORDER BY edition")),
            dict(reference.rows("SELECT id, text FROM assumption")),
            tuple(_caution(*row) for row in reference.rows(_CAUTIONS)),
            {edition: tuple(names) for edition, names in boxes.items()},
            frozenset(name for (name,) in reference.rows(_RULELESS)),
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
    words = words_of(reference)
    editions = words.editions
    name = str(edition).strip().lower()
    with_rule = [e for e, has_rule in editions.items() if has_rule]
    ruleless = name in words.ruleless or re.sub(r"-\d{4}$", "", name) in words.ruleless
    if name not in editions and not ruleless:
        guess = closest(name, with_rule)
        hint = f"did you mean {guess}? " if guess else ""
        raise InputError(
            "unknown edition",
            column="edition",
            value=edition,
            expected=f"{hint}there are {', '.join(with_rule)}",
        )
    if ruleless or not editions[name]:
        raise InputError(
            "no such rule: this code sets no volume for boxes",
            column="edition",
            value=edition,
            expected=f"editions with a volume rule are {', '.join(with_rule)}",
        )
    return name


#: Items that are conductors, and so have a material and a construction.
_CONDUCTORS = frozenset(
    "cable conductor through loop pigtail grounding isolated_grounding fixture_wire fixture_grounding".split()
)


def occasions_by_box(
    rows: Iterable[tuple[object, object, object, object, object]],
) -> dict[str, set[str]]:
    """For each box, on which occasions of the table `caution` it is.

    Args:
        rows: Box, item, location, material and construction of rows of a schedule.

    Returns:
        By the name of the box, some of `damp or wet`, `burial`, `aluminium`, `mixed metals` and
        `flexible`.

    Source: the column `shown_when` of the table `caution`.

    Example:
        >>> rows = [("A", "box", "wet", None, None), ("A", "conductor", None, "aluminium", None),
        ...         ("A", "pigtail", None, None, None)]
        >>> sorted(occasions_by_box(rows)["A"])
        ['aluminium', 'damp or wet', 'mixed metals']
    """
    found: dict[str, set[str]] = {}
    metals: dict[str, set[str]] = {}
    for box, item, location, material, construction in rows:
        name = str(box)
        here = found.setdefault(name, set())
        where = _word(location)
        if where:
            here.add("damp or wet" if where in ("damp", "wet") else where)
        if _word(item).replace(" ", "_") in _CONDUCTORS:
            metal = _word(material) or "copper"
            metals.setdefault(name, set()).add(metal)
            if metal.startswith("alumin"):
                here.add("aluminium")
            if _word(construction) == "flexible":
                here.add("flexible")
    for name, kinds in metals.items():
        if len(kinds) > 1:
            found[name].add("mixed metals")
    return found


def _word(value: object) -> str:
    return "" if value is None else str(value).strip().lower()


def with_hint(reference: Reference, problem: Problem, edition: str) -> Problem:
    """A problem with the word that was probably meant, if one is alike.

    Args:
        reference: The open database.
        problem: The problem.
        edition: A known edition.

    Returns:
        The problem, with a hint where there is one.

    Source: likeness as of Python's `difflib`.

    Example:
        >>> import jointable
        >>> wrong = Problem(2, "A", "item", "condutor", "no such item")
        >>> with_hint(jointable.open(), wrong, "nec-2023").expected
        "did you mean 'conductor'?"
    """
    if problem.column is None or not problem.value or "did you mean" in (problem.expected or ""):
        return problem
    guess = _meant(problem.column, problem.value, words_of(reference).boxes.get(edition, ()))
    if guess is None or guess == problem.value:
        return problem
    # The word that was meant says more than the list of all words.
    rest = problem.expected if problem.expected and not problem.expected.startswith("one of ") else ""
    return replace(problem, expected=f"did you mean {guess!r}? {rest}".strip())


def _meant(column: str, value: str, boxes: Iterable[str]) -> str | None:
    words = _WORDS.get(column)
    if words and value.strip().lower() not in words:
        return closest(value, words)
    # A box is written with its sides, so only a value that looks like one is likened to a box.
    if column == "size" and " x " in value.replace("×", "x"):
        return closest(value, boxes)
    return None
