"""NEC 314.16 in exact fractions: what a box needs and what it has, rule by rule.

Written from the paragraphs (editions 2014 to 2023) and from the readings this project has settled,
without sight of its SQL. Each paragraph is one function; its clause stands beside it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache

from .nec_tables import ALLOWANCE, VOLUME, YEARS
from .words import (
    CM3_PER_IN3,
    FOUR_AWG,
    FOURTEEN_AWG,
    MM_PER_IN,
    OracleError,
    Row,
    Size,
    cell,
    count,
    largest,
    named_size,
    number,
    read_box,
    read_size,
)

#: 300.14 asks 6 in of free conductor, so a loop counts twice from 12 in, 300 mm (314.16(B)(1)).
LOOP_MM = 300


@dataclass(frozen=True, slots=True)
class Line:
    """A share of the fill: so many allowances of one size."""

    item: str
    size: str | None
    count: Fraction
    in3: Fraction
    cm3: Fraction


@dataclass(slots=True)
class Contents:
    """What stands in one box or space, sorted by the paragraph that counts it."""

    counted: list[tuple[str, Size, int]] = field(default_factory=list)  # item, size, allowances
    grounds: list[tuple[Size, int]] = field(default_factory=list)
    isolated: list[tuple[Size, int]] = field(default_factory=list)
    left_out: list[Size] = field(default_factory=list)  # pigtails, canopy wires and grounding
    connected: list[Size] = field(default_factory=list)  # named by devices and terminal blocks
    devices: list[tuple[Size | None, int]] = field(default_factory=list)
    blocks: list[tuple[Size | None, int]] = field(default_factory=list)
    fittings: set[str] = field(default_factory=set)  # clamp, stud, hickey

    def present(self) -> list[Size]:
        """All conductors in the box: grounding, pigtails and left-out wires too (reading 1)."""
        grounds = [size for size, _ in self.grounds + self.isolated]
        return [*self.ordinary(), *grounds, *self.left_out]

    def ordinary(self) -> list[Size]:
        """The same without grounding conductors, pigtails and left-out wires."""
        return [size for _, size, _ in self.counted] + self.connected


def allowance(size: Size) -> Fraction:
    """Table 314.16(B); no figure is printed for other sizes and none is invented."""
    try:
        return ALLOWANCE[size.text]
    except KeyError:
        where = "; see 314.28" if not size < FOUR_AWG else ""
        raise OracleError(f"no allowance printed for {size.text}{where}") from None


def cable_ground(size: Size) -> Size:
    """The bare grounding conductor of a nonmetallic cable (reading 7)."""
    if size.text in ("8 AWG", "6 AWG"):
        return read_size("10")
    if size < read_size("9"):
        return size
    raise OracleError(f"no grounding conductor known for a {size.text} cable")


def read_cable(text: str) -> tuple[Size, int]:
    """`12/2` is two conductors of 12 AWG; other forms are refused."""
    found = re.fullmatch(r"(\d+)/([1-9])", text.replace(" ", ""))
    if not found:
        raise OracleError(f"no such cable: {text!r}")
    return read_size(found[1]), int(found[2])


def contents(rows: Sequence[Row]) -> Contents:
    """Sort the rows of one box or space; rows of quantity 0 are not there."""
    held = Contents()
    small: list[tuple[Size, int]] = []
    pull_box = any(cell(row, "item") == "raceway" and count(row) for row in rows)
    for row in rows:
        item, quantity = cell(row, "item"), count(row)
        if quantity == 0 or item in ("box", "conduit_body", "extension", "barrier", "raceway"):
            continue
        if item in ("clamp", "stud", "hickey"):
            held.fittings.add(item)
        elif item in ("device", "terminal_block"):
            size = named_size(row)
            held.connected += [size] if size else []
            times = 2 * count(row, "gangs") * quantity if item == "device" else quantity
            (held.devices if item == "device" else held.blocks).append((size, times))
        elif item == "connector":
            named_size(row)  # 314.16(B) gives splicing connectors nothing
        elif item == "cable":
            size, conductors = read_cable(cell(row, "size"))
            held.counted.append((item, size, conductors * quantity))
            held.grounds.append((cable_ground(size), quantity))
        else:
            _conductor(held, small, row, item, quantity, pull_box)
    _canopy(held, small)
    return held


def _conductor(
    held: Contents, small: list[tuple[Size, int]], row: Row, item: str, quantity: int, pull_box: bool
) -> None:
    size = read_size(cell(row, "size"))
    if pull_box and not size < FOUR_AWG:
        held.left_out.append(size)  # present, but 314.28 alone sizes for it (reading 11)
        return
    allowance(size)
    if item in ("conductor", "through"):
        held.counted.append((item, size, quantity))  # (B)(1)
    elif item == "loop":
        length = number(row, "loop_mm")
        twice = length is None or length >= LOOP_MM
        held.counted.append((item, size, quantity * (2 if twice else 1)))  # (B)(1)
    elif item == "grounding":
        held.grounds.append((size, quantity))
    elif item == "isolated_grounding":
        held.isolated.append((size, quantity))
    elif item in ("pigtail", "fixture_grounding"):
        held.left_out.append(size)  # (B)(1) and its exception
    elif item == "fixture_wire" and size < FOURTEEN_AWG:
        small.append((size, quantity))
    elif item == "fixture_wire":
        held.counted.append((item, size, quantity))
    else:
        raise OracleError(f"no such item: {item!r}")


def _canopy(held: Contents, small: Sequence[tuple[Size, int]]) -> None:
    """314.16(B)(1) Exception: not over four wires smaller than 14 AWG from a domed canopy."""
    if sum(quantity for _, quantity in small) <= 4:
        held.left_out += [size for size, _ in small]
    else:
        held.counted += [("fixture_wire", size, quantity) for size, quantity in small]


@cache
def _line(item: str, size: Size, times: Fraction | int) -> Line:
    volume = allowance(size) * times
    return Line(item, size.text, Fraction(times), volume, volume * CM3_PER_IN3)


def _grounding(held: Contents, year: int) -> list[Line]:
    """314.16(B)(5): one allowance and one for an isolated set to 2017, quarters from 2020."""
    every = held.grounds + held.isolated
    if not every:
        return []
    top = max(size for size, _ in every)
    if year >= 2020:
        beyond = max(0, sum(quantity for _, quantity in every) - 4)
        return [_line("grounding", top, 1 + Fraction(beyond, 4))]
    lines = [_line("grounding", top, 1)]
    if held.grounds and held.isolated:
        lines.append(_line("isolated_grounding", max(size for size, _ in held.isolated), 1))
    return lines


def required(held: Contents, edition: str, base: Size | None) -> list[Line]:
    """All lines of 314.16(B), `base` being the largest conductor present."""
    year = YEARS[edition]
    lines = [_line(item, size, times) for item, size, times in held.counted]
    lines += _grounding(held, year)
    for fitting in sorted(held.fittings):  # (B)(2) all clamps one; (B)(3) one for each type
        if base is None:
            raise OracleError(f"{fitting} with no sized conductor in the box")
        lines.append(_line(fitting, base, 1))
    sized = [("device", held.devices)]  # (B)(4)
    sized += [("terminal_block", held.blocks)] if year >= 2023 else []  # (B)(6)
    for item, rows in sized:
        for size, times in rows:
            if (of := size or base) is None:
                raise OracleError(f"{item} with no sized conductor in the box")
            lines.append(_line(item, of, times))
    return lines


def marked(row: Row) -> Fraction | None:
    """A marked volume in in3; one in cm3 alone is converted exactly (reading 12)."""
    in3, cm3 = number(row, "volume_in3"), number(row, "volume_cm3")
    if any(volume is not None and volume <= 0 for volume in (in3, cm3)):
        raise OracleError("a marked volume is above 0")
    return in3 if in3 is not None else None if cm3 is None else cm3 / CM3_PER_IN3


def table_volume(name: str, gangs: int) -> Fraction:
    """314.16(A)(1): Table 314.16(A), times the ganged sections where the figure is of one gang."""
    key = read_box(name)
    if key not in VOLUME:
        raise OracleError(f"no such box: {name!r}")
    volume, per_gang = VOLUME[key]
    if gangs > 1 and not per_gang:
        raise OracleError(f"{name!r} does not gang")
    return volume * gangs


def available(rows: Sequence[Row], edition: str, spaces: bool) -> Fraction | None:
    """314.16(A): the box, what is added to it and what barriers take, in in3; None where it is not given."""
    holder = next(row for row in rows if cell(row, "item") in ("box", "conduit_body"))
    volume = marked(holder)
    if volume is None and (spaces or cell(holder, "item") == "conduit_body"):
        raise OracleError("a marked volume is needed")
    if volume is None:
        volume = _unmarked(holder, any(cell(row, "item") == "raceway" for row in rows))
    if volume is None:
        return None
    for row in rows:
        quantity = count(row)
        if cell(row, "item") == "extension" and quantity:
            each = marked(row)
            volume += (_extension(row) if each is None else each) * quantity
        elif cell(row, "item") == "barrier" and not spaces and YEARS[edition] >= 2017:
            each = marked(row)
            if each is None:
                each = Fraction(1, 2) if cell(row, "material") == "metal" else Fraction(1)
            volume -= each * quantity
    return volume


def _extension(row: Row) -> Fraction:
    """A table size, otherwise nothing (reading 9)."""
    try:
        return table_volume(cell(row, "size"), 1)
    except OracleError:
        return Fraction(0)


def _unmarked(holder: Row, pull_box: bool) -> Fraction | None:
    if cell(holder, "size"):
        return table_volume(cell(holder, "size"), count(holder))
    sides = [number(holder, name) for name in ("width_mm", "height_mm", "depth_mm")]
    if not pull_box:
        raise OracleError("a box needs a table size or a marked volume")
    if None in sides:
        return None
    width, height, depth = (side or Fraction(0) for side in sides)
    return width * height * depth / MM_PER_IN**3


def fill_lines(rows: Sequence[Row], edition: str) -> tuple[list[Line], Size | None, Fraction]:
    """The lines, the largest conductor, and the need with the largest taken without the extras.

    Without the extras (grounding, pigtails, left-out wires): reading 1 asks that a verdict that
    turns on them says so.
    """
    held = contents(rows)
    base = largest(held.present())
    lines = required(held, edition, base)
    plain = largest(held.ordinary()) or base
    without = sum((line.in3 for line in required(held, edition, plain)), Fraction(0))
    return lines, base, without
