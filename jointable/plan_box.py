"""One box of a plan out of its table: cables, devices and joints, with every default made plain."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from jointable.errors import InputError
from jointable.notation import CONSTRUCTIONS, MATERIALS, parse_size
from jointable.plan_form import DEVICES, ENTRY_KEYS, ROLES, Device, Edit, Entry, PlanBox
from jointable.plan_where import Where
from jointable.schedule_form import closest, text_of

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["box_of"]

_FITTINGS = ("clamp", "stud", "hickey")

#: The columns of a schedule that say what the box is, and where.
_BOX_CELLS = ("size", "volume_in3", "volume_cm3", "quantity")

_CABLE = re.compile(r"(?P<size>.+)/(?P<count>[0-9]+)")


def box_of(reference: Reference, table: Mapping[str, Any], where: Where, unnamed: str) -> PlanBox:
    """One box out of its table.

    Args:
        reference: The open database, for the cables.
        table: The table of the box.
        where: Its place, for messages.
        unnamed: Its name where it has none.

    Returns:
        The box with its defaults filled in.

    Raises:
        InputError: A key or value is wrong.

    Source: none; the form is this project's.

    Example:
        >>> import jointable
        >>> from jointable.plan_where import Where
        >>> cable = {"role": "feed", "size": "12/2"}
        >>> box_of(jointable.open(), {"enters": [cable]}, Where(None, ""), "A").entries[0].conductors
        ('hot', 'neutral')
    """
    _known_keys(table, "box", where)
    parts = {key: _tables(table, key, where) for key in ("enters", "device", "joint", "item")}
    entries = [e for t, w in parts["enters"] for e in _entries(reference, t, w)]
    if not entries:
        raise where.error("enters", None, "nothing enters the box", '[[enters]] with size = "12/2"')
    entries = [_distinct(e, entries, n) for n, e in enumerate(entries)]
    circuits = list(dict.fromkeys(e.circuit for e in entries if e.role != "through"))
    devices = [_device(t, w, n, circuits) for n, (t, w) in enumerate(parts["device"], 1)]
    grounding = table.get("grounding", "pigtails")
    if grounding not in ("pigtails", "pass-through"):
        raise where.error("grounding", grounding, "not a way of grounding", "pigtails or pass-through")
    metal = table.get("metal")
    if metal is not None and not isinstance(metal, bool):
        raise where.error("metal", metal, "not true or false", "true or false")
    fittings = _texts(table, "fittings", where)
    for word in fittings:
        if word not in _FITTINGS:
            raise where.error("fittings", word, "not a fitting", f"some of {', '.join(_FITTINGS)}")
    cells = {c: text_of(table[c]) for c in _BOX_CELLS if text_of(table.get(c))}
    if cells and set(cells) == {"quantity"}:
        raise where.error("quantity", table["quantity"], "no box is named", "size or volume_in3 beside it")
    extra = {c: text_of(table[c]) for c in ("location", "note") if text_of(table.get(c))}
    name = text_of(table.get("name")) or unnamed
    return PlanBox(
        name,
        tuple(entries),
        tuple(_renamed(devices)),
        tuple(_edit(t, w) for t, w in parts["joint"]),
        tuple({**t} for t, _ in parts["item"]),
        cells,
        extra,
        metal,
        grounding == "pass-through",
        tuple(fittings),
        _count(table, "boxes", where, 1),
        text_of(table.get("title")) or "",
        where=where,
        item_where=tuple(w for _, w in parts["item"]),
    )


def _known_keys(table: Mapping[str, Any], kind: str, where: Where) -> None:
    for key in table:
        if key not in ENTRY_KEYS[kind]:
            guess = closest(key, ENTRY_KEYS[kind])
            right = f"did you mean {guess!r}?" if guess else f"one of {', '.join(ENTRY_KEYS[kind])}"
            raise where.error(key, table[key], "unknown key", right)


def _tables(table: Mapping[str, Any], key: str, where: Where) -> list[tuple[Mapping[str, Any], Where]]:
    given = table.get(key, [])
    if not isinstance(given, list) or not all(isinstance(t, Mapping) for t in given):
        raise where.error(key, given, "not a list of tables", f"[[{key}]] for each")
    out = [(t, where.part(key, n)) for n, t in enumerate(given)]
    if key != "item":
        for one, place in out:
            _known_keys(one, key, place)
    return out


def _entries(reference: Reference, table: Mapping[str, Any], where: Where) -> list[Entry]:
    role = text_of(table.get("role")) or "feed"
    if role not in ROLES:
        raise where.error("role", role, "unknown role", f"one of {', '.join(ROLES)}")
    text = text_of(table.get("size"))
    if text is None:
        raise where.error(
            "size", None, "the size is missing", 'a cable such as "12/2", or a wire such as "12"'
        )
    conductors = tuple(_texts(table, "conductors", where))
    size, count, ground = _size(reference, text, where)
    named = table.get("ground")
    if named is not None and not isinstance(named, (bool, str, int)):
        raise where.error("ground", named, "not a ground", "true, false or a size")
    if named is False:
        ground = None
    elif named is True:
        ground = ground or size
    elif named is not None:
        ground = _wire(str(named), "ground", where)
    elif role in ("luminaire", "fan"):
        ground = ground or size
    if not conductors:
        usual = ROLES[role]
        if role == "through":
            conductors = tuple(f"wire {n}" for n in range(1, (count or 2) + 1))
        elif (count or min(usual, default=0)) in usual:
            conductors = usual[count or min(usual)]
        else:
            raise where.error(
                "size",
                text,
                f"what its conductors are is not said for {role}",
                'conductors = ["hot", "neutral"]',
            )
    if count is not None and count != len(conductors):
        raise where.error(
            "conductors", ", ".join(conductors), f"{text} has {count} conductors", f"{count} names"
        )
    canopy = text_of(table.get("canopy"))
    if canopy not in (None, "domed", "open"):
        raise where.error("canopy", canopy, "not a canopy", "domed or open")
    if not isinstance(table.get("power_limited", False), bool):
        raise where.error("power_limited", table["power_limited"], "neither true nor false", "true or false")
    construction = _one(table, "construction", CONSTRUCTIONS, where)
    if construction is None and role in ("luminaire", "fan"):
        construction = "stranded"
    made = Entry(
        text_of(table.get("name")) or role,
        role,
        size,
        ground,
        text_of(table.get("circuit")) or "",
        conductors,
        construction,
        _one(table, "material", MATERIALS, where),
        canopy == "domed",
        table.get("power_limited") is True,
    )
    return [made] * _count(table, "quantity", where, 1)


def _size(reference: Reference, text: str, where: Where) -> tuple[str, int | None, str | None]:
    """Size, number of conductors and ground of a cable; a wire has neither of the last two."""
    cable = _CABLE.fullmatch(text)
    if cable is None or re.fullmatch(r"[1-4]/0.*", text):
        return _wire(text, "size", where), None, None
    rows = _cables(reference).get(text.replace(" ", ""))
    if rows is None:
        known = sorted(c for c in _cables(reference) if len(c) < 6)
        raise where.error(
            "size", text, "not a cable of the tables", f"one of {', '.join(known)}, or a wire size"
        )
    return rows


def _cables(reference: Reference) -> dict[str, tuple[str, int | None, str | None]]:
    """The cables with ground of the table, read once a database."""
    held: dict[str, tuple[str, int | None, str | None]] | None = _CABLES.get(reference.data_version)
    if held is None:
        held = {}
        for cable, role, count, size in reference.rows(
            "SELECT cable, role, quantity, size FROM cable_conductor "
            "WHERE regexp_matches(cable, '^[0-9]+/[0-9]$') ORDER BY cable, role"
        ):
            if role == "circuit":
                held[cable] = (size, count, None)
            else:
                first, number, _ = held[cable]
                held[cable] = (first, number, size)
        _CABLES[reference.data_version] = held
    return held


_CABLES: dict[str, dict[str, tuple[str, int | None, str | None]]] = {}


def _wire(text: str, key: str, where: Where) -> str:
    try:
        return parse_size(text)
    except InputError as error:
        raise where.error(key, text, error.message, error.expected or "a size such as 12") from None


def _device(table: Mapping[str, Any], where: Where, number: int, circuits: list[str]) -> Device:
    kind = text_of(table.get("kind")) or ""
    if kind not in DEVICES and "connect" not in table:
        guess = closest(kind, DEVICES) if kind else None
        right = f"did you mean {guess!r}?" if guess else f"one of {', '.join(DEVICES)}, or connect = {{…}}"
        raise where.error("kind", kind or None, "unknown device", right)
    connect = dict(DEVICES.get(kind, {}))
    own = table.get("connect", {})
    if not isinstance(own, Mapping):
        raise where.error("connect", own, "not a table", '{ line = "hot", load = "switched" }')
    for terminal, net in own.items():
        if not isinstance(net, str):
            raise where.error(terminal, net, "not text", 'what the terminal is connected to, such as "hot"')
        connect[terminal] = net.strip()
    circuit = text_of(table.get("circuit"))
    if circuit is None:
        if len(circuits) > 1:
            raise where.error(
                "circuit", None, "which circuit the device is on is not said", f"one of {', '.join(circuits)}"
            )
        circuit = circuits[0] if circuits else ""
    leads = text_of(table.get("leads"))
    lead_size, lead_made = None, None
    if leads:
        words = leads.split()
        lead_made = words.pop() if words[-1] in CONSTRUCTIONS else "stranded"
        lead_size = _wire(" ".join(words), "leads", where)
    size = text_of(table.get("size"))
    return Device(
        text_of(table.get("name")) or kind or f"device {number}",
        kind or "device",
        circuit,
        tuple((t, n) for t, n in connect.items() if n),
        _count(table, "gangs", where, 1),
        _count(table, "screws", where, 1),
        lead_size,
        lead_made,
        _wire(size, "size", where) if size else None,
        text_of(table.get("depth_mm")),
    )


def _edit(table: Mapping[str, Any], where: Where) -> Edit:
    name = text_of(table.get("name"))
    if name is None:
        raise where.error("name", None, "the joint has no name", "the name of a proposed joint, or a new one")
    of = tuple(_texts(table, "of", where)) if "of" in table else None
    if of == ():
        raise where.error("of", [], "a joint of nothing", "the ends in it, as feed.hot")
    pigtails = _count(table, "pigtails", where, 0) if "pigtails" in table else None
    return Edit(name, of, pigtails)


def _texts(table: Mapping[str, Any], key: str, where: Where) -> list[str]:
    given = table.get(key, [])
    if not isinstance(given, list) or not all(isinstance(w, str) and w.strip() for w in given):
        raise where.error(key, given, "not a list of words", f'{key} = ["…", "…"]')
    return [" ".join(w.split()) for w in given]


def _count(table: Mapping[str, Any], key: str, where: Where, default: int) -> int:
    value = table.get(key, default)
    text = text_of(value) if not isinstance(value, (bool, list, Mapping)) else None
    if (
        text is None
        or not (text.isascii() and text.isdigit())
        or not 0 < int(text) + (key == "pigtails") < 10000
    ):
        raise where.error(key, value, "not a count", "a whole number such as 1")
    return int(text)


def _one(table: Mapping[str, Any], key: str, words: tuple[str, ...], where: Where) -> str | None:
    text = text_of(table.get(key))
    if text is not None and text not in words:
        raise where.error(key, text, f"not a {key}", f"one of {', '.join(words)}")
    return text


def _distinct(entry: Entry, entries: list[Entry], number: int) -> Entry:
    """A number behind a name that stands more than once."""
    alike = [n for n, e in enumerate(entries) if e.name == entry.name]
    if len(alike) == 1:
        return entry
    return replace(entry, name=f"{entry.name} {alike.index(number) + 1}")


def _renamed(devices: list[Device]) -> list[Device]:
    names = [d.name for d in devices]
    return [
        d if names.count(d.name) == 1 else replace(d, name=f"{d.name} {names[: n + 1].count(d.name)}")
        for n, d in enumerate(devices)
    ]
