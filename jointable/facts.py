"""The facts of one joint that decide: how many, how much, how wide, of what; and its bundle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.bundle import Bundle, bundle_of, hidden_among
from jointable.geometry import (
    bare_diameter_mm,
    bundle_mm,
    default_construction,
    flexible_reference,
    round_up_mm,
)
from jointable.known import known
from jointable.notation import Joint

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["KEY_COLUMNS", "Conductor", "Facts", "bundles_together", "facts_of", "facts_sql"]


@dataclass(frozen=True, slots=True)
class Conductor:
    """A term of a joint with what the tables know of it: areas in mm2, the bare diameter in mm."""

    count: int
    size: str
    construction: str
    material: str
    insulation: str | None
    end: int | None
    rank: int
    area_mm2: Decimal
    clamp_mm2: Decimal
    diameter_mm: Decimal

    def to_dict(self) -> dict[str, Any]:
        """The conductor as `--json` prints it."""
        out: dict[str, Any] = {
            "count": self.count,
            "size": self.size,
            "construction": self.construction,
            "material": self.material,
            "area_mm2": self.area_mm2,
            "diameter_mm": self.diameter_mm,
        }
        if self.insulation:
            out["insulation"] = self.insulation
        if self.end:
            out["end"] = self.end
        return out


@dataclass(frozen=True, slots=True)
class Facts:
    """The facts of a joint, in the columns of the macro `joint_facts`."""

    text: str
    conductors_listed: tuple[Conductor, ...]
    conductors: int
    total_mm2: Decimal
    bundle_mm: Decimal
    assumed: tuple[str, ...]
    #: Sizes that others hide, where the tables say it; else they are searched when they are asked for.
    hides: tuple[str, ...] | None = None

    @property
    def narrowest(self) -> Conductor:
        """The narrowest conductor."""
        return min(self.conductors_listed, key=lambda c: c.rank)

    @property
    def widest(self) -> Conductor:
        """The widest conductor."""
        return max(self.conductors_listed, key=lambda c: c.rank)

    @property
    def narrowest_mm2(self) -> Decimal:
        """Its area in mm2."""
        return self.narrowest.area_mm2

    @property
    def widest_mm2(self) -> Decimal:
        """Its area in mm2."""
        return self.widest.area_mm2

    @property
    def narrowest_size(self) -> str:
        """Its size."""
        return self.narrowest.size

    @property
    def widest_size(self) -> str:
        """Its size."""
        return self.widest.size

    @property
    def solid(self) -> bool:
        """Whether any conductor is solid."""
        return any(c.construction == "solid" for c in self.conductors_listed)

    @property
    def stranded(self) -> bool:
        """Whether any conductor is stranded."""
        return any(c.construction == "stranded" for c in self.conductors_listed)

    @property
    def flexible(self) -> bool:
        """Whether any conductor is flexible."""
        return any(c.construction == "flexible" for c in self.conductors_listed)

    @property
    def aluminium(self) -> bool:
        """Whether any conductor is aluminium."""
        return any(c.material == "aluminium" for c in self.conductors_listed)

    @property
    def copper_clad(self) -> bool:
        """Whether any conductor is copper-clad."""
        return any(c.material == "copper-clad" for c in self.conductors_listed)

    @property
    def solid_aluminium(self) -> bool:
        """Whether any conductor is solid aluminium."""
        return any(c.material == "aluminium" and c.construction == "solid" for c in self.conductors_listed)

    @property
    def metals(self) -> int:
        """How many materials there are."""
        return len({c.material for c in self.conductors_listed})

    @property
    def ends(self) -> tuple[tuple[int, Decimal], tuple[int, Decimal]] | None:
        """Count and total (mm2) of either end of a butt joint, where it is known."""
        if self.conductors_listed[0].end is not None:
            first, second = (_sum(c for c in self.conductors_listed if c.end == end) for end in (1, 2))
            return first, second
        if self.conductors == 2:
            return (1, self.narrowest_mm2), (1, self.widest_mm2)
        return None

    @property
    def each(self) -> tuple[Conductor, ...]:
        """One entry a conductor, widest in diameter first: the order in which bundles are searched."""
        single = (replace(c, count=1) for c in self.conductors_listed for _ in range(c.count))
        return tuple(sorted(single, key=lambda c: (-c.diameter_mm, -c.rank, c.construction, c.material)))

    def bundle(self) -> Bundle:
        """The bare bundle with the place of each conductor, in the order of `each`."""
        return bundle_of(tuple(c.diameter_mm for c in self.each))

    def hidden(self) -> tuple[str, ...]:
        """Sizes of the conductors that others hide in the bundle, looked for up to six conductors.

        No class that holds a bundle takes more, and the search grows long.
        """
        if self.hides is not None:
            return self.hides
        each = self.each
        if len(each) > 6:
            return ()
        return tuple(dict.fromkeys(each[i].size for i in hidden_among(tuple(c.diameter_mm for c in each))))

    @property
    def keys(self) -> tuple[int, ...]:
        """The joint in the columns of the macro `joint_keys`, in the order of `KEY_COLUMNS`."""
        traits = 0
        for c in self.conductors_listed:
            traits |= _MADE[c.construction] | _METAL[c.material]
            traits |= _SOLID_ALUMINIUM * (c.material == "aluminium" and c.construction == "solid")
        ends = self.ends if self.conductors_listed[0].end is not None else None
        of_ends = [(count, _nano(total)) for count, total in ends] if ends else [(0, 0), (0, 0)]
        return (
            self.conductors,
            _nano(self.total_mm2),
            self.narrowest.rank,
            self.widest.rank,
            traits | (_ENDS_NAMED if ends else 0),
            *of_ends[0],
            *of_ends[1],
        )

    def neighbours(self) -> dict[str, Facts]:
        """The joints with one conductor less or one more of a size that is there, by what was changed.

        Joints of other metals or constructions are left out, and so are joints with two ends told apart.
        """
        if self.conductors_listed[0].end is not None:
            return {}
        out: dict[str, Facts] = {}
        for step, words in ((-1, "without one {}"), (1, "with one {} more")):
            for at, c in sorted(enumerate(self.conductors_listed), key=lambda p: p[1].rank):
                kept = [
                    replace(o, count=o.count + (step if i == at else 0))
                    for i, o in enumerate(self.conductors_listed)
                ]
                changed = self._of(tuple(o for o in kept if o.count))
                if changed.conductors_listed and all(
                    getattr(changed, t) == getattr(self, t) for t in (*_TRAITS, "metals")
                ):
                    out.setdefault(words.format(c.size), changed)
        return out

    def _of(self, conductors: tuple[Conductor, ...]) -> Facts:
        count, total = _sum(conductors)
        return Facts("", conductors, count, total, Decimal(0), ())

    def to_dict(self) -> dict[str, Any]:
        """The joint as `--json` prints it."""
        return {
            "text": self.text,
            "conductors": [c.to_dict() for c in self.conductors_listed],
            "total_mm2": self.total_mm2,
            "bundle_mm": self.bundle_mm,
        }


#: The columns of the macro `joint_keys` after the name of the joint, with their types; areas in billionths of mm2.
KEY_COLUMNS = {
    "conductors": "INTEGER", "nano": "BIGINT", "low": "INTEGER", "high": "INTEGER", "traits": "INTEGER",
    "first_conductors": "INTEGER", "first_nano": "BIGINT", "second_conductors": "INTEGER", "second_nano": "BIGINT",
}  # fmt: skip

#: The bits of `traits`, as the macro has them.
_MADE = {"solid": 2, "stranded": 4, "flexible": 8}
_METAL = {"copper": 16, "aluminium": 32, "copper-clad": 64}
_SOLID_ALUMINIUM, _ENDS_NAMED = 128, 256

_TRAITS = ("solid", "stranded", "flexible", "aluminium", "copper_clad", "solid_aluminium")


def facts_of(reference: Reference, joint: Joint, *, bundle: bool = True) -> Facts:
    """The facts of a joint.

    Args:
        reference: The open database.
        joint: The joint.
        bundle: Whether to find the bundle; else it is 0.

    Returns:
        Areas in mm2 at nine decimals, diameters in mm, the bundle in mm rounded up at the third.

    Raises:
        InputError: A size is not in the tables.

    Source: tables `conductor_size` and `combination`; ASTM B258, IEC 60228 Annex C (diameters).

    Example:
        >>> import jointable
        >>> facts_of(jointable.open(), Joint.parse("2x12 + 1x14")).total_mm2
        Decimal('8.698453469')
    """
    table = known(reference)
    listed = []
    assumed = list(joint.assumed)
    for term in joint.conductors:
        size = table.size(term.size)
        diameter = bare_diameter_mm(term.size, term.construction)
        listed.append(
            Conductor(
                term.count,
                term.size,
                term.construction,
                term.material,
                term.insulation,
                term.end,
                size.rank,
                size.area_mm2,
                size.clamp_mm2,
                diameter,
            )
        )
        if term.construction == "flexible" and not term.size.endswith(" mm2"):
            assumed.append(f"{term.size} flexible is as wide as {flexible_reference(term.size)} of class 5")
    conductors = tuple(listed)
    total = sum((c.count * c.area_mm2 for c in conductors), Decimal(0))
    round_all, hides = _bundle(reference, joint, conductors) if bundle else (Decimal(0), None)
    return Facts(str(joint), conductors, joint.count, total, round_all, tuple(assumed), hides)


def facts_sql(
    facts: Mapping[Any, Facts], name: str, columns: Mapping[str, tuple[list[Any], str]] | None = None
) -> tuple[str, list[list[Any]]]:
    """Facts of joints as a relation in the columns of the macro `joint_facts`.

    They go in as whole columns, since a text of as many rows takes longer to read than to answer.

    Args:
        facts: Facts by the name (all texts, or all numbers) that the column `joint` gives each.
        name: The name of the relation.
        columns: More columns, each with its values, in the order of `facts`, and its type.

    Returns:
        What follows WITH, and the parameters of its question marks, which stand first in a statement.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> from jointable.notation import Joint
        >>> reference = jointable.open()
        >>> given, values = facts_sql({1: facts_of(reference, Joint.parse("3x12"))}, "given")
        >>> reference.rows(f"WITH {given} SELECT total_mm2 FROM given", values)
        [(Decimal('9.926318628'),)]
    """
    named = "VARCHAR" if any(isinstance(key, str) for key in facts) else "INTEGER"
    keys = [list(column) for column in zip(*(f.keys for f in facts.values()), strict=True)] or [
        [] for _ in KEY_COLUMNS
    ]
    more = columns or {}
    types = [("joint", named), *KEY_COLUMNS.items(), *((n, kind) for n, (_, kind) in more.items())]
    unnested = ", ".join(f"unnest(?::{kind}[]) AS {column}" for column, kind in types)
    return (
        f"{name}_keys AS (SELECT {unnested}), {name} AS (FROM facts_of_keys('{name}_keys'))",
        [list(facts), *keys, *(values for values, _ in more.values())],
    )


def _bundle(
    reference: Reference, joint: Joint, conductors: tuple[Conductor, ...]
) -> tuple[Decimal, tuple[str, ...] | None]:
    """The bare bundle, and what it hides: from the table of combinations where it has the joint, else computed."""
    if joint.has_ends:
        return max(_computed(tuple(c for c in conductors if c.end == end)) for end in (1, 2)), None
    name = _combination(conductors)
    if name is not None:
        held = known(reference).bundles
        if name not in held:
            _read_bundles(reference, [name])
        if name in held:
            bundle, hidden = held[name]
            return bundle, tuple(hidden.split(", ")) if hidden else ()
    return _computed(conductors), None


def _combination(conductors: tuple[Conductor, ...]) -> str | None:
    """The name that the table of combinations has for conductors, if they are of those that it can have."""
    if not 2 <= sum(c.count for c in conductors) <= 6:
        return None
    counts: dict[str, int] = {}
    for c in conductors:
        if c.construction != default_construction(c.size):
            return None
        counts[c.size] = counts.get(c.size, 0) + c.count
    return " + ".join(f"{count}x{size}" for size, count in counts.items())


def bundles_together(reference: Reference, joints: Iterable[Facts]) -> None:
    """Read the bundles of several joints in one statement, so that `facts_of` finds them.

    Args:
        reference: The open database.
        joints: Their facts, without bundles.

    Source: table `combination`.

    Example:
        >>> import jointable
        >>> from jointable.notation import Joint
        >>> reference = jointable.open()
        >>> bundles_together(reference, [facts_of(reference, Joint.parse("3x12"), bundle=False)])
        >>> facts_of(reference, Joint.parse("3x12")).bundle_mm
        Decimal('4.423')
    """
    known(reference).bundles.clear()  # what was asked before has been answered
    names = [n for n in (_combination(f.conductors_listed) for f in joints) if n is not None]
    if names:
        _read_bundles(reference, names)


def _read_bundles(reference: Reference, names: list[str]) -> None:
    rows = reference.rows(
        "SELECT conductors, bundle_mm, hidden FROM combination WHERE list_contains(?, conductors)", [names]
    )
    known(reference).bundles.update((name, (bundle, hidden)) for name, bundle, hidden in rows)


def _computed(conductors: tuple[Conductor, ...]) -> Decimal:
    diameters = sorted((c.diameter_mm for c in conductors for _ in range(c.count)), reverse=True)
    if len(diameters) <= 2:
        return bundle_mm(diameters)
    return round_up_mm(bundle_of(tuple(diameters)).diameter)


def _sum(conductors: Any) -> tuple[int, Decimal]:
    listed = list(conductors)
    return sum(c.count for c in listed), sum((c.count * c.area_mm2 for c in listed), Decimal(0))


def _nano(area: Decimal) -> int:
    """An area in billionths of mm2: it has nine decimals."""
    return int(area.scaleb(9))
