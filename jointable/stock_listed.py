"""Listings with a price: where the package prints a joint, they may be bought in place of a class."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.carry import Carried
from jointable.demands import Demands
from jointable.joint_kinds import Kind
from jointable.listings import Listings, default_listings, load_listings
from jointable.prices import Pack, Shelf, load_prices

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["offered_listings"]

Prices = Mapping[str, tuple[Pack, ...]]


def offered_listings(
    reference: Reference,
    prices: Path | str,
    listings: Listings | Path | str | None,
    kinds: Sequence[Kind],
    assigned: Sequence[tuple[str, str, str]],
    demands: Demands,
) -> tuple[Prices, list[Kind], dict[str, dict[str, int]]]:
    """The user's prices, and which joints may go in a listing that has one.

    Args:
        reference: The open database.
        prices: The file of prices.
        listings: The user's own listings; by default the file that JOINTABLE_LISTINGS names.
        kinds: The joints by kind, each with the classes that take it.
        assigned: Box, joint and the class chosen for it.
        demands: What is asked of the connectors.

    Returns:
        Class or listing to packs; the kinds with the priced listings beside the classes; and for each
        class without a price the listings to buy in its place, the cheapest a piece, with their joints.

    Raises:
        InputError: A file cannot be read, or a price names what is not there.

    Source: none; a form of this project.
    """
    given = listings if listings is not None else default_listings()
    own = load_listings(given, reference) if isinstance(given, (str, Path)) else given
    paid = load_prices(prices, reference, tuple(dict.fromkeys(r.connector for r in own.rows)) if own else ())
    held = Listings(own.name, tuple(r for r in own.rows if r.connector in paid)) if own else None
    if held is None or not held.rows:
        return paid, list(kinds), {}
    offer = Carried("prices", {}, {}, held, {})
    chosen = {(box, joint): name for box, joint, name in assigned}
    offered = [replace(k, classes={**k.classes, **_listed(offer, k, demands)}) for k in kinds]
    instead: dict[str, dict[str, int]] = {}
    for kind in offered:
        found = [n for n, row in kind.classes.items() if row["variant"] == "listing" and n in paid]
        best = min(found, key=lambda n: (Shelf(paid[n]).unit_price, n), default=None)
        for joint in kind.joints if best is not None else ():
            name = chosen[(joint.box, joint.name)]
            if name not in paid:
                counts = instead.setdefault(name, {})
                counts[str(best)] = counts.get(str(best), 0) + joint.boxes
    return paid, offered, instead


def _listed(offer: Carried, kind: Kind, demands: Demands) -> dict[str, Any]:
    here = replace(demands, location=kind.location, carried=None)
    least = min(kind.classes.values(), key=lambda row: row["room_cm3"])
    return {n: offer.listing_row(n, least, demands.family) for n in offer.listed(kind.facts, here)}
