"""An opened box as a person writes it down: its joints as found, and what is added or taken out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from jointable.demands import LOCATIONS
from jointable.errors import InputError
from jointable.notation import Joint, Term
from jointable.plan_where import Where
from jointable.schedule_form import closest, text_of

__all__ = ["KINDS", "OpenedBox", "OpenedJoint", "box_of"]

#: What a joint may be.
KINDS = ("hot", "neutral", "ground", "traveller", "switched", "other")

_BOX_KEYS = (
    "name", "title", "note", "size", "volume_in3", "volume_cm3", "quantity", "location", "temperature_c", "voltage",
    "free_mm", "reach_mm", "joint", "item",
)  # fmt: skip
_JOINT_KEYS = (
    "name", "conductors", "kind", "class", "listing", "add", "remove", "new", "reused", "location", "temperature_c",
    "voltage", "marked_location", "marked_temperature_c", "marked_voltage", "marked_material", "circuits",
    "multiwire", "through_device", "covered", "bare", "free_mm", "reach_mm", "pigtails",
)  # fmt: skip
_CELLS = ("size", "volume_in3", "volume_cm3", "quantity")


@dataclass(frozen=True, slots=True)
class OpenedJoint:
    """One joint as found, and as it becomes.

    Attributes:
        before, after: What is in it; `after` None where nothing is left.
        kind: What it is, one of `KINDS`; `guessed` where its name told it.
        class_name, listing: The connector in place.
        new: Whether the changed joint gets a new connector.
        reused: Whether the connector was in use before.
        temperature_c, marked_temperature_c: At the joint, and on the connector [°C].
        voltage, marked_voltage: Of the circuit, and on the connector [V].
        free_mm, reach_mm: Free conductor, and how far it reaches out of the opening [mm].
        pigtails: Conductors of it that begin in the box.
    """

    name: str
    before: Joint
    after: Joint | None
    kind: str
    guessed: bool
    class_name: str | None
    listing: str | None
    new: bool
    reused: bool
    location: str | None
    temperature_c: Decimal | None
    voltage: Decimal | None
    marked_location: str | None
    marked_temperature_c: Decimal | None
    marked_voltage: Decimal | None
    marked_material: str | None
    circuits: tuple[str, ...]
    multiwire: bool
    through_device: bool
    covered: bool
    bare: bool
    free_mm: Decimal | None
    reach_mm: Decimal | None
    pigtails: Joint | None
    where: Where

    @property
    def changed(self) -> bool:
        """Whether anything is added or taken out."""
        return self.after != self.before


@dataclass(frozen=True, slots=True)
class OpenedBox:
    """An opened box: what it is, its joints, and further rows as a schedule has them."""

    name: str
    title: str
    cells: Mapping[str, Any]
    location: str | None
    joints: tuple[OpenedJoint, ...]
    items: tuple[tuple[Mapping[str, Any], Where], ...]
    where: Where
    #: Whether only a joint was asked about.
    alone: bool = False


def box_of(table: Any, where: Where, unnamed: str, alone: bool = False) -> OpenedBox:
    """One opened box out of its table.

    Args:
        table: The table of the box.
        where: Its place, for messages.
        unnamed: Its name where it has none.
        alone: Whether only its joints are asked about.

    Returns:
        The box with its defaults filled in.

    Raises:
        InputError: A key or value is wrong.

    Source: none; the form is this project's.

    Example:
        >>> from jointable.plan_where import NOWHERE
        >>> joint = {"name": "neutral", "conductors": "3x12", "add": "1x12"}
        >>> str(box_of({"joint": [joint]}, NOWHERE, "A").joints[0].after)
        '4x12 AWG'
    """
    if not isinstance(table, Mapping):
        raise where.error(None, table, "not a box", 'a table with [[joint]] and conductors = "3x12"')
    _known(table, _BOX_KEYS, where)
    joints = tuple(
        _joint(t, where.part("joint", n), table, n + 1) for n, t in enumerate(_tables(table, "joint", where))
    )
    names = [j.name for j in joints]
    for joint in joints:
        if names.count(joint.name) > 1:
            raise joint.where.error("name", joint.name, "the name stands twice", "each joint with its own")
    items = tuple((t, where.part("item", n)) for n, t in enumerate(_tables(table, "item", where)))
    if not joints and not items:
        raise where.error("joint", None, "nothing is in the box", '[[joint]] with conductors = "3x12"')
    cells = {c: text_of(table[c]) for c in _CELLS if table.get(c) is not None}
    return OpenedBox(
        text_of(table.get("name")) or unnamed,
        text_of(table.get("title")) or "",
        cells,
        _word(table, "location", LOCATIONS, where),
        joints,
        items,
        where,
        alone,
    )


def _joint(table: Mapping[str, Any], where: Where, box: Mapping[str, Any], number: int) -> OpenedJoint:
    _known(table, _JOINT_KEYS, where)
    name = text_of(table.get("name")) or f"joint {number}"
    if table.get("conductors") is None:
        raise where.error("conductors", None, "what is in the joint is not said", 'conductors = "3x12"')
    before = _conductors(table, "conductors", where)
    after = _changed(before, table, where)
    kind = _word(table, "kind", KINDS, where)
    guess = next((k for k in KINDS[:-1] if k in name.lower()), "other")
    class_name, listing = text_of(table.get("class")), text_of(table.get("listing"))
    if class_name and listing:
        raise where.error("listing", listing, "a class and a listing at once", "one of them")
    pigtails = _conductors(table, "pigtails", where) if table.get("pigtails") is not None else None
    if pigtails is not None:
        if after is None:
            raise where.error("pigtails", table["pigtails"], "nothing is left in the joint", "no pigtails")
        _less(after, pigtails, where, "pigtails")
    both = {
        **{k: box[k] for k in ("location", "temperature_c", "voltage", "free_mm", "reach_mm") if k in box},
        **table,
    }
    return OpenedJoint(
        name,
        before,
        after,
        kind or guess,
        kind is None and guess != "other",
        class_name,
        listing,
        _flag(table, "new", False, where),
        _flag(table, "reused", False, where),
        _word(both, "location", LOCATIONS, where),
        _figure(both, "temperature_c", where, negative=True),
        _figure(both, "voltage", where),
        _word(table, "marked_location", LOCATIONS, where),
        _figure(table, "marked_temperature_c", where),
        _figure(table, "marked_voltage", where),
        _word(table, "marked_material", ("cu", "al-cu"), where),
        _circuits(table, where),
        _flag(table, "multiwire", False, where),
        _flag(table, "through_device", False, where),
        _flag(table, "covered", True, where),
        _flag(table, "bare", False, where),
        _figure(both, "free_mm", where),
        _figure(both, "reach_mm", where),
        pigtails,
        where,
    )


def _conductors(table: Mapping[str, Any], key: str, where: Where) -> Joint:
    value = table.get(key)
    try:
        return Joint.parse(value if isinstance(value, str) else "")
    except InputError as error:
        raise where.error(key, value, error.message, error.expected or "conductors such as 3x12") from None


def _changed(before: Joint, table: Mapping[str, Any], where: Where) -> Joint | None:
    """What is in the joint after conductors are taken out and added."""
    terms = list(before.conductors)
    if table.get("remove") is not None:
        left = _less(before, _conductors(table, "remove", where), where, "remove")
        terms = list(left.conductors) if left else []
    if table.get("add") is not None:
        terms += _conductors(table, "add", where).conductors
    if not terms:
        return None
    try:
        return Joint.of(terms, before.assumed)
    except InputError as error:
        raise where.error("add", table.get("add"), error.message, error.expected or "") from None


def _less(joint: Joint, taken: Joint, where: Where, key: str) -> Joint | None:
    counts: dict[Term, int] = {replace(t, count=0): t.count for t in joint.conductors}
    for term in taken.conductors:
        kind = replace(term, count=0)
        if counts.get(kind, 0) < term.count:
            raise where.error(
                key, str(taken), f"{term} is not in {joint}", "conductors that are in the joint"
            )
        counts[kind] -= term.count
    left = [replace(kind, count=n) for kind, n in counts.items() if n]
    return Joint.of(left, joint.assumed) if left else None


def _circuits(table: Mapping[str, Any], where: Where) -> tuple[str, ...]:
    given = table.get("circuits", [])
    texts = [text_of(c) for c in given] if isinstance(given, list) else [None]
    if not all(texts):
        raise where.error("circuits", given, "not a list of circuits", 'circuits = ["1", "2"]')
    return tuple(dict.fromkeys(str(t) for t in texts))


def _known(table: Mapping[str, Any], keys: tuple[str, ...], where: Where) -> None:
    for key in table:
        if key not in keys:
            guess = closest(str(key), keys)
            right = f"did you mean {guess!r}?" if guess else "one of " + ", ".join(keys)
            raise where.error(str(key), table[key], "no such key", right)


def _tables(table: Mapping[str, Any], key: str, where: Where) -> list[Mapping[str, Any]]:
    given = table.get(key, [])
    if not isinstance(given, list) or not all(isinstance(t, Mapping) for t in given):
        raise where.error(key, given, "not a list of tables", f"[[{key}]] before each")
    return given


def _word(table: Mapping[str, Any], key: str, words: tuple[str, ...], where: Where) -> str | None:
    text = text_of(table.get(key))
    if text is not None and text.lower() not in words:
        raise where.error(key, text, f"not a {key.replace('_', ' ')}", f"one of {', '.join(words)}")
    return text.lower() if text else None


def _flag(table: Mapping[str, Any], key: str, default: bool, where: Where) -> bool:
    value = table.get(key, default)
    if not isinstance(value, bool):
        raise where.error(key, value, "neither true nor false", "true or false")
    return value


def _figure(table: Mapping[str, Any], key: str, where: Where, negative: bool = False) -> Decimal | None:
    value = table.get(key)
    if value is None:
        return None
    try:
        figure = Decimal(str(value).strip())
    except ArithmeticError:
        figure = Decimal("NaN")
    if (
        isinstance(value, bool)
        or not figure.is_finite()
        or abs(figure) > 100_000
        or (figure < 0 and not negative)
    ):
        raise where.error(key, value, "not a figure", "a number such as 90")
    return figure
