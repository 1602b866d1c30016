"""Many joints asked of the macro of admission in one statement."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from jointable.demands import Demands
from jointable.errors import InputError
from jointable.facts import Facts, bundles_together, facts_of
from jointable.joint import AT_HAND, as_it_decides, question_of, whole_rows, with_ends, with_near_misses
from jointable.known import known
from jointable.notation import Joint

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["admit_together"]


def admit_together(reference: Reference, asked: Iterable[tuple[Joint, Mapping[str, Any]]]) -> None:
    """Ask the macro about many joints in one statement, so that `choose` finds what it said.

    Args:
        reference: The open database.
        asked: Joints, each with its demands as `choose` takes them; those that cannot be read are
            left out, `choose` says why.

    Source: none; the planning of the macro takes longer than one more joint.

    Example:
        >>> import jointable
        >>> reference = jointable.open()
        >>> admit_together(reference, [(Joint.parse("3x12"), {}), (Joint.parse("2x14"), {"grip": "wide"})])
        >>> reference.connectors("3x12").choices[0].name
        'twist-on 10'
    """
    table = known(reference)
    everyone: list[Facts] = []
    groups: dict[str, tuple[Demands, dict[str, tuple[Facts, dict[str, Facts]]]]] = {}
    for joint, wanted in asked:
        try:
            given = Demands.of(**{k: v for k, v in wanted.items() if k != "rank"})
            demands = as_it_decides(with_ends(joint, given), table)
            facts = facts_of(reference, joint, bundle=False)
        except InputError:
            continue
        everyone.append(facts)
        near = facts.neighbours()
        question = question_of({AT_HAND: facts} | near, demands)
        if joint.count > 1 and question not in table.answers:
            groups.setdefault(demands.sql(), (demands, {}))[1][question] = (facts, near)
    bundles_together(reference, everyone)
    for demands, questions in groups.values():
        if len(questions) > 1:  # one alone is asked when it is answered
            _admit_alike(reference, demands, questions)


def _admit_alike(
    reference: Reference, demands: Demands, questions: Mapping[str, tuple[Facts, Mapping[str, Facts]]]
) -> None:
    """Ask about joints under the same demands, and keep the answer to each."""
    joints = {
        f"{number}:{name}": one
        for number, (facts, near) in enumerate(questions.values())
        for name, one in ({AT_HAND: facts} | dict(near)).items()
    }
    found: list[list[dict[str, Any]]] = [[] for _ in questions]
    for row in whole_rows(reference, question_of(joints, demands, "c.joint LIKE '%:'")):
        number, _, row["joint"] = row["joint"].partition(":")
        found[int(number)].append(row)
    for (question, (_, near)), rows in zip(questions.items(), found, strict=True):
        known(reference).keep(question, with_near_misses(rows, near))
