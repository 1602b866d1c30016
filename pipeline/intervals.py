"""Exact intervals: what a printed figure can stand for, carried through a formula.

A figure printed as 2.05 stands for anything from 2.045 to 2.055. Tolerances come from that and
nothing else: a formula is evaluated on the intervals of its printed inputs, and holds when the
result meets the interval of the printed outcome.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Interval", "Printed", "exact", "half_unit"]


def half_unit(text: str) -> Fraction:
    """Half a unit of the last printed digit.

    >>> half_unit("2.05"), half_unit("167800")
    (Fraction(1, 200), Fraction(1, 2))
    """
    digits = text.strip().lstrip("+-")
    decimals = len(digits.partition(".")[2])
    return Fraction(1, 2 * 10**decimals)


@dataclass(frozen=True, slots=True)
class Interval:
    """A closed interval of exact fractions; arithmetic assumes nothing about signs."""

    low: Fraction
    high: Fraction

    def __add__(self, other: Interval | int | Fraction) -> Interval:
        o = _lift(other)
        return Interval(self.low + o.low, self.high + o.high)

    def __sub__(self, other: Interval | int | Fraction) -> Interval:
        o = _lift(other)
        return Interval(self.low - o.high, self.high - o.low)

    def __mul__(self, other: Interval | int | Fraction) -> Interval:
        o = _lift(other)
        ends = (self.low * o.low, self.low * o.high, self.high * o.low, self.high * o.high)
        return Interval(min(ends), max(ends))

    __radd__ = __add__
    __rmul__ = __mul__

    def __truediv__(self, other: Interval | int | Fraction) -> Interval:
        o = _lift(other)
        if o.low <= 0 <= o.high:
            raise ZeroDivisionError("the divisor may be zero")
        return self * Interval(1 / o.high, 1 / o.low)

    def squared(self) -> Interval:
        """The interval of squares (both factors the same unknown)."""
        ends = sorted((self.low * self.low, self.high * self.high))
        return Interval(Fraction(0) if self.low < 0 < self.high else ends[0], ends[1])

    def meets(self, other: Interval) -> bool:
        """Whether some value lies in both."""
        return self.low <= other.high and other.low <= self.high

    @property
    def middle(self) -> Fraction:
        """The middle of the interval."""
        return (self.low + self.high) / 2

    @property
    def half_width(self) -> Fraction:
        """Half the length of the interval."""
        return (self.high - self.low) / 2

    def residual(self, other: Interval) -> float:
        """How far the middles lie apart, in units of the widest distance still allowed."""
        allowed = self.half_width + other.half_width
        apart = abs(self.middle - other.middle)
        if allowed == 0:
            return 0.0 if apart == 0 else float("inf")
        return float(apart / allowed)


class Printed(Interval):
    """The interval of a printed figure: half a unit of its last digit either way.

    >>> Printed("2.05").low, Printed("2.05").high
    (Fraction(409, 200), Fraction(411, 200))
    """

    def __init__(self, text: str, last_digit: Fraction | None = None) -> None:
        half = half_unit(text) if last_digit is None else last_digit / 2
        value = Fraction(text.strip())
        super().__init__(value - half, value + half)


def exact(value: int | str | Fraction) -> Interval:
    """An interval of no width."""
    fraction = Fraction(value)
    return Interval(fraction, fraction)


def _lift(value: Interval | int | Fraction) -> Interval:
    return value if isinstance(value, Interval) else exact(value)
