"""What the one macro of admission says of joints: of one, or of many in one statement, whatever each demands.

Planning the macro takes longer than a few more joints, and fetching a row for each class longer than
deciding; so joints go in as columns of whole numbers, and what is said of each comes back as one text.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from jointable.demands import FAMILIES, Demands
from jointable.errors import InputError
from jointable.facts import Facts, bundles_together, facts_of, facts_sql
from jointable.known import Known, Said, known
from jointable.notation import Joint

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["admit_together", "admitted", "with_ends"]

#: Between the classes of a text, and between what is said of one; no name or reason holds them.
_CLASSES, _PARTS = "\x1e", "\x1f"

#: Demands as the macro names them -> the type of their column. Temperatures and voltages are met with
#: limits in whole numbers, so the next whole number decides as they do.
_DEMANDED = {
    "family": "VARCHAR",
    "grip": "VARCHAR",
    "location": "VARCHAR",
    "temperature_c": "BIGINT",
    "material_mark": "VARCHAR",
    "pass_through": "BOOLEAN",
    "reopenable": "BOOLEAN",
    "voltage": "BIGINT",
}

#: What the macro repeats of a class for every joint.
_REPEATED = "c.class, c.family, c.size, c.ways, c.grip, c.variant, c.total_min_mm2, c.total_max_mm2, c.room_cm3, c.rank"


@dataclass(frozen=True, slots=True)
class _Question:
    """A joint under its demands."""

    facts: Facts
    demands: Demands

    @classmethod
    def of(cls, facts: Facts, demands: Demands, table: Known) -> _Question:
        """A question, without a voltage that every family is marked for, so that equal ones are one."""
        least = min(family["greatest_voltage_v"] for family in table.families.values())
        within = demands.voltage is not None and demands.voltage <= least
        return cls(facts, replace(demands, voltage=None) if within else demands)

    @property
    def key(self) -> Hashable:
        """What decides the answer."""
        kinds = tuple(
            (c.count, c.size, c.construction, c.material, c.end) for c in self.facts.conductors_listed
        )
        return kinds, tuple(self.demanded(name) for name in _DEMANDED)

    def demanded(self, name: str) -> Any:
        """A demand as its column has it."""
        value = getattr(self.demands, name)
        return math.ceil(value) if isinstance(value, Decimal) else value


def admitted(reference: Reference, facts: Facts, demands: Demands) -> list[dict[str, Any]]:
    """What the macro says of a joint and every class of the variant asked for.

    Args:
        reference: The open database.
        facts: The joint.
        demands: What is asked of the connector.

    Returns:
        A row a class, in order of family and rank: `admitted`, `margin`, `reason` and `near_miss` beside
        what the class is (areas in mm2, room in cm3).

    Source: the macro `classes_of_facts`.

    Example:
        >>> import jointable
        >>> reference = jointable.open()
        >>> facts = facts_of(reference, Joint.parse("3x12"))
        >>> [row["class"] for row in admitted(reference, facts, Demands.of(family="twist-on")) if row["admitted"]][0]
        'twist-on 10'
    """
    table = known(reference)
    question = _Question.of(facts, demands, table)
    said = table.answers.get(question.key)
    if said is None:
        (said,) = _asked(reference, [question])
        table.keep(question.key, said)
    return _rows(table, said)


def admit_together(reference: Reference, asked: Iterable[tuple[Joint, Mapping[str, Any]]]) -> None:
    """Ask the macro about many joints in one statement, so that `admitted` finds what it said.

    Args:
        reference: The open database.
        asked: Joints, each with its demands as `jointable.joint.choose` takes them; those that cannot be
            read are left out, `choose` says why.

    Source: none; the planning of the macro takes longer than many more joints.

    Example:
        >>> import jointable
        >>> reference = jointable.open()
        >>> admit_together(reference, [(Joint.parse("3x12"), {}), (Joint.parse("2x14"), {"grip": "wide"})])
        >>> reference.connectors("3x12").choices[0].name
        'twist-on 10'
    """
    table = known(reference)
    everyone: list[Facts] = []
    questions: dict[Hashable, _Question] = {}
    for joint, wanted in asked:
        try:
            demands = with_ends(joint, Demands.of(**{k: v for k, v in wanted.items() if k != "rank"}))
            facts = facts_of(reference, joint, bundle=False)
        except InputError:
            continue
        everyone.append(facts)
        question = _Question.of(facts, demands, table)
        if joint.count > 1 and question.key not in table.answers:
            questions[question.key] = question
    bundles_together(reference, everyone)
    if len(questions) > 1:  # one alone is asked when it is answered
        for key, said in zip(questions, _asked(reference, list(questions.values())), strict=True):
            table.keep(key, said)


def with_ends(joint: Joint, demands: Demands) -> Demands:
    """Ends told apart make a butt joint and nothing else."""
    if joint.has_ends and demands.family not in (None, "crimped butt"):
        raise InputError(
            "the two ends told apart by | are those of a butt joint",
            column="family",
            value=demands.family,
            expected="crimped butt, or a joint without |",
        )
    if not joint.has_ends and demands.family == "crimped butt" and joint.count > 2:
        raise InputError(
            f"which of the {joint.count} conductors lie at which end is not said",
            column="joint",
            value=str(joint),
            expected="the two ends of a butt joint parted by |, such as 2x14 | 1x12",
        )
    if not joint.has_ends:
        return demands
    if demands.grip == "wide":
        raise InputError(
            "crimped butt classes are not made wide", column="grip", value="wide", expected="leave --grip out"
        )
    return replace(demands, family="crimped butt", carried=None)


def _asked(reference: Reference, questions: Sequence[_Question]) -> list[Said]:
    """What is said of each question."""
    # Beside each joint stand those that might fit where it does not.
    near = [q.facts.neighbours() for q in questions]
    joints = [q.facts for q in questions] + [one for joints in near for one in joints.values()]
    whose = [*questions, *(q for q, joints in zip(questions, near, strict=True) for _ in joints)]
    demanded = [name for name in _DEMANDED if any(q.demanded(name) for q in questions)]
    given, values = facts_sql(
        dict(enumerate(joints)),
        "joints_at_hand",
        {f"wanted_{name}": ([q.demanded(name) for q in whose], _DEMANDED[name]) for name in demanded},
    )
    # A demand may be a column of the facts.
    wanted = "".join(f", {name} := wanted_{name}" for name in demanded)
    said = f"WITH {given}, said AS (FROM classes_of_facts('joints_at_hand'{wanted})) "
    # Of the joints asked about everything is told, of those beside them the classes that take them.
    at_hand = f"c.joint < {len(questions)}"
    told = reference.rows(
        f"{said} SELECT c.joint, string_agg(CASE WHEN {at_hand} THEN concat_ws(chr(31), c.class, coalesce(c.margin::VARCHAR, ''), "
        f"coalesce(c.reason, '')) ELSE c.class END, chr(30)) FROM said c WHERE {at_hand} OR c.admitted GROUP BY c.joint",
        values,
    )
    found = {joint: text.split(_CLASSES) for joint, text in told}
    table = known(reference)
    if any(text.partition(_PARTS)[0] not in table.classes for texts in found.values() for text in texts):
        _learn(table, reference.records(f"{said} SELECT DISTINCT {_REPEATED} FROM said c", values))
    out = []
    beside = len(questions)
    for number, changes in enumerate(near):
        would_fit: dict[str, str] = {}
        for place, change in enumerate(changes, beside):
            for name in found.get(place, ()):
                would_fit.setdefault(name, f"{change} it would fit")
        beside += len(changes)
        out.append(Said(found.get(number, []), would_fit))
    return out


def _learn(table: Known, classes: Iterable[dict[str, Any]]) -> None:
    """Remember what the macro repeats of classes, in order of family and rank."""
    table.classes.update((row["class"], row) for row in classes)
    order = sorted(table.classes.values(), key=lambda row: (FAMILIES.index(row["family"]), row["rank"]))
    table.classes = {row["class"]: row | {"place": place} for place, row in enumerate(order)}


def _rows(table: Known, said: Said) -> list[dict[str, Any]]:
    """The rows of one joint in order, from what was said of each class."""
    rows = []
    for text in said.classes:
        name, margin, reason = text.split(_PARTS)
        row = table.classes[name].copy()
        row["admitted"] = not reason
        row["margin"] = float(margin) if margin else None
        row["reason"] = reason or None
        row["near_miss"] = said.near.get(name)
        rows.append(row)
    rows.sort(key=_place)
    return rows


_place = itemgetter("place")
