"""The fewest classes that serve all joints, and what each further class saves: an exact search.

Each joint goes to the class of least room among those stocked. The fewest classes are a set cover;
the least room for a given number of them is a p-median. Both are small, and solved exactly by branch
and bound: the second with a bound from prices on the joints (Lagrange), which is mostly tight.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

__all__ = ["cheapest", "fewest", "trade_off"]

#: For each kind of joint: class number -> room of all its joints in that class.
Costs = Sequence[dict[int, int]]

#: (room, classes)
Plan = tuple[int, frozenset[int]]


def trade_off(costs: Costs) -> list[Plan]:
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
    out: list[Plan] = [(0, frozenset())]
    for part in _apart(costs):
        out = _together(out, _one_part(part))
    return out if costs else []


def fewest(costs: Costs) -> int:
    """The fewest classes that serve all kinds of joint.

    Args:
        costs: For each kind of joint, the room by class; none empty.

    Returns:
        Their number.

    Source: set cover, solved exactly by branch and bound.

    Example:
        >>> fewest([{0: 1, 1: 1}, {1: 1, 2: 1}, {2: 1}])
        2
    """
    served = [frozenset(c) for c in costs]
    # A kind that is served wherever another one is asks for nothing of its own.
    needed = [s for s in set(served) if not any(t < s for t in served)]
    limit = 1
    while not _covered(needed, limit):
        limit += 1
    return limit


def cheapest(costs: Costs, count: int) -> Plan | None:
    """The least room with at most so many classes.

    Args:
        costs: For each kind of joint, the room by class; none empty.
        count: The most classes.

    Returns:
        (room, classes), or None where so few do not serve all.

    Source: p-median, solved exactly by branch and bound with a Lagrangian bound.

    Example:
        >>> cheapest([{0: 5, 1: 9}, {1: 9}], 1)
        (18, frozenset({1}))
    """
    search = _Median(_merged(costs))
    return search.solve(count)


def _apart(costs: Costs) -> list[list[dict[int, int]]]:
    """Kinds of joint that share no class are solved by themselves."""
    parts: list[tuple[set[int], list[dict[int, int]]]] = []
    for cost in costs:
        mine = [p for p in parts if p[0] & set(cost)]
        parts = [p for p in parts if not p[0] & set(cost)]
        classes = set(cost).union(*(p[0] for p in mine))
        parts.append((classes, [*(c for p in mine for c in p[1]), cost]))
    return [kinds for _, kinds in parts]


def _together(one: list[Plan], other: list[Plan]) -> list[Plan]:
    """The best plans of two parts together, for each number of classes."""
    best: dict[int, Plan] = {}
    for room, classes in one:
        for more, further in other:
            plan = (room + more, classes | further)
            count = len(plan[1])
            if count not in best or plan[0] < best[count][0]:
                best[count] = plan
    out: list[Plan] = []
    for count in sorted(best):
        if not out or best[count][0] < out[-1][0]:
            out.append(best[count])
    return out


def _one_part(costs: Costs) -> list[Plan]:
    kept = _merged(costs)
    least = sum(min(c.values()) for c in kept)
    search = _Median(kept)
    out: list[Plan] = []
    count = fewest(kept)
    while not out or out[-1][0] > least:
        found = search.solve(count)
        if found is not None and (not out or found[0] < out[-1][0]):
            out.append(found)
        count += 1
    return out


def _merged(costs: Costs) -> list[dict[int, int]]:
    """Kinds that go in the same classes are one kind: the same class is best for all of them."""
    by_classes: dict[frozenset[int], dict[int, int]] = {}
    for cost in _useful(costs):
        whole = by_classes.setdefault(frozenset(cost), dict.fromkeys(cost, 0))
        for c, room in cost.items():
            whole[c] += room
    return list(by_classes.values())


def _useful(costs: Costs) -> list[dict[int, int]]:
    """Leave out a class where another serves all its joints in no more room."""
    serves: dict[int, dict[int, int]] = {}
    for i, cost in enumerate(costs):
        for c, room in cost.items():
            serves.setdefault(c, {})[i] = room
    out: set[int] = set()
    for c in sorted(serves):
        for other in sorted(serves):
            if other == c or other in out:
                continue
            rival = serves[other]
            if all(i in rival and rival[i] <= room for i, room in serves[c].items()):
                if rival == serves[c] and other > c:
                    continue  # of two that are alike the first stays
                out.add(c)
                break
    return [{c: room for c, room in cost.items() if c not in out} for cost in costs]


def _covered(needed: Sequence[frozenset[int]], limit: int) -> bool:
    """Whether so many classes serve all kinds."""
    if not needed:
        return True
    if limit == 0 or _disjoint(needed) > limit:
        return False
    hardest = min(needed, key=lambda s: (len(s), sorted(s)))
    return any(_covered([s for s in needed if c not in s], limit - 1) for c in sorted(hardest))


def _disjoint(needed: Sequence[frozenset[int]]) -> int:
    """A number of kinds no two of which share a class: each needs a class of its own."""
    used: set[int] = set()
    count = 0
    for s in sorted(needed, key=len):
        if not s & used:
            used |= s
            count += 1
    return count


class _Median:
    """The p-median of one part; prices and the best plan are kept from one number of classes to the next."""

    def __init__(self, costs: Costs) -> None:
        self.costs = costs
        self.serves: dict[int, list[tuple[int, int]]] = {}
        for i, cost in enumerate(costs):
            for c, room in cost.items():
                self.serves.setdefault(c, []).append((i, room))
        self.prices = [float(sorted(c.values())[min(1, len(c) - 1)]) for c in costs]
        self.best: Plan | None = None

    def solve(self, count: int) -> Plan | None:
        if fewest(self.costs) > count:
            return None
        if self.best is None:
            self.best = self._some(count)
        self._branch(frozenset(), frozenset(), count, list(self.prices), 300)
        return self.best

    def room(self, classes: Iterable[int]) -> int | None:
        """What all joints take in these classes, None where they do not serve all."""
        held = frozenset(classes)
        total = 0
        for cost in self.costs:
            rooms = [cost[c] for c in held if c in cost]
            if not rooms:
                return None
            total += min(rooms)
        return total

    def _some(self, count: int) -> Plan:
        """A plan to begin with: one cover, whatever its room."""
        taken: list[int] = []

        def cover(needed: list[frozenset[int]], left: int) -> bool:
            if not needed:
                return True
            if left == 0 or _disjoint(needed) > left:
                return False
            hardest = min(needed, key=lambda s: (len(s), sorted(s)))
            for c in sorted(hardest):
                taken.append(c)
                if cover([s for s in needed if c not in s], left - 1):
                    return True
                taken.pop()
            return False

        cover([frozenset(c) for c in self.costs], count)
        room = self.room(taken)
        if room is None:
            raise AssertionError("a cover of that many classes exists")
        return room, frozenset(taken)

    def _branch(
        self, taken: frozenset[int], barred: frozenset[int], count: int, prices: list[float], steps: int
    ) -> None:
        """Bound what the rest can do; where it could still win, take or bar one class."""
        if self.best is None or len(taken) > count:
            return
        if any(all(c in barred for c in cost) for cost in self.costs):
            return
        bound, savings, prices = self._bound(taken, barred, count, prices, steps)
        if math.ceil(bound - 1e-6) >= self.best[0]:
            return
        if not taken and not barred:
            self.prices = prices
        free = sorted((c for c in savings if c not in taken), key=lambda c: (savings[c], c))
        if not free or len(taken) == count:
            return
        first = free[0]
        self._branch(taken | {first}, barred, count, prices, 60)
        self._branch(taken, barred | {first}, count, prices, 60)

    def _bound(
        self, taken: frozenset[int], barred: frozenset[int], count: int, prices: list[float], steps: int
    ) -> tuple[float, dict[int, float], list[float]]:
        """Prices on the joints that make the cheapest choice of classes as dear as can be."""
        best_bound, best_savings, best_prices = -math.inf, {}, prices
        scale, idle = 1.0, 0
        open_classes = [c for c in self.serves if c not in barred]
        for _ in range(steps):
            savings = {c: sum(min(0.0, room - prices[i]) for i, room in self.serves[c]) for c in open_classes}
            free = sorted(
                (c for c in open_classes if c not in taken and savings[c] < 0), key=lambda c: (savings[c], c)
            )
            chosen = [*taken, *free[: count - len(taken)]]
            bound = sum(prices) + sum(savings[c] for c in chosen)
            self._offer(chosen)
            if bound > best_bound + 1e-9:
                best_bound, best_savings, best_prices, idle = bound, savings, prices, 0
            else:
                idle += 1
                if idle >= 15:
                    scale, idle = scale / 2, 0
            assert self.best is not None
            if math.ceil(best_bound - 1e-6) >= self.best[0] or scale < 1e-3:
                break
            served = [1] * len(prices)
            for c in chosen:
                for i, room in self.serves[c]:
                    if room < prices[i]:
                        served[i] -= 1
            norm = sum(s * s for s in served)
            if not norm:
                break
            step = scale * (self.best[0] - bound + 1) / norm
            prices = [p + step * s for p, s in zip(prices, served, strict=True)]
        return best_bound, best_savings, best_prices

    def _offer(self, classes: Sequence[int]) -> None:
        """Keep a plan if it beats the best."""
        room = self.room(classes)
        if room is not None and (self.best is None or room < self.best[0]):
            self.best = (room, frozenset(classes))
