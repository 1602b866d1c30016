"""The user's own listings: combinations keyed from a package, kept local, answered from first."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from jointable.demands import LOCATIONS, Demands, plain
from jointable.errors import InputError
from jointable.facts import Facts, facts_of
from jointable.notation import Joint
from jointable.user_table import read_user_table

if TYPE_CHECKING:
    from jointable.joint import Choice, Refusal
    from jointable.reference import Reference

__all__ = ["COLUMNS", "Listing", "Listings", "answer_from", "default_listings", "load_listings"]

COLUMNS = ("connector", "least", "greatest", "location", "temperature_c", "material_mark", "note", "strip_mm")

#: The columns that must be there and filled in, each with what to write.
_WANTED = {
    "connector": "what the connector is called on its package",
    "least": "the least mix printed, such as 2x14",
    "greatest": "the greatest mix printed, such as 4x12",
}

#: Size, construction, material: what a printed combination names. -> how many
Mix = Mapping[tuple[str, str, str], int]

_UNPRINTED = "not printed on the package"


@dataclass(frozen=True, slots=True)
class Listing:
    """One printed combination: from the least to the greatest count of each conductor."""

    row: int
    connector: str
    least: Mix
    greatest: Mix
    location: str | None
    temperature_c: Decimal | None
    material_mark: str | None
    note: str | None
    strip_mm: Decimal | None = None

    def prints(self, mix: Mix) -> bool:
        """Whether a mix stands on the package.

        It does where it has exactly the sizes and constructions of the row and each count lies between the
        printed ones; where the two ends of the row name different sizes, only these two themselves do.
        """
        if mix in (self.least, self.greatest):
            return True
        kinds = set(self.least) | set(self.greatest)
        if set(mix) != kinds or set(self.greatest) != kinds:
            return False
        return all(self.least.get(kind, 0) <= mix[kind] <= self.greatest[kind] for kind in kinds)

    def unmet(self, demands: Demands, facts: Facts) -> list[str]:
        """Demands that the marking of the row does not meet."""
        out = []
        if LOCATIONS.index(demands.location or "dry") > LOCATIONS.index(self.location or "dry"):
            out.append(
                f"not listed for {demands.location} locations"
                if demands.location != "burial"
                else "not listed for burial"
            )
        if demands.temperature_c is not None and demands.temperature_c > (
            self.temperature_c or Decimal("-Infinity")
        ):
            known = "no temperature" if self.temperature_c is None else f"{plain(self.temperature_c)} °C"
            out.append(f"marked for {known}, not for {plain(demands.temperature_c)} °C")
        if (facts.aluminium or facts.metals > 1) and self.material_mark != "al-cu":
            out.append("not marked AL-CU")
        if demands.material_mark == "al-cu" and self.material_mark != "al-cu":
            out.append("not marked AL-CU")
        if demands.material_mark == "cu" and self.material_mark is None:
            out.append("not marked CU")
        return list(dict.fromkeys(out))

    def unstated(self, demands: Demands) -> list[str]:
        """Demands that a row of a listings file cannot speak of."""
        out = []
        if demands.voltage is not None:
            out.append(f"marked for at least {plain(demands.voltage)} V")
        if demands.pass_through:
            out.append("listed for grounding, with a pass-through for one conductor")
        if demands.reopenable:
            out.append("instructions that let it be opened and used again")
        return out


@dataclass(frozen=True, slots=True)
class Listings:
    """A file of listings."""

    name: str
    rows: tuple[Listing, ...]


def default_listings() -> Path | None:
    """The file that the environment variable JOINTABLE_LISTINGS names.

    Returns:
        Its path, or None.

    Source: none; a form of this project.

    Example:
        >>> os.environ.pop("JOINTABLE_LISTINGS", None) and None
        >>> default_listings() is None
        True
    """
    named = os.environ.get("JOINTABLE_LISTINGS")
    return Path(named) if named else None


def load_listings(path: Path | str, reference: Reference) -> Listings:
    """Read and check a file of the user's own listings.

    Args:
        path: A CSV file with the columns connector, least, greatest and, where wanted, location,
            temperature_c (degrees Celsius), material_mark, note; a row is one printed combination.
        reference: The open database, for the sizes.

    Returns:
        The listings; their rows are numbered as in a spreadsheet, the header being row 1.

    Raises:
        InputError: The file cannot be read, or a cell is wrong.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> load_listings("no-such-file.csv", jointable.open())
        Traceback (most recent call last):
        ...
        jointable.errors.InputError: no-such-file.csv: there is no such file; a CSV file of listings
    """
    name = str(path)
    rows = read_user_table(path, COLUMNS, _WANTED, "a CSV file of listings")
    return Listings(name, tuple(_listing(row, cell, name, reference) for row, cell in rows))


def _listing(row: int, cell: dict[str, str], name: str, reference: Reference) -> Listing:
    least, greatest = (_mix(cell[column], row, column, name, reference) for column in ("least", "greatest"))
    for kind, count in least.items():
        if count > greatest.get(kind, count):
            raise InputError(
                f"{count} of {kind[0]} here, {greatest[kind]} in the greatest",
                file=name,
                row=row,
                column="least",
                value=cell["least"],
                expected=f"at most {greatest[kind]}",
            )
    try:
        demands = Demands.of(
            location=cell.get("location") or None,
            temperature_c=cell.get("temperature_c") or None,
            material_mark=cell.get("material_mark") or None,
        )
    except InputError as error:
        wrong = "temperature_c" if error.column == "temperature" else error.column
        raise InputError(
            error.message, file=name, row=row, column=wrong, value=error.value, expected=error.expected
        ) from None
    return Listing(
        row,
        cell["connector"],
        least,
        greatest,
        demands.location,
        demands.temperature_c,
        demands.material_mark,
        cell.get("note") or None,
        _strip(cell.get("strip_mm", ""), row, name),
    )


def _strip(text: str, row: int, name: str) -> Decimal | None:
    if not text:
        return None
    try:
        length = Decimal(text)
    except ArithmeticError:
        length = Decimal("NaN")
    if not length.is_finite() or not 0 < length <= 100:
        raise InputError(
            "not a length",
            file=name,
            row=row,
            column="strip_mm",
            value=text,
            expected="the strip length on the package in mm, such as 12",
        )
    return length


def _mix(text: str, row: int, column: str, name: str, reference: Reference) -> Mix:
    try:
        return _mix_of(facts_of(reference, Joint.parse(text)))
    except InputError as error:
        raise InputError(
            error.message, file=name, row=row, column=column, value=text, expected=error.expected
        ) from None


def _mix_of(facts: Facts) -> Mix:
    out: dict[tuple[str, str, str], int] = {}
    for c in facts.conductors_listed:
        kind = (c.size, c.construction, c.material)
        out[kind] = out.get(kind, 0) + c.count
    return out


def answer_from(
    listings: Listings, facts: Facts, demands: Demands, *, outside: bool
) -> tuple[tuple[Choice, ...], tuple[Refusal, ...]]:
    """What the user's listings say of a joint: choices that come first, and connectors that are none.

    Args:
        listings: The listings.
        facts: The joint.
        demands: What is asked of the connector.
        outside: Whether no generic class takes the joint, which a listed choice then warns of.

    Returns:
        A choice for each connector that prints the joint, a refusal for each that does not.

    Source: none; a form of this project.
    """
    from jointable.joint import Choice, Refusal

    mix = _mix_of(facts)
    choices: list[Choice] = []
    refusals: dict[str, Refusal] = {}
    for listing in listings.rows:
        printed = listing.prints(mix)
        unmet = listing.unmet(demands, facts) if printed else [_UNPRINTED]
        if facts.solid_aluminium and printed:
            unmet = [
                "existing solid aluminium branch wiring gets no connector: see CPSC publication 516 and ask a qualified person"
            ]
        if unmet:
            reason = f"row {listing.row}: " + "; ".join(unmet) if printed else _UNPRINTED
            if printed or listing.connector not in refusals:
                refusals[listing.connector] = Refusal(listing.connector, None, None, None, None, reason)
            continue
        notes = [listing.note] if listing.note else []
        notes += ["warning: this combination lies outside every generic class"] if outside else []
        choices.append(
            Choice(
                None,
                None,
                None,
                None,
                None,
                None,
                requires=tuple(listing.unstated(demands)),
                notes=tuple(notes),
                reasons=(f"listed by your file, row {listing.row}",),
                listing={
                    "connector": listing.connector,
                    "row": listing.row,
                    **({} if listing.strip_mm is None else {"strip_mm": listing.strip_mm}),
                },
            )
        )
    chosen = {c.listing["connector"] for c in choices if c.listing}
    return tuple(choices), tuple(r for name, r in refusals.items() if name not in chosen)
