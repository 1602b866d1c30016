"""Many questions of one kind asked of the database in one statement; run in the answer worker.

The macros take many joints and many boxes, and planning them is most of the time of a small question. What
they say goes where the library keeps its latest answers; each question is then answered by itself, in the
same way as alone, and finds it there. One that cannot be read touches no other: it is left out here and
told what is wrong with it when its turn comes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from jointable.admission import admit_together
from jointable.errors import InputError
from jointable.explorer import limits
from jointable.explorer.answers import demands_of, items_of
from jointable.fill import answer_together
from jointable.notation import Joint
from jointable.reference import Reference

__all__ = ["TOGETHER"]

Asked = Sequence[Mapping[str, Any]]


def _joints(reference: Reference, asked: Asked) -> set[int]:
    """Ask for all joints; the numbers of those that are answered in little time."""
    light = set(range(len(asked)))
    found = []
    for number, parameters in enumerate(asked):
        try:
            joint = Joint.parse(parameters["conductors"])
        except InputError:
            continue  # told by itself, at once
        if joint.count > limits.TOGETHER_CONDUCTORS:
            light.discard(number)
        else:
            found.append((joint, demands_of(parameters)))
    admit_together(reference, found)
    return light


def _boxes(reference: Reference, asked: Asked) -> set[int]:
    """Ask for all boxes, edition by edition."""
    light = set(range(len(asked)))
    by_edition: dict[str | None, list[Any]] = {}
    for number, parameters in enumerate(asked):
        if len(parameters["items"]) > limits.QUERY_CHARACTERS:  # a posted schedule
            light.discard(number)
            continue
        try:
            schedule = items_of(parameters["items"])
        except InputError:
            continue
        by_edition.setdefault(parameters.get("edition") or None, []).append(schedule)
    for edition, schedules in by_edition.items():
        answer_together(reference, schedules, edition)
    return light


#: By the name of the question: asks for many, and says which of them are answered in little time.
TOGETHER: Mapping[str, Callable[[Reference, Asked], set[int]]] = {"joint": _joints, "box": _boxes}
