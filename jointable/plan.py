"""One box whole: from what enters it and its devices to joints, classes, fill and room."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.advice_ideas import StandardBox, sections, standard_boxes
from jointable.carry import Carried, load_carried
from jointable.errors import InputError
from jointable.fill import fill, known_edition
from jointable.fill_result import FillResult
from jointable.guidance import advice_on, merged
from jointable.known import known
from jointable.plan_answer import BoxPlan, Plan
from jointable.plan_boxes import SUITS, smallest
from jointable.plan_classes import classes_of
from jointable.plan_form import PlanBox
from jointable.plan_joints import Proposal, propose
from jointable.plan_read import read_plan
from jointable.plan_room import MOST_ESTIMATED, rooms
from jointable.plan_schedule import rows_of
from jointable.plan_takeoff import PIGTAIL_CLAUSE, take_off

if TYPE_CHECKING:
    from pathlib import Path

    from jointable.listings import Listings
    from jointable.reference import Reference

__all__ = ["BoxPlan", "Plan", "plan"]

#: Cautions that a planned box carries beside those of its fill: fitness of terminals, free length,
#: shared neutrals, grounds, and that volume is no estimate by eye.
_CAUTIONS = ("C8", "C16", "C17", "C18", "C19", "C28", "C30")

#: Stands in for a box that is still to be chosen.
_ANY_BOX = {"volume_in3": "10000"}


@dataclass(slots=True)
class _Kind:
    """Boxes alike in all but their name: computed once, under a name of its own."""

    box: PlanBox
    proposal: Proposal
    cells: Mapping[str, Any]
    assumed: list[str]
    rows: list[dict[str, Any]]


def plan(
    reference: Reference,
    source: Any,
    edition: str | None = None,
    *,
    family: str | None = None,
    grip: str | None = None,
    carry: Carried | Path | str | None = None,
    listings: Listings | Path | str | None = None,
) -> Plan:
    """Plan boxes: joints, the class of each, the fill, the smallest standard box and the room.

    Args:
        reference: The open database.
        source: The path of a TOML plan, `-`, one mapping, or a list of mappings, one a box.
        edition: The code edition; by default nec-2023, and the answer says so.
        family: The family of the connectors, twist-on unless said.
        grip: `standard` or `wide`; both unless said.
        carry: What is carried (a CSV file): only that is chosen, and a joint that nothing carried takes
            says what is missing.
        listings: The user's own listings, where what is carried names some.

    Returns:
        A `Plan`: an answer for each box, the take-off of the job, and an ordinary schedule. Volumes
        by the code in in³ and cm³, the room estimate in cm³, lengths in mm.

    Raises:
        InputError: The plan or an option is wrong; file, line and value are named.

    Source: NEC 110.14(A), 250.148, 300.13(B), 300.14, 314.16; C22.1 12-3034; what a cable of a role
        holds is common practice.

    Example:
        >>> import jointable
        >>> box = {"enters": [{"role": "feed", "size": "12/2"}, {"role": "switched leg", "size": "12/2"}],
        ...        "device": [{"kind": "switch"}]}
        >>> answer = plan(jointable.open(), box).boxes[0]
        >>> [(j["joint"], j["text"]) for j in answer.joints]
        [('neutral', '2x12 AWG'), ('ground', '4x12 AWG')]
        >>> f"{answer.fill.required_in3:.2f}", answer.smallest_box["box"]
        ('15.75', '3 x 2 x 3-1/2 device')
    """
    chosen = known_edition(reference, edition)
    boxes = read_plan(reference, source)
    ranks = {
        row[0]: n for n, row in enumerate(reference.rows("SELECT size FROM conductor_size ORDER BY rank"))
    }
    tables = standard_boxes(reference, chosen)
    kinds = [_kind(box, tables, ranks) for box in _one_each(boxes)]
    filled = _filled(reference, kinds, chosen, tables, ranks)
    rows = [row for kind in kinds for row in kind.rows]
    through = {(k.box.name, j.name) for k in kinds for j in k.proposal.joints if j.through}
    limited = {k.box.name for k in kinds if k.box.power_limited}
    held = None if carry is None else load_carried(reference, carry, listings)
    classes = classes_of(reference, rows, through, family, grip, chosen, limited, held)
    free = advice_on(reference, {"free end", "always"}, chosen)
    estimated = rooms(reference, rows, chosen, family, grip) if len(kinds) <= MOST_ESTIMATED else {}
    length = _pigtail_mm(reference)
    cautions = tuple(
        {"id": c["id"], "text": c["text"], "clause": c["clause"]}
        for c in known(reference).cautions
        if c["id"] in _CAUTIONS
    )
    answers: dict[int, BoxPlan] = {}
    said = [] if edition is not None else [f"no edition was given: {chosen}"]
    said += _assumed(chosen, family or (held.families[0] if held else None), length, kinds)
    said += ["only what is carried is chosen"] if held else []
    for kind in kinds:
        name = kind.box.name
        mine = {j.name: classes[(name, j.name)] for j in kind.proposal.joints if (name, j.name) in classes}
        result = filled[name]
        answers[kind.box.kind] = BoxPlan(
            name,
            chosen,
            reference.data_version,
            kind.box,
            kind.proposal,
            mine,
            result,
            _smallest(kind.box, result, tables),
            estimated.get(name),
            take_off(kind.proposal, mine, length, kind.box.boxes),
            tuple(kind.rows),
            (*said, *kind.assumed),
            _with_own(result, cautions),
            merged(
                [
                    *(m["guidance"] for m in mine.values() if "guidance" in m),
                    *([free] if kind.proposal.free else []),
                ]
            ),
        )
    return Plan(tuple(answers[b.kind].named(b.name) for b in boxes), chosen, reference.data_version)


def _one_each(boxes: Sequence[PlanBox]) -> Iterable[PlanBox]:
    return {box.kind: box for box in reversed(boxes)}.values()


def _kind(box: PlanBox, tables: Sequence[StandardBox], ranks: dict[str, int]) -> _Kind:
    assumed = []
    cells = dict(box.cells)
    metal = box.metal
    if metal is None:
        metal = "volume_in3" not in cells and "volume_cm3" not in cells
        word = "metal, so it is bonded, NEC 250.148(C)" if metal else "not metal, so it is not bonded"
        assumed.append(f"the box is {word}")
    table = next((t for t in tables if t.name == cells.get("size")), None)
    if table is not None and table.per_gang and box.gangs > 1 and "quantity" not in cells:
        cells["quantity"] = str(sections(table, box.gangs))
        assumed.append(f"{cells['quantity']} sections of {table.name} are ganged")
    try:
        proposal = propose(box, ranks, metal)
    except InputError as error:
        # What a joint or a device names is known to be wrong only when the whole box is known.
        where = box.where
        raise where.error(error.column, error.value, error.message, error.expected or "") from None
    rows = rows_of(box, proposal, cells or _ANY_BOX, ranks)
    return _Kind(box, proposal, cells, assumed, rows)


def _filled(
    reference: Reference,
    kinds: Sequence[_Kind],
    edition: str,
    tables: Sequence[StandardBox],
    ranks: Mapping[str, int],
) -> dict[str, FillResult]:
    """One fill for all; boxes that were still to be chosen are chosen by it and filled once more."""
    out = {r.box: r for r in _fill(reference, kinds, edition)}
    open_ones = [k for k in kinds if not k.cells]
    for kind in open_ones:
        needed = out[kind.box.name].required_in3
        found = smallest(kind.box, needed, tables)
        if found is None:
            kind.cells = {"volume_in3": format(needed, "f")}
            kind.assumed.append(
                "no standard box that suits holds it: a box marked with what it needs, or more"
            )
        else:
            table, count = found
            kind.cells = {"size": table.name, "quantity": str(count)}
            kind.assumed.append("no box was given: the smallest standard box that suits; " + SUITS)
        kind.rows = rows_of(kind.box, kind.proposal, kind.cells, ranks)
    if open_ones:
        out |= {r.box: r for r in _fill(reference, open_ones, edition)}
    return out


def _fill(reference: Reference, kinds: Sequence[_Kind], edition: str) -> list[FillResult]:
    try:
        return fill(reference, [row for k in kinds for row in k.rows], edition)
    except InputError as error:
        raise _placed(error, kinds) from None


def _placed(error: InputError, kinds: Sequence[_Kind]) -> InputError:
    """An error about a row of the schedule, told at the line of the plan that it comes from."""
    number = (error.row or 1) - 1
    for kind in kinds:
        if number < len(kind.rows):
            first = len(kind.rows) - len(kind.box.items)
            where = kind.box.item_where[number - first] if number >= first else kind.box.where
            right = error.expected or "a row as `fill` takes it"
            return where.error(error.column, error.value, f"box {kind.box.name!r}: {error.message}", right)
        number -= len(kind.rows)
    return error


def _smallest(box: PlanBox, result: FillResult, tables: Sequence[StandardBox]) -> dict[str, Any] | None:
    found = smallest(box, result.required_in3, tables)
    if found is None:
        return None
    table, count = found
    volume = table.volume * count
    left = volume - result.required_in3
    return {"box": table.name, "sections": count, "available_in3": volume, "left_in3": left}


def _pigtail_mm(reference: Reference) -> Decimal:
    rows = reference.rows(
        "SELECT figure FROM room_parameter WHERE item = 'pigtail' AND parameter = 'length_mm'"
    )
    return Decimal(rows[0][0])


def _assumed(edition: str, family: str | None, length: Decimal, kinds: Sequence[_Kind]) -> list[str]:
    out = [
        "joints are proposed by common practice: what is connected to the same thing is joined",
        "a terminal takes one wire unless its marking says more, NEC 110.14(A)",
        f"a pigtail is cut {length.normalize():f} mm long; {PIGTAIL_CLAUSE}",
        f"every joint is in a {family or 'twist-on'} connector",
    ]
    if edition.startswith("cec"):
        out.append(
            "rules about terminals, pigtails and grounds are told by their NEC clause; ask your own code"
        )
    if len(kinds) > MOST_ESTIMATED:
        out.append(f"room is estimated for up to {MOST_ESTIMATED} different boxes at a time")
    return out


def _with_own(result: FillResult, cautions: Sequence[dict[str, str]]) -> tuple[dict[str, str], ...]:
    known_ids = {c["id"] for c in result.cautions}
    return (*result.cautions, *(c for c in cautions if c["id"] not in known_ids))
