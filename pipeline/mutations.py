"""Wrong cells, made on purpose: each kind of slip that people and programs make with printed tables."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise

from pipeline.readings import RawRow
from pipeline.schema import PROVENANCE_COLUMNS, RawSchema

__all__ = ["APART", "KINDS", "WEIGHTS", "Mutation", "Place", "Slips"]

Rows = list[RawRow]

#: Files that print no table: the bibliography, the ledgers, joints that classes are held against, our words.
APART = (
    "sources", "corrections", "known_departures", "box_departure", "rule_change", "class_outcome", "assumption",
)  # fmt: skip

#: What a figure becomes when it is written in the unit of the other system.
UNIT_FACTORS = {
    "in": Decimal("25.4"),
    "mm": 1 / Decimal("25.4"),
    "mil": Decimal("0.0254"),
    "in2": Decimal("645.16"),
    "mm2": 1 / Decimal("645.16"),
    "in3": Decimal("16.387064"),
    "cm3": 1 / Decimal("16.387064"),
    "mL": 1 / Decimal("16.387064"),
    "ohm/kft": Decimal("3.28084"),
    "ohm/km": 1 / Decimal("3.28084"),
    "lb/kft": Decimal("1.48816"),
}

#: How often people make each slip of a digit (Verhoeff 1969: 60 to 95, 10 to 20 and 10 to 20 %).
WEIGHTS = {"digit replaced": 80, "digits swapped": 10, "digit left out": 5, "digit added": 5}

NUMBER = re.compile(r"\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Place:
    """Where something can go wrong: a row of a raw file, by its index, and a column."""

    stem: str
    index: int
    column: str


@dataclass(frozen=True, slots=True)
class Mutation:
    """One wrong cell, or a row or column gone wrong, in one raw file."""

    kind: str
    place: Place
    line: int
    rows: Rows
    old: str
    new: str

    @property
    def stem(self) -> str:
        """The raw file."""
        return self.place.stem

    @property
    def name(self) -> str:
        """Where it is and what became of what."""
        return f"{self.stem}.csv:{self.line} {self.place.column}: {self.old!r} -> {self.new!r}"


class Slips:
    """Every place of the raw files, and what can go wrong there.

    Each kind of slip takes all its places as equally likely, whatever the file.

    Args:
        files: The raw rows as printed, by file.
        schemas: The raw schemas by file.
    """

    def __init__(self, files: Mapping[str, Rows], schemas: Mapping[str, RawSchema]) -> None:
        self.files = {stem: rows for stem, rows in files.items() if stem not in APART}
        self.schemas = schemas
        self.sources = sorted({r["source"] for rows in self.files.values() for r in rows})
        self._places = {kind: list(where(self)) for kind, (where, _) in KINDS.items()}

    def places(self, kind: str) -> Sequence[Place]:
        """All places where a kind of slip can happen."""
        return self._places[kind]

    def draw(self, kind: str, chance: random.Random) -> Mutation:
        """One slip of a kind, at a place drawn by chance."""
        while True:
            found = self.at(kind, chance.choice(self._places[kind]), chance)
            if found is not None:
                return found

    def at(self, kind: str, place: Place, chance: random.Random) -> Mutation | None:
        """One slip of a kind at a place, or None where chance made none that changes a value."""
        found = KINDS[kind][1](self, place, chance)
        return None if found is None else replace(found, kind=kind)

    def data_columns(self, stem: str) -> list[str]:
        """The columns of a file that hold what is printed."""
        return [f.name for f in self.schemas[stem].fields if f.name not in PROVENANCE_COLUMNS]

    def figure_columns(self, stem: str) -> list[str]:
        """The columns all of whose printed cells hold a digit."""
        return [
            c
            for c in self.data_columns(stem)
            if all(_has_digit(r[c]) for r in self.files[stem] if r[c]) and any(r[c] for r in self.files[stem])
        ]

    def cells(self, wanted: Callable[[str], bool]) -> Iterator[Place]:
        """The data cells whose text is wanted."""
        for stem, rows in self.files.items():
            columns = self.data_columns(stem)
            yield from (Place(stem, i, c) for i, row in enumerate(rows) for c in columns if wanted(row[c]))


def _has_digit(text: str) -> bool:
    return any(c.isdigit() for c in text)


def _is_number(text: str) -> bool:
    return NUMBER.fullmatch(text.removeprefix("-")) is not None


def _same_value(old: str, new: str) -> bool:
    """Whether two texts say the same: zeros before and behind a number do not count."""
    return _normal(old) == _normal(new)


def _normal(text: str) -> str:
    return NUMBER.sub(lambda m: format(Decimal(m[0]).normalize(), "f"), text)


def _changed(slips: Slips, place: Place, new: str) -> Mutation | None:
    rows = slips.files[place.stem]
    row = rows[place.index]
    old = row[place.column]
    if new == "" or _same_value(old, new):
        return None
    out = [*rows]
    out[place.index] = replace(row, cells={**row.cells, place.column: new})
    return Mutation("", place, row.line, out, old, new)


# Where each kind can happen


def _digits(slips: Slips) -> Iterator[Place]:
    return slips.cells(_has_digit)


def _numbers(slips: Slips) -> Iterator[Place]:
    return slips.cells(_is_number)


def _words(slips: Slips) -> Iterator[Place]:
    cells = slips.cells(lambda text: bool(text) and not _has_digit(text))
    return (p for p in cells if "edition" not in p.column and len(_others(slips, p)) > 0)


def _missing(slips: Slips) -> Iterator[Place]:
    for stem, rows in slips.files.items():
        for column in slips.figure_columns(stem):
            yield from (Place(stem, i, column) for i, row in enumerate(rows) if not row[column])


def _with_unit(slips: Slips) -> Iterator[Place]:
    return (p for p in _numbers(slips) if _unit(slips, p) in UNIT_FACTORS)


def _next_to_another(slips: Slips) -> Iterator[Place]:
    return (p for p in _digits(slips) if _has_digit(_beside(slips, p)))


def _starts(slips: Slips) -> Iterator[Place]:
    for stem, rows in slips.files.items():
        keys = slips.schemas[stem].primary_key
        for column in slips.figure_columns(stem):
            if column not in keys:
                yield from (
                    Place(stem, i, column)
                    for i, (above, row) in enumerate(pairwise(rows), 1)
                    if above[column] != row[column]
                )


def _columns(slips: Slips) -> Iterator[Place]:
    for stem in slips.files:
        columns = slips.figure_columns(stem)
        if len(columns) > 1:
            yield from (Place(stem, 0, column) for column in columns)


def _editions(slips: Slips) -> Iterator[Place]:
    return (p for p in slips.cells(bool) if "edition" in p.column and len(_others(slips, p)) > 0)


def _rows(slips: Slips) -> Iterator[Place]:
    for stem, rows in slips.files.items():
        yield from (Place(stem, i, "row") for i in range(len(rows)))


# What happens there


def _on_digits(
    change: Callable[[str, random.Random], str | None],
) -> Callable[[Slips, Place, random.Random], Mutation | None]:
    def make(slips: Slips, place: Place, chance: random.Random) -> Mutation | None:
        new = change(slips.files[place.stem][place.index][place.column], chance)
        return None if new is None else _changed(slips, place, new)

    return make


def _digit_places(text: str) -> list[int]:
    return [i for i, c in enumerate(text) if c.isdigit()]


def _replaced(text: str, chance: random.Random) -> str | None:
    at = chance.choice(_digit_places(text))
    return text[:at] + chance.choice([d for d in "0123456789" if d != text[at]]) + text[at + 1 :]


def _swapped(text: str, chance: random.Random) -> str | None:
    pairs = [i for i, (a, b) in enumerate(pairwise(text)) if a.isdigit() and b.isdigit() and a != b]
    if not pairs:
        return None
    at = chance.choice(pairs)
    return text[:at] + text[at + 1] + text[at] + text[at + 2 :]


def _left_out(text: str, chance: random.Random) -> str | None:
    places = _digit_places(text)
    at = chance.choice(places)
    return text[:at] + text[at + 1 :] if len(places) > 1 else None


def _added(text: str, chance: random.Random) -> str | None:
    at = chance.choice(_digit_places(text))
    return text[:at] + chance.choice("0123456789") + text[at:]


def _shifted(text: str, chance: random.Random) -> str | None:
    return format(Decimal(text).scaleb(chance.choice((1, -1))), "f")


def _last_off(text: str, chance: random.Random) -> str | None:
    number = Decimal(text)
    step = Decimal(1).scaleb(int(number.as_tuple().exponent))
    return format(number + chance.choice((step, -step)), "f")


def _zero(slips: Slips, place: Place, _: random.Random) -> Mutation | None:
    return _changed(slips, place, "0")


def _unit(slips: Slips, place: Place) -> str:
    return next(f.unit for f in slips.schemas[place.stem].fields if f.name == place.column)


def _unit_slip(slips: Slips, place: Place, _: random.Random) -> Mutation | None:
    text = slips.files[place.stem][place.index][place.column]
    places = max(len(text.partition(".")[2]), 1)
    number = Decimal(text) * UNIT_FACTORS[_unit(slips, place)]
    return _changed(slips, place, format(number.quantize(Decimal(1).scaleb(-places)), "f"))


def _beside(slips: Slips, place: Place) -> str:
    rows = slips.files[place.stem]
    other = place.index + 1 if place.index + 1 < len(rows) else place.index - 1
    return rows[other][place.column] if other >= 0 else ""


def _neighbour(slips: Slips, place: Place, _: random.Random) -> Mutation | None:
    return _changed(slips, place, _beside(slips, place))


def _slipped(slips: Slips, place: Place, _: random.Random) -> Mutation | None:
    """From this row on the column stands one row lower than printed."""
    rows, column = slips.files[place.stem], place.column
    out = rows[: place.index] + [
        replace(row, cells={**row.cells, column: above[column]})
        for above, row in pairwise(rows[place.index - 1 :])
    ]
    row = rows[place.index]
    return Mutation("", place, row.line, out, row[column], "one row lower")


def _columns_swapped(slips: Slips, place: Place, chance: random.Random) -> Mutation | None:
    rows, a = slips.files[place.stem], place.column
    b = chance.choice([c for c in slips.figure_columns(place.stem) if c != a])
    if all(_same_value(r[a], r[b]) for r in rows):
        return None
    out = [replace(r, cells={**r.cells, a: r[b], b: r[a]}) for r in rows]
    return Mutation("", place, 1, out, a, b)


def _row_name(slips: Slips, place: Place) -> tuple[Rows, RawRow, str]:
    rows = slips.files[place.stem]
    row = rows[place.index]
    return rows, row, ",".join(row[c] for c in slips.schemas[place.stem].primary_key)


def _row_dropped(slips: Slips, place: Place, _: random.Random) -> Mutation | None:
    rows, row, key = _row_name(slips, place)
    out = rows[: place.index] + rows[place.index + 1 :]
    return Mutation("", place, row.line, out, key, "left out") if out else None


def _row_doubled(slips: Slips, place: Place, _: random.Random) -> Mutation | None:
    rows, row, key = _row_name(slips, place)
    return Mutation("", place, row.line, [*rows[: place.index], row, *rows[place.index :]], key, "twice")


def _others(slips: Slips, place: Place) -> list[str]:
    rows = slips.files[place.stem]
    return sorted({r[place.column] for r in rows} - {rows[place.index][place.column], ""})


def _other_word(slips: Slips, place: Place, chance: random.Random) -> Mutation | None:
    """The word that another row has in the column."""
    return _changed(slips, place, chance.choice(_others(slips, place)))


def _sources(slips: Slips) -> Iterator[Place]:
    return (replace(p, column="source") for p in _rows(slips))


def _source_swapped(slips: Slips, place: Place, chance: random.Random) -> Mutation | None:
    """A source that another row of the file names; where there is none, any source."""
    return _changed(slips, place, chance.choice(_others(slips, place) or slips.sources))


Where = Callable[[Slips], Iterable[Place]]
What = Callable[[Slips, Place, random.Random], Mutation | None]

#: Each kind of slip: where it can happen, and what happens there.
KINDS: Mapping[str, tuple[Where, What]] = {
    "digit replaced": (_digits, _on_digits(_replaced)),
    "digits swapped": (_digits, _on_digits(_swapped)),
    "digit left out": (_digits, _on_digits(_left_out)),
    "digit added": (_digits, _on_digits(_added)),
    "decimal shifted": (_numbers, _on_digits(_shifted)),
    "zero for missing": (_missing, _zero),
    "neighbouring row": (_next_to_another, _neighbour),
    "rows slipped": (_starts, _slipped),
    "columns swapped": (_columns, _columns_swapped),
    "row dropped": (_rows, _row_dropped),
    "row doubled": (_rows, _row_doubled),
    "unit slip": (_with_unit, _unit_slip),
    "last digit off by one": (_numbers, _on_digits(_last_off)),
    "category swapped": (_words, _other_word),
    "edition swapped": (_editions, _other_word),
    "source swapped": (_sources, _source_swapped),
}
