"""Which connector classes take a joint: the answer that the macro gives, in the words people need."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.demands import FAMILIES, Demands, one_of, plain
from jointable.errors import InputError
from jointable.facts import Facts, facts_of, values_sql
from jointable.guidance import guidance_of
from jointable.joint_answer import Choice, JointAnswer, Refusal
from jointable.known import Known, known
from jointable.notation import Joint
from jointable.ranking import RANKS, ranked

if TYPE_CHECKING:
    from jointable.listings import Listings
    from jointable.reference import Reference
    from jointable.split import Split

__all__ = ["Choice", "Joint", "JointAnswer", "Refusal", "admitted", "choose"]

#: Columns of connector_class that decide, by what the family limits.
_LIMITS = {
    "twist-on": (
        "min_total_mm2",
        "max_total_mm2",
        "min_conductor_mm2",
        "max_conductor_mm2",
        "max_conductors",
    ),
    "crimped": ("min_total_mm2", "max_total_mm2", "min_conductor_mm2", "max_conductor_mm2", "max_conductors"),
    "clamp": ("min_conductor_mm2", "max_conductor_mm2", "max_conductors"),
    "tap": ("over_run_mm2", "max_conductor_mm2", "min_conductor_mm2"),
}

#: The name of the joint asked about, beside those of its neighbours.
AT_HAND = ""

_END_CAP = "one conductor: an end cap, not a joint"


def choose(
    reference: Reference,
    joint: Joint | str,
    *,
    family: str | None = None,
    grip: str | None = None,
    location: str | None = None,
    temperature_c: Any = None,
    material_mark: str | None = None,
    pass_through: bool = False,
    reopenable: bool = False,
    voltage: Any = None,
    listings: Listings | Path | str | None = None,
    rank: str = "room",
    edition: str | None = None,
) -> JointAnswer:
    """Which connector classes take a joint, and why the others do not.

    Args:
        reference: The open database.
        joint: The joint, or its notation.
        family: Only this family; else all, each ranked by itself.
        grip: `standard` or `wide`.
        location: `dry`, `damp`, `wet` or `burial`.
        temperature_c: Temperature at the joint in degrees Celsius.
        material_mark: `cu` or `al-cu`, the marking asked for.
        pass_through: Whether one grounding conductor goes on through.
        reopenable: Whether it must open again.
        voltage: Voltage of the circuit in V.
        listings: The user's own listings: loaded, or the path of their file; else the file that
            JOINTABLE_LISTINGS names, if any.
        rank: Order of the choices inside a family: `room`, `classes` (those that take most combinations
            first) or `margin` (the most central first).
        edition: The code edition whose clauses the electrical notes cite, nec-2023 unless said.

    Returns:
        Choices in the order asked for inside each family (areas in mm2, room in cm3), refusals with reasons,
        and a split where no class takes the joint.

    Raises:
        InputError: The joint or a demand is not known, or they contradict one another.

    Source: definition of the size classes (this project); IEC 60998-2-4, clause 1; NEC 2023, 110.14.

    Example:
        >>> import jointable
        >>> answer = choose(jointable.open(), "3x12", family="twist-on")
        >>> answer.choices[0].name, answer.facts.total_mm2
        ('twist-on 10', Decimal('9.926318628'))
    """
    made = Joint.parse(joint) if isinstance(joint, str) else joint
    demands = Demands.of(
        family=family,
        grip=grip,
        location=location,
        temperature_c=temperature_c,
        material_mark=material_mark,
        pass_through=pass_through,
        reopenable=reopenable,
        voltage=voltage,
    )
    demands = with_ends(made, demands)
    order = one_of(rank, tuple(RANKS), "rank") or "room"
    facts = facts_of(reference, made)
    table = known(reference)
    cautions = _cautions(table, facts, demands)
    version = reference.data_version
    if made.count == 1:
        lines = guidance_of(reference, facts, demands, (), edition)
        assumed = _assumed(facts, demands, table)
        return JointAnswer(made, facts, version, (), (), None, _END_CAP, assumed, cautions, lines)
    rows = admitted(reference, facts, demands)
    notes = _notes(facts, table)
    choices = tuple(_choice(row, facts, demands, table, notes) for row in rows if row["admitted"])
    refused = tuple(_refusal(row) for row in rows if not row["admitted"])
    choices = ranked(reference, choices, order)
    choices, refused = _listed(reference, facts, demands, listings, choices, refused)
    split, reason = _split(reference, made, facts, demands, choices)
    return JointAnswer(
        made,
        facts,
        version,
        choices,
        refused,
        split,
        reason,
        (*_assumed(facts, demands, table), *((f"order: {RANKS[order]}",) if order != "room" else ())),
        cautions,
        _guidance(reference, facts, demands, choices, split, edition),
        rows=tuple(rows),
    )


def _guidance(
    reference: Reference,
    facts: Facts,
    demands: Demands,
    choices: Iterable[Choice],
    split: Split | None,
    edition: str | None,
) -> dict[str, list[dict[str, Any]]]:
    """The lines for the families that may take the joint, and what the packages of listed ones state."""
    families = [c.family for c in choices if c.family] + [
        c.family for c in (split.connectors if split else ())
    ]
    out = guidance_of(reference, facts, demands, families, edition)
    stated = [
        {
            "line": "21 strip listed",
            "kind": "strip",
            "text": f"{c.listing['connector']}: strip {c.listing['strip_mm']} mm",
            "clause": f"your listings, row {c.listing['row']}",
            "caution": "C2",
            "provenance": [],
        }
        for c in choices
        if c.listing and c.listing.get("strip_mm") is not None
    ]
    if stated:
        place = next((n for n, line in enumerate(out["make_up"]) if line["line"] > "21"), 0)
        out["make_up"][place:place] = stated
    return out


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
    return Demands(
        "crimped butt",
        demands.grip,
        demands.location,
        demands.temperature_c,
        demands.material_mark,
        demands.pass_through,
        demands.reopenable,
        demands.voltage,
    )


def admitted(reference: Reference, facts: Facts, demands: Demands) -> list[dict[str, Any]]:
    """What the one macro of admission says of a joint, in order of family and rank."""
    table = known(reference)
    near = facts.neighbours()
    question = question_of({AT_HAND: facts} | near, as_it_decides(demands, table))
    rows = table.answers.get(question)
    if rows is None:
        rows = with_near_misses(whole_rows(reference, question), near)
        table.keep(question, rows)
    return rows


def as_it_decides(demands: Demands, table: Known) -> Demands:
    """The demands without a voltage that every family is marked for, so that equal questions are one."""
    least = min(family["greatest_voltage_v"] for family in table.families.values())
    within = demands.voltage is not None and demands.voltage <= least
    return replace(demands, voltage=None) if within else demands


#: What the macro of admission says of a joint in a class, and what it repeats of the class each time.
_SAID = "c.joint, c.class, c.admitted, c.margin, c.reason"
_REPEATED = "c.class, c.family, c.size, c.ways, c.grip, c.variant, c.total_min_mm2, c.total_max_mm2, c.room_cm3, c.rank"


def question_of(
    joints: Mapping[str, Facts], demands: Demands, at_hand: str = f"c.joint = '{AT_HAND}'"
) -> str:
    """The statement that asks the macro about joints: all rows of those at hand, what the others are admitted to."""
    return (
        f"WITH joint_at_hand AS ({values_sql(joints)}) "
        f"SELECT {_SAID} FROM classes_of_facts('joint_at_hand'{demands.sql()}) c WHERE {at_hand} OR c.admitted"
    )


def whole_rows(reference: Reference, question: str) -> list[dict[str, Any]]:
    """The rows that answer `question_of`, each with what its class repeats.

    A joint meets hundreds of classes, and fetching their figures anew takes longer than deciding.
    """
    table = known(reference)
    rows = reference.records(question)
    if any(row["class"] not in table.classes for row in rows):
        repeated = reference.records(question.replace(f"SELECT {_SAID} ", f"SELECT DISTINCT {_REPEATED} ", 1))
        table.classes.update((row["class"], row) for row in repeated)
    return [{**table.classes[row["class"]], **row} for row in rows]


def with_near_misses(found: list[dict[str, Any]], near: Iterable[str]) -> list[dict[str, Any]]:
    """The rows of the joint at hand in order, each with the change that would make the class fit."""
    rows = [r for r in found if r["joint"] == AT_HAND]
    rows.sort(key=lambda r: (FAMILIES.index(r["family"]), r["rank"]))
    fits: dict[str, set[str]] = {c: set() for c in near}
    for row in found:
        if row["joint"] in fits:
            fits[row["joint"]].add(row["class"])
    for row in rows:
        row["near_miss"] = next((f"{c} it would fit" for c in fits if row["class"] in fits[c]), None)
    return rows


def _choice(
    row: dict[str, Any], facts: Facts, demands: Demands, table: Known, notes: dict[str, tuple[str, ...]]
) -> Choice:
    family = table.families[row["family"]]
    name = row["class"]
    own = list(notes.get(row["family"], ()))
    if family["insulated"].startswith("no"):
        own.append("uninsulated: a live joint needs an insulating cover, NEC 110.14(B)")
    return Choice(
        name,
        row["family"],
        row["size"],
        row["ways"],
        row["grip"],
        row["variant"],
        row["total_min_mm2"],
        row["total_max_mm2"],
        row["margin"],
        row["room_cm3"],
        tuple(_requires(facts, demands, family)),
        tuple(own),
        _reasons(row, facts),
        None,
        tuple(f"connector_class/{name}/{column}" for column in _LIMITS[family["series"]]),
    )


def _requires(facts: Facts, demands: Demands, family: Mapping[str, Any]) -> list[str]:
    out = demands.marks()
    if facts.aluminium or facts.metals > 1 or demands.material_mark == "al-cu":
        out.append("marked AL-CU")
    if facts.copper_clad:
        out.append("identified for copper-clad aluminium")
    for made in ("solid", "stranded", "flexible"):
        if getattr(facts, made) and family[made] == "if so marked":
            out.append(f"identified for {made} conductors")
    if demands.reopenable and family["reopenable"] != "yes":
        out.append("instructions that let it be opened and used again")
    return out


def _reasons(row: dict[str, Any], facts: Facts) -> tuple[str, ...]:
    """Why the class takes the joint."""
    if row["total_min_mm2"] is not None:
        least, most = plain(row["total_min_mm2"]), plain(row["total_max_mm2"])
        return (f"total {_short(facts.total_mm2)} mm² lies in {least} to {most} mm²",)
    if row["ways"] is not None:
        spare = row["ways"] - facts.conductors
        left = "" if not spare else f", {spare} way{'s' if spare > 1 else ''} to spare"
        return (f"each conductor lies in the range of a way{left}",)
    if row["family"] == "crimped butt":
        return ("each end lies in the range of the barrel",)
    return (f"run {facts.widest_size} and tap {facts.narrowest_size} lie in its ranges",)


def _refusal(row: dict[str, Any]) -> Refusal:
    return Refusal(
        row["class"], row["family"], row["size"], row["ways"], row["grip"], row["reason"], row["near_miss"]
    )


def _notes(facts: Facts, table: Known) -> dict[str, tuple[str, ...]]:
    """What to mind in the families that hold a bundle; none of it refuses a joint."""
    bundle: list[str] = [
        f"{size} is hidden by the others: lay the thin one outside" for size in facts.hidden()
    ]
    if facts.widest_mm2 > table.noted_ratio * facts.narrowest_mm2:
        ratio = facts.widest_mm2 / facts.narrowest_mm2
        bundle.append(
            f"widest to narrowest area is {ratio:.1f}, over {plain(table.noted_ratio)}: {facts.widest_size} beside {facts.narrowest_size}"
        )
    thin = [c.size for c in facts.conductors_listed if c.area_mm2 < table.noted_mm2]
    outside = [
        f"{size} is under {plain(table.noted_mm2)} mm², outside IEC 60998-2-4" for size in dict.fromkeys(thin)
    ]
    return {
        "twist-on": (*bundle, *outside),
        "crimped closed end": tuple(bundle),
        "crimped pigtail": tuple(bundle),
    }


def _listed(
    reference: Reference,
    facts: Facts,
    demands: Demands,
    listings: Listings | Path | str | None,
    choices: tuple[Choice, ...],
    refused: tuple[Refusal, ...],
) -> tuple[tuple[Choice, ...], tuple[Refusal, ...]]:
    """Put what the user's own listings say before the classes."""
    if listings is None and not os.environ.get("JOINTABLE_LISTINGS"):
        return choices, refused
    from jointable.listings import answer_from, default_listings, load_listings

    listings = listings or default_listings() or ""
    loaded = load_listings(listings, reference) if isinstance(listings, (str, Path)) else listings
    listed, unlisted = answer_from(loaded, facts, demands, outside=not choices)
    return (*listed, *choices), (*unlisted, *refused)


def _split(
    reference: Reference, joint: Joint, facts: Facts, demands: Demands, choices: Iterable[Choice]
) -> tuple[Split | None, str | None]:
    from jointable.split import split_of

    family = demands.family or "twist-on"
    if any(c.family == family or c.listing for c in choices):
        return None, f"one {family} connector takes the joint" if any(
            c.family == family for c in choices
        ) else "a listing takes the joint"
    return split_of(reference, joint, facts, demands, family)


def _assumed(facts: Facts, demands: Demands, table: Known) -> tuple[str, ...]:
    out = list(facts.assumed)
    if demands.location is None:
        out.append("the location is dry")
    if demands.temperature_c is not None and demands.temperature_c <= table.general_degc:
        out.append(
            f"{table.general_degc} °C is the usual rating by common practice; a connector without a marking has no known rating"
        )
    if facts.solid_aluminium:
        out.append("solid aluminium is taken as existing branch wiring")
    if demands.family is None:
        out.append("families stand side by side: room is our estimate and ranks classes only inside a family")
    return tuple(out)


def _cautions(table: Known, facts: Facts, demands: Demands) -> tuple[dict[str, Any], ...]:
    holds = {
        "always": True,
        "mixed metals": facts.metals > 1,
        "aluminium": facts.aluminium,
        "flexible": facts.flexible,
        "burial": demands.location == "burial",
        "damp or wet": demands.location in ("damp", "wet", "burial"),
        "free end": facts.conductors == 1,
    }
    return tuple(
        {"id": c["id"], "text": c["text"], "clause": c["clause"]}
        for c in table.cautions
        if holds.get(c["shown_when"])
    )


def _short(area: Decimal) -> str:
    """An area for reading, at two decimals at most."""
    return plain(area.quantize(Decimal("0.01")))
