"""What joints are decided from, read once from an open database: sizes, families, cautions."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from jointable.errors import InputError

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["ConductorSize", "Known", "Said", "known"]

#: Answers of the macro that are kept: the same kind of joint is asked about again and again. One over all
#: families takes about 50 KB, so that a server that is asked for ever stays small.
_KEPT = 64


@dataclass(frozen=True, slots=True)
class ConductorSize:
    """A conductor size as joints count it.

    Args:
        size: Size as printed back.
        rank: Place of the size by area.
        area_mm2: Area in mm2.
        clamp_mm2: Area in mm2 by which a clamp counts it.

    Source: tables `conductor_size` and `crosswalk`.

    Example:
        >>> ConductorSize("12 AWG", 60, Decimal("3.308772876"), Decimal(4)).clamp_mm2
        Decimal('4')
    """

    size: str
    rank: int
    area_mm2: Decimal
    clamp_mm2: Decimal


@dataclass(frozen=True, slots=True)
class Said:
    """What the macro of admission said of a joint.

    Args:
        classes: Of each class one text: class, margin and reason.
        near: By class, the change of the joint that would make it fit.

    Source: none; a form of this project.

    Example:
        >>> Said(["twist-on 10"], {}).classes
        ['twist-on 10']
    """

    classes: list[str]
    near: Mapping[str, str]


@dataclass(slots=True)
class Known:
    """The tables that joints are decided from."""

    sizes: Mapping[str, ConductorSize]
    families: Mapping[str, Mapping[str, Any]]
    cautions: tuple[Mapping[str, Any], ...]
    general_degc: int
    noted_ratio: Decimal
    noted_mm2: Decimal
    answers: dict[Hashable, Said] = field(default_factory=dict)
    #: What is the same for every joint in a row of the macro of admission, by class; read when first met.
    classes: dict[str, dict[str, Any]] = field(default_factory=dict)
    #: Bare bundles in mm of the combinations that were asked for last, and the sizes hidden in them, by name.
    bundles: dict[str, tuple[Decimal, str | None]] = field(default_factory=dict)
    #: How many combinations each class takes, by family, size, ways and grip; counted when first asked.
    reach: dict[tuple[Any, ...], int] = field(default_factory=dict)

    def size(self, size: str) -> ConductorSize:
        """A size of the tables.

        Raises:
            InputError: It is not in the tables.
        """
        found = self.sizes.get(size)
        if found is None:
            unit = size.rpartition(" ")[2]
            alike = [s for s in self.sizes if s.endswith(f" {unit}")]
            raise InputError(
                "not a size of the tables", column="joint", value=size, expected=_nearest(size, alike)
            )
        return found

    def keep(self, question: Hashable, said: Said) -> None:
        """Remember what the macro answered."""
        if len(self.answers) >= _KEPT:
            self.answers.pop(next(iter(self.answers)))
        self.answers[question] = said


_KNOWN: WeakKeyDictionary[Reference, Known] = WeakKeyDictionary()


def known(reference: Reference) -> Known:
    """The tables that joints are decided from.

    Args:
        reference: The open database.

    Returns:
        The tables, read once for each open database.

    Source: tables `joint_size`, `connector_family`, `connector_variant`, `class_limit`, `caution`.

    Example:
        >>> import jointable
        >>> known(jointable.open()).size("14 AWG").clamp_mm2
        Decimal('2.500000000')
    """
    found = _KNOWN.get(reference)
    if found is None:
        sizes = reference.rows("SELECT size, rank, area_mm2, clamp_mm2 FROM joint_size ORDER BY rank")
        families = reference.records("SELECT * FROM connector_family")
        variants = reference.rows("SELECT planned_degc FROM connector_variant WHERE variant = 'general'")
        limits = dict(
            reference.rows('SELECT "limit", figure FROM class_limit WHERE "limit" LIKE \'noted %\'')
        )
        found = Known(
            {row[0]: ConductorSize(*row) for row in sizes},
            {row["family"]: row for row in families},
            tuple(
                reference.records(
                    "SELECT id, text, clause, shown_when FROM caution ORDER BY CAST(substr(id, 2) AS INTEGER)"
                )
            ),
            variants[0][0],
            limits["noted ratio"],
            limits["noted narrowest"],
        )
        _KNOWN[reference] = found
    return found


def _nearest(size: str, alike: list[str]) -> str:
    """The neighbours of a size that is not there."""

    def amount(text: str) -> Decimal:
        number = text.split(" ")[0]
        return Decimal(1 - int(number[:-2])) if number.endswith("/0") else Decimal(number)

    below = [s for s in alike if amount(s) < amount(size)]
    above = [s for s in alike if amount(s) > amount(size)]
    near = [max(below, key=amount)] if below else []
    near += [min(above, key=amount)] if above else []
    return "such as " + " or ".join(near) if near else "a size such as 12 AWG or 2.5 mm2"
