"""Reading the words of a box schedule: sizes, box names, numbers. Exact, and apart from the library.

Only what the oracle needs is read here; anything else is an `OracleError`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache

#: One inch is 25.4 mm by definition (international yard, 1959), so 1 in3 is 16.387064 cm3.
CM3_PER_IN3 = Fraction("16.387064")
MM_PER_IN = Fraction("25.4")
#: The greatest quantity of a row.
MOST = 9_999

Row = Mapping[str, object]


class OracleError(ValueError):
    """The schedule has no answer, for the reason given."""


@dataclass(frozen=True, slots=True)
class Size:
    """A conductor size, ordered by area."""

    area: float
    text: str

    def __lt__(self, other: Size) -> bool:
        return self.area < other.area


_FRACTION_SIGNS = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}


@cache
def read_size(text: str) -> Size:
    """Read `12`, `#12`, `12AWG`, `4/0`, `250 kcmil`, `2.5 mm2`; a bare number is AWG."""
    plain = text.strip().replace("#", "").replace("²", "2")
    if found := re.fullmatch(r"(\d)/0\s*(AWG)?", plain, re.IGNORECASE):
        return _awg(1 - int(found[1]), f"{found[1]}/0 AWG")
    if found := re.fullmatch(r"(\d+)\s*(AWG)?", plain, re.IGNORECASE):
        number = int(found[1])
        return _awg(number, "1/0 AWG" if number == 0 else f"{number} AWG")
    if found := re.fullmatch(r"(\d+)\s*kcmil", plain, re.IGNORECASE):
        return Size(int(found[1]) * 0.5067074790974977, f"{found[1]} kcmil")
    if found := re.fullmatch(r"(\d+(?:\.\d+)?)\s*mm2", plain, re.IGNORECASE):
        return Size(float(found[1]), f"{found[1]} mm2")
    raise OracleError(f"no conductor size: {text!r}")


def _awg(number: int, text: str) -> Size:
    diameter_mm = 0.127 * 92 ** ((36 - number) / 39)
    return Size(0.7853981633974483 * diameter_mm**2, text)


FOUR_AWG = read_size("4")
FOURTEEN_AWG = read_size("14")


def cell(row: Row, column: str) -> str:
    """The text of a cell; empty where the column is missing or null."""
    value = row.get(column)
    if type(value) is str:
        return value.strip()
    return "" if value is None else str(value).strip()


def number(row: Row, column: str) -> Fraction | None:
    """The exact number in a cell, or None where it is empty."""
    text = cell(row, column)
    return _exact(text) if text else None


@cache
def _exact(text: str) -> Fraction:
    return Fraction(text)


def count(row: Row, column: str = "quantity") -> int:
    """A whole number; empty is 1, 0 is none, negative or fractional is an error."""
    return _whole(cell(row, column) or "1", column)


@cache
def _whole(text: str, column: str) -> int:
    if not re.fullmatch(r"\d+(\.0+)?", text):
        raise OracleError(f"{column} {text!r} is no whole number")
    if (value := int(Fraction(text))) > MOST:
        raise OracleError(f"{column} {text!r} is above {MOST}")
    return value


def named_size(row: Row) -> Size | None:
    """The size of a device, terminal block or connector, in `conductor_size` or in `size`."""
    sizes = {read_size(cell(row, name)) for name in ("conductor_size", "size") if cell(row, name)}
    if len(sizes) > 1:
        raise OracleError("size and conductor_size differ")
    return sizes.pop() if sizes else None


def largest(sizes: Sequence[Size]) -> Size | None:
    """The largest of some sizes, or None where there are none."""
    return max(sizes) if sizes else None


def mixed(text: str) -> Fraction:
    """Read `1-1/2`, `1 1/2`, `1/2`, `1.5` or `4` as an exact number of inches."""
    whole, _, part = text.replace(" ", "-").rpartition("-")
    return Fraction(part) + (Fraction(whole) if whole else 0)


_NUMBER = r"\d+[- ]\d+/\d+|\d+/\d+|\d+\.\d+|\d+"
_WORDS = {
    "octagonal": "round", "octagon": "round", "round": "round", "square": "square",
    "device": "device", "masonry": "masonry", "fs": "FS", "fd": "FD", "single": "single",
    "multiple": "multiple", "gang": "gang", "tandem": "tandem", "through": "through",
    "concrete": "concrete", "ring": "ring",
}  # fmt: skip

BoxKey = tuple[str, tuple[Fraction, ...]]


@cache
def read_box(text: str) -> BoxKey:
    """Read a box name in any order of its parts: the words sorted, the numbers sorted."""
    plain = text
    for sign, letters in _FRACTION_SIGNS.items():
        plain = re.sub(rf"(?<=\d)\s*-?\s*{sign}", f"-{letters}", plain).replace(sign, letters)
    plain = plain.replace('"', " ")
    numbers = tuple(sorted(mixed(part) for part in re.findall(_NUMBER, plain)))
    left = re.sub(_NUMBER, " ", plain)
    words = [word for word in re.findall(r"[a-z]+", left.lower()) if word not in ("x", "in")]
    unknown = [word for word in words if word not in _WORDS]
    if unknown or not words:
        raise OracleError(f"no such box: {text!r}")
    return " ".join(sorted({_WORDS[word] for word in words})), numbers
