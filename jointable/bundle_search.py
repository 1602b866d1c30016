"""The search for the smallest circle round a bundle, with nothing but the standard library.

Circles are pushed apart inside a circle of a fixed radius until none overlaps. Where that
succeeds the radius shrinks; where it fails one circle is swapped with another or dropped
elsewhere and the pushing starts again. What is found is tightened by damped Gauss-Newton steps.
Every draw comes from a seeded generator, so equal bundles give equal answers.

All functions work on radii sorted from wide to thin, the widest being 1.
"""

from __future__ import annotations

import cmath
import math
import random
from dataclasses import dataclass, field

__all__ = ["Places", "enlarge", "search"]

#: Every centre, as x + y i.
Places = list[complex]

#: (i, j, sum of radii, share that i moves, share that j moves): the thin one moves more.
_Pair = tuple[int, int, float, float, float]

#: A sum of squared overlaps that counts as none while the radius is still being searched.
_FREE = 1e-6
#: Rounds of pushing before an arrangement is given up, and sweeps a round.
_ROUNDS = 30
_SWEEPS = 8
#: Circles further apart than this are not looked at until the next round.
_FAR = 0.4
#: A round that leaves more than this share of the overlap is the last.
_STALLED = 0.72
#: How much smaller the next radius tried is; what is missed is below this.
_SHRINK = 0.997
#: This close to the sum of the two widest radii nothing is left to gain.
_AT_BOUND = 1.0005
#: Places tried when a circle is dropped; the freest is taken.
_DROPS = 12
#: Moves at once that set every other start off from the best arrangement so far.
_KICKS = 4


@dataclass(slots=True)
class _Search:
    """One bundle being packed."""

    radii: list[float]
    random: random.Random
    pairs: list[_Pair] = field(default_factory=list)
    widths: list[list[int]] = field(default_factory=list)
    bound: float = 0.0
    radius: float = math.inf
    places: Places = field(default_factory=list)

    def __post_init__(self) -> None:
        r = self.radii
        self.bound = r[0] + r[1]
        self.pairs = [
            (i, j, r[i] + r[j], r[j] / (r[i] + r[j]), r[i] / (r[i] + r[j]))
            for i in range(len(r))
            for j in range(i + 1, len(r))
        ]
        self.widths = [[i for i, other in enumerate(r) if other == width] for width in sorted(set(r))]

    @property
    def target(self) -> float:
        """The radius tried next."""
        return max(self.bound, self.radius * _SHRINK)

    @property
    def done(self) -> bool:
        """Whether the two widest alone already ask for this radius."""
        return self.radius <= self.bound * _AT_BOUND

    def anywhere(self, index: int, radius: float) -> complex:
        """A random place inside the circle."""
        out = max(0.0, radius - self.radii[index]) * math.sqrt(self.random.random())
        return cmath.rect(out, 2 * math.pi * self.random.random())

    def scattered(self, radius: float) -> Places:
        """Every circle at a random place."""
        return [self.anywhere(i, radius) for i in range(len(self.radii))]

    def keep(self, places: Places) -> None:
        """Take an arrangement if it is the smallest yet."""
        free, radius = enlarge(places, self.radii)
        if radius < self.radius:
            self.radius, self.places = radius, free

    def push(self, places: Places, radius: float) -> float:
        """Push circles apart and inward, in place; returns the squared overlap that is left."""
        limits = [(i, radius - r) for i, r in enumerate(self.radii)]
        overlap = earlier = math.inf
        near = self.pairs
        for _ in range(_ROUNDS):
            for _ in range(_SWEEPS):
                overlap = _push_apart(places, near) + _push_inward(places, limits)
                # Pairs that were far apart are looked at before it counts as free.
                if overlap < _FREE and _push_apart(places, self.pairs) + _push_inward(places, limits) < _FREE:
                    return overlap
            if overlap > _STALLED * earlier:
                return overlap
            earlier = overlap
            near = [p for p in self.pairs if abs(places[p[0]] - places[p[1]]) < p[2] + _FAR]
        return overlap

    def moved(self, places: Places, radius: float) -> Places:
        """The arrangement with two circles of neighbouring widths swapped, or one dropped elsewhere."""
        out = places[:]
        if len(self.widths) > 1 and self.random.random() < 0.6:
            i, j = self.unlike()
            out[i], out[j] = out[j], out[i]
        else:
            i = self.drawn(len(out))
            out[i] = self.freest(out, i, radius)
        return out

    def drawn(self, count: int) -> int:
        """A random index."""
        return int(self.random.random() * count)

    def unlike(self) -> tuple[int, int]:
        """Two circles of different widths, mostly of neighbouring ones."""
        first = self.drawn(len(self.widths) - 1)
        second = first + 1
        if self.random.random() < 0.3:
            second += self.drawn(len(self.widths) - second)
        return (
            self.widths[first][self.drawn(len(self.widths[first]))],
            self.widths[second][self.drawn(len(self.widths[second]))],
        )

    def freest(self, places: Places, index: int, radius: float) -> complex:
        """Of some random places of one circle that where it overlaps the others least."""
        mine = self.radii[index]
        others = [
            (z, mine + r) for i, (z, r) in enumerate(zip(places, self.radii, strict=True)) if i != index
        ]
        spots = [self.anywhere(index, radius) for _ in range(_DROPS)]
        return min(spots, key=lambda s: sum(max(0.0, reach - abs(s - z)) ** 2 for z, reach in others))

    def run(self, starts: int, moves: int) -> None:
        """Look for ever smaller radii from several starts, so many fruitless moves each."""
        first = 1.35 * math.sqrt(sum(r * r for r in self.radii))
        places = self.scattered(first)
        self.push(places, first)
        self.keep(places)
        for start in range(starts):
            if self.done:
                return
            self.descend(self.kicked() if start % 2 else self.scattered(self.target), moves)

    def kicked(self) -> Places:
        """The best arrangement so far after several moves at once."""
        places = self.places
        for _ in range(_KICKS):
            places = self.moved(places, self.target)
        return places

    def descend(self, places: Places, moves: int) -> None:
        """Improve one arrangement until so many moves in a row gave no smaller radius."""
        overlap = self.push(places, self.target)
        fruitless = 0
        while fruitless < moves:
            if overlap < _FREE:
                self.keep(places)
                if self.done:
                    return
                overlap, fruitless = self.push(places, self.target), 0
                continue
            changed = self.moved(places, self.target)
            left = self.push(changed, self.target)
            fruitless += 1
            if left < overlap:
                places, overlap = changed, left

    def finish(self) -> None:
        """Tighten what was found, and take the exact bound where it is reached."""
        self.keep(_tightened(self.places, self.radii, self.pairs))
        if self.radius < self.bound * 1.01:
            self.keep(self.beside())

    def beside(self) -> Places:
        """The arrangement with the two widest exactly side by side and the others pushed clear of them."""
        way = self.places[1] - self.places[0]
        places = [z * way.conjugate() / abs(way) for z in self.places]
        places[:2] = [complex(self.radii[0] - self.bound), complex(self.bound - self.radii[1])]
        fixed = [
            (i, j, reach, 0.0, 1.0) if i < 2 else pair
            for pair in self.pairs[1:]
            for i, j, reach, *_ in [pair]
        ]
        limits = [(i, self.bound - r) for i, r in enumerate(self.radii) if i > 1]
        for _ in range(_ROUNDS * _SWEEPS):
            if _push_apart(places, fixed) + _push_inward(places, limits) < 1e-24:
                break
        return places


def search(radii: list[float], starts: int, moves: int) -> tuple[float, Places]:
    """Find a small circle round circles.

    Args:
        radii: At least two radii from wide to thin, the widest being 1.
        starts: Independent starts.
        moves: Fruitless moves after which a start is given up.

    Returns:
        The radius, and the centres about the middle of the circle.
    """
    work = _Search(radii, random.Random(len(radii)))
    work.run(starts, moves)
    work.finish()
    return work.radius, work.places


def enlarge(places: Places, radii: list[float]) -> tuple[Places, float]:
    """Spread an arrangement just so far that nothing overlaps; returns it with its radius."""
    scale = 1.0
    for i, (z, r) in enumerate(zip(places, radii, strict=True)):
        for j in range(i):
            scale = max(scale, (r + radii[j]) / max(abs(z - places[j]), 1e-9))
    spread = [z * scale for z in places]
    return spread, max(abs(z) + r for z, r in zip(spread, radii, strict=True))


def _push_apart(places: Places, pairs: list[_Pair]) -> float:
    total = 0.0
    for i, j, reach, share_i, share_j in pairs:
        between = places[i] - places[j]
        distance = abs(between)
        if distance < reach:
            overlap = reach - distance
            total += overlap * overlap
            # A little more than the overlap: it settles in fewer sweeps.
            between *= 1.1 * overlap / (distance + 1e-12)
            places[i] += between * share_i
            places[j] -= between * share_j
    return total


def _push_inward(places: Places, limits: list[tuple[int, float]]) -> float:
    total = 0.0
    for i, limit in limits:
        distance = abs(places[i])
        if distance > limit:
            total += (distance - limit) ** 2
            places[i] *= limit / distance
    return total


#: Weights of the overlaps while tightening; the radius is too large by about a few of the last.
_SOFT = (1e-2, 1e-3, 1e-4, 1e-5, 1e-6)
_STEPS = 8

_Gap = tuple[float, tuple[int, ...], tuple[float, ...]]


def _tightened(places: Places, radii: list[float], pairs: list[_Pair]) -> Places:
    """Least of radius + overlaps squared / (2 softness), the softness falling step by step."""
    count = len(radii)
    point = [*(z.real for z in places), *(z.imag for z in places), enlarge(places, radii)[1]]
    for soft in _SOFT:
        damping, gaps = 0.05 / soft, _overlaps(point, radii, pairs)
        value = _value(point, gaps, soft)
        for _ in range(_STEPS):
            step = _step(gaps, 2 * count + 1, soft, damping)
            trial = [p + s for p, s in zip(point, step, strict=True)]
            found = _overlaps(trial, radii, pairs)
            better = _value(trial, found, soft)
            if better < value:
                point, gaps, value, damping = trial, found, better, damping * 0.2
            else:
                damping *= 5
    return list(map(complex, point[:count], point[count : 2 * count]))


def _value(point: list[float], gaps: list[_Gap], soft: float) -> float:
    return point[-1] + sum(gap * gap for gap, _, _ in gaps) / (2 * soft)


def _overlaps(point: list[float], radii: list[float], pairs: list[_Pair]) -> list[_Gap]:
    """Every overlap with the coordinates it depends on and its slope in each."""
    n, out = len(radii), point[-1]
    found: list[_Gap] = []
    for i, j, reach, _, _ in pairs:
        dx, dy = point[i] - point[j], point[n + i] - point[n + j]
        distance = math.hypot(dx, dy) + 1e-12
        if distance < reach:
            u, v = dx / distance, dy / distance
            found.append((reach - distance, (i, n + i, j, n + j), (-u, -v, u, v)))
    for i, r in enumerate(radii):
        distance = math.hypot(point[i], point[n + i])
        if distance + r > out:
            distance = max(distance, 1e-12)
            slope = (point[i] / distance, point[n + i] / distance, -1.0)
            found.append((distance + r - out, (i, n + i, 2 * n), slope))
    return found


def _step(gaps: list[_Gap], size: int, soft: float, damping: float) -> list[float]:
    """The damped Gauss-Newton step."""
    matrix = [[0.0] * size for _ in range(size)]
    slope = [0.0] * size
    slope[-1] = -1.0
    for i in range(size):
        matrix[i][i] = damping
    for gap, places, slopes in gaps:
        for a, s in zip(places, slopes, strict=True):
            slope[a] -= gap * s / soft
            row = matrix[a]
            for b, t in zip(places, slopes, strict=True):
                row[b] += s * t / soft
    return _solved(matrix, slope)


def _solved(matrix: list[list[float]], right: list[float]) -> list[float]:
    """Solve a symmetric positive definite system by Cholesky's method."""
    size = len(right)
    lower: list[list[float]] = []
    for i in range(size):
        row: list[float] = []
        for j, other in enumerate(lower):
            row.append((matrix[i][j] - sum(map(float.__mul__, row, other))) / other[j])
        row.append(math.sqrt(max(matrix[i][i] - sum(v * v for v in row), 1e-300)))
        lower.append(row)
    forward: list[float] = []
    for i, row in enumerate(lower):
        forward.append((right[i] - sum(map(float.__mul__, row, forward))) / row[i])
    out = [0.0] * size
    for i in range(size - 1, -1, -1):
        rest = sum(lower[k][i] * out[k] for k in range(i + 1, size))
        out[i] = (forward[i] - rest) / lower[i][i]
    return out
