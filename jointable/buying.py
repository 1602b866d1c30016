"""What a stock costs: packs to buy, cost a joint, and what less room costs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Any

from jointable.cover import trade_off
from jointable.joint_kinds import Kind
from jointable.prices import Bought, Pack, Shelf

__all__ = ["Buying", "CostPoint", "Purchase", "buying", "with_spare"]

Prices = Mapping[str, tuple[Pack, ...]]
Shelves = Mapping[str, Shelf]


@dataclass(frozen=True, slots=True)
class Purchase:
    """What to buy of one class: packs, pieces, cost, and cost for each joint."""

    name: str
    joints: int
    quantity: int
    bought: Bought
    #: The chosen class in whose place a listing is bought; None where the chosen one has a price itself.
    in_place_of: str | None = None

    def to_dict(self) -> dict[str, Any]:
        """The purchase as `--json` prints it; money is that of the user's file."""
        return {
            "class": self.name,
            "in_place_of": self.in_place_of,
            "joints": self.joints,
            "quantity": self.quantity,
            "packs": [
                {"pack_size": p.size, "packs": n, "pack_price": p.price, "row": p.row}
                for p, n in self.bought.packs
            ],
            "pieces": self.bought.pieces,
            "cost": self.bought.cost,
            "cost_per_joint": _each(self.bought.cost, self.joints),
        }


@dataclass(frozen=True, slots=True)
class CostPoint:
    """A way to make all joints: cost in whole packs, room (cm3), and the classes used."""

    cost: Decimal
    room_cm3: Decimal
    names: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """The point as `--json` prints it."""
        return {"cost": self.cost, "room_cm3": self.room_cm3, "names": list(self.names)}


@dataclass(frozen=True, slots=True)
class Buying:
    """What to buy for the classes chosen, and cost against room over the priced classes."""

    purchases: tuple[Purchase, ...]
    unpriced: tuple[str, ...]
    curve: tuple[CostPoint, ...]
    without_price: int

    @property
    def cost(self) -> Decimal:
        """Cost of all that has a price."""
        return sum((p.bought.cost for p in self.purchases), Decimal(0))

    def to_dict(self) -> dict[str, Any]:
        """The buying as `--json` prints it."""
        joints = sum(p.joints for p in self.purchases)
        return {
            "purchases": [p.to_dict() for p in self.purchases],
            "cost": self.cost,
            "cost_per_joint": _each(self.cost, joints) if joints else None,
            "unpriced": list(self.unpriced),
            "joints_without_a_priced_class": self.without_price,
            "curve": [p.to_dict() for p in self.curve],
        }


def _each(cost: Decimal, joints: int) -> Decimal:
    return (cost / joints).quantize(Decimal("0.0001"))


def with_spare(joints: int, spare: Decimal) -> int:
    """How many connectors to carry for so many joints.

    Args:
        joints: The joints.
        spare: Spare allowance in per cent.

    Returns:
        The number, rounded up.

    Source: none; a form of this project.

    Example:
        >>> with_spare(9, Decimal("12.5"))
        11
    """
    return int((joints * (100 + spare) / 100).to_integral_value(ROUND_CEILING))


def buying(
    kinds: Sequence[Kind],
    chosen: Iterable[tuple[str, int, int]],
    prices: Prices,
    spare: Decimal,
    instead: Mapping[str, Mapping[str, int]] | None = None,
) -> Buying:
    """What to buy, and what less room costs.

    Args:
        kinds: The joints by kind, each with the classes and priced listings that take it.
        chosen: Class, joints and quantity of the stock.
        prices: Class to packs.
        spare: Spare allowance in per cent.
        instead: For a class without a price the priced listings that take joints of it, and how many.

    Returns:
        Purchases for what has a price, a listing in place of a class that has none. The curve, over the joints that some priced class takes: of the ways that were tried (all joints in the
        classes of least room or of least money, for every number of classes; and joints moved from
        the first to the cheaper class one kind after the other, where a cm3 more saves most) those
        that no other beats in both cost and room.

    Source: definition of this project; whole packs exactly, ways as told.

    Example:
        >>> buying([], [("twist-on 10", 4, 5)], {"twist-on 10": (Pack(10, Decimal(3), 2),)}, Decimal(25)).cost
        Decimal('3')
    """
    shelves = {name: Shelf(packs) for name, packs in prices.items()}
    bought = []
    unpriced = []
    for name, joints, quantity in chosen:
        if name in prices:
            bought.append(Purchase(name, joints, quantity, shelves[name].cheapest(quantity)))
            continue
        left = joints
        for listing, count in (instead or {}).get(name, {}).items():
            needed = with_spare(count, spare)
            bought.append(Purchase(listing, count, needed, shelves[listing].cheapest(needed), name))
            left -= count
        if left:
            unpriced.append(name)
    held = [({n: row for n, row in k.classes.items() if n in prices}, k.count) for k in kinds]
    priced = [(classes, count) for classes, count in held if classes]
    curve = _curve([k for k, _ in priced], [c for _, c in priced], shelves, spare) if priced else ()
    return Buying(tuple(bought), tuple(unpriced), curve, sum(c for classes, c in held if not classes))


Classes = Sequence[Mapping[str, Mapping[str, Any]]]


def _curve(kinds: Classes, counts: Sequence[int], shelves: Shelves, spare: Decimal) -> tuple[CostPoint, ...]:
    unit = {n: shelves[n].unit_price for n in dict.fromkeys(n for k in kinds for n in k)}
    points: dict[tuple[Decimal, Decimal], CostPoint] = {}
    for way in _ways(kinds, counts, unit):
        point = _point(way, kinds, counts, shelves, spare)
        points.setdefault((point.cost, point.room_cm3), point)
    out: list[CostPoint] = []
    for _, point in sorted(points.items()):
        if not out or point.room_cm3 < out[-1].room_cm3:
            out.append(point)
    return tuple(out)


def _ways(kinds: Classes, counts: Sequence[int], unit: Mapping[str, Decimal]) -> Iterable[tuple[str, ...]]:
    """Ways to make all joints: a class for each kind."""
    room = [
        {n: int(r["room_cm3"] * 1000) * c for n, r in k.items()} for k, c in zip(kinds, counts, strict=True)
    ]
    money = [{n: int(unit[n] * 10**6) * c for n in k} for k, c in zip(kinds, counts, strict=True)]
    names = sorted(unit)
    number = {n: i for i, n in enumerate(names)}
    for first, second in ((room, money), (money, room)):
        for _, chosen in trade_off([{number[n]: v for n, v in k.items()} for k in first]):
            held = {names[c] for c in chosen}
            yield tuple(_least(a, b, held) for a, b in zip(first, second, strict=True))
    way = [_least(a, b, set(a)) for a, b in zip(room, money, strict=True)]
    yield tuple(way)
    while step := _step(way, room, money):
        at, to = step
        way[at] = to
        yield tuple(way)


def _least(first: Mapping[str, int], second: Mapping[str, int], held: set[str]) -> str:
    """The class of least `first`, then `second`, of those that are held."""
    return min((first[n], second[n], n) for n in first if n in held)[2]


def _step(
    way: Sequence[str], room: Sequence[Mapping[str, int]], money: Sequence[Mapping[str, int]]
) -> tuple[int, str] | None:
    """The kind to move to a cheaper class, where the room it costs saves most; None where none is cheaper."""
    steps = [
        ((money[i][way[i]] - cost) / max(1, room[i][n] - room[i][way[i]]), i, n)
        for i in range(len(way))
        for n, cost in money[i].items()
        if cost < money[i][way[i]]
    ]
    return max(steps)[1:] if steps else None


def _point(
    way: Sequence[str], kinds: Classes, counts: Sequence[int], shelves: Shelves, spare: Decimal
) -> CostPoint:
    joints: dict[str, int] = {}
    room = Decimal(0)
    for name, k, count in zip(way, kinds, counts, strict=True):
        joints[name] = joints.get(name, 0) + count
        room += k[name]["room_cm3"] * count
    cost = sum((shelves[n].cheapest(with_spare(c, spare)).cost for n, c in joints.items()), Decimal(0))
    return CostPoint(cost, room, tuple(sorted(joints)))
