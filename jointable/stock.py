"""What to put on the truck: the fewest size classes that serve every joint of a schedule."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.buying import Buying, buying, with_spare
from jointable.carry import Carried, load_carried
from jointable.cover import trade_off
from jointable.demands import Demands
from jointable.errors import InputError
from jointable.facts import facts_sql
from jointable.guidance import advice_on
from jointable.joint_kinds import Kind, admit, kinds_of
from jointable.known import known
from jointable.schedule_joints import ScheduleJoint, joints_of
from jointable.split import split_of
from jointable.stock_listed import offered_listings

if TYPE_CHECKING:
    from jointable.listings import Listings
    from jointable.reference import Reference

__all__ = ["CurvePoint", "Stock", "StockClass", "Unserved", "stock"]


@dataclass(frozen=True, slots=True)
class StockClass:
    """A class to stock: how many joints go in it, and how many to carry."""

    name: str
    family: str
    size: Decimal | None
    ways: int | None
    grip: str | None
    variant: str
    joints: int
    quantity: int

    def to_dict(self) -> dict[str, Any]:
        """The class as `--json` prints it."""
        return {"class": self.name} | {n: getattr(self, n) for n in self.__slots__ if n != "name"}


@dataclass(frozen=True, slots=True)
class Unserved:
    """A joint that no class takes."""

    box: str
    joint: str
    reason: str

    def to_dict(self) -> dict[str, Any]:
        """The joint as `--json` prints it."""
        return {"box": self.box, "joint": self.joint, "reason": self.reason}


@dataclass(frozen=True, slots=True)
class CurvePoint:
    """So many classes, the least room (cm3) that all joints then take, and which classes these are."""

    classes: int
    room_cm3: Decimal
    names: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """The point as `--json` prints it."""
        return {"classes": self.classes, "room_cm3": self.room_cm3, "names": list(self.names)}


@dataclass(frozen=True, slots=True)
class Stock:
    """What to stock for a schedule."""

    classes: tuple[StockClass, ...]
    unserved: tuple[Unserved, ...]
    curve: tuple[CurvePoint, ...]
    served: tuple[tuple[str, str, str], ...]
    warnings: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, Any], ...]
    data_version: str
    buying: Buying | None = None
    #: Lines of advice where aluminium enters.
    aluminium: list[dict[str, Any]] = field(default_factory=list)

    def to_dict(self) -> dict[str, Any]:
        """The answer as `--json` prints it; room in cm3."""
        priced = {} if self.buying is None else {"buying": self.buying.to_dict()}
        return {
            "data_version": self.data_version,
            "classes": [c.to_dict() for c in self.classes],
            "unserved": [u.to_dict() for u in self.unserved],
            "curve": [p.to_dict() for p in self.curve],
            "served": [{"box": b, "joint": j, "class": c} for b, j, c in self.served],
            "warnings": list(self.warnings),
            "assumptions": list(self.assumptions),
            "cautions": [dict(c) for c in self.cautions],
            **({"aluminium": self.aluminium} if self.aluminium else {}),
            **priced,
        }


def stock(
    reference: Reference,
    schedule: Any,
    *,
    family: str | None = None,
    grip: str | None = None,
    spare_percent: Any = 0,
    carry: Carried | Path | str | None = None,
    listings: Listings | Path | str | None = None,
    prices: Path | str | None = None,
) -> Stock:
    """The fewest classes of one family that serve every joint of a schedule.

    Args:
        reference: The open database.
        schedule: A schedule as `read_schedule` takes it; rows of one box with equal `joint` are a joint.
        family: The family, twist-on unless said.
        grip: `standard` or `wide`; both unless said.
        spare_percent: Spare allowance in per cent, 0 or more.
        carry: What is carried: only that is chosen, and `unserved` says what is missing.
        listings: The user's own listings, where what is carried or priced names some.
        prices: A file of the user's own prices, as `load_prices` takes it.

    Returns:
        The classes with quantities, of the sets of fewest classes the one of least room (cm3); the
        joints that no class takes; and the least room for each greater number of classes.

    Raises:
        InputError: The schedule or an option is wrong.

    Source: definition of the size classes (this project); set cover and p-median, solved exactly.

    Example:
        >>> import jointable
        >>> rows = [{"item": "conductor", "size": 12, "quantity": 3, "joint": "neutral"}]
        >>> [(c.name, c.quantity) for c in stock(jointable.open(), rows, spare_percent=50).classes]
        [('twist-on 10', 2)]
    """
    held = None if carry is None else load_carried(reference, carry, listings)
    usual = "twist-on" if held is None else held.families[0]
    demands = replace(Demands.of(family=family or usual, grip=grip), carried=held)
    spare = _spare(spare_percent)
    joints = joints_of(schedule)
    kinds = kinds_of(reference, joints)
    unserved = [Unserved(j.box, j.name, j.problem) for j in joints if j.joint is None]
    admit(reference, kinds, demands)
    lost = [k for k in kinds if not k.classes]
    for location in dict.fromkeys(k.location for k in lost):
        unserved += _unserved(
            reference, [k for k in lost if k.location == location], replace(demands, location=location)
        )
    served = [k for k in kinds if k.classes]
    curve, classes, assigned = _chosen(served, spare)
    bought = None
    if prices is not None:
        wanted = ((c.name, c.joints, c.quantity) for c in classes)
        paid, offered, instead = offered_listings(reference, prices, listings, served, assigned, demands)
        bought = buying(offered, wanted, paid, spare, instead)
    places = {(j.box, j.name): n for n, j in enumerate(joints)}
    table = known(reference)
    aluminium = advice_on(reference, {"aluminium"}, "nec-2023")["aluminium"]
    return Stock(
        classes,
        tuple(sorted(unserved, key=lambda u: places[(u.box, u.joint)])),
        curve,
        tuple(sorted(assigned, key=lambda s: places[(s[0], s[1])])),
        tuple(w for j in joints for w in j.warnings),
        _assumed(joints, demands),
        tuple(
            {"id": c["id"], "text": c["text"], "clause": c["clause"]}
            for c in table.cautions
            if c["shown_when"] == "always" or (c["shown_when"] == "aluminium" and _aluminium(kinds))
        ),
        reference.data_version,
        bought,
        aluminium if _aluminium(kinds) else [],
    )


def _aluminium(kinds: Sequence[Kind]) -> bool:
    return any(k.facts.aluminium for k in kinds)


def _spare(value: Any) -> Decimal:
    try:
        spare = Decimal(str(value).strip())
    except ArithmeticError:
        spare = Decimal("NaN")
    if isinstance(value, bool) or not spare.is_finite() or not 0 <= spare <= 1000:
        raise InputError(
            "not a spare allowance",
            column="spare",
            value=value,
            expected="per cent from 0 to 1000, such as 10",
        )
    return spare


#: Up to so many kinds of joint that no class takes, a way to make them with several is looked for.
_SPLIT_KINDS = 40


def _unserved(reference: Reference, kinds: list[Kind], demands: Demands) -> list[Unserved]:
    """The joints that no class takes, and why: the macro's own words about the class that comes nearest."""
    facts = {n: k.facts for n, k in enumerate(kinds) if k.facts.conductors > 1}
    words: dict[int, list[str]] = {}
    missing: dict[int, str] = {}
    if facts:
        given, values = facts_sql(facts, "joints_at_hand")
        rows = reference.rows(
            f"WITH {given} SELECT c.joint, c.class, c.reason "
            f"FROM classes_of_facts('joints_at_hand'{demands.sql()}) c ORDER BY c.rank",
            values,
        )
        for joint, name, reason in rows:
            if reason is None:
                missing.setdefault(joint, name)
            words.setdefault(joint, []).append(reason or "")
    out: list[Unserved] = []
    for n, kind in enumerate(kinds):
        reason = (
            f"nothing carried takes it; {missing[n]} is missing"
            if n in missing
            else _why_not(kind, demands, words.get(n, []))
        )
        if len(kinds) <= _SPLIT_KINDS and kind.facts.conductors > 2:
            reason += _split_words(reference, kind, demands)
        out += [Unserved(j.box, j.name, reason) for j in kind.joints]
    return out


def _why_not(kind: Kind, demands: Demands, reasons: list[str]) -> str:
    if kind.facts.conductors == 1:
        return "one conductor: an end cap, not a joint"
    if demands.family == "crimped butt" and kind.facts.conductors > 2:
        return "which conductors lie at which end of a butt joint is not said"
    # The largest class comes nearest, unless even that one asks for more than there is.
    return reasons[0] if " below " in reasons[-1] else reasons[-1]


def _split_words(reference: Reference, kind: Kind, demands: Demands) -> str:
    joint = kind.joints[0].joint
    found = split_of(reference, joint, kind.facts, demands, str(demands.family))[0] if joint else None
    if found is None:
        return ""
    jumpers = f"{found.jumpers} jumper{'s' if found.jumpers > 1 else ''} of {found.jumper}"
    return f"; {len(found.connectors)} connectors and {jumpers} would do"


def _chosen(
    kinds: list[Kind], spare: Decimal
) -> tuple[tuple[CurvePoint, ...], tuple[StockClass, ...], list[tuple[str, str, str]]]:
    rows = {name: row for k in kinds for name, row in k.classes.items()}
    names = sorted(rows, key=lambda n: (rows[n]["variant"], rows[n]["rank"]))
    number = {name: n for n, name in enumerate(names)}
    costs = [{number[n]: int(r["room_cm3"] * 1000) * k.count for n, r in k.classes.items()} for k in kinds]
    points = trade_off(costs)
    curve = tuple(
        CurvePoint(len(chosen), Decimal(room) / 1000, tuple(names[c] for c in sorted(chosen)))
        for room, chosen in points
    )
    if not points:
        return curve, (), []
    fewest = [names[c] for c in sorted(points[0][1])]
    joints = dict.fromkeys(fewest, 0)
    assigned: list[tuple[str, str, str]] = []
    for k in kinds:
        best = min(
            (n for n in fewest if n in k.classes),
            key=lambda n: (k.classes[n]["room_cm3"], k.classes[n]["rank"]),
        )
        joints[best] += k.count
        assigned += [(j.box, j.name, best) for j in k.joints]
    return curve, tuple(_stocked(rows[n], joints[n], spare) for n in fewest), assigned


def _stocked(row: Mapping[str, Any], joints: int, spare: Decimal) -> StockClass:
    quantity = with_spare(joints, spare)
    return StockClass(
        row["class"], row["family"], row["size"], row["ways"], row["grip"], row["variant"], joints, quantity
    )


def _assumed(joints: Sequence[ScheduleJoint], demands: Demands) -> tuple[str, ...]:
    out = [] if joints else ["no row of the schedule names a joint"]
    out.append(f"all joints in {demands.family} connectors; room is an estimate of ours")
    if any(j.location is None for j in joints):
        out.append("a box without a location is dry")
    for location in dict.fromkeys(j.location for j in joints):
        out += [
            f"in {location} boxes the connector must be {mark}" for mark in Demands(location=location).marks()
        ]
    if demands.carried is not None:
        out.append("only what is carried is chosen")
        if demands.carried.listings is not None:
            out.append("the room of a listing is taken as that of the least class that takes the joint")
    return (*out, *dict.fromkeys(a for j in joints if j.joint for a in j.joint.assumed))
