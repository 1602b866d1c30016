"""Circles in circles: closed forms, densities, the published table, a fresh search."""

from __future__ import annotations

import ast
import math
import operator
from collections.abc import Callable, Iterator, Mapping
from decimal import ROUND_DOWN, Decimal
from functools import lru_cache

from jointable.bundle import three_circles
from jointable.packing import pack
from pipeline.checks import Comparison, Context, check
from pipeline.checks._figures import HALF_UNIT, increasing, keys_agree, place
from pipeline.intervals import half_unit
from pipeline.readings import RawRow
from pipeline.tables.packing import radii_of

EQUAL, PUBLISHED, UNEQUAL = "packing_equal", "packing_published", "packing_unequal"

#: Numbers of circles for which no closed form is used.
SEARCHED = ("10", "12", "14", "16", "17", "20")
#: The one ratio that the published table rounds; it cuts all others off.
ROUNDED = ("3",)
#: A search ends this near to its minimum.
ENDS = 1e-13
#: Seed and starts with which the search reaches every set of these tables.
SEED, FEW = 9, 8
#: More circles than any row has.
MOST = 20

_NAMES: Mapping[str, Callable[[float], float]] = {"sqrt": math.sqrt, "sin": math.sin}
_OPERATORS: Mapping[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}


def formula(text: str) -> float:
    """The value of a closed form of sums, products, quotients, roots and sines.

    >>> formula("1 + 1/sin(pi/6)"), formula("2 + sqrt(5)") == 2 + 5**0.5
    (3.0000000000000004, True)
    """
    return _value(ast.parse(text, mode="eval").body)


def _value(node: ast.expr) -> float:
    match node:
        case ast.Constant(value=int(number)):
            return float(number)
        case ast.Name(id="pi"):
            return math.pi
        case ast.BinOp(left=left, op=op, right=right) if type(op) in _OPERATORS:
            return _OPERATORS[type(op)](_value(left), _value(right))
        case ast.Call(func=ast.Name(id=name), args=[argument]) if name in _NAMES:
            return _NAMES[name](_value(argument))
    raise ValueError("a formula of sums, products, quotients, sqrt, sin and pi")


@lru_cache(maxsize=1024)
def searched(radii: tuple[float, ...]) -> float:
    """Radius of the smallest circle found round circles, by a fresh search."""
    return pack(radii, SEED, FEW).diameter


def _near(row: RawRow, column: str, expected: float, how: str, ends: float = ENDS) -> Comparison:
    """A printed figure against a computed one, half a unit of its last digit either way."""
    allowed = float(half_unit(row[column])) + ends
    apart = abs(float(row[column]) - expected)
    decimals = len(row[column].partition(".")[2])
    return Comparison(((row, column),), apart <= allowed, apart / allowed, f"{expected:.{decimals}f}, {how}")


@check(
    "packing-closed-form",
    layer="cross-check",
    reads=(EQUAL,),
    what="The ratio is the value of its closed form, which all but six numbers of circles have.",
    tolerance=HALF_UNIT,
)
def packing_closed_form(c: Context) -> Iterator[Comparison]:
    for row in c.rows(EQUAL):
        has = bool(row["closed_form"])
        word = "no formula: none is used" if row["circles"] in SEARCHED else "a formula"
        yield Comparison(((row, "closed_form"),), has is (row["circles"] not in SEARCHED), 0.0, word)
        if has:
            yield _formula_holds(row)


def _formula_holds(row: RawRow) -> Comparison:
    try:
        value = formula(row["closed_form"])
    except (SyntaxError, ValueError, ArithmeticError):
        return Comparison(
            ((row, "closed_form"),), False, 1.0, "a formula of sums, quotients, sqrt, sin and pi"
        )
    found = _near(row, "ratio", value, f"the value of {row['closed_form']}")
    return Comparison((*found.cells, (row, "closed_form")), found.ok, found.residual, found.expected)


@check(
    "packing-search",
    layer="cross-check",
    reads=(EQUAL,),
    what="Where no closed form is used, the ratio is what a fresh search finds.",
    tolerance=f"{HALF_UNIT} and 1e-13",
    reason="A search ends about 1e-13 above its minimum.",
)
def packing_search(c: Context) -> Iterator[Comparison]:
    for row in c.rows(EQUAL):
        if row["circles"] in SEARCHED:
            yield _near(row, "ratio", searched((1.0,) * int(row["circles"])), "by a fresh search")


@check(
    "packing-density",
    layer="cross-check",
    reads=(EQUAL,),
    what="The density is the number of circles over the square of the ratio.",
    tolerance=HALF_UNIT,
)
def packing_density(c: Context) -> Iterator[Comparison]:
    for row in c.rows(EQUAL):
        found = _near(row, "density", int(row["circles"]) / float(row["ratio"]) ** 2, "circles / ratio^2")
        yield Comparison(
            (*found.cells, (row, "ratio"), (row, "circles")), found.ok, found.residual, found.expected
        )


@check(
    "packing-order",
    layer="cross-check",
    reads=(EQUAL,),
    what="The rows count the circles from 1 to 20, and one circle more never needs a smaller circle round all.",
)
def packing_order(c: Context) -> Iterator[Comparison]:
    rows = sorted(c.rows(EQUAL), key=lambda row: int(row["circles"]))
    for number, row in enumerate(rows, 1):
        yield Comparison(((row, "circles"),), row["circles"] == str(number), 0.0, str(number))
    yield from increasing(rows, "ratio", strictly=False)


@check(
    "packing-published",
    layer="second evidence",
    reads=(PUBLISHED, EQUAL),
    what="The published table has the same rows and prints the ratio cut off after three decimals; three circles are rounded.",
    tolerance="exact",
)
def packing_published(c: Context) -> Iterator[Comparison]:
    ours = {(row["circles"],): row for row in c.rows(EQUAL)}
    theirs = {(row["circles"],): row for row in c.rows(PUBLISHED)}
    yield from keys_agree(theirs, ours)
    for key, row in theirs.items():
        if key in ours:
            ratio = Decimal(ours[key]["ratio"])
            cut = ratio.quantize(place(3), None if key[0] in ROUNDED else ROUND_DOWN)
            cells = ((row, "ratio"), (ours[key], "ratio"))
            whole = ratio == ratio.to_integral_value()
            expected = f"{ratio.to_integral_value():f}" if whole else f"{cut:f}"
            yield Comparison(cells, row["ratio"] == expected, 0.0, expected)


@check(
    "packing-optimality",
    layer="cross-check",
    reads=(PUBLISHED,),
    what="One to four and seven circles are trivial, up to fourteen and nineteen are proved, the others conjectured.",
)
def packing_optimality(c: Context) -> Iterator[Comparison]:
    for row in c.rows(PUBLISHED):
        number = int(row["circles"])
        known = (
            "trivial"
            if number in (1, 2, 3, 4, 7)
            else "proved"
            if number <= 14 or number == 19
            else "conjectured"
        )
        yield Comparison(((row, "optimality"),), row["optimality"].split(" ")[0] == known, 0.0, known)


@check(
    "packing-unequal",
    layer="cross-check",
    reads=(UNEQUAL,),
    what="Radius and threshold of three circles, of a core in its ring and of two large with two small ones follow from the radii.",
    tolerance=HALF_UNIT,
)
def packing_unequal(c: Context) -> Iterator[Comparison]:
    for row in c.rows(UNEQUAL):
        radii = sorted(_radii(row), reverse=True)
        known = _CLOSED[row["arrangement"]](radii) if len(radii) > 2 and min(radii) > 0 else None
        if known is None:
            yield Comparison(((row, "radii"),), False, 1.0, f"radii of {row['arrangement']}")
            continue
        yield from _as_known(row, known)


#: The sets that were chosen: three circles either side of the threshold, rings that just hold their core.
SETS = {
    "three circles": (
        "1 1 1", "2 1 1", "3 2 1", "1 1 0.5", "1 1 0.6666666", "1 1 0.67", "5 4 2.2", "5 4 2.96",
        "2.15 2.15 1.41", "1.41 1.651 2.083", "10 1 1", "3 3 2",
    ),
    "core and ring": (
        "core 0.154701 + 3 x 1", "core 0.414214 + 4 x 1", "core 0.701302 + 5 x 1",
        "core 1.000000 + 6 x 1", "core 1.613126 + 8 x 1", "core 1.923804 + 9 x 1",
    ),
    "two large and two small": ("2 2 1 1",),
    "mixed": (
        "1.41 1.41 1.651", "1.41 1.41 1.651 1.651", "1.41 1.41 1.41 1.41 1.651 1.651",
        "2.083 1.651 1.651 1.41 1.41",
    ),
}  # fmt: skip


@check(
    "packing-sets",
    layer="cross-check",
    reads=(UNEQUAL,),
    what="The unequal sets are those chosen: either side of the threshold, and rings that just hold their core.",
    reason="Where the two largest govern, the thinnest circle bears on no other figure of the row.",
)
def packing_sets(c: Context) -> Iterator[Comparison]:
    for row in c.rows(UNEQUAL):
        chosen = SETS[row["arrangement"]]
        yield Comparison(
            ((row, "radii"), (row, "arrangement")), row["radii"] in chosen, 0.0, "one of " + "; ".join(chosen)
        )


#: What must stand in the columns rule, radius_closed and threshold.
Known = tuple[str, float | None, float | None]


def _as_known(row: RawRow, known: Known) -> Iterator[Comparison]:
    rule, *figures_known = known
    yield Comparison(((row, "rule"), (row, "radii")), row["rule"] == rule, 0.0, rule or "no rule")
    for column, value in zip(("radius_closed", "threshold"), figures_known, strict=True):
        if value is None or not row[column]:
            yield Comparison(
                ((row, column),),
                value is None and not row[column],
                0.0,
                "no figure" if value is None else f"{value:.9f}",
            )
        else:
            yield _near(row, column, value, f"{rule or 'closed form'} of {row['radii']}")


def _radii(row: RawRow) -> tuple[float, ...]:
    radii = tuple(map(float, radii_of(row["radii"])))
    return radii if len(radii) <= MOST else ()


def _three(radii: list[float]) -> Known | None:
    if len(radii) != 3:
        return None
    a, b, _ = radii
    radius, threshold = three_circles(*radii), a * b * (a + b) / (a * a + a * b + b * b)
    return "two largest govern" if radius <= a + b else "outer Soddy circle", radius, threshold


def _core(radii: list[float]) -> Known | None:
    """One core that a ring of equal circles just holds; it is given to six decimals."""
    ring = [r for r in radii if r == 1.0]
    others = [r for r in radii if r != 1.0] or [1.0]
    count = len(radii) - 1
    held = 1 / math.sin(math.pi / count) - 1
    if len(others) != 1 or len(ring) < count or abs(others[0] - held) > 0.5e-6 + ENDS:
        return None
    return "core and two ring circles", held + 2, None


def _two_and_two(radii: list[float]) -> Known | None:
    a, b, c, d = radii if len(radii) == 4 else (0.0, 1.0, 0.0, 1.0)
    return ("two largest govern", 2 * a, 2 * a / 3) if a == b and c == d <= 2 * a / 3 else None


_CLOSED: Mapping[str, Callable[[list[float]], Known | None]] = {
    "three circles": _three,
    "core and ring": _core,
    "two large and two small": _two_and_two,
    "mixed": lambda _: ("", None, None),
}


@check(
    "packing-unequal-search",
    layer="cross-check",
    reads=(UNEQUAL,),
    what="The radius of every unequal set is what a fresh search finds.",
    tolerance=f"{HALF_UNIT} and 1e-9; a core of six decimals leaves 1e-6",
    reason="The recorded search ended about 1e-10 above its minimum; the radii of cores are printed to six decimals.",
)
def packing_unequal_search(c: Context) -> Iterator[Comparison]:
    for row in c.rows(UNEQUAL):
        radii = _radii(row)
        if not radii or min(radii) <= 0:
            yield Comparison(((row, "radii"),), False, 1.0, f"at most {MOST} radii above 0")
            continue
        found = searched(radii)
        for column in ("radius_closed", "radius_search"):
            if row[column]:
                ends = 1e-6 if row["arrangement"] == "core and ring" else 1e-9
                compared = _near(row, column, found, "by a fresh search", ends)
                yield Comparison(
                    (*compared.cells, (row, "radii")), compared.ok, compared.residual, compared.expected
                )
        searched_too = row["arrangement"] != "core and ring"
        yield Comparison(
            ((row, "radius_search"),),
            bool(row["radius_search"]) is searched_too,
            0.0,
            f"{found:.9f}" if searched_too else "no figure",
        )
