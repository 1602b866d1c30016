"""From what is carried: joints made with the classes or listings in the pouch or on the truck, and no others."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.demands import FAMILIES, Demands
from jointable.errors import InputError
from jointable.facts import Facts
from jointable.joint import choose
from jointable.joint_answer import Choice, JointAnswer
from jointable.listings import Listings, answer_from, default_listings, load_listings
from jointable.notation import Joint
from jointable.schedule_form import closest
from jointable.split import Split, split_of
from jointable.user_table import read_user_table

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["COLUMNS", "Carried", "choose_carried", "load_carried"]

COLUMNS = ("class", "listing", "quantity", "note")
_EXPECTED = "a row each with class (such as twist-on 16) or listing (a connector of your listings)"


@dataclass(frozen=True, slots=True)
class Carried:
    """What is carried.

    Attributes:
        name: The file.
        rows: The carried classes as the table has them, by name.
        stands_for: Which carried classes serve where the table would choose a class.
        listings: The carried listings.
        quantities: How many of each are carried, where that is said.
    """

    name: str
    rows: Mapping[str, Mapping[str, Any]]
    stands_for: Mapping[str, tuple[str, ...]]
    listings: Listings | None
    quantities: Mapping[str, int]

    @property
    def families(self) -> tuple[str, ...]:
        """The families carried, in the order of answers; twist-on where only listings are."""
        held = {r["family"] for r in self.rows.values()}
        return tuple(f for f in FAMILIES if f in held) or ("twist-on",)

    def of(self, row: Mapping[str, Any]) -> list[dict[str, Any]]:
        """The carried classes that serve in place of an admitted one, in its columns."""
        return [
            {**row, "class": n, "variant": self.rows[n]["variant"], "room_cm3": self.rows[n]["room_cm3"]}
            for n in self.stands_for.get(row["class"], ())
        ]

    def listing_row(self, name: str, least: Mapping[str, Any] | None, family: str | None) -> dict[str, Any]:
        """A carried listing in the columns of a class; its room is that of the least class, as none is known."""
        return {
            "class": name, "family": family, "size": None, "ways": None, "grip": None, "variant": "listing",
            "room_cm3": least["room_cm3"] if least else Decimal(0), "rank": -1,
        }  # fmt: skip

    def listed(self, facts: Facts, demands: Demands) -> list[str]:
        """The carried listings whose package prints a joint."""
        if self.listings is None or facts.conductors == 1:
            return []
        choices, _ = answer_from(self.listings, facts, demands, outside=False)
        return [str(c.listing["connector"]) for c in choices if c.listing]


def load_carried(
    reference: Reference, source: Carried | Path | str, listings: Listings | Path | str | None = None
) -> Carried:
    """Read the list of what is carried.

    Args:
        reference: The open database.
        source: A CSV file with the columns class, listing and, where wanted, quantity and note; each
            row names one class or one connector of the listings.
        listings: The user's own listings; by default the file that JOINTABLE_LISTINGS names.

    Returns:
        What is carried.

    Raises:
        InputError: It cannot be read, or names what is not there.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> load_carried(jointable.open(), "no-such.csv")
        Traceback (most recent call last):
        ...
        jointable.errors.InputError: no-such.csv: there is no such file; a CSV file of what is carried
    """
    if isinstance(source, Carried):
        return source
    name = str(source)
    records = read_user_table(source, COLUMNS, {}, "a CSV file of what is carried")
    table = {
        str(r["class"]).lower(): r
        for r in reference.records(
            "SELECT class, family, size, ways, grip, variant, room_cm3 FROM connector_class"
        )
    }
    given = listings if listings is not None else default_listings()
    loaded = load_listings(given, reference) if isinstance(given, (str, Path)) else given
    rows: dict[str, Mapping[str, Any]] = {}
    connectors: dict[str, None] = {}
    quantities: dict[str, int] = {}
    for number, cells in records:
        named, listed = cells["class"], cells["listing"]
        if bool(named) == bool(listed):
            raise InputError(
                "not one class or one listing",
                file=name,
                row=number,
                column="class",
                value=named,
                expected=_EXPECTED,
            )
        if named:
            found = table.get(" ".join(named.split()).lower())
            if found is None:
                guess = closest(named.lower(), list(table))
                right = f"did you mean {guess!r}?" if guess else "a class such as twist-on 16"
                raise InputError(
                    "no such class", file=name, row=number, column="class", value=named, expected=right
                )
            rows[found["class"]] = found
        else:
            if loaded is None or all(r.connector != listed for r in loaded.rows):
                right = (
                    "a connector of the listings" if loaded else "a file of listings beside it, --listings"
                )
                raise InputError(
                    "no such listing", file=name, row=number, column="listing", value=listed, expected=right
                )
            connectors[listed] = None
        if cells["quantity"]:
            quantities[str(rows[found["class"]]["class"]) if named and found else listed] = _quantity(
                cells["quantity"], number, name
            )
    own = (
        Listings(loaded.name, tuple(r for r in loaded.rows if r.connector in connectors))
        if loaded and connectors
        else None
    )
    return Carried(name, rows, _stands_for(rows, table), own, quantities)


def _quantity(text: str, row: int, name: str) -> int:
    if not (text.isascii() and text.isdigit()):
        raise InputError(
            "not a count",
            file=name,
            row=row,
            column="quantity",
            value=text,
            expected="a whole number such as 25",
        )
    return int(text)


def _stands_for(
    rows: Mapping[str, Mapping[str, Any]], table: Mapping[str, Mapping[str, Any]]
) -> dict[str, tuple[str, ...]]:
    """A carried class serves as itself, and as the general one of its limits; a grounding one only as itself."""
    names = ("family", "size", "ways", "grip")
    general = {tuple(r[n] for n in names): r["class"] for r in table.values() if r["variant"] == "general"}
    out: dict[str, list[str]] = {}
    for name, row in rows.items():
        serves = {name}
        if row["variant"] != "grounding":
            serves.add(general.get(tuple(row[n] for n in names), name))
        for one in serves:
            out.setdefault(one, []).append(name)
    return {
        one: tuple(sorted(found, key=lambda n: (n != one, rows[n]["room_cm3"]))) for one, found in out.items()
    }


def choose_carried(
    reference: Reference, joint: Joint | str, carry: Carried | Path | str, **demands: Any
) -> JointAnswer:
    """Which of the carried connectors take a joint; where none does, what could be done with them.

    Args:
        reference: The open database.
        joint: The joint, or its notation.
        carry: What is carried: loaded, or the path of its file.
        demands: As in `choose`.

    Returns:
        The answer of `choose` with the carried choices only; `carry` says whether the joint is served,
        what could be done with what is carried, and what is missing.

    Raises:
        InputError: The file, the joint or a demand is wrong.

    Source: definition of the size classes (this project).
    """
    held = load_carried(reference, carry, demands.get("listings"))
    answer = choose(reference, joint, **demands)
    kept = tuple(k for c in answer.choices for k in _kept(c, held))
    about: dict[str, Any] = {
        "carried": [
            *held.rows,
            *(dict.fromkeys(r.connector for r in held.listings.rows) if held.listings else ()),
        ],
        "served": bool(kept),
        "could": [],
        "missing": [],
    }
    split, reason = answer.split, answer.split_reason
    if kept:
        split, reason = None, "a carried connector takes the joint"
    elif answer.facts.conductors > 1:
        split, reason = _splits(reference, answer, held, demands)
        about["could"] = _could(reference, answer, held, demands, split)
        about["missing"] = _missing(answer)
    return replace(answer, choices=kept, split=split, split_reason=reason, carry=about)


def _kept(choice: Choice, held: Carried) -> list[Choice]:
    if choice.listing is not None:
        printed = held.listings is not None and any(
            r.connector == choice.listing["connector"] for r in held.listings.rows
        )
        return [choice] if printed else []
    out = []
    for name in held.stands_for.get(choice.name or "", ()):
        row = held.rows[name]
        ids = tuple(p.replace(f"/{choice.name}/", f"/{name}/") for p in choice.provenance)
        count = held.quantities.get(name)
        notes = choice.notes if count is None else (*choice.notes, f"{count} carried")
        out.append(
            replace(
                choice,
                name=name,
                variant=row["variant"],
                room_cm3=row["room_cm3"],
                provenance=ids,
                notes=notes,
            )
        )
    return out


def _demands(demands: Mapping[str, Any], family: str, held: Carried) -> Demands:
    names = ("grip", "location", "temperature_c", "material_mark", "pass_through", "reopenable", "voltage")
    given = {n: demands[n] for n in names if demands.get(n) is not None}
    if given.get("grip") == "wide" and family not in (
        "twist-on",
        "screwless push-in",
        "screwless lever",
        "screw clamp",
    ):
        given.pop("grip")
    return replace(Demands.of(family=family, **given), carried=held)


def _splits(
    reference: Reference, answer: JointAnswer, held: Carried, demands: Mapping[str, Any]
) -> tuple[Split | None, str | None]:
    """The best split with carried connectors of one family."""
    found: list[Split] = []
    for family in [demands["family"]] if demands.get("family") else held.families:
        if not any(r["family"] == family for r in held.rows.values()):
            continue
        split, _ = split_of(reference, answer.joint, answer.facts, _demands(demands, family, held), family)
        found += [split] if split else []
    best = min(found, key=lambda s: (len(s.connectors), s.room_cm3), default=None)
    return best, None if best else "no number of carried connectors takes the joint"


def _could(
    reference: Reference, answer: JointAnswer, held: Carried, demands: Mapping[str, Any], split: Split | None
) -> list[str]:
    out = []
    if split is not None:
        names = ", ".join(f"{c.name} on {c.conductors}" for c in split.connectors)
        out.append(
            f"split it: {names}, tied by {split.jumpers} jumper{'s' if split.jumpers > 1 else ''} of {split.jumper}"
        )
    if demands.get("family") and not answer.joint.has_ends:
        other = choose(reference, answer.joint, **{**demands, "family": None, "grip": None})
        names_ = [k.name for c in other.choices for k in _kept(c, held) if k.name]
        out += [f"another family: {n}" for n in names_[:3]]
    return out


def _missing(answer: JointAnswer) -> list[str]:
    """The class of least room in each family that takes the joint and is not carried."""
    least: dict[str, str] = {}
    for choice in answer.choices:
        if choice.name and choice.family:
            least.setdefault(choice.family, choice.name)
    if not least and answer.split is not None:
        return list(dict.fromkeys(c.name for c in answer.split.connectors))
    return list(least.values())
