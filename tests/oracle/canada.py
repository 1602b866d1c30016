"""C22.1 Rule 12-3034 in exact fractions, in3 and mL each from its own printed column.

Table 22 and all of Table 23 are known from memory only (three rows of Table 22 were read in
excerpts); the rule from excerpts of the 2015 and 2021 editions. 2018 stands between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache

from .nec import Line, read_cable
from .words import (
    CM3_PER_IN3,
    FOURTEEN_AWG,
    MM_PER_IN,
    BoxKey,
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

EDITIONS = ("cec-2015", "cec-2018", "cec-2021")

#: Table 22: (in3, mL) for each insulated conductor.
ALLOWANCE = {
    "14 AWG": (Fraction("1.5"), Fraction("24.6")),
    "12 AWG": (Fraction("1.75"), Fraction("28.7")),
    "10 AWG": (Fraction("2.25"), Fraction("36.9")),
    "8 AWG": (Fraction("2.75"), Fraction("45.1")),
    "6 AWG": (Fraction("4.5"), Fraction("73.7")),
}

#: Table 23 (memory): name, mL, in3, whether sections gang and multiply.
_BOXES = """
4 x 1-1/2 round|245|15|no
4 x 2-1/8 round|344|21|no
4 x 1-1/2 square|344|21|no
4 x 2-1/8 square|491|30|no
4-11/16 x 1-1/2 square|491|30|no
4-11/16 x 2-1/8 square|688|42|no
4 x 1/2 round|81|5|no
3 x 2 x 1-1/2 device|131|8|yes
3 x 2 x 2 device|163|10|yes
3 x 2 x 2-1/4 device|163|10|yes
3 x 2 x 2-1/2 device|204|12.5|yes
3 x 2 x 3 device|245|15|yes
4 x 2 x 1-1/2 device|147|9|yes
4 x 2-1/8 x 1-7/8 device|229|14|yes
4 x 2-3/8 x 1-7/8 device|262|16|yes
3-3/4 x 2 x 2-1/2 masonry|229|14|yes
3-3/4 x 2 x 3-1/2 masonry|344|21|yes
4 x 2-1/4 x 2-3/8 masonry|331|20.25|yes
4 x 2-1/4 x 3-3/8 masonry|364|22.25|yes
FS 1 gang|229|14|no
FS 1 gang tandem|557|34|no
FS 2 gang|426|26|no
FS 3 gang|671|41|no
FS 4 gang|917|56|no
FD 1 gang|368|22.5|no
FD 2 gang|671|41|no
FD 3 gang|983|60|no
FD 4 gang|1392|85|no
"""

BOX_NAMES = tuple(line.split("|")[0] for line in _BOXES.split("\n") if line)
#: Boxes that are sold and counted one section at a time.
GANGING = frozenset(name for name in BOX_NAMES if name.endswith(("device", "masonry")))

VOLUME: dict[BoxKey, tuple[Fraction, Fraction, bool]] = {
    read_box(name): (Fraction(in3), Fraction(ml), gangs == "yes")
    for name, ml, in3, gangs in (line.split("|") for line in _BOXES.split("\n") if line)
}

#: Rule 12-3034 3): a device deeper than this is charged 32 mL for each cm of its depth.
DEEP_MM = Fraction("25.4")
ML_PER_CM = 32

#: Counted once each when insulated, 12-3034 1) a) and b); Loop 1.
_COUNTED = ("conductor", "through", "loop", "isolated_grounding")


def allowance(size: Size) -> tuple[Fraction, Fraction]:
    """Table 22 covers 14 to 6 AWG; nothing is printed beyond and none is borrowed."""
    try:
        return ALLOWANCE[size.text]
    except KeyError:
        raise OracleError(f"no allowance printed for {size.text}") from None


def _insulated(row: Row, item: str) -> bool:
    return item != "grounding" or cell(row, "insulation") not in ("", "bare")


def _conductors(rows: Sequence[Row]) -> tuple[list[tuple[str, Size, int]], list[Size]]:
    """What 12-3034 1) counts, and every insulated conductor in the box."""
    counted: list[tuple[str, Size, int]] = []
    insulated: list[Size] = []
    for row in rows:
        item, quantity = cell(row, "item"), count(row)
        if not quantity:
            continue
        if item == "cable":  # its grounding conductor is bare
            size, conductors = read_cable(cell(row, "size"))
            counted.append((item, size, conductors * quantity))
            insulated.append(size)
        elif item in ("pigtail", "fixture_wire"):
            size = read_size(cell(row, "size"))
            insulated.append(size)
            if item == "pigtail":
                allowance(size)  # free, but no size without an allowance is answered
            elif item == "fixture_wire" and not size < FOURTEEN_AWG:
                counted.append((item, size, quantity))  # 1) d) frees 18 and 16 AWG only
            elif item == "fixture_wire" and size.text not in ("18 AWG", "16 AWG"):
                raise OracleError(f"no allowance printed for {size.text}")
        elif (item in _COUNTED or item == "grounding") and _insulated(row, item):
            size = read_size(cell(row, "size"))
            counted.append((item, size, quantity))
            insulated.append(size)
    return counted, insulated


@cache
def _line(item: str, size: Size | None, times: int) -> Line:
    if size is None:
        raise OracleError(f"{item} with no insulated conductor in the box")
    in3, ml = allowance(size)
    return Line(item, size.text, Fraction(times), in3 * times, ml * times)


def _connectors(rows: Sequence[Row], base: Size | None) -> list[Line]:
    """12-3034 2) b): one for each complete pair, sorted by the largest wire under each."""
    sizes: list[Size] = []
    unknown = 0
    for row in rows:
        if cell(row, "item") == "connector":
            size = named_size(row) or base
            sizes += [size] * count(row) if size else []
            unknown += 0 if size else count(row)
    if unknown:  # no wire is known to be there at all
        if unknown + len(sizes) > 1:
            raise OracleError("connector with no insulated conductor in the box")
        return []
    ordered = sorted(sizes, reverse=True)
    firsts = [ordered[n] for n in range(0, len(ordered) - 1, 2)]
    return [_line("connector", size, firsts.count(size)) for size in dict.fromkeys(firsts)]


def _supports(rows: Sequence[Row], edition: str, base: Size | None) -> list[Line]:
    """12-3034 2) a): one in all to 2018, each stud and each hickey from 2021."""
    found = {
        item: sum(count(row) for row in rows if cell(row, "item") == item) for item in ("stud", "hickey")
    }
    found = {item: n for item, n in found.items() if n}
    if found and edition != "cec-2021":
        return [_line("stud or hickey", base, 1)]
    return [_line(item, base, n) for item, n in found.items()]


def _devices(rows: Sequence[Row], base: Size | None) -> list[Line]:
    """12-3034 2) c) and 3): two a strap, or by its depth where deeper than 2.54 cm."""
    lines = []
    for row in rows:
        if cell(row, "item") != "device" or not (quantity := count(row)):
            continue
        size, depth = named_size(row), number(row, "depth_mm")
        if depth is not None and depth > DEEP_MM:
            ml = ML_PER_CM * depth / 10 * quantity
            lines.append(Line("device", None, Fraction(quantity), ml / CM3_PER_IN3, ml))
        else:
            lines.append(_line("device", size or base, 2 * quantity))
    return lines


def fill_lines(rows: Sequence[Row], edition: str) -> tuple[list[Line], Size | None]:
    """The lines of one box or space, and the largest insulated conductor in it.

    Clamps, bare bonds and terminal blocks take nothing (12-3034 5), 1)).
    """
    counted, insulated = _conductors(rows)
    base = largest(insulated)
    lines = [_line(item, size, times) for item, size, times in counted]
    lines += _connectors(rows, base) + _supports(rows, edition, base) + _devices(rows, base)
    return lines, base


def _marked(row: Row) -> tuple[Fraction, Fraction] | None:
    in3, ml = number(row, "volume_in3"), number(row, "volume_cm3")
    if in3 is None and ml is None:
        return None
    if any(volume is not None and volume <= 0 for volume in (in3, ml)):
        raise OracleError("a marked volume is above 0")
    if in3 is None:
        return (ml or Fraction(0)) / CM3_PER_IN3, ml or Fraction(0)
    return in3, in3 * CM3_PER_IN3 if ml is None else ml


def _table(row: Row, gangs: int) -> tuple[Fraction, Fraction]:
    key = read_box(cell(row, "size"))
    if key[0] in ("through", "concrete ring"):  # printed for each mm and each inch of depth
        depth = number(row, "depth_mm")
        if depth is None:
            raise OracleError("depth_mm is needed")
        in3, ml = (6, Fraction("3.8")) if key[0] == "through" else (12, Fraction("7.7"))
        return in3 * depth / MM_PER_IN, ml * depth
    if key not in VOLUME:
        raise OracleError(f"no such box: {cell(row, 'size')!r}")
    in3_each, ml_each, ganging = VOLUME[key]
    if gangs > 1 and not ganging:
        raise OracleError(f"{cell(row, 'size')!r} does not gang")
    return in3_each * gangs, ml_each * gangs


def _extension(row: Row) -> tuple[Fraction, Fraction] | None:
    try:
        return _table(row, 1)
    except OracleError:
        return None  # neither marked nor of a table size: adds nothing


def available(rows: Sequence[Row], spaces: bool) -> tuple[Fraction, Fraction, bool]:
    """What the box has in in3 and in mL, and whether the verdict is in mL."""
    holder = next(row for row in rows if cell(row, "item") in ("box", "conduit_body"))
    volume = _marked(holder)
    if volume is None and (spaces or cell(holder, "item") == "conduit_body"):
        raise OracleError("a marked volume is needed")
    only_ml = volume is not None and number(holder, "volume_in3") is None
    in3, ml = volume or _table(holder, count(holder))
    for row in rows:  # 12-3034 6), memory: rings and extensions add their volume
        if cell(row, "item") == "extension" and (quantity := count(row)):
            added = _marked(row) or _extension(row)
            if added:
                in3, ml = in3 + added[0] * quantity, ml + added[1] * quantity
    return in3, ml, only_ml
