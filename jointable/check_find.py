"""What is wrong with one opened joint: each test names its finding, whose words are rows of a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.admission import admitted
from jointable.check_form import OpenedJoint
from jointable.demands import Demands, plain
from jointable.facts import Facts, facts_of
from jointable.geometry import area_mm2
from jointable.known import known
from jointable.listings import Listings, answer_from
from jointable.notation import Joint

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Place", "found_in"]

#: (name of the finding, figures that decided)
Said = tuple[str, str | None]


@dataclass(frozen=True, slots=True)
class Place:
    """The connector in place: a class of the table, listings of the user, or nothing known."""

    row: dict[str, Any] | None
    listings: Listings | None
    reopenable: str | None

    @property
    def variant(self) -> str | None:
        """Its variant, where its class is known."""
        return str(self.row["variant"]) if self.row else None


def found_in(
    reference: Reference, joint: OpenedJoint, place: Place, least_mm: Decimal, reach_mm: Decimal
) -> dict[str, list[Said]]:
    """What is wrong with a joint as found, after the change, and either way.

    Args:
        reference: The open database.
        joint: The joint.
        place: The connector in place.
        least_mm: The least free conductor of the edition [mm].
        reach_mm: How far it must come out of a small opening [mm].

    Returns:
        Findings under `as found`, `after the change` and `both`.

    Source: table `finding`.
    """
    before = list(_of_mix(reference, joint, joint.before, place))
    after = list(_of_mix(reference, joint, joint.after, place)) if joint.changed else before
    # A new connector is still to be chosen, so nothing of the old one is wrong with it.
    if joint.changed and joint.new:
        after = [s for s in after if s[0] in ("old aluminium", "one conductor left")]
    both = [s for s in after if s in before]
    either = [
        *(_of_place(joint, place) if not (joint.changed and joint.new) else ()),
        *_of_wiring(joint),
        *_of_length(joint, least_mm, reach_mm),
    ]
    return {
        "as found": [s for s in before if s not in both],
        "after the change": [*(s for s in after if s not in both), *_reused(joint, place)],
        "both": [*both, *either],
    }


def _of_mix(reference: Reference, joint: OpenedJoint, mix: Joint | None, place: Place) -> Iterator[Said]:
    """What the conductors themselves make wrong."""
    if mix is None:
        return
    facts = facts_of(reference, mix, bundle=False)
    if facts.solid_aluminium:
        yield "old aluminium", str(mix)
    if facts.conductors == 1:
        yield "one conductor left", str(mix)
        return
    marked = joint.marked_material == "al-cu" or place.variant == "copper-aluminium"
    if facts.metals > 1 and not marked:
        yield "mixed metals", str(mix)
    elif facts.aluminium and not marked:
        yield "aluminium not marked", str(mix)
    if place.row is not None:
        yield from _of_class(reference, mix, place.row)
    elif place.listings is not None:
        yield from _of_listing(facts, mix, place.listings)


def _of_class(reference: Reference, mix: Joint, row: dict[str, Any]) -> Iterator[Said]:
    """Size alone: the metals were looked at above, so the mix is asked about as copper."""
    copper = Joint.of([replace(t, material="copper") for t in mix.conductors])
    facts = facts_of(reference, copper, bundle=False)
    rows = admitted(reference, facts, Demands(family=row["family"]))
    same = ("size", "ways", "grip")
    one = next((r for r in rows if all(r[n] == row[n] for n in same)), None)
    if one is None or one["admitted"]:
        return
    reason = str(one["reason"])
    if " above the " in reason and "not above" not in reason:
        yield "too many", reason
    elif " below the " in reason:
        yield "too few", reason
    else:
        yield "conductor out of range", reason


def _of_listing(facts: Facts, mix: Joint, listings: Listings) -> Iterator[Said]:
    choices, refused = answer_from(listings, facts, Demands(), outside=False)
    if not choices and not facts.solid_aluminium:
        why = refused[0].reason if refused else "not printed on the package"
        yield "not printed", f"{mix}: {why}"


def _of_place(joint: OpenedJoint, place: Place) -> Iterator[Said]:
    """Whether the connector suits where it is: water, soil, heat and voltage."""
    location, marked = joint.location, joint.marked_location
    if location == "burial" and marked != "burial":
        yield "buried", None
    elif location in ("damp", "wet") and place.variant != "sealed":
        fits = ("damp", "wet", "burial") if location == "damp" else ("wet", "burial")
        if marked not in fits:
            yield "damp or wet place", f"{location} location"
    yield from _of_heat(joint, place)
    if (
        joint.voltage is not None
        and joint.marked_voltage is not None
        and joint.marked_voltage < joint.voltage
    ):
        yield "voltage", f"{plain(joint.marked_voltage)} V marked, {plain(joint.voltage)} V circuit"
    if place.row is None and place.listings is None and joint.covered:
        yield "class not known", None


def _of_heat(joint: OpenedJoint, place: Place) -> Iterator[Said]:
    degrees, marked = joint.temperature_c, joint.marked_temperature_c
    if degrees is None:
        return
    if marked is not None:
        if marked < degrees:
            yield "hot place", f"{plain(degrees)} °C at the joint, {plain(marked)} °C marked"
        return
    usual = Decimal(place.row["planned_degc"]) if place.row else None
    if usual is not None and degrees > usual:
        yield "hot place", f"{plain(degrees)} °C at the joint, {plain(usual)} °C the class is planned for"
    else:
        yield "temperature not marked", f"{plain(degrees)} °C at the joint"


def _of_wiring(joint: OpenedJoint) -> Iterator[Said]:
    if joint.through_device and joint.kind == "ground":
        yield "grounding through a device", None
    if joint.through_device and joint.kind == "neutral" and joint.multiwire:
        yield "neutral through a device", None
    if len(joint.circuits) > 1 and joint.kind != "ground":
        yield "circuits mixed", ", ".join(joint.circuits)
    if not joint.covered and joint.kind != "ground":
        yield "uncovered", None
    if joint.bare and joint.kind != "ground":
        yield "bare conductor", None


def _of_length(joint: OpenedJoint, least_mm: Decimal, reach_mm: Decimal) -> Iterator[Said]:
    if joint.free_mm is not None and joint.free_mm < least_mm:
        yield "free conductor short", f"{plain(joint.free_mm)} mm of {plain(least_mm)} mm"
    if joint.reach_mm is not None and joint.reach_mm < reach_mm:
        yield "free conductor inside", f"{plain(joint.reach_mm)} mm of {plain(reach_mm)} mm"


def _reused(joint: OpenedJoint, place: Place) -> Iterator[Said]:
    """A connector that is opened for the change, or was in use before, and closed again."""
    opened = joint.changed and not joint.new and joint.after is not None
    if not (opened or joint.reused) or (joint.after is not None and joint.after.count == 1):
        return
    if place.reopenable == "no":
        yield "re-used crimp", None
    elif place.reopenable == "yes":
        return
    elif place.row is not None and place.row["family"] == "twist-on" and opened and _less(joint):
        yield "re-used on less", f"{joint.before} becomes {joint.after}"
    else:
        yield "re-used", None


def _less(joint: OpenedJoint) -> bool:
    """Whether what is in it now is fewer conductors, less metal, or a smaller one in place of another."""
    after = joint.after
    if after is None:
        return False
    kept = {replace(t, count=0): t.count for t in after.conductors}
    gone = any(kept.get(replace(t, count=0), 0) < t.count for t in joint.before.conductors)
    total = [sum(t.count * area_mm2(t.size) for t in j.conductors) for j in (joint.before, after)]
    thinner = min(area_mm2(t.size) for t in after.conductors) < min(
        area_mm2(t.size) for t in joint.before.conductors
    )
    return after.count < joint.before.count or total[1] < total[0] or (gone and thinner)


def class_row(reference: Reference, name: str) -> dict[str, Any] | None:
    """The class of that name with what its variant is planned for; None where there is none."""
    rows = reference.records(
        "SELECT c.class, c.family, c.size, c.ways, c.grip, c.variant, v.planned_degc FROM connector_class c "
        "JOIN connector_variant v ON v.variant = c.variant WHERE lower(c.class) = ?",
        [" ".join(name.split()).lower()],
    )
    return rows[0] if rows else None


def place_of(reference: Reference, joint: OpenedJoint, listings: Listings | None) -> Place:
    """The connector in place.

    Raises:
        InputError: The class or the listing that is named is not there.
    """
    if joint.class_name is not None:
        row = class_row(reference, joint.class_name)
        if row is None:
            raise joint.where.error(
                "class", joint.class_name, "no such class", "such as twist-on 16 or screwless lever 2.5 x3"
            )
        return Place(row, None, str(known(reference).families[row["family"]]["reopenable"]))
    if joint.listing is not None:
        rows = tuple(r for r in listings.rows if r.connector == joint.listing) if listings else ()
        if not rows or listings is None:
            right = "a connector of the listings file" if listings else "a listings file beside it"
            raise joint.where.error("listing", joint.listing, "no such listing", right)
        return Place(None, Listings(listings.name, rows), None)
    return Place(None, None, None)
