"""One joint made with several connectors, tied by jumpers: fewest connectors, then least room, exactly.

Connectors tied by jumpers form a tree, so k connectors have k - 1 jumpers and 2(k - 1) jumper ends,
one at least in each. Any numbers of ends with that sum can be tied, so only the numbers matter. The
search fixes k, then looks for the least room by raising a bound that starts below every solution.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.demands import Demands, plain
from jointable.facts import Conductor, Facts, facts_of
from jointable.geometry import default_construction
from jointable.notation import Joint
from jointable.split_search import Group, Groups, least_room

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Split", "SplitConnector", "split", "split_of"]


@dataclass(frozen=True, slots=True)
class SplitConnector:
    """One connector of a split: its class, the conductors of the joint in it, and its jumper ends."""

    name: str
    family: str
    size: Decimal
    ways: int | None
    grip: str
    variant: str
    room_cm3: Decimal
    conductors: str
    jumper_ends: int

    def to_dict(self) -> dict[str, Any]:
        """The connector as `--json` prints it."""
        return {"class": self.name} | {n: getattr(self, n) for n in self.__slots__ if n != "name"}


@dataclass(frozen=True, slots=True)
class Split:
    """A joint made with several connectors."""

    jumper: str
    jumpers: int
    connectors: tuple[SplitConnector, ...]
    note: str

    @property
    def room_cm3(self) -> Decimal:
        """Room of all connectors in cm3, an estimate."""
        return sum((c.room_cm3 for c in self.connectors), Decimal(0))

    def to_dict(self) -> dict[str, Any]:
        """The split as `--json` prints it."""
        return {
            "jumper": self.jumper,
            "jumpers": self.jumpers,
            "connectors": [c.to_dict() for c in self.connectors],
            "room_cm3": self.room_cm3,
            "note": self.note,
        }


_NOTE = (
    "a jumper that does not leave the box is not counted under NEC 314.16(B)(1); "
    "connectors are counted in pairs under CEC Rule 12-3034"
)


def split(
    reference: Reference, joint: Joint | str, *, family: str = "twist-on", **demands: Any
) -> Split | None:
    """The best way to make a joint with several connectors of one family.

    Args:
        reference: The open database.
        joint: The joint, or its notation; up to 24 conductors.
        family: The family of all connectors.
        demands: As in `choose`.

    Returns:
        Fewest connectors, then least room (cm3); None where there is no way. A joint that one
        connector takes is split into two all the same.

    Raises:
        InputError: The joint or a demand is not known.

    Source: definition of the size classes (this project).

    Example:
        >>> import jointable
        >>> [c.conductors for c in split(jointable.open(), "8x12").connectors]
        ['5x12 AWG', '3x12 AWG']
    """
    made = Joint.parse(joint) if isinstance(joint, str) else joint
    checked = Demands.of(family=family, **demands)
    return split_of(reference, made, facts_of(reference, made), checked, family)[0]


def split_of(
    reference: Reference, joint: Joint, facts: Facts, demands: Demands, family: str
) -> tuple[Split | None, str | None]:
    """A split of a joint, or why there is none."""
    if joint.has_ends or family == "crimped butt":
        return None, "a butt joint has two ends and is not split"
    groups = _groups(reference, facts, replace(demands, family=family))
    if isinstance(groups, str):
        return None, groups
    counts = tuple(c.count for c in facts.conductors_listed)
    found = least_room(counts, groups)
    if found is None:
        return None, f"no number of {family} connectors with jumpers of {_jumper(facts)} takes the joint"
    connectors = tuple(_connector(group, facts) for group in found)
    return Split(_jumper(facts), len(connectors) - 1, connectors, _NOTE), None


def _jumper(facts: Facts) -> str:
    """The jumper: as wide as the widest conductor, of its construction and material."""
    widest = facts.widest
    words = [widest.size]
    words += [widest.construction] if widest.construction != default_construction(widest.size) else []
    words += [widest.material] if widest.material != "copper" else []
    return " ".join(words)


def _connector(group: Group, facts: Facts) -> SplitConnector:
    row = group.row
    held = tuple(replace(c, count=n) for c, n in zip(facts.conductors_listed, group.counts, strict=True) if n)
    return SplitConnector(
        row["class"],
        row["family"],
        row["size"],
        row["ways"],
        row["grip"],
        row["variant"],
        row["room_cm3"],
        " + ".join(_term(c) for c in held),
        group.jumper_ends,
    )


def _term(c: Conductor) -> str:
    words = [f"{c.count}x{c.size}"]
    words += [c.construction] if c.construction != default_construction(c.size) else []
    words += [c.material] if c.material != "copper" else []
    return " ".join(words)


#: The most conductors and jumper ends in one connector of any family.
_MOST = 6


def _groups(reference: Reference, facts: Facts, demands: Demands) -> Groups | str:
    """Every group of conductors and jumper ends that some class takes, with the class of least room."""
    kinds = facts.conductors_listed
    wide = facts.widest
    #: (conductors and jumper ends, total, narrowest kind) decide the class; the widest is the jumper.
    alike: dict[tuple[int, Decimal, int], list[tuple[tuple[int, ...], int]]] = {}
    for counts in _vectors(tuple(c.count for c in kinds), _MOST - 1):
        own = sum((n * c.area_mm2 for n, c in zip(counts, kinds, strict=True)), Decimal(0))
        narrow = min((i for i, n in enumerate(counts) if n), key=lambda i: kinds[i].rank)
        for ends in range(1, _MOST - sum(counts) + 1):
            key = (sum(counts) + ends, own + ends * wide.area_mm2, narrow)
            alike.setdefault(key, []).append((counts, ends))
    rows = _best(reference, facts, demands, list(alike))
    if demands.carried is not None:
        rows = {key: demands.carried.of(row)[0] for key, row in rows.items()}
    if not rows:
        return _why_not(reference, facts, demands)
    found = [
        Group(counts, ends, rows[key])
        for key, members in alike.items()
        if key in rows
        for counts, ends in members
    ]
    return Groups.of(found, [c.area_mm2 for c in kinds], wide.area_mm2)


def _vectors(most: tuple[int, ...], room: int) -> Iterator[tuple[int, ...]]:
    """Counts of each kind, one conductor at least and not more than `room` in all."""

    def below(at: int, left: int) -> Iterator[tuple[int, ...]]:
        if at == len(most):
            yield ()
            return
        for n in range(min(most[at], left) + 1):
            for rest in below(at + 1, left - n):
                yield (n, *rest)

    return (v for v in below(0, room) if any(v))


def _best(
    reference: Reference, facts: Facts, demands: Demands, keys: list[tuple[int, Decimal, int]]
) -> dict[tuple[int, Decimal, int], dict[str, Any]]:
    """The class of least room for each kind of group, as the macro of admission has it."""
    kinds, wide = facts.conductors_listed, facts.widest
    traits = ", ".join(
        f"{str(getattr(facts, t)).lower()} AS {t}"
        for t in ("solid", "stranded", "flexible", "aluminium", "copper_clad", "solid_aluminium")
    )
    # The traits and the metals are those of the whole joint: one variant serves all its connectors.
    query = (
        "WITH given AS (SELECT unnest(?::INTEGER[]) AS joint, unnest(?::INTEGER[]) AS conductors, "
        "unnest(?::DECIMAL(18, 9)[]) AS total_mm2, unnest(?::DECIMAL(18, 9)[]) AS narrowest_mm2, "
        "unnest(?::DECIMAL(18, 9)[]) AS clamp_narrowest_mm2), group_facts AS ("
        f"SELECT *, '' AS narrowest_size, '' AS widest_size, {plain(wide.area_mm2)}::DECIMAL(18, 9) AS widest_mm2, "
        f"{plain(wide.clamp_mm2)}::DECIMAL(18, 9) AS clamp_widest_mm2, false AS unknown_size, {traits}, "
        f"{facts.metals} AS metals, NULL::DECIMAL(18, 9) AS least_end_mm2, NULL::DECIMAL(18, 9) AS greatest_end_mm2, "
        "NULL::INTEGER AS end_conductors FROM given) "
        "SELECT a.joint, arg_min({'class': a.class, 'family': a.family, 'size': a.size, 'ways': a.ways, 'grip': a.grip, "
        "'variant': a.variant, 'room_cm3': a.room_cm3}, (a.room_cm3, a.rank)) AS best "
        f"FROM class_admission('group_facts'{demands.sql()}) a WHERE a.breaks + a.family_breaks = 0 "
        f"{'' if demands.carried is None else 'AND list_contains(?, a.class) '}GROUP BY a.joint"
    )
    columns = [
        list(range(len(keys))),
        [key[0] for key in keys],
        [str(key[1]) for key in keys],
        [str(kinds[key[2]].area_mm2) for key in keys],
        [str(kinds[key[2]].clamp_mm2) for key in keys],
    ]
    more: list[Any] = [] if demands.carried is None else [list(demands.carried.stands_for)]
    return {keys[place]: best for place, best in reference.rows(query, [*columns, *more])}


def _why_not(reference: Reference, facts: Facts, demands: Demands) -> str:
    """Why not even one conductor with one jumper goes in any class."""
    from jointable.admission import admitted

    reasons = [row["reason"] for row in admitted(reference, facts, demands) if row["reason"]]
    same = len(set(reasons)) == 1
    if same:
        return str(reasons[0])
    return f"no {demands.family} class takes a conductor beside a jumper of {_jumper(facts)}"
