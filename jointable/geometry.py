"""Conductor sizes as geometry: areas, bare diameters, and the bundle that a joint makes.

Areas and diameters are exact decimals held at nine places, so that sums of areas never depend on
the order or the binary form of a number. Bundles are searched in floating point and stated as an
upper bound, rounded up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_CEILING, Decimal
from types import MappingProxyType

from jointable.bundle import Bundle, enclosing_circle, hidden_conductors
from jointable.errors import InputError
from jointable.gauge import (
    EXACT,
    area_mm2,
    awg_area_mm2,
    awg_diameter_mm,
    awg_number,
    awg_size,
    kcmil_area_mm2,
    mm2_awg,
    nine_places,
    solid_diameter_mm,
)

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

_THIRD = Decimal("0.001")
#: The noise of floating point in a bundle, in mm.
_NOISE = Decimal("0.000000001")

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
        (Decimal('2.052525388'), Decimal('2.327345030'))
        >>> bare_diameter_mm("12 AWG", "flexible")
        Decimal('3.000000000')
    """
    made = default_construction(size) if construction is None else construction
    if made == "flexible":
        return nine_places(Decimal(class_5_max_mm[_class_5_size(size, class_5_max_mm)]))
    if made not in CONSTRUCTIONS:
        raise InputError(
            "no such construction", column="construction", value=made,
            expected="one of " + ", ".join(CONSTRUCTIONS),
        )  # fmt: skip
    solid = solid_diameter_mm(size)
    if made == "solid":
        return nine_places(solid)
    seven = EXACT.divide(Decimal(3), EXACT.sqrt(Decimal(7)))
    return nine_places(EXACT.multiply(seven, solid))


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
        value = Decimal(value) - _NOISE
    return value.quantize(_THIRD, ROUND_CEILING)


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
    found = enclosing_circle([float(d) for d in diameters])
    if len(diameters) <= 2:
        return round_up_mm(sum(diameters, Decimal(0)))
    return round_up_mm(found.diameter)


def _class_5_size(size: str, table: Mapping[str, str]) -> str:
    area = area_mm2(size)
    for nominal in sorted(table, key=Decimal):
        if Decimal(nominal) >= area:
            return nominal
    raise InputError(
        "no flexible conductor of this size in the tables", column="size", value=size,
        expected=f"at most {max(table, key=Decimal)} mm2",
    )  # fmt: skip
