"""Which connector classes take a joint: the answer that the macro gives, in the words people need."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.admission import admitted, with_ends
from jointable.demands import Demands, one_of, plain
from jointable.facts import Facts, facts_of
from jointable.guidance import guidance_of
from jointable.joint_answer import Choice, JointAnswer, Refusal
from jointable.known import Known, known
from jointable.notation import Joint
from jointable.ranking import RANKS, ranked

if TYPE_CHECKING:
    from jointable.listings import Listings
    from jointable.reference import Reference
    from jointable.split import Split

__all__ = ["Choice", "Joint", "JointAnswer", "Refusal", "choose"]

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
    choices = _choices((row for row in rows if row["admitted"]), facts, demands, table)
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


def _choices(
    rows: Iterable[dict[str, Any]], facts: Facts, demands: Demands, table: Known
) -> tuple[Choice, ...]:
    """The classes that take the joint; what is alike in a family is told once and stands by each."""
    notes = _notes(facts, table)
    alike: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {}
    out = []
    for row in rows:
        name = row["family"]
        family = table.families[name]
        if name not in alike:
            own = notes.get(name, ())
            if family["insulated"].startswith("no"):
                own += ("uninsulated: a live joint needs an insulating cover, NEC 110.14(B)",)
            alike[name] = tuple(_requires(facts, demands, family)), own
        out.append(
            Choice(
                row["class"],
                name,
                row["size"],
                row["ways"],
                row["grip"],
                row["variant"],
                row["total_min_mm2"],
                row["total_max_mm2"],
                row["margin"],
                row["room_cm3"],
                *alike[name],
                _reasons(row, facts),
                None,
                _cells(row["class"], family["series"]),
            )
        )
    return tuple(out)


@lru_cache(maxsize=1024)
def _cells(name: str, series: str) -> tuple[str, ...]:
    """The values that decide for a class, as `trace` takes them."""
    return tuple(f"connector_class/{name}/{column}" for column in _LIMITS[series])


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
