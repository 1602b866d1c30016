"""The smallest circle round a bundle, searched hard: many starts, moves from the best, exact ends.

Starts are relaxed together, as arrays, by damped Gauss-Newton steps on radius plus squared
overlaps; those that come near the best are then brought to their local minimum by scipy's SLSQP
with exact slopes. After the random starts come as many that take the best arrangement so far and
swap two conductors or drop one elsewhere. What comes out is the best found: an upper bound of the
smallest circle, and proven only where it reaches the sum of the two widest diameters.

It needs numpy and scipy, the extra `exact`, and is loaded only where it is asked for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from jointable.bundle import three_circles

__all__ = ["AGREE", "STARTS", "Packing", "confirmed", "pack"]

Array = NDArray[np.float64]

#: Random starts of one search; twice half as many follow, moved from the best.
STARTS = 60
#: A start whose relaxed radius lies further above the best than this is not followed to its end.
_NEAR = 1.002
#: Two searches found the same circle where their radii differ by no more than this share.
AGREE = 1e-7

#: Softness of the overlaps, the widest radius being 1, and steps at each.
_SOFT = ((0.3, 12), (0.05, 10), (0.008, 8), (0.001, 8))


@dataclass(frozen=True, slots=True)
class Packing:
    """A bundle as found.

    `diameter` is in the unit of the conductors; `positions` (n, 2) are centres about the middle,
    for the conductors in the order given; `proven` says that no smaller circle exists;
    `searches` counts the searches that went into it.
    """

    diameter: float
    positions: Array
    proven: bool
    searches: int


def confirmed(diameters: Sequence[float], seeds: Sequence[int], starts: int = STARTS) -> Packing | None:
    """The best of as many searches as it takes until two of them agree on it.

    Args:
        diameters: Diameters, in any order.
        seeds: Seeds of the searches, tried in turn.
        starts: Starts of each search.

    Returns:
        The packing, or None where the seeds ran out before two searches agreed.
    """
    found: list[Packing] = []
    for seed in seeds:
        found.append(pack(diameters, seed, starts))
        best = min(found, key=lambda p: p.diameter)
        agreeing = sum(p.diameter <= best.diameter * (1 + AGREE) for p in found)
        if best.proven or agreeing == 2:
            return Packing(best.diameter, best.positions, best.proven, len(found))
    return None


def pack(diameters: Sequence[float], seed: int, starts: int = STARTS) -> Packing:
    """Search for the smallest circle round conductors.

    Args:
        diameters: Diameters, in any order.
        seed: Seed of every draw; the same seed gives the same packing.
        starts: Starts of the search.

    Returns:
        The best found.

    >>> round(pack([1.0] * 5, seed=1).diameter, 6)
    2.701302
    """
    order = np.argsort(-np.asarray(diameters, dtype=float), kind="stable")
    wide = np.asarray(diameters, dtype=float)[order] / 2
    unit = wide[0]
    radius, places, proven = _packed(wide / unit, seed, starts)
    positions = np.empty_like(places)
    positions[order] = places * unit
    return Packing(float(2 * radius * unit), positions, proven, 1)


def _packed(radii: Array, seed: int, starts: int) -> tuple[float, Array, bool]:
    """Radius, centres and whether it is proven, for radii from wide to thin, the widest being 1."""
    if len(radii) == 1:
        return 1.0, np.zeros((1, 2)), True
    bound = float(radii[0] + radii[1])
    if len(radii) == 3:
        bound = three_circles(*map(float, radii))
    rng = np.random.default_rng([seed, len(radii)])
    best, places = math.inf, np.zeros((len(radii), 2))
    for moves in range(3):
        begin = _moved(rng, -(-starts // 2), places, radii, best) if moves else _scattered(rng, starts, radii)
        relaxed, reach = _relaxed(begin, radii)
        for at in np.argsort(reach, kind="stable"):
            if reach[at] > best * _NEAR:
                break
            found, ends = _polished(relaxed[at], radii, reach[at])
            if found < best:
                best, places = found, ends
            # No circle is smaller than the two widest side by side; nor, for three, than theirs.
            if best <= bound * (1 + 1e-9):
                return bound, places, True
    return best, places, False


def _scattered(rng: np.random.Generator, count: int, radii: Array) -> Array:
    """Random arrangements (count, n, 2)."""
    reach = 1.3 * math.sqrt(float((radii**2).sum()))
    angle = rng.random((count, len(radii))) * 2 * math.pi
    out = np.sqrt(rng.random((count, len(radii)))) * reach
    return np.stack([out * np.cos(angle), out * np.sin(angle)], 2)


def _moved(rng: np.random.Generator, count: int, places: Array, radii: Array, radius: float) -> Array:
    """The best arrangement, each time with one or two conductors swapped or dropped elsewhere."""
    out: Array = np.repeat(places[None], count, 0)
    for one in out:
        for _ in range(int(rng.integers(1, 3))):
            i, j = rng.choice(len(radii), 2, replace=False)
            if rng.random() < 0.5 and radii[i] != radii[j]:
                one[[i, j]] = one[[j, i]]
            else:
                angle, far = rng.random() * 2 * math.pi, math.sqrt(rng.random()) * radius
                one[i] = far * math.cos(angle), far * math.sin(angle)
    out += rng.normal(0.0, 0.02, out.shape)
    return out


class _Contacts:
    """Overlaps of many arrangements at once, with their slopes."""

    def __init__(self, radii: Array) -> None:
        self.radii = radii
        self.n = len(radii)
        self.i, self.j = np.triu_indices(self.n, 1)
        self.reach = radii[self.i] + radii[self.j]
        self.pair = np.arange(len(self.i))
        self.wall = np.arange(self.n)

    def overlaps(self, x: Array, radius: Array) -> tuple[Array, Array, Array, Array, Array]:
        """Overlaps (s, k), vectors and distances of the pairs, distances from the middle."""
        between = x[:, self.i] - x[:, self.j]
        apart = np.sqrt((between**2).sum(2)) + 1e-12
        out = np.sqrt((x**2).sum(2)) + 1e-12
        gaps = np.concatenate([self.reach - apart, out + self.radii - radius[:, None]], 1)
        return np.maximum(gaps, 0.0), x, between, apart, out

    def slopes(self, x: Array, between: Array, apart: Array, out: Array) -> Array:
        """Slopes (s, k, 2n + 1) of the overlaps in every coordinate and the radius."""
        k, last = len(self.pair), 2 * self.n
        slopes = np.zeros((len(x), k + self.n, last + 1))
        along, outward = between / apart[..., None], x / out[..., None]
        for axis in (0, 1):
            slopes[:, self.pair, 2 * self.i + axis] = -along[..., axis]
            slopes[:, self.pair, 2 * self.j + axis] = along[..., axis]
            slopes[:, k + self.wall, 2 * self.wall + axis] = outward[..., axis]
        slopes[:, k:, last] = -1.0
        return slopes


def _relaxed(x: Array, radii: Array) -> tuple[Array, Array]:
    """Least of radius + overlaps squared / (2 softness) from every start; centres and radii."""
    contacts = _Contacts(radii)
    radius = (np.sqrt((x**2).sum(2)) + radii).max(1)
    for soft, steps in _SOFT:
        state = contacts.overlaps(x, radius)
        value = radius + (state[0] ** 2).sum(1) / (2 * soft)
        damping = np.full(len(x), 0.05 / soft)
        for _ in range(steps):
            step = _step(contacts, state, soft, damping)
            trial = x + step[:, :-1].reshape(x.shape)
            trial_radius = radius + step[:, -1]
            found = contacts.overlaps(trial, trial_radius)
            reached = trial_radius + (found[0] ** 2).sum(1) / (2 * soft)
            better = reached < value
            state = tuple(  # type: ignore[assignment]
                np.where(better.reshape(-1, *[1] * (new.ndim - 1)), new, old)
                for new, old in zip(found, state, strict=True)
            )
            x = state[1]
            radius = np.where(better, trial_radius, radius)
            value = np.where(better, reached, value)
            damping = np.where(better, np.maximum(damping * 0.3, 1e-4 / soft), damping * 4)
    return x, radius


def _step(
    contacts: _Contacts, state: tuple[Array, Array, Array, Array, Array], soft: float, damping: Array
) -> Array:
    """The damped Gauss-Newton step (s, 2n + 1) of every start, none longer than 0.7."""
    gaps, *places = state
    active = contacts.slopes(*places) * (gaps > 0)[..., None]
    gradient = np.einsum("skv,sk->sv", active, gaps) / soft
    gradient[:, -1] += 1
    curve = np.matmul(active.transpose(0, 2, 1), active) / soft
    diagonal = np.arange(curve.shape[1])
    curve[:, diagonal, diagonal] += damping[:, None]
    step: Array = -np.linalg.solve(curve, gradient[..., None])[..., 0]
    longest = np.abs(step).max(1)
    step *= np.minimum(1.0, 0.7 / np.maximum(longest, 1e-12))[:, None]
    return step


def _polished(start: Array, radii: Array, radius: float) -> tuple[float, Array]:
    """The local minimum from one start, spread until nothing overlaps: an upper bound."""
    n = len(radii)
    i, j = np.triu_indices(n, 1)
    pair, wall, k = np.arange(len(i)), np.arange(n), len(i)
    squared = (radii[i] + radii[j]) ** 2
    slopes = np.zeros((k + n, 2 * n + 1))
    only_radius = np.zeros(2 * n + 1)
    only_radius[-1] = 1.0

    def room(v: Array) -> Array:
        x = v[:-1].reshape(n, 2)
        between = x[i] - x[j]
        return np.concatenate([(between**2).sum(1) - squared, (v[-1] - radii) ** 2 - (x**2).sum(1)])

    def room_slopes(v: Array) -> Array:
        x = v[:-1].reshape(n, 2)
        between = 2 * (x[i] - x[j])
        for axis in (0, 1):
            slopes[pair, 2 * i + axis] = between[:, axis]
            slopes[pair, 2 * j + axis] = -between[:, axis]
            slopes[k + wall, 2 * wall + axis] = -2 * x[:, axis]
        slopes[k:, -1] = 2 * (v[-1] - radii)
        return slopes

    result = minimize(
        lambda v: v[-1],
        np.append(start.ravel(), radius),
        jac=lambda _: only_radius,
        constraints=[{"type": "ineq", "fun": room, "jac": room_slopes}],
        method="SLSQP",
        options={"maxiter": 60, "ftol": 1e-13},
    )
    x = result.x[:-1].reshape(n, 2)
    apart = np.sqrt(((x[i] - x[j]) ** 2).sum(1))
    x = x * max(1.0, float((np.sqrt(squared) / np.maximum(apart, 1e-9)).max(initial=1.0)))
    return float((np.sqrt((x**2).sum(1)) + radii).max()), x
