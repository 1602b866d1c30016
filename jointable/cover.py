"""The fewest classes that serve all joints, and what each further class saves: an exact search.

Each joint goes to the class of least room among those stocked. For a given number of classes the
search takes or leaves one class after another; a branch ends when even the sum of the best single
savings left could not beat what is known, which no set of classes can exceed.
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["cheapest", "trade_off"]

#: For each kind of joint: class number -> room of all its joints in that class.
Costs = Sequence[dict[int, int]]


def trade_off(costs: Costs) -> list[tuple[int, frozenset[int]]]:
    """The least room for each number of classes, from the fewest that serve all to where no more helps.

    Args:
        costs: For each kind of joint, the room that its joints take by class; none empty.

    Returns:
        Pairs of (room, classes), each with less room than the one before.

    Source: set cover and p-median, solved exactly by branch and bound.

    Example:
        >>> trade_off([{0: 5, 1: 9}, {1: 9}])
        [(18, frozenset({1})), (14, frozenset({0, 1}))]
    """
    if not costs:
        return []
    kept = _useful(costs)
    least = sum(min(c.values()) for c in kept)
    out: list[tuple[int, frozenset[int]]] = []
    classes = sorted({c for cost in kept for c in cost})
    for count in range(1, len(classes) + 1):
        found = cheapest(kept, count)
        if found is not None and (not out or found[0] < out[-1][0]):
            out.append(found)
        if out and out[-1][0] == least:
            break
    return out


def cheapest(costs: Costs, count: int) -> tuple[int, frozenset[int]] | None:
    """The least room with at most so many classes.

    Args:
        costs: For each kind of joint, the room that its joints take by class.
        count: The most classes.

    Returns:
        (room, classes), or None where so few do not serve all.

    Source: p-median, solved exactly by branch and bound.

    Example:
        >>> cheapest([{0: 5, 1: 9}, {1: 9}], 1)
        (18, frozenset({1}))
    """
    search = _Search(costs)
    search.branch([search.unserved] * len(costs), frozenset(), search.classes, count)
    return search.best


def _useful(costs: Costs) -> list[dict[int, int]]:
    """Leave out a class where another serves all its joints in no more room."""
    classes = sorted({c for cost in costs for c in cost})
    serves = {c: {i: cost[c] for i, cost in enumerate(costs) if c in cost} for c in classes}
    out: set[int] = set()
    for c in classes:
        for other in classes:
            if other == c or other in out:
                continue
            rival = serves[other]
            if all(i in rival and rival[i] <= room for i, room in serves[c].items()):
                # Of two that are alike the first stays.
                if serves[c] == rival and other > c:
                    continue
                out.add(c)
                break
    return [{c: room for c, room in cost.items() if c not in out} for cost in costs]


class _Search:
    def __init__(self, costs: Costs) -> None:
        self.costs = costs
        #: More than everything together: what a kind of joint costs that no class serves.
        self.unserved = 1 + sum(max(c.values()) for c in costs)
        self.rooms = {
            c: [(i, cost[c]) for i, cost in enumerate(costs) if c in cost]
            for c in sorted({c for cost in costs for c in cost})
        }
        self.classes = tuple(self.rooms)
        self.best: tuple[int, frozenset[int]] | None = None

    def branch(self, paid: list[int], taken: frozenset[int], left: tuple[int, ...], count: int) -> None:
        """Take or leave the class that saves most; `paid` is the room of each kind as it stands."""
        total = sum(paid)
        if total < self.unserved and (self.best is None or total < self.best[0]):
            self.best = (total, taken)
        if count == 0 or not left:
            return
        limit = self.unserved if self.best is None else self.best[0]
        savings = sorted(((self._saving(c, paid), -c) for c in left), reverse=True)
        helpful = [(saving, -c) for saving, c in savings if saving > 0]
        if total - sum(saving for saving, _ in helpful[:count]) >= limit or self._floor(paid, helpful) >= limit:
            return
        if not helpful:
            return
        first = helpful[0][1]
        rest = tuple(c for _, c in helpful[1:])
        now = list(paid)
        for i, room in self.rooms[first]:
            now[i] = min(now[i], room)
        self.branch(now, taken | {first}, rest, count - 1)
        self.branch(paid, taken, rest, count)

    def _saving(self, c: int, paid: list[int]) -> int:
        return sum(max(0, paid[i] - room) for i, room in self.rooms[c])

    def _floor(self, paid: list[int], helpful: list[tuple[int, int]]) -> int:
        """What remains if all classes left were stocked."""
        now = list(paid)
        for _, c in helpful:
            for i, room in self.rooms[c]:
                if room < now[i]:
                    now[i] = room
        return sum(now)
