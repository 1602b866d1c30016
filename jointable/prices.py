"""Prices that the user keyed, and how to buy a quantity in whole packs for the least money."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING

from jointable.errors import InputError
from jointable.schedule_form import closest
from jointable.user_table import read_user_table

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Bought", "Pack", "Shelf", "load_prices"]

COLUMNS = ("class", "listing", "pack_size", "pack_price", "note")
_NAMED = "a class, such as twist-on 16, or a connector of your listings"
_REQUIRED = {
    "pack_size": "how many are in a pack, such as 100",
    "pack_price": "what a pack costs, such as 12.50",
}
#: More than this in a pack or on a pack's tag is a slip of the hand.
_MOST_PIECES = 100_000
_MOST_PRICE = Decimal(1_000_000)


@dataclass(frozen=True, slots=True)
class Pack:
    """A pack of connectors of one class: pieces in it, what it costs, and its row in the user's file."""

    size: int
    price: Decimal
    row: int


@dataclass(frozen=True, slots=True)
class Bought:
    """So many of each pack, with the pieces and the cost of all."""

    packs: tuple[tuple[Pack, int], ...]
    pieces: int
    cost: Decimal


def load_prices(
    path: Path | str, reference: Reference, listed: Collection[str] = ()
) -> dict[str, tuple[Pack, ...]]:
    """Read a file of the user's own prices.

    Args:
        path: A CSV file with the columns class or listing, pack_size, pack_price and, where wanted,
            note; a class or listing may have packs of several sizes. Prices are in whatever money the user
            pays in.
        reference: The open database, for the classes.
        listed: The connectors of the user's own listings, which a row may name too.

    Returns:
        Class or listing to packs, least size first.

    Raises:
        InputError: The file cannot be read, or a cell is wrong; row, column and value are named.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> load_prices("no-such-file.csv", jointable.open())
        Traceback (most recent call last):
        ...
        jointable.errors.InputError: no-such-file.csv: there is no such file; a CSV file of prices
    """
    name = str(path)
    classes = {r[0] for r in reference.rows("SELECT class FROM connector_class")}
    out: dict[str, dict[int, Pack]] = {}
    for row, cell in read_user_table(path, COLUMNS, _REQUIRED, "a CSV file of prices"):
        said = _named(cell, classes, listed, name, row)
        size = _pieces(cell["pack_size"], name, row)
        packs = out.setdefault(said, {})
        if size in packs:
            raise InputError(
                f"packs of {size} stand in row {packs[size].row} already",
                file=name,
                row=row,
                column="pack_size",
                value=cell["pack_size"],
                expected="each pack once",
            )
        packs[size] = Pack(size, _price(cell["pack_price"], name, row), row)
    return {c: tuple(packs[s] for s in sorted(packs)) for c, packs in out.items()}


def _named(
    cell: Mapping[str, str], classes: Collection[str], listed: Collection[str], name: str, row: int
) -> str:
    """The class or listing that a row prices."""
    if bool(cell["class"]) == bool(cell["listing"]):
        raise InputError(
            "a class and a listing" if cell["class"] else "the cell is empty",
            file=name,
            row=row,
            column="class",
            value=cell["class"] or None,
            expected=_NAMED,
        )
    column = "class" if cell["class"] else "listing"
    said = " ".join(cell[column].split())
    # Whoever prices by one column may name a connector of the listings there too.
    if (column == "class" and said in classes) or said in listed:
        return said
    guess = closest(said, [*classes, *listed] if column == "class" else list(listed))
    right = (
        f"did you mean {guess!r}?"
        if guess
        else _NAMED
        if listed or column == "class"
        else "a file of listings beside it, --listings"
    )
    raise InputError(f"no such {column}", file=name, row=row, column=column, value=said, expected=right)


def _pieces(text: str, name: str, row: int) -> int:
    if text.isascii() and text.isdigit() and 0 < int(text[:9]) <= _MOST_PIECES and len(text) < 9:
        return int(text)
    raise InputError(
        "no number of pieces",
        file=name,
        row=row,
        column="pack_size",
        value=text,
        expected=f"a whole number from 1 to {_MOST_PIECES:,}, without a comma",
    )


def _price(text: str, name: str, row: int) -> Decimal:
    try:
        price = Decimal(text) if text.isascii() and set(text) <= set("0123456789.") else Decimal("NaN")
    except ArithmeticError:
        price = Decimal("NaN")
    if price.is_finite() and 0 <= price <= _MOST_PRICE:
        return price
    raise InputError(
        "no price",
        file=name,
        row=row,
        column="pack_price",
        value=text,
        expected=f"a number from 0 to {_MOST_PRICE:,}, such as 12.50, without sign or currency",
    )


class Shelf:
    """The packs of one class, and the best ways to buy that were found so far.

    Args:
        packs: The packs on sale, one at least.

    Source: knapsack (least cost at or above a quantity), solved exactly by dynamic programming.

    Example:
        >>> shelf = Shelf((Pack(10, Decimal(3), 2), Pack(100, Decimal(20), 3)))
        >>> [(p.size, n) for p, n in shelf.cheapest(75).packs]
        [(100, 1)]
        >>> [(p.size, n) for p, n in shelf.cheapest(120).packs]
        [(10, 2), (100, 1)]
    """

    def __init__(self, packs: Sequence[Pack]) -> None:
        self.packs = tuple(packs)
        self._best = min(self.packs, key=lambda p: (p.price / p.size, p.size))
        #: For 0, 1, 2 … pieces: cost, pieces, packs, and the last pack of the best way to hold so many.
        self._ways: list[tuple[Decimal, int, int, Pack | None]] = [(Decimal(0), 0, 0, None)]

    @property
    def unit_price(self) -> Decimal:
        """What a piece costs at least."""
        return self._best.price / self._best.size

    def cheapest(self, quantity: int) -> Bought:
        """The whole packs that hold a quantity for the least money; of these the fewest pieces, then packs.

        Args:
            quantity: Pieces needed.

        Returns:
            The packs with their numbers.
        """
        best = self._best
        # Of any `best.size` other packs some hold together a multiple of the best pack, which is no dearer:
        # beyond what fewer of them hold, only the best pack is bought.
        few = best.size * max(p.size for p in self.packs)
        bulk = max(0, (quantity - few) // best.size)
        counts: dict[Pack, int] = {best: bulk} if bulk else {}
        left = quantity - bulk * best.size
        while len(self._ways) <= left:
            self._ways.append(min((self._with(p) for p in self.packs), key=lambda way: way[:3]))
        while left > 0 and (pack := self._ways[left][3]) is not None:
            counts[pack] = counts.get(pack, 0) + 1
            left -= pack.size
        held = tuple((p, counts[p]) for p in self.packs if p in counts)
        return Bought(held, sum(p.size * n for p, n in held), sum((p.price * n for p, n in held), Decimal(0)))

    def _with(self, pack: Pack) -> tuple[Decimal, int, int, Pack]:
        """The best way to hold the next number of pieces that ends with a pack."""
        cost, pieces, count, _ = self._ways[max(0, len(self._ways) - pack.size)]
        return cost + pack.price, pieces + pack.size, count + 1, pack
