"""What is here already, and what it becomes: an opened joint or box, looked at as found and after a change."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.check_answer import BoxCheck, Check, Finding
from jointable.check_find import Place, found_in, place_of
from jointable.check_form import OpenedBox, OpenedJoint, box_of
from jointable.errors import InputError
from jointable.fill import fill, known_edition
from jointable.fill_result import FillResult
from jointable.guidance import advice_on, merged
from jointable.joint import choose
from jointable.known import known
from jointable.listings import Listings, default_listings, load_listings
from jointable.notation import Joint
from jointable.plan_read import tables_of
from jointable.plan_where import NOWHERE

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["check"]

#: Cautions of an opened box beside those of its fill.
_CAUTIONS = ("C1", "C2", "C3", "C4", "C26", "C28", "C30")
_SERIOUS = ("stop", "wrong", "mind")


def check(
    reference: Reference,
    source: Any,
    edition: str | None = None,
    *,
    listings: Listings | Path | str | None = None,
) -> Check:
    """Look at opened boxes or one joint, as found and as they become.

    Args:
        reference: The open database.
        source: The path of a TOML file, `-`, a mapping or a list of mappings, one a box; or
            `{"joint": [{"conductors": "3x12", "class": "twist-on 10", "add": "1x12"}]}`.
        edition: The code edition; nec-2023 unless said.
        listings: The user's own listings, where a joint names one.

    Returns:
        A `Check`: for each box findings, the most serious first, each joint with the class that it
        needs after the change, and the fill [in³, cm³] before and after.

    Raises:
        InputError: A key or value is wrong; file, line and value are named.

    Source: NEC 110.3(B), 110.14, 250.148(B), 300.5(E), 300.13(B), 300.14, 314.16; CPSC publication
        516; re-use of connectors is common practice.

    Example:
        >>> import jointable
        >>> joint = {"name": "neutral", "conductors": "3x12", "class": "twist-on 10", "add": "1x12"}
        >>> [f.finding for f in check(jointable.open(), {"joint": [joint]}).boxes[0].findings][:2]
        ['too many', 're-used']
    """
    chosen = known_edition(reference, edition)
    boxes = _boxes(source)
    loaded = _loaded(reference, listings)
    said = [] if edition is not None else [f"no edition was given: {chosen}"]
    code = chosen if chosen.startswith("nec") else "nec-2023"
    if code != chosen:
        said.append("findings are told by their NEC clause; ask your own code")
    after = _fill(reference, boxes, chosen, changed=True)
    before = _fill(reference, boxes, chosen, changed=False)
    words = _Words(reference, code)
    answers = [
        _box(reference, box, chosen, words, loaded, before.get(box.name), after.get(box.name), said)
        for box in boxes
    ]
    return Check(tuple(answers), chosen, reference.data_version)


def _boxes(source: Any) -> list[OpenedBox]:
    boxes = [
        box_of(table, where, f"box {n}", _alone(table))
        for n, (table, where) in enumerate(tables_of(source, "check"), 1)
    ]
    names = [b.name for b in boxes]
    for box in boxes:
        if names.count(box.name) > 1:
            raise box.where.error(
                "name", box.name, "the name stands twice", "each box with a name of its own"
            )
    if not boxes:
        raise InputError("nothing to look at", expected="a box with [[joint]]")
    return boxes


def _alone(table: Any) -> bool:
    """A joint without any word on the box is asked about alone."""
    return isinstance(table, Mapping) and not (
        table.keys() & {"name", "size", "volume_in3", "volume_cm3", "item"}
    )


def _loaded(reference: Reference, listings: Listings | Path | str | None) -> Listings | None:
    given = listings if listings is not None else default_listings()
    return load_listings(given, reference) if isinstance(given, (str, Path)) else given


class _Words:
    """The rows of `finding` that an edition has, and the lengths of 300.14."""

    def __init__(self, reference: Reference, edition: str) -> None:
        self.rows = {
            r["finding"]: r
            for r in reference.records("SELECT * FROM finding ORDER BY edition_from")
            if r["edition_from"] <= edition and (r["edition_to"] is None or edition <= r["edition_to"])
        }
        lengths = dict(
            reference.rows(
                "SELECT rule, limit_mm FROM box_limit WHERE edition = ? AND clause = '300.14'", [edition]
            )
        )
        self.free_mm: Decimal = lengths["free_length"]
        self.reach_mm: Decimal = lengths["free_length_outside"]

    def finding(self, name: str, joint: str | None, when: str, detail: str | None) -> Finding:
        """A finding in the words of the table."""
        row = self.rows[name]
        key = f"finding/{name},{row['edition_from']}/what"
        return Finding(
            name,
            joint,
            when,
            row["severity"],
            row["what"],
            row["why"],
            row["action"],
            row["clause"],
            detail,
            key,
        )


def _box(
    reference: Reference,
    box: OpenedBox,
    edition: str,
    words: _Words,
    listings: Listings | None,
    before: FillResult | None,
    after: FillResult | None,
    said: list[str],
) -> BoxCheck:
    findings: list[Finding] = []
    told: list[dict[str, Any]] = []
    lines: list[dict[str, list[dict[str, Any]]]] = []
    assumed = list(said)
    for joint in box.joints:
        place = place_of(reference, joint, listings)
        found = found_in(reference, joint, place, words.free_mm, words.reach_mm)
        findings += [words.finding(n, joint.name, when, d) for when, list_ in found.items() for n, d in list_]
        becomes, advice = _becomes(reference, joint, place, edition)
        told.append(becomes)
        lines.append(advice)
        if joint.guessed:
            assumed.append(f"{joint.name}: a {joint.kind} joint, by its name")
    findings += _of_box(words, box, before, after)
    findings.sort(key=lambda f: _SERIOUS.index(f.severity))
    own = [c for c in known(reference).cautions if c["id"] in _CAUTIONS]
    cautions = {c["id"]: {n: c[n] for n in ("id", "text", "clause")} for c in own}
    for result in (after,) if after else ():
        cautions |= {c["id"]: c for c in result.cautions}
        assumed += result.assumptions if not isinstance(result.assumptions, str) else []
    return BoxCheck(
        box.name,
        box.title,
        edition,
        tuple(told),
        tuple(findings),
        after,
        before,
        tuple(dict.fromkeys(a if isinstance(a, str) else a["text"] for a in assumed)),
        tuple(cautions.values()),
        merged(lines),
    )


def _of_box(
    words: _Words, box: OpenedBox, before: FillResult | None, after: FillResult | None
) -> Iterable[Finding]:
    if after is None or before is None:
        if not box.alone:
            yield words.finding("volume not known", None, "both", None)
        return
    over = [r is not None and r.passes is False for r in (before, after)]
    if any(over):
        result = after if over[1] else before
        when = "both" if all(over) else "after the change" if over[1] else "as found"
        detail = f"needs {result.required_in3.normalize():f} in³, has {result.available_in3} in³"
        yield words.finding("overfull", None, when, detail)


def _becomes(
    reference: Reference, joint: OpenedJoint, place: Place, edition: str
) -> tuple[dict[str, Any], dict[str, list[dict[str, Any]]]]:
    """What the joint is after the change, and the smallest class that takes it then."""
    family = place.row["family"] if place.row else "twist-on"
    out: dict[str, Any] = {
        "joint": joint.name,
        "kind": joint.kind,
        "in": joint.class_name or joint.listing,
        "before": str(joint.before),
        "after": str(joint.after) if joint.after else None,
        "needs": None,
        "room_cm3": None,
        "requires": [],
        "reason": None,
        "split": None,
    }
    if joint.after is None:
        return out | {"reason": "nothing is left in it"}, advice_on(reference, {"always"}, edition)
    if (joint.after.has_ends and family != "crimped butt") or (
        not joint.after.has_ends and family == "crimped butt"
    ):
        # How the conductors lie is not said as this family asks for it.
        family = "crimped butt" if joint.after.has_ends else "twist-on"
    answer = choose(
        reference,
        joint.after,
        family=family,
        location=joint.location,
        temperature_c=joint.temperature_c,
        voltage=joint.voltage,
        edition=edition,
    )
    best = next((c for c in answer.choices if c.name), None)
    if best is not None:
        out |= {"needs": best.name, "room_cm3": best.room_cm3, "requires": list(best.requires)}
    else:
        out |= {"reason": answer.split_reason, "split": answer.split.to_dict() if answer.split else None}
    return out, answer.guidance


def _fill(
    reference: Reference, boxes: Iterable[OpenedBox], edition: str, *, changed: bool
) -> dict[str, FillResult]:
    """The fill of the boxes whose size or volume is known."""
    rows: list[dict[str, Any]] = []
    places: list[Any] = []
    for box in boxes:
        if not box.cells.keys() & {"size", "volume_in3", "volume_cm3"}:
            continue
        mine = [{"box": box.name, "item": "box", **box.cells}]
        mine += [{"box": box.name, **item} for item, _ in box.items]
        joint_rows = [r for joint in box.joints for r in _rows(box, joint, changed)]
        rows += [*mine, *joint_rows]
        places += [box.where, *(w for _, w in box.items), *(box.where for _ in joint_rows)]
    if not rows:
        return {}
    try:
        return {r.box: r for r in fill(reference, rows, edition)}
    except InputError as error:
        number = (error.row or 1) - 1
        where = places[number] if number < len(places) else NOWHERE
        raise where.error(
            error.column, error.value, error.message, error.expected or "a row as `fill` takes it"
        ) from None


def _rows(box: OpenedBox, joint: OpenedJoint, changed: bool) -> Iterable[dict[str, Any]]:
    """The conductors of a joint as rows of a schedule; its pigtails begin in the box."""
    mix = joint.after if changed else joint.before
    if mix is None:
        return
    left = _counted(joint.pigtails) if joint.pigtails else {}
    for term in mix.conductors:
        kind = (term.size, term.construction, term.material)
        inside = min(term.count, left.get(kind, 0))
        left[kind] = left.get(kind, 0) - inside
        item = "grounding" if joint.kind == "ground" else "conductor"
        for name, count in ((item, term.count - inside), ("pigtail", inside)):
            if count:
                yield {
                    "box": box.name,
                    "item": name,
                    "size": term.size,
                    "quantity": str(count),
                    "construction": term.construction,
                    "material": term.material,
                }


def _counted(joint: Joint) -> dict[tuple[str, str, str], int]:
    return {(t.size, t.construction, t.material): t.count for t in joint.conductors}
