"""Conductor sizes: their numbers, areas and solid diameters, in exact decimals held at nine places."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from functools import lru_cache

from jointable.errors import InputError

__all__ = [
    "EXACT",
    "area_mm2",
    "awg_area_mm2",
    "awg_diameter_mm",
    "awg_number",
    "awg_size",
    "kcmil_area_mm2",
    "mm2_awg",
    "nine_places",
    "solid_diameter_mm",
]

#: Wide enough that nine decimals of any area or diameter are right, whatever the caller's context.
EXACT = Context(prec=40, rounding=ROUND_HALF_EVEN)

PI = Decimal("3.141592653589793238462643383279502884197")
_NINE = Decimal("0.000000001")
_MOST = Decimal(10) ** 9

#: A circular mil is the area of a circle of one mil, 0.0254 mm.
CMIL_MM2 = EXACT.multiply(EXACT.divide(PI, Decimal(4)), Decimal("0.0254") ** 2)

#: Thinnest and thickest AWG numbers; 1/0 to 4/0 count on as 0 to -3.
_AWG = range(-3, 41)

_SIZE = re.compile(r"(?:([1-4])/0|(\d{1,3})) AWG|(\d+(?:\.\d+)?) (kcmil|mm2)", re.ASCII)


def awg_number(size: str) -> int:
    """The number of an AWG size, in which 1/0 to 4/0 count on as 0 to -3.

    Args:
        size: A size as printed back, such as `12 AWG` or `4/0 AWG`.

    Returns:
        The AWG number, -3 to 40.

    Raises:
        InputError: It is not an AWG size of the tables.

    Source: ASTM B258, nominal diameters (the numbering of the sizes).

    Example:
        >>> awg_number("12 AWG"), awg_number("4/0 AWG")
        (12, -3)
    """
    found = _SIZE.fullmatch(size)
    if found is None or not (found[1] or found[2]):
        raise _unknown(size, "an AWG size such as 12 AWG or 4/0 AWG")
    number = 1 - int(found[1]) if found[1] else int(found[2])
    if number not in _AWG or (found[2] and number < 1):
        raise _unknown(size, "an AWG size from 40 AWG to 4/0 AWG")
    return number


def awg_size(number: int) -> str:
    """An AWG number as the size that is printed back.

    Args:
        number: The AWG number, -3 to 40.

    Returns:
        The size, such as `12 AWG`; 0 to -3 are `1/0 AWG` to `4/0 AWG`.

    Raises:
        InputError: The number is outside the tables.

    Source: ASTM B258, nominal diameters (the numbering of the sizes).

    Example:
        >>> awg_size(12), awg_size(-3)
        ('12 AWG', '4/0 AWG')
    """
    if number not in _AWG:
        raise _unknown(str(number), "an AWG number from 40 to -3, which is 4/0")
    return f"{number} AWG" if number > 0 else f"{1 - number}/0 AWG"


@lru_cache(maxsize=64)
def awg_diameter_mm(number: int) -> Decimal:
    """The nominal diameter of a solid AWG conductor, 0.127 mm times 92^((36 - n)/39), unrounded.

    Args:
        number: The AWG number, -3 to 40.

    Returns:
        The diameter in mm, right to more than thirty digits.

    Raises:
        InputError: The number is outside the tables.

    Source: ASTM B258, nominal diameters: 0.005 in at 36 AWG, 0.46 in at 4/0, a geometric series.

    Example:
        >>> awg_diameter_mm(36) == Decimal("0.127"), awg_diameter_mm(-3) == Decimal("11.684")
        (True, True)
    """
    awg_size(number)
    return awg_series_mm(number)


def awg_series_mm(number: int) -> Decimal:
    """The same series without the ends of the tables, for checks of figures that may be wrong [mm]."""
    steps = Fraction(36 - number, 39)
    exponent = EXACT.divide(Decimal(steps.numerator), Decimal(steps.denominator))
    return EXACT.multiply(Decimal("0.127"), EXACT.power(Decimal(92), exponent))


def awg_area_mm2(number: int) -> Decimal:
    """The cross-section of an AWG conductor, from its unrounded diameter.

    Args:
        number: The AWG number, -3 to 40.

    Returns:
        The area in mm2, held at nine decimals; the same for solid and stranded.

    Raises:
        InputError: The number is outside the tables.

    Source: ASTM B258, nominal diameters; area of a circle.

    Example:
        >>> awg_area_mm2(12)
        Decimal('3.308772876')
    """
    return nine_places(round_area_mm2(awg_diameter_mm(number)))


def kcmil_area_mm2(kcmil: Decimal | int | str) -> Decimal:
    """The cross-section of so many thousand circular mils.

    Args:
        kcmil: Thousands of circular mils, above 0.

    Returns:
        The area in mm2, held at nine decimals.

    Raises:
        InputError: It is not a number above 0 and below a thousand million.

    Source: definition: a circular mil is the area of a circle of 0.001 in; 1 in is 25.4 mm.

    Example:
        >>> kcmil_area_mm2(250)
        Decimal('126.676869774')
    """
    count = _positive(kcmil, "kcmil", "thousands of circular mils, such as 250")
    return nine_places(EXACT.multiply(EXACT.multiply(count, Decimal(1000)), CMIL_MM2))


def mm2_awg(area: Decimal | int | str) -> Decimal:
    """The AWG number, whole or not, whose cross-section is an area.

    Args:
        area: Area in mm2, above 0.

    Returns:
        n of 0.127 mm times 92^((36 - n)/39), to nine decimals; it falls as the area grows.

    Raises:
        InputError: It is not a number above 0 and below a thousand million.

    Source: ASTM B258, nominal diameters, solved for the number.

    Example:
        >>> round(mm2_awg("3.308772876"), 6), round(mm2_awg(4), 2)
        (Decimal('12.000000'), Decimal('11.18'))
    """
    diameter = round_diameter_mm(_positive(area, "area", "an area in mm2, such as 2.5"))
    steps = EXACT.divide(EXACT.ln(EXACT.divide(diameter, Decimal("0.127"))), EXACT.ln(Decimal(92)))
    return nine_places(EXACT.subtract(Decimal(36), EXACT.multiply(Decimal(39), steps)))


@lru_cache(maxsize=1024)
def area_mm2(size: str) -> Decimal:
    """The cross-section of a conductor size.

    Args:
        size: A size as printed back: `12 AWG`, `4/0 AWG`, `250 kcmil` or `2.5 mm2`.

    Returns:
        The area in mm2: from the unrounded AWG diameter or the circular mils, held at nine
        decimals, or the nominal mm2; the same for every construction.

    Raises:
        InputError: It is not a size.

    Source: ASTM B258 (AWG); definition of the circular mil; IEC 60228, Table 1 (nominal mm2).

    Example:
        >>> area_mm2("14 AWG"), area_mm2("2.5 mm2")
        (Decimal('2.080907717'), Decimal('2.500000000'))
    """
    found = _SIZE.fullmatch(size)
    if found is None:
        raise _unknown(size, "a size such as 12 AWG, 4/0 AWG, 250 kcmil or 2.5 mm2")
    if found[4] == "kcmil":
        return kcmil_area_mm2(found[3])
    if found[4] == "mm2":
        return nine_places(_positive(found[3], "size", "an area in mm2, such as 2.5 mm2"))
    return awg_area_mm2(awg_number(size))


def solid_diameter_mm(size: str) -> Decimal:
    """The diameter of one solid round wire of a size, unrounded.

    Args:
        size: A size as printed back.

    Returns:
        The diameter in mm: of AWG by its series, else sqrt(4A/pi).

    Raises:
        InputError: It is not a size.

    Source: ASTM B258 (AWG); area of a circle.

    Example:
        >>> round(solid_diameter_mm("12 AWG"), 4), round(solid_diameter_mm("2.5 mm2"), 4)
        (Decimal('2.0525'), Decimal('1.7841'))
    """
    if size.endswith(" AWG"):
        return awg_diameter_mm(awg_number(size))
    return round_diameter_mm(area_mm2(size))


def nine_places(value: Decimal) -> Decimal:
    """A figure held at nine decimals, half to even.

    Args:
        value: Any figure.

    Returns:
        The figure in the same unit.

    Source: convention of this project.

    Example:
        >>> nine_places(Decimal(2) / 3)
        Decimal('0.666666667')
    """
    return EXACT.quantize(value, _NINE)


def round_area_mm2(diameter: Decimal) -> Decimal:
    """The unrounded area [mm2] of a circle of a diameter [mm]."""
    return EXACT.divide(EXACT.multiply(PI, EXACT.multiply(diameter, diameter)), Decimal(4))


def round_diameter_mm(area: Decimal) -> Decimal:
    """The unrounded diameter [mm] of a circle of an area [mm2]."""
    return EXACT.sqrt(EXACT.divide(EXACT.multiply(Decimal(4), area), PI))


def _positive(value: Decimal | int | str, column: str, expected: str) -> Decimal:
    try:
        number = Decimal(value)
    except ArithmeticError:
        raise InputError("not a number", column=column, value=value, expected=expected) from None
    if not number.is_finite() or not _NINE <= number <= _MOST:
        raise InputError("not in range", column=column, value=value, expected=expected)
    return number


def _unknown(size: str, expected: str) -> InputError:
    return InputError("no such size", column="size", value=size, expected=expected)
