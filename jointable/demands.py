"""What is asked of the connector in the hand: location, temperature, marks, and the family looked at."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from jointable.errors import InputError

__all__ = ["FAMILIES", "GRIPS", "LOCATIONS", "TWO_GRIPS", "Demands", "one_of", "plain"]

#: Families in the order in which answers list them.
FAMILIES = (
    "twist-on", "screwless push-in", "screwless lever", "screw clamp", "crimped butt", "crimped closed end",
    "crimped pigtail", "split bolt", "insulation-piercing",
)  # fmt: skip
GRIPS = ("standard", "wide")
LOCATIONS = ("dry", "damp", "wet", "burial")
MARKS = ("cu", "al-cu")

#: Families whose classes come in both grips.
TWO_GRIPS = ("twist-on", "screwless push-in", "screwless lever", "screw clamp")

_PLACE = {
    "damp": "listed for damp locations",
    "wet": "listed for wet locations",
    "burial": "listed for direct burial",
}


@dataclass(frozen=True, slots=True)
class Demands:
    """The demands on a connector, checked.

    Args:
        family: Only this family, or None.
        grip: Only this grip, or None.
        location: `dry`, `damp`, `wet` or `burial`, or None where it is not said.
        temperature_c: Temperature at the joint in degrees Celsius, or None.
        material_mark: `cu` or `al-cu`, or None.
        pass_through: Whether one grounding conductor goes on through.
        reopenable: Whether it must open again.
        voltage: Voltage of the circuit in V, or None.
        carried: What is carried (`jointable.carry.Carried`), or None where anything may be chosen.

    Source: none; a form of this project.

    Example:
        >>> Demands.of(location="wet", temperature_c="90").marks()
        ['listed for wet locations', 'marked for at least 90 °C']
    """

    family: str | None = None
    grip: str | None = None
    location: str | None = None
    temperature_c: Decimal | None = None
    material_mark: str | None = None
    pass_through: bool = False
    reopenable: bool = False
    voltage: Decimal | None = None
    #: What is carried, where only that may be chosen.
    carried: Any = None

    @classmethod
    def of(
        cls,
        *,
        family: str | None = None,
        grip: str | None = None,
        location: str | None = None,
        temperature_c: Any = None,
        material_mark: str | None = None,
        pass_through: bool = False,
        reopenable: bool = False,
        voltage: Any = None,
    ) -> Demands:
        """Check demands as they are given.

        Args:
            family: A family, or None for all.
            grip: `standard` or `wide`, or None for both.
            location: `dry`, `damp`, `wet` or `burial`.
            temperature_c: Degrees Celsius, as text or a number.
            material_mark: `cu` or `al-cu`.
            pass_through: Whether one grounding conductor goes on through.
            reopenable: Whether it must open again.
            voltage: Volts, as text or a number.

        Returns:
            The demands.

        Raises:
            InputError: One of them is not known, or two contradict one another.

        Source: none; a form of this project.

        Example:
            >>> Demands.of(family="Twist-on").family
            'twist-on'
        """
        family = one_of(family, FAMILIES, "family")
        grip = one_of(grip, GRIPS, "grip")
        if grip == "wide" and family is not None and family not in TWO_GRIPS:
            raise InputError(
                f"{family} classes are not made wide",
                column="grip",
                value=grip,
                expected="leave --grip out, or ask for one of " + ", ".join(TWO_GRIPS),
            )
        mark = "al-cu" if (material_mark or "").strip().lower() == "cu-al" else material_mark
        volts = _number(voltage, "voltage", "volts, such as 600")
        if volts is not None and volts <= 0:
            raise InputError("not above 0", column="voltage", value=voltage, expected="volts, such as 600")
        return cls(
            family,
            grip,
            one_of(location, LOCATIONS, "location"),
            _temperature(temperature_c),
            one_of(mark, MARKS, "material_mark"),
            bool(pass_through),
            bool(reopenable),
            volts,
        )

    def sql(self) -> str:
        """The demands as named arguments of the macros."""
        words = {
            "family": self.family,
            "grip": self.grip,
            "location": self.location,
            "material_mark": self.material_mark,
        }
        parts = [f"{name} := '{word}'" for name, word in words.items() if word]
        if self.temperature_c is not None:
            parts.append(f"temperature_c := {self.temperature_c:f}")
        if self.voltage is not None:
            parts.append(f"voltage := {self.voltage:f}")
        parts += [f"{name} := true" for name in ("pass_through", "reopenable") if getattr(self, name)]
        return "".join(f", {part}" for part in parts)

    def marks(self) -> list[str]:
        """What must be marked or listed, whatever the family and the joint."""
        out = [_PLACE[self.location]] if self.location in _PLACE else []
        if self.temperature_c is not None:
            out.append(f"marked for at least {plain(self.temperature_c)} °C")
        if self.voltage is not None:
            out.append(f"marked for at least {plain(self.voltage)} V")
        if self.material_mark == "cu":
            out.append("marked CU")
        if self.pass_through:
            out.append("listed for grounding, with a pass-through for one conductor")
        return out


def one_of(word: str | None, known: Sequence[str], column: str) -> str | None:
    """A word of a closed list, or None.

    Args:
        word: As given, in any case.
        known: The words there are.
        column: What the word is for.

    Returns:
        The word as written in `known`.

    Raises:
        InputError: It is none of them.

    Source: none; a form of this project.

    Example:
        >>> one_of(" Wide", GRIPS, "grip")
        'wide'
    """
    if word is None:
        return None
    text = " ".join(str(word).split()).lower()
    if text in known:
        return text
    near = [k for k in known if text and text in k] or difflib.get_close_matches(text, known, n=1, cutoff=0.6)
    hint = f"did you mean {' or '.join(near)}?" if near else "one of " + ", ".join(known)
    raise InputError(f"unknown {column.replace('_', ' ')}", column=column, value=word, expected=hint)


def plain(value: Decimal) -> str:
    """A decimal without padding zeros.

    Args:
        value: A decimal.

    Returns:
        Its digits.

    Source: none; a form of this project.

    Example:
        >>> plain(Decimal("90.0")), plain(Decimal("1E+2"))
        ('90', '100')
    """
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _temperature(value: Any) -> Decimal | None:
    degrees = _number(value, "temperature", "degrees Celsius, such as 90")
    if degrees is not None and degrees < -Decimal("273.15"):
        raise InputError(
            "below absolute zero", column="temperature", value=value, expected="degrees Celsius, such as 90"
        )
    return degrees


def _number(value: Any, column: str, expected: str) -> Decimal | None:
    if value is None:
        return None
    try:
        number = Decimal(str(value).strip())
    except ArithmeticError:
        number = Decimal("NaN")
    if isinstance(value, bool) or not number.is_finite() or abs(number.adjusted()) > 8:
        raise InputError("not a number", column=column, value=value, expected=expected)
    return number
