"""The search behind a split: groups of conductors that go in one connector, put together without rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

__all__ = ["Group", "Groups", "least_room"]

Counts = tuple[int, ...]

_NEVER = 10**12


@dataclass(frozen=True, slots=True)
class Group:
    """Conductors and jumper ends that go in one connector; `row` is the class of least room."""

    counts: Counts
    jumper_ends: int
    row: dict[str, Any]

    @property
    def room(self) -> int:
        """Room in thousandths of a cm3, a whole number."""
        return int(self.row["room_cm3"] * 1000)


@dataclass(slots=True)
class Groups:
    """All groups of a joint, by the first kind of conductor they hold."""

    by_first: list[list[Group]]
    areas: tuple[int, ...]
    jumper: int
    #: For k connectors: (area, wires) that they can hold at most, and the room that takes, least first.
    _reach: list[list[tuple[int, int]]]
    most: int

    @classmethod
    def of(cls, groups: Sequence[Group], areas: Sequence[Decimal], jumper: Decimal) -> Groups:
        """Sort groups for the search; areas in mm2."""
        scaled = tuple(int(a * 10**9) for a in areas)
        wide = int(jumper * 10**9)
        by_first: list[list[Group]] = [[] for _ in areas]
        reach: dict[int, int] = {}
        for g in groups:
            by_first[next(i for i, n in enumerate(g.counts) if n)].append(g)
            held = sum(n * a for n, a in zip(g.counts, scaled, strict=True)) + g.jumper_ends * wide
            reach[g.room] = max(reach.get(g.room, 0), held)
        for held_groups in by_first:
            held_groups.sort(key=lambda g: (g.room, -sum(g.counts), g.jumper_ends, g.counts))
        most = max(sum(g.counts) + g.jumper_ends for g in groups)
        return cls(by_first, scaled, wide, [[(0, 0)], _front(sorted((h, r) for r, h in reach.items()))], most)

    def bound(self, connectors: int, area: int) -> int:
        """No less room than this holds so much area in so many connectors; areas with jumper ends."""
        while len(self._reach) <= connectors:
            last, one = self._reach[-1], self._reach[1]
            self._reach.append(_front(sorted((a + b, r + s) for a, r in last for b, s in one)))
        return next((room for held, room in self._reach[connectors] if held >= area), _NEVER)


def _front(pairs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Of (area held, room) those that nothing beats: area and room rise together."""
    kept: list[tuple[int, int]] = []
    for held, room in reversed(pairs):
        if not kept or room < kept[-1][1]:
            kept.append((held, room))
    return kept[::-1]


def least_room(counts: Counts, groups: Groups) -> tuple[Group, ...] | None:
    """The groups that hold all conductors: fewest connectors, then least room.

    Args:
        counts: Conductors of each kind.
        groups: The groups that go in one connector.

    Returns:
        One group a connector, or None where there is no way. Two connectors at least.

    Source: definition of this project.

    Example:
        >>> small = Group((2,), 1, {"room_cm3": Decimal(1)})
        >>> [g.counts for g in least_room((4,), Groups.of([small], [Decimal(2)], Decimal(2)))]
        [(2,), (2,)]
    """
    total = sum(counts)
    for connectors in range(2, total + 1):
        if total + 2 * (connectors - 1) > groups.most * connectors:
            continue
        found = _Search(groups).run(counts, connectors)
        if found is not None:
            return tuple(
                sorted(found, key=lambda g: (-sum(g.counts), tuple(-n for n in g.counts), g.jumper_ends))
            )
    return None


class _Search:
    """Raises the room allowed until the groups fit; remembers what a rest needs at least."""

    def __init__(self, groups: Groups) -> None:
        self.groups = groups
        self.needs: dict[tuple[Counts, int, int], int] = {}

    def run(self, counts: Counts, connectors: int) -> list[Group] | None:
        ends = 2 * (connectors - 1)
        allowed = self.least(counts, connectors, ends)
        while allowed < _NEVER:
            found = self.fit(counts, connectors, ends, allowed)
            if found is not None:
                return found
            raised = self.least(counts, connectors, ends)
            allowed = raised if raised > allowed else _NEVER
        return None

    def least(self, counts: Counts, connectors: int, ends: int) -> int:
        """What the rest needs at least: what was learnt, or the bound by area."""
        known = self.needs.get((counts, connectors, ends))
        if known is not None:
            return known
        g = self.groups
        area = sum(n * a for n, a in zip(counts, g.areas, strict=True)) + ends * g.jumper
        if connectors == 0:
            return 0 if not any(counts) and ends == 0 else _NEVER
        if sum(counts) < connectors or ends < connectors or sum(counts) + ends > g.most * connectors:
            return _NEVER
        return g.bound(connectors, area)

    def fit(self, counts: Counts, connectors: int, ends: int, allowed: int) -> list[Group] | None:
        """Groups for the rest within the room allowed; where there are none, what it needs is raised."""
        if connectors == 0:
            return [] if not any(counts) and ends == 0 else None
        raised = _NEVER
        for group in self.candidates(counts, connectors, ends):
            rest = tuple(n - m for n, m in zip(counts, group.counts, strict=True))
            left = allowed - group.room
            need = self.least(rest, connectors - 1, ends - group.jumper_ends)
            if need <= left:
                found = self.fit(rest, connectors - 1, ends - group.jumper_ends, left)
                if found is not None:
                    return [group, *found]
                need = self.least(rest, connectors - 1, ends - group.jumper_ends)
            raised = min(raised, group.room + need)
        self.needs[(counts, connectors, ends)] = max(raised, allowed + 1)
        return None

    def candidates(self, counts: Counts, connectors: int, ends: int) -> Iterator[Group]:
        """Groups that hold one of the first kind left: some connector must hold it."""
        first = next(i for i, n in enumerate(counts) if n)
        last = connectors == 1
        for group in self.groups.by_first[first]:
            if last and (group.counts != counts or group.jumper_ends != ends):
                continue
            if ends - group.jumper_ends < connectors - 1:
                continue
            if all(m <= n for m, n in zip(group.counts, counts, strict=True)):
                yield group
