"""Conductor sizes as geometry: areas, bare diameters, and the bundle that a joint makes.

Areas and diameters are exact decimals held at nine places, so that sums of areas never depend on
the order or the binary form of a number. Bundles are searched in floating point and stated as an
upper bound, rounded up.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import ROUND_CEILING, ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction
from types import MappingProxyType

from jointable.bundle import Bundle, enclosing_circle, hidden_conductors
from jointable.errors import InputError

__all__ = [
    "CLASS_5_MAX_MM",
    "CONSTRUCTIONS",
    "Bundle",
    "area_mm2",
    "awg_area_mm2",
    "awg_diameter_mm",
    "awg_number",
    "awg_size",
    "bare_diameter_mm",
    "bundle_mm",
    "default_construction",
    "enclosing_circle",
    "flexible_reference",
    "hidden_conductors",
    "kcmil_area_mm2",
    "mm2_awg",
    "round_up_mm",
]

#: Wide enough that nine decimals of any area or diameter are right, whatever the caller's context.
_EXACT = Context(prec=40, rounding=ROUND_HALF_EVEN)

_PI = Decimal("3.141592653589793238462643383279502884197")
_NINE = Decimal("0.000000001")
_THIRD = Decimal("0.001")

#: A circular mil is the area of a circle of one mil, 0.0254 mm.
_CMIL_MM2 = _EXACT.multiply(_EXACT.divide(_PI, Decimal(4)), Decimal("0.0254") ** 2)

#: Thinnest and thickest AWG numbers; 1/0 to 4/0 count on as 0 to -3.
_AWG = range(-3, 41)

_SIZE = re.compile(r"(?:([1-4])/0|(\d+)) AWG|(\d+(?:\.\d+)?) (kcmil|mm2)")

CONSTRUCTIONS = ("solid", "stranded", "flexible")

#: IEC 60228, Annex C: greatest diameter of a class 5 conductor (mm) by nominal area (mm2).
#: The published table `conductor` holds the same figures with their source; a check compares.
CLASS_5_MAX_MM: Mapping[str, str] = MappingProxyType(
    {
        "0.5": "1.1", "0.75": "1.3", "1": "1.5", "1.5": "1.8", "2.5": "2.4", "4": "3.0",
        "6": "3.9", "10": "5.1", "16": "6.3", "25": "7.8", "35": "9.2", "50": "11.0",
        "70": "13.1", "95": "15.1", "120": "17.0", "150": "19.0", "185": "21.0", "240": "24.0",
        "300": "27.0", "400": "31.0", "500": "35.0", "630": "39.0",
    }
)  # fmt: skip


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
    steps = Fraction(36 - number, 39)
    exponent = _EXACT.divide(Decimal(steps.numerator), Decimal(steps.denominator))
    return _EXACT.multiply(Decimal("0.127"), _EXACT.power(Decimal(92), exponent))


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
        Decimal('3.308773037')
    """
    return _nine(_EXACT.multiply(_EXACT.divide(_PI, Decimal(4)), _squared(awg_diameter_mm(number))))


def kcmil_area_mm2(kcmil: Decimal | int | str) -> Decimal:
    """The cross-section of so many thousand circular mils.

    Args:
        kcmil: Thousands of circular mils, above 0.

    Returns:
        The area in mm2, held at nine decimals.

    Raises:
        InputError: It is not above 0.

    Source: definition: a circular mil is the area of a circle of 0.001 in; 1 in is 25.4 mm.

    Example:
        >>> kcmil_area_mm2(250)
        Decimal('126.676869774')
    """
    count = _positive(kcmil, "kcmil", "thousands of circular mils, such as 250")
    return _nine(_EXACT.multiply(_EXACT.multiply(count, Decimal(1000)), _CMIL_MM2))


def mm2_awg(area: Decimal | int | str) -> Decimal:
    """The AWG number, whole or not, whose cross-section is an area.

    Args:
        area: Area in mm2, above 0.

    Returns:
        n of 0.127 mm times 92^((36 - n)/39), to nine decimals; it falls as the area grows.

    Raises:
        InputError: It is not above 0.

    Source: ASTM B258, nominal diameters, solved for the number.

    Example:
        >>> round(mm2_awg("3.308773037"), 6), round(mm2_awg(4), 2)
        (Decimal('12.000000'), Decimal('11.18'))
    """
    diameter = _diameter(_positive(area, "area", "an area in mm2, such as 2.5"))
    steps = _EXACT.divide(
        _EXACT.ln(_EXACT.divide(diameter, Decimal("0.127"))), _EXACT.ln(Decimal(92))
    )
    return _nine(_EXACT.subtract(Decimal(36), _EXACT.multiply(Decimal(39), steps)))


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
        (Decimal('2.080906831'), Decimal('2.500000000'))
    """
    found = _SIZE.fullmatch(size)
    if found is None:
        raise _unknown(size, "a size such as 12 AWG, 4/0 AWG, 250 kcmil or 2.5 mm2")
    if found[4] == "kcmil":
        return kcmil_area_mm2(found[3])
    if found[4] == "mm2":
        return _nine(_positive(found[3], "size", "an area in mm2, such as 2.5 mm2"))
    return awg_area_mm2(awg_number(size))


def default_construction(size: str) -> str:
    """The construction that is meant when none is said.

    Args:
        size: A size as printed back.

    Returns:
        `solid` up to 10 AWG or 6 mm2, `stranded` above.

    Raises:
        InputError: It is not a size.

    Source: convention of this project, after what building wire is sold as.

    Example:
        >>> default_construction("10 AWG"), default_construction("8 AWG")
        ('solid', 'stranded')
    """
    limit = Decimal(6) if size.endswith(" mm2") else awg_area_mm2(10)
    return "solid" if area_mm2(size) <= limit else "stranded"


def bare_diameter_mm(
    size: str,
    construction: str | None = None,
    *,
    class_5_max_mm: Mapping[str, str] = CLASS_5_MAX_MM,
) -> Decimal:
    """The bare diameter of a conductor.

    Args:
        size: A size as printed back.
        construction: `solid`, `stranded` or `flexible`; by default what `default_construction`
            says.
        class_5_max_mm: Greatest class 5 diameters in mm by nominal mm2, as printed.

    Returns:
        The diameter in mm at nine decimals: solid sqrt(4A/pi); stranded 3/sqrt(7) times that,
        the concentric lay of seven; flexible the class 5 maximum of the size, or for AWG, kcmil
        and other areas of the next larger metric size (`flexible_reference` names it).

    Raises:
        InputError: It is not a size or construction, or no class 5 size is as large.

    Source: area of a circle; concentric lay of seven strands; IEC 60228, Annex C (class 5).

    Example:
        >>> bare_diameter_mm("12 AWG"), bare_diameter_mm("12 AWG", "stranded")
        (Decimal('2.052525388'), Decimal('2.327345522'))
        >>> bare_diameter_mm("12 AWG", "flexible")
        Decimal('3.000000000')
    """
    made = default_construction(size) if construction is None else construction
    if made == "flexible":
        return _nine(Decimal(class_5_max_mm[_class_5_size(size, class_5_max_mm)]))
    if made not in CONSTRUCTIONS:
        raise InputError(
            "no such construction", column="construction", value=made,
            expected="one of " + ", ".join(CONSTRUCTIONS),
        )  # fmt: skip
    solid = _solid_diameter(size)
    if made == "solid":
        return _nine(solid)
    seven = _EXACT.divide(Decimal(3), _EXACT.sqrt(Decimal(7)))
    return _nine(_EXACT.multiply(seven, solid))


def flexible_reference(size: str, class_5_max_mm: Mapping[str, str] = CLASS_5_MAX_MM) -> str:
    """The metric size whose class 5 maximum stands for the diameter of a flexible conductor.

    Args:
        size: A size as printed back.
        class_5_max_mm: Greatest class 5 diameters in mm by nominal mm2, as printed.

    Returns:
        The size itself where class 5 has it, else the next larger metric size.

    Raises:
        InputError: It is not a size, or no class 5 size is as large.

    Source: IEC 60228, Annex C (class 5); the pairing is a convention of this project.

    Example:
        >>> flexible_reference("12 AWG"), flexible_reference("2.5 mm2")
        ('4 mm2', '2.5 mm2')
    """
    return f"{_class_5_size(size, class_5_max_mm)} mm2"


def round_up_mm(value: Decimal | float) -> Decimal:
    """A length rounded up at the third decimal.

    Args:
        value: A length in mm.

    Returns:
        The least thousandth of a millimetre that is not below it; a float may lie a billionth of
        a millimetre too high, which is the noise of its own arithmetic and is taken off first.

    Source: convention of this project: an upper bound stays one when it is written down.

    Example:
        >>> round_up_mm(Decimal("4.105050776")), round_up_mm(0.1 + 0.2)
        (Decimal('4.106'), Decimal('0.300'))
    """
    if isinstance(value, float):
        value = Decimal(value) - _NINE
    return _EXACT.quantize(value, _THIRD) if value <= 0 else value.quantize(_THIRD, ROUND_CEILING)


def bundle_mm(diameters: Sequence[Decimal]) -> Decimal:
    """The diameter of the smallest circle found round a bundle of conductors.

    Args:
        diameters: Diameters in mm, 1 to 24.

    Returns:
        The diameter in mm, an upper bound, rounded up at the third decimal.

    Raises:
        InputError: There are none or more than 24, or one is not above 0.

    Source: closed forms for one, two and three circles; else the search of `enclosing_circle`.

    Example:
        >>> bundle_mm([bare_diameter_mm("12 AWG")] * 2)
        Decimal('4.106')
    """
    if len(diameters) in (1, 2) and min(diameters) > 0:
        return round_up_mm(sum(diameters, Decimal(0)))
    return round_up_mm(enclosing_circle([float(d) for d in diameters]).diameter)


def _class_5_size(size: str, table: Mapping[str, str]) -> str:
    area = area_mm2(size)
    for nominal in sorted(table, key=Decimal):
        if Decimal(nominal) >= area:
            return nominal
    raise InputError(
        "no flexible conductor of this size in the tables", column="size", value=size,
        expected=f"at most {max(table, key=Decimal)} mm2",
    )  # fmt: skip


def _solid_diameter(size: str) -> Decimal:
    if size.endswith(" AWG"):
        return awg_diameter_mm(awg_number(size))
    return _diameter(area_mm2(size))


def _diameter(area: Decimal) -> Decimal:
    return _EXACT.sqrt(_EXACT.divide(_EXACT.multiply(Decimal(4), area), _PI))


def _squared(value: Decimal) -> Decimal:
    return _EXACT.multiply(value, value)


def _nine(value: Decimal) -> Decimal:
    return _EXACT.quantize(value, _NINE)


def _positive(value: Decimal | int | str, column: str, expected: str) -> Decimal:
    try:
        number = Decimal(value)
    except ArithmeticError:
        raise InputError("not a number", column=column, value=value, expected=expected) from None
    if not number.is_finite() or number <= 0:
        raise InputError("not above 0", column=column, value=value, expected=expected)
    return number


def _unknown(size: str, expected: str) -> InputError:
    return InputError("no such size", column="size", value=size, expected=expected)
