"""What a class takes: its least and greatest mixes, and how few and how many of each size alone."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.demands import FAMILIES, GRIPS, TWO_GRIPS, one_of, plain
from jointable.errors import InputError
from jointable.facts import facts_of, facts_sql
from jointable.known import known
from jointable.notation import Joint

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["ClassRange", "Mix", "SizeRange", "UsualMix", "range_of_class"]

#: Mixes shown at either end, of AWG and of metric sizes each.
_SHOWN = 3

#: `2x12 AWG + 1x18 AWG` of the table of combinations as rows of the macros.
_TERMS = (
    "SELECT conductors AS joint, split_part(term, 'x', 1)::INTEGER AS quantity, split_part(term, 'x', 2) AS size "
    "FROM (SELECT conductors, unnest(string_split(conductors, ' + ')) AS term FROM combination)"
)

#: Sizes in trade: odd AWG sizes are wound, not pulled.
_SIZES = (
    "SELECT size, rank, system FROM conductor_size WHERE system <> 'AWG' AND (system <> 'mm2' OR nominal >= 0.5) "
    "OR system = 'AWG' AND (nominal <= 1 OR nominal % 2 = 0) AND nominal <= 24"
)


@dataclass(frozen=True, slots=True)
class Mix:
    """A mix in joint notation with its total area in mm2."""

    text: str
    total_mm2: Decimal


@dataclass(frozen=True, slots=True)
class UsualMix:
    """A mix of common practice that the class takes, with its total area in mm2 and where it is met."""

    text: str
    total_mm2: Decimal
    met_as: str


@dataclass(frozen=True, slots=True)
class SizeRange:
    """How few and how many conductors of one size a class takes, by themselves."""

    size: str
    min_count: int
    max_count: int


@dataclass(frozen=True, slots=True)
class ClassRange:
    """What a class takes."""

    name: str
    family: str
    size: Decimal
    ways: int | None
    grip: str
    least: tuple[Mix, ...]
    greatest: tuple[Mix, ...]
    usual: tuple[UsualMix, ...]
    by_size: tuple[SizeRange, ...]
    limits: dict[str, Any]
    data_version: str
    assumptions: tuple[str, ...]
    cautions: tuple[dict[str, Any], ...]

    def to_dict(self) -> dict[str, Any]:
        """The range as `--json` prints it; areas in mm2."""
        return {
            "data_version": self.data_version,
            "class": self.name,
            "family": self.family,
            "size": self.size,
            "ways": self.ways,
            "grip": self.grip,
            "least": [{"text": m.text, "total_mm2": m.total_mm2} for m in self.least],
            "greatest": [{"text": m.text, "total_mm2": m.total_mm2} for m in self.greatest],
            "usual": [{"text": m.text, "total_mm2": m.total_mm2, "met_as": m.met_as} for m in self.usual],
            "by_size": [
                {"size": s.size, "min_count": s.min_count, "max_count": s.max_count} for s in self.by_size
            ],
            "limits": dict(self.limits),
            "assumptions": list(self.assumptions),
            "cautions": [dict(c) for c in self.cautions],
        }


def range_of_class(
    reference: Reference, size: Any, *, family: str = "twist-on", grip: str = "standard", ways: Any = 2
) -> ClassRange:
    """What a general class takes.

    Args:
        reference: The open database.
        size: Size of the class in mm2, as text or a number.
        family: Its family.
        grip: `standard` or `wide`.
        ways: Ways of a clamp; other families have none.

    Returns:
        The mixes of least and of greatest total (mm2) among those of the table of combinations, and
        how few and how many of each size alone; conductors of copper in their usual construction; and
        the mixes of common practice that the class takes, by total.

    Raises:
        InputError: There is no such class.

    Source: definition of the size classes (this project).

    Example:
        >>> import jointable
        >>> [s.max_count for s in range_of_class(jointable.open(), 16).by_size if s.size == "12 AWG"]
        [4]
    """
    row = _class(reference, size, family, grip, ways)
    mixes = _mixes(reference, row)
    assumptions = [
        "conductors of copper in their usual construction unless written",
        "general variant",
        "usual mixes are common practice, no permission",
    ]
    if row["family"] == "crimped butt":
        assumptions.append("the two ends are alike; counts are those of one end")
    table = known(reference)
    return ClassRange(
        row["class"],
        row["family"],
        row["size"],
        row["ways"],
        row["grip"],
        _shown(mixes),
        _shown(mixes, most=True),
        _usual(reference, row),
        _by_size(reference, row),
        {n: row[n] for n in _LIMIT_NAMES},
        reference.data_version,
        tuple(assumptions),
        tuple(
            {"id": c["id"], "text": c["text"], "clause": c["clause"]}
            for c in table.cautions
            if c["shown_when"] == "always"
        ),
    )


_LIMIT_NAMES = (
    "min_total_mm2", "max_total_mm2", "min_conductor_mm2", "max_conductor_mm2", "over_run_mm2", "min_conductors",
    "max_conductors",
)  # fmt: skip


def _class(reference: Reference, size: Any, family: str, grip: str, ways: Any) -> dict[str, Any]:
    family = one_of(family, FAMILIES, "family") or "twist-on"
    grip = one_of(grip, GRIPS, "grip") or "standard"
    if grip == "wide" and family not in TWO_GRIPS:
        raise InputError(
            f"{family} classes are not made wide", column="grip", value=grip, expected="standard"
        )
    rows = reference.records(
        "SELECT * FROM connector_class WHERE family = ? AND grip = ? AND variant = 'general' ORDER BY size, ways",
        [family, grip],
    )
    wanted = str(size).strip().removesuffix("mm2").removesuffix("mm²").strip()
    here = [r for r in rows if plain(r["size"]) == _trimmed(wanted)]
    if not here:
        sizes = ", ".join(dict.fromkeys(plain(r["size"]) for r in rows))
        raise InputError(
            f"no {family} class of this size", column="size", value=size, expected=f"one of {sizes}"
        )
    if here[0]["ways"] is None:
        return here[0]
    for row in here:
        if str(row["ways"]) == str(ways).strip():
            return row
    raise InputError("no such number of ways", column="ways", value=ways, expected="2 to 6")


def _trimmed(text: str) -> str:
    try:
        number = Decimal(text)
    except ArithmeticError:
        return text
    return plain(number) if number.is_finite() and abs(number.adjusted()) < 9 else text


def _mixes(reference: Reference, row: dict[str, Any]) -> list[Mix]:
    """Every mix of the combinations that the class takes, by total."""
    if row["series"] == "tap":
        given = (
            f"WITH trade AS ({_SIZES}), pairs AS (SELECT a.size AS run, b.size AS tap FROM trade a JOIN trade b "
            "ON b.rank <= a.rank AND (a.system = 'mm2') = (b.system = 'mm2')), given AS ("
            "SELECT '1x' || run || ' + 1x' || tap AS joint, 1 AS quantity, run AS size FROM pairs UNION ALL "
            "SELECT '1x' || run || ' + 1x' || tap, 1, tap FROM pairs)"
        )
    elif row["family"] == "crimped butt":
        given = (
            f"WITH trade AS ({_SIZES}), terms AS ({_TERMS} UNION ALL SELECT '1x' || size, 1, size FROM trade), given AS ("
            "SELECT joint || ' | ' || joint AS joint, quantity, size, unnest([1, 2]) AS end_of FROM terms)"
        )
    else:
        given = f"WITH given AS ({_TERMS})"
    return [
        Mix(*r)
        for r in reference.rows(*_asked(given, row, "a.joint, a.total_mm2", "ORDER BY a.total_mm2, a.joint"))
    ]


def _asked(given: str, row: dict[str, Any], columns: str, rest: str) -> tuple[str, list[Any]]:
    """A question to the macro of admission about this one class."""
    query = (
        f"{given}, given_facts AS (FROM joint_facts('given')) SELECT {columns} "
        f"FROM class_admission('given_facts', family := '{row['family']}', grip := '{row['grip']}') a "
        f"WHERE a.class = ? AND a.breaks + a.family_breaks = 0 {rest}"
    )
    return query, [row["class"]]


def _shown(mixes: list[Mix], most: bool = False) -> tuple[Mix, ...]:
    """A few mixes at one end: of AWG and of metric sizes, the outermost first."""
    outermost = sorted(
        mixes, key=lambda m: (-m.total_mm2 if most else m.total_mm2, m.text.count("+"), m.text)
    )
    metric = [m for m in outermost if " mm2" in m.text][:_SHOWN]
    other = [m for m in outermost if " mm2" not in m.text][:_SHOWN]
    kept = {id(m) for m in (*metric, *other)}
    return tuple(m for m in outermost if id(m) in kept)


def _usual(reference: Reference, row: dict[str, Any]) -> tuple[UsualMix, ...]:
    """The mixes of common practice that the class takes, by total."""
    met = dict(reference.rows("SELECT conductors, met_as FROM usual_mix"))
    facts = {text: facts_of(reference, Joint.parse(text), bundle=False) for text in met}
    given, values = facts_sql(facts, "given_facts")
    query = (
        f"WITH {given} SELECT a.joint, a.total_mm2 "
        f"FROM class_admission('given_facts', family := '{row['family']}', grip := '{row['grip']}') a "
        "WHERE a.class = ? AND a.breaks + a.family_breaks = 0 ORDER BY a.total_mm2, a.joint"
    )
    return tuple(
        UsualMix(text, total, met[text]) for text, total in reference.rows(query, [*values, row["class"]])
    )


def _by_size(reference: Reference, row: dict[str, Any]) -> tuple[SizeRange, ...]:
    if row["family"] == "crimped butt":
        given = (
            f"WITH trade AS ({_SIZES}), given AS (SELECT size || '|' || n AS joint, size, n AS quantity, "
            "unnest([1, 2]) AS end_of FROM trade, range(1, 7) AS counts(n))"
        )
    else:
        given = (
            f"WITH trade AS ({_SIZES}), given AS (SELECT size || '|' || n AS joint, size, n AS quantity "
            "FROM trade, range(2, 7) AS counts(n))"
        )
    columns = (
        "a.widest_size, min(split_part(a.joint, '|', 2)::INTEGER), max(split_part(a.joint, '|', 2)::INTEGER)"
    )
    rows = reference.rows(
        *_asked(given, row, columns, "GROUP BY a.widest_size, a.widest_mm2 ORDER BY a.widest_mm2")
    )
    return tuple(SizeRange(*r) for r in rows)
