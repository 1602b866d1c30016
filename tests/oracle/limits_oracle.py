"""Limits beside the fill, in exact fractions: NEC 314.24 depth, 300.14, 314.28 pull boxes.

The clauses read the same in the 2011 model, 2020 and 2023; two sentences on rear and side entries are
new in 2023 and need figures that no schedule gives, so they are listed and stay open. Lengths are mm; a trade size in inches is
turned into mm only for the comparison, a designator is mm as it stands (314.28(A): the unit system
employed).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .words import (
    FOUR_AWG,
    MM_PER_IN,
    OracleError,
    Row,
    Size,
    cell,
    count,
    mixed,
    named_size,
    number,
    read_size,
)


@dataclass(frozen=True, slots=True)
class Limit:
    """One limit: what is needed and given in mm, and the verdict; None where a figure lacks."""

    clause: str
    needed: Fraction | None
    given: Fraction | None

    @property
    def passes(self) -> bool | None:
        """True or false, or None where it could not be checked."""
        return None if self.needed is None or self.given is None else self.given >= self.needed


TRADE_SIZES = ["1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4", "5", "6"]
DESIGNATORS = ["16", "21", "27", "35", "41", "53", "63", "78", "91", "103", "129", "155"]

#: Table 312.6(A), one wire a terminal, mm (one reading, not cross-checked): least area to bend.
BEND_MM = {
    "4 AWG": "50.8", "3 AWG": "50.8", "2 AWG": "63.5", "1 AWG": "76.2", "1/0 AWG": "88.9",
    "2/0 AWG": "88.9", "3/0 AWG": "102", "4/0 AWG": "102", "250 kcmil": "114", "300 kcmil": "127",
    "350 kcmil": "127", "400 kcmil": "152", "500 kcmil": "152", "600 kcmil": "203",
    "700 kcmil": "203",
}  # fmt: skip

_ACROSS = {
    "left": "width_mm",
    "right": "width_mm",
    "top": "height_mm",
    "bottom": "height_mm",
    "back": "depth_mm",
}
_AXIS = (("left", "right"), ("top", "bottom"), ("back",))


def limits(rows: Sequence[Row], edition: str) -> list[Limit]:
    """All limits of one box or space."""
    holder = next(row for row in rows if cell(row, "item") in ("box", "conduit_body"))
    found = _depth(rows, holder, edition) if cell(holder, "item") == "box" else []
    found.append(Limit("300.14", Fraction(150), None))  # no column gives the free length
    raceways = [row for row in rows if cell(row, "item") == "raceway" and count(row)]
    return found + (_pull_box(rows, holder, raceways) if raceways else [])


def combine(verdict: bool | None, found: Sequence[Limit]) -> bool | None:
    """The verdict of the box: any limit can fail it, only an open 314.28 leaves it open."""
    if verdict is False or any(limit.passes is False for limit in found):
        return False
    unknown = any(limit.passes is None and limit.clause.startswith("314.28") for limit in found)
    return None if unknown else verdict


def present(rows: Sequence[Row]) -> list[Size]:
    """Every conductor size that the rows name."""
    sizes = []
    for row in rows:
        item = cell(row, "item")
        if not count(row) or item in ("box", "conduit_body", "extension", "raceway", "barrier"):
            continue
        if item == "cable":
            sizes.append(read_size(cell(row, "size").split("/")[0]))
        elif item in ("device", "terminal_block"):
            size = named_size(row)
            sizes += [size] if size else []
        elif item not in ("clamp", "stud", "hickey", "connector"):
            sizes.append(read_size(cell(row, "size")))
    return sizes


def _depth(rows: Sequence[Row], holder: Row, edition: str) -> list[Limit]:
    given = number(holder, "depth_mm")
    for row in rows:  # 314.24: rings, extensions and raised covers add their depth
        depth = number(row, "depth_mm") if cell(row, "item") == "extension" else None
        given = given + depth * count(row) if given is not None and depth is not None else given
    devices = [row for row in rows if cell(row, "item") == "device" and count(row)]
    if not devices:
        return [Limit("314.24(A)", Fraction("12.7"), given)]
    sizes = present(rows)
    found = []
    for row in devices:
        supply = named_size(row) or (max(sizes) if sizes else None)
        found += _device_depth(supply, number(row, "depth_mm"), given)
    if edition == "nec-2023":  # 13 mm clear of an entry at the side or at the centre of the rear
        clear = ["314.24(C)"] + ["314.24(B)(4)"] * any(n.clause == "314.24(B)(4)" for n in found)
        found += [Limit(clause, Fraction(13), None) for clause in clear]
    return found


def _device_depth(supply: Size | None, projection: Fraction | None, given: Fraction | None) -> list[Limit]:
    found = []
    if supply is None:
        return [Limit("314.24(B)", None, given)]
    if supply > FOUR_AWG:
        found.append(Limit("314.24(B)(2)", None, given))
    elif not supply < read_size("8"):
        found.append(Limit("314.24(B)(3)", Fraction("52.4"), given))
    elif not supply < read_size("12"):
        found.append(Limit("314.24(B)(4)", Fraction("30.2"), given))
        if projection is not None and projection > 25:
            found.append(Limit("314.24(B)(4)", projection + 6, given))
    else:
        found.append(Limit("314.24(B)(5)", Fraction("23.8"), given))
    if projection is None:
        found.append(Limit("314.24(B)(1)", None, given))
    elif projection > 48:
        found.append(Limit("314.24(B)(1)", projection + 6, given))
    return found


def _diameter(row: Row, designators: bool) -> Fraction:
    return Fraction(cell(row, "size")) if designators else mixed(cell(row, "size")) * MM_PER_IN


def _pull_box(rows: Sequence[Row], holder: Row, raceways: Sequence[Row]) -> list[Limit]:
    sizes = present(rows)
    if sizes and max(sizes) < FOUR_AWG:
        return []  # 314.28(A) is for conductors of 4 AWG or larger
    kinds = {cell(row, "size") in DESIGNATORS for row in raceways}
    if len(kinds) > 1:
        raise OracleError("trade sizes and designators in one box")
    (designators,) = kinds
    if not designators and any(cell(row, "size") not in TRADE_SIZES for row in raceways):
        raise OracleError("no such raceway size")
    return [
        *_straight(holder, raceways, designators),
        *_rows(holder, raceways, designators, sizes),
        *_runs(raceways, designators),
    ]


def _straight(holder: Row, raceways: Sequence[Row], designators: bool) -> list[Limit]:
    """314.28(A)(1): eight times the largest raceway, along the pull."""
    found = []
    for walls in _AXIS:
        widest = [
            _diameter(row, designators)
            for row in raceways
            if cell(row, "wall") in walls and cell(row, "pull") == "straight"
        ]
        if widest:
            found.append(Limit("314.28(A)(1)", 8 * max(widest), number(holder, _ACROSS[walls[0]])))
    return found


def _rows(holder: Row, raceways: Sequence[Row], designators: bool, sizes: Sequence[Size]) -> list[Limit]:
    """314.28(A)(2): six times the largest of a row and wall, and the sum of the others there."""
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in raceways:
        groups.setdefault((cell(row, "wall"), cell(row, "row")), []).append(row)
    most: dict[str, Fraction | None] = {}  # by wall, the row that gives most
    for (wall, _), members in groups.items():
        if all(cell(row, "pull") == "straight" for row in members):
            continue
        if wall == "back":  # the Exception: opposite a removable cover, Table 312.6(A)
            bend = BEND_MM.get(max(sizes).text) if sizes else None
            most[wall] = Fraction(bend) if bend else None
            continue
        each = [_diameter(row, designators) for row in members for _ in range(count(row))]
        most[wall] = max(most.get(wall) or Fraction(0), 6 * max(each) + sum(each) - max(each))
    return [Limit("314.28(A)(2)", needed, number(holder, _ACROSS[wall])) for wall, needed in most.items()]


def _runs(raceways: Sequence[Row], designators: bool) -> list[Limit]:
    """314.28(A)(2): six times the larger between entries of the same conductors.

    An angle or U pull always has a partner; where the schedule does not name it, the limit is open.
    """
    runs: dict[str, list[Row]] = {}
    found = []
    for row in raceways:
        if cell(row, "pull") == "straight":
            continue
        if cell(row, "run"):
            runs.setdefault(cell(row, "run"), []).append(row)
        elif cell(row, "pull") in ("angle", "u"):
            found.append(Limit("314.28(A)(2)", 6 * _diameter(row, designators), None))
    for members in runs.values():
        given = [d for row in members if (d := number(row, "distance_mm")) is not None]
        widest = max(_diameter(row, designators) for row in members)
        if len(members) > 1:
            found.append(Limit("314.28(A)(2)", 6 * widest, min(given) if given else None))
        elif cell(members[0], "pull") in ("angle", "u"):
            found.append(Limit("314.28(A)(2)", 6 * widest, None))
    return found
