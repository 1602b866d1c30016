"""The search for the smallest circle round a bundle, with nothing but the standard library.

Circles are pushed apart inside a circle of a fixed radius until none overlaps. Where that
succeeds the radius shrinks; where it fails one circle is swapped with another or dropped
elsewhere and the pushing starts again. What is found is tightened by damped Gauss-Newton steps.
Every draw comes from a seeded generator, so equal bundles give equal answers.

All functions work on radii sorted from wide to thin, the widest being 1.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field

__all__ = ["Places", "enlarge", "search"]

#: x and y of every centre.
Places = tuple[list[float], list[float]]

#: (i, j, sum of radii, its square, share that i moves, share that j moves): the thin one moves more.
_Pair = tuple[int, int, float, float, float, float]

#: A sum of squared overlaps that counts as none while the radius is still being searched.
_FREE = 1e-6
#: Sweeps of pushing before an arrangement is given up, and how often progress is looked at.
_SWEEPS = 240
_LOOK = 24
#: How much smaller the next radius tried is; what is missed is below this.
_SHRINK = 0.997
#: This close to the sum of the two widest radii nothing is left to gain.
_AT_BOUND = 1.0005


@dataclass(slots=True)
class _Search:
    """One bundle being packed."""

    radii: list[float]
    random: random.Random
    pairs: list[_Pair] = field(default_factory=list)
    bound: float = 0.0
    radius: float = math.inf
    places: Places = ([], [])

    def __post_init__(self) -> None:
        r = self.radii
        self.bound = r[0] + r[1]
        self.pairs = [
            (i, j, r[i] + r[j], (r[i] + r[j]) ** 2, r[j] / (r[i] + r[j]), r[i] / (r[i] + r[j]))
            for i in range(len(r))
            for j in range(i + 1, len(r))
        ]

    @property
    def target(self) -> float:
        """The radius tried next."""
        return max(self.bound, self.radius * _SHRINK)

    @property
    def done(self) -> bool:
        """Whether the two widest alone already ask for this radius."""
        return self.radius <= self.bound * _AT_BOUND

    def dropped(self, index: int, radius: float) -> tuple[float, float]:
        """A random place inside the circle."""
        angle = 2 * math.pi * self.random.random()
        out = max(0.0, radius - self.radii[index]) * math.sqrt(self.random.random())
        return out * math.cos(angle), out * math.sin(angle)

    def scattered(self, radius: float) -> Places:
        """Every circle at a random place."""
        spots = [self.dropped(i, radius) for i in range(len(self.radii))]
        return [x for x, _ in spots], [y for _, y in spots]

    def keep(self, places: Places) -> None:
        """Take an arrangement if it is the smallest yet."""
        free, radius = enlarge(places, self.radii)
        if radius < self.radius:
            self.radius, self.places = radius, free

    def push(self, places: Places, radius: float, sweeps: int = _SWEEPS, free: float = _FREE) -> float:
        """Push circles apart and inward, in place; returns the squared overlap that is left."""
        x, y = places
        limits = [(i, radius - r, (radius - r) ** 2) for i, r in enumerate(self.radii)]
        earlier = overlap = math.inf
        for sweep in range(1, sweeps + 1):
            overlap = _push_apart(x, y, self.pairs) + _push_inward(x, y, limits)
            if overlap < free:
                return overlap
            if sweep % _LOOK == 0:
                if overlap > 0.6 * earlier:
                    return overlap
                earlier = overlap
        return overlap

    def moved(self, places: Places, radius: float) -> Places:
        """The arrangement with two circles swapped, or one dropped elsewhere."""
        x, y = places[0][:], places[1][:]
        draw, count = self.random.random, len(self.radii)
        i, j = int(draw() * count), int(draw() * count)
        if draw() < 0.5 and abs(self.radii[i] - self.radii[j]) > 1e-9:
            x[i], x[j], y[i], y[j] = x[j], x[i], y[j], y[i]
        else:
            x[i], y[i] = self.dropped(i, radius)
        return x, y

    def run(self, starts: int, moves: int) -> None:
        """Look for ever smaller radii from several starts, so many fruitless moves each."""
        first = 1.35 * math.sqrt(sum(r * r for r in self.radii))
        places = self.scattered(first)
        self.push(places, first)
        self.keep(places)
        for start in range(starts):
            if self.done:
                return
            places = self.scattered(self.target) if start else (self.places[0][:], self.places[1][:])
            self.descend(places, moves)

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
            places = (self.places[0][:], self.places[1][:])
            if self.push(places, self.bound, 4000, 1e-24) < 1e-24:
                self.keep(places)


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
    x, y = places
    scale = 1.0
    for i, r in enumerate(radii):
        for j in range(i):
            reach = math.hypot(x[i] - x[j], y[i] - y[j])
            scale = max(scale, (r + radii[j]) / max(reach, 1e-9))
    spread = [v * scale for v in x], [v * scale for v in y]
    return spread, max(math.hypot(a, b) + r for a, b, r in zip(*spread, radii, strict=True))


def _push_apart(x: list[float], y: list[float], pairs: list[_Pair]) -> float:
    total, root = 0.0, math.sqrt
    for i, j, reach, squared, share_i, share_j in pairs:
        dx = x[i] - x[j]
        dy = y[i] - y[j]
        apart = dx * dx + dy * dy
        if apart < squared:
            distance = root(apart) + 1e-12
            overlap = reach - distance
            total += overlap * overlap
            # A little more than the overlap: it settles in fewer sweeps.
            step = 1.1 * overlap / distance
            x[i] += dx * step * share_i
            y[i] += dy * step * share_i
            x[j] -= dx * step * share_j
            y[j] -= dy * step * share_j
    return total


def _push_inward(x: list[float], y: list[float], limits: list[tuple[int, float, float]]) -> float:
    total = 0.0
    for i, limit, squared in limits:
        out = x[i] * x[i] + y[i] * y[i]
        if out > squared:
            distance = math.sqrt(out)
            total += (distance - limit) ** 2
            x[i] *= limit / distance
            y[i] *= limit / distance
    return total


#: Weights of the overlaps while tightening; the radius is too large by about a few of the last.
_SOFT = (1e-2, 1e-3, 1e-4, 1e-5, 1e-6)
_STEPS = 8

_Gap = tuple[float, tuple[int, ...], tuple[float, ...]]


def _tightened(places: Places, radii: list[float], pairs: list[_Pair]) -> Places:
    """Least of radius + overlaps squared / (2 softness), the softness falling step by step."""
    point = [*places[0], *places[1], enlarge(places, radii)[1]]
    count = len(radii)
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
    return point[:count], point[count : 2 * count]


def _value(point: list[float], gaps: list[_Gap], soft: float) -> float:
    return point[-1] + sum(gap * gap for gap, _, _ in gaps) / (2 * soft)


def _overlaps(point: list[float], radii: list[float], pairs: list[_Pair]) -> list[_Gap]:
    """Every overlap with the coordinates it depends on and its slope in each."""
    n, out = len(radii), point[-1]
    found: list[_Gap] = []
    for i, j, reach, squared, _, _ in pairs:
        dx, dy = point[i] - point[j], point[n + i] - point[n + j]
        if dx * dx + dy * dy < squared:
            distance = math.hypot(dx, dy) + 1e-12
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
