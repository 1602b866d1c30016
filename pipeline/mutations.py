"""Wrong cells, made on purpose: each kind of slip that people and programs make with printed tables."""

from __future__ import annotations

import random
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from pipeline.readings import RawRow
from pipeline.schema import RawSchema

__all__ = ["KINDS", "WEIGHTS", "Mutation", "mutate"]

Rows = list[RawRow]

#: The unit of the other system, for a slip of the unit.
UNIT_FACTORS = {
    "in": Decimal("25.4"),
    "mm": 1 / Decimal("25.4"),
    "in2": Decimal("645.16"),
    "mm2": 1 / Decimal("645.16"),
    "in3": Decimal("16.387064"),
    "cm3": 1 / Decimal("16.387064"),
    "mL": 1 / Decimal("16.387064"),
    "ohm/kft": Decimal("3.28084"),
    "ohm/km": 1 / Decimal("3.28084"),
    "kg/km": Decimal("0.671969"),
    "lb/kft": Decimal("1.48816"),
    "N": Decimal("0.224809"),
    "lbf": Decimal("4.44822"),
}

#: How often people make each slip of a digit (Verhoeff 1969 gives 60 to 95, 10 to 20 and 10 to 20 %).
WEIGHTS = {"digit replaced": 80, "digits swapped": 10, "digit left out": 5, "digit added": 5}


@dataclass(frozen=True, slots=True)
class Mutation:
    """One wrong cell, or a row or column gone wrong, in one raw file."""

    kind: str
    stem: str
    rows: Rows
    place: str
    column: str
    old: str
    new: str

    @property
    def name(self) -> str:
        """Where it is and what became of what."""
        return f"{self.place} {self.column}: {self.old!r} -> {self.new!r}"


def mutate(kind: str, stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    """Make one error of a kind in a file.

    Args:
        kind: A key of `KINDS`.
        stem: The raw file.
        rows: Its rows as printed.
        schema: Its raw schema.
        chance: The source of chance.

    Returns:
        The error, or None where the file has no cell that can go wrong so.
    """
    for _ in range(40):
        found = KINDS[kind](stem, rows, schema, chance)
        if found is not None:
            return replace(found, kind=kind)
    return None


def _numbers(schema: RawSchema) -> list[str]:
    return [f.name for f in schema.fields if not f.enum and re.match(r"-?\??\\d", f.form.pattern)]


def _pick(rows: Rows, columns: list[str], chance: random.Random) -> tuple[int, str, str] | None:
    if not columns:
        return None
    index, column = chance.randrange(len(rows)), chance.choice(columns)
    text = rows[index][column]
    return (index, column, text) if text else None


def _changed(stem: str, rows: Rows, index: int, column: str, new: str) -> Mutation | None:
    old = rows[index][column]
    if new == old or new == "" or _same_value(old, new):
        return None
    cells = {**rows[index].cells, column: new}
    out = [*rows]
    out[index] = replace(rows[index], cells=cells)
    return Mutation("", stem, out, f"{stem}.csv:{rows[index].line}", column, old, new)


def _same_value(old: str, new: str) -> bool:
    try:
        return Decimal(old) == Decimal(new)
    except ArithmeticError:
        return False


def _on_number(change: Callable[[str, random.Random], str | None]) -> Callable[..., Mutation | None]:
    def make(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
        picked = _pick(rows, _numbers(schema), chance)
        if picked is None:
            return None
        index, column, text = picked
        new = change(text, chance)
        return None if new is None else _changed(stem, rows, index, column, new)

    return make


def _digit_places(text: str) -> list[int]:
    return [i for i, c in enumerate(text) if c.isdigit()]


def _replaced(text: str, chance: random.Random) -> str | None:
    at = chance.choice(_digit_places(text))
    return text[:at] + chance.choice([d for d in "0123456789" if d != text[at]]) + text[at + 1 :]


def _swapped(text: str, chance: random.Random) -> str | None:
    pairs = [
        i
        for i in range(len(text) - 1)
        if text[i].isdigit() and text[i + 1].isdigit() and text[i] != text[i + 1]
    ]
    if not pairs:
        return None
    at = chance.choice(pairs)
    return text[:at] + text[at + 1] + text[at] + text[at + 2 :]


def _left_out(text: str, chance: random.Random) -> str | None:
    places = _digit_places(text)
    if len(places) < 2:
        return None
    at = chance.choice(places)
    return text[:at] + text[at + 1 :]


def _added(text: str, chance: random.Random) -> str | None:
    at = chance.choice(_digit_places(text))
    return text[:at] + chance.choice("0123456789") + text[at:]


def _shifted(text: str, chance: random.Random) -> str | None:
    return (
        format(Decimal(text) * chance.choice([Decimal(10), Decimal("0.1")]), "f")
        if _is_decimal(text)
        else None
    )


def _zero(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    """A cell that prints nothing taken for a zero."""
    column, index = chance.choice(_numbers(schema) or [""]), chance.randrange(len(rows))
    return _changed(stem, rows, index, column, "0") if column and not rows[index][column] else None


def _last_off(text: str, chance: random.Random) -> str | None:
    if not _is_decimal(text):
        return None
    number = Decimal(text)
    step = Decimal(1).scaleb(int(number.as_tuple().exponent))
    return format(number + chance.choice([step, -step]), "f")


def _is_decimal(text: str) -> bool:
    return re.fullmatch(r"-?\d+(\.\d+)?", text) is not None


def _neighbour(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    picked = _pick(rows, _numbers(schema), chance)
    if picked is None or len(rows) < 2:
        return None
    index, column, _ = picked
    other = index + 1 if index + 1 < len(rows) else index - 1
    return _changed(stem, rows, index, column, rows[other][column])


def _slipped(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    """From some row on, a column stands one row lower than printed."""
    columns = [c for c in _numbers(schema) if c not in schema.primary_key]
    if len(rows) < 3 or not columns:
        return None
    start, column = chance.randrange(1, len(rows)), chance.choice(columns)
    out = [*rows]
    for i in range(start, len(rows)):
        out[i] = replace(rows[i], cells={**rows[i].cells, column: rows[i - 1][column]})
    if all(out[i][column] == rows[i][column] for i in range(len(rows))):
        return None
    return Mutation(
        "", stem, out, f"{stem}.csv:{rows[start].line}", column, rows[start][column], "one row lower"
    )


def _columns_swapped(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    columns = [c for c in _numbers(schema) if c not in schema.primary_key]
    if len(columns) < 2:
        return None
    a, b = chance.sample(columns, 2)
    if all(r[a] == r[b] for r in rows):
        return None
    out = [replace(r, cells={**r.cells, a: r[b], b: r[a]}) for r in rows]
    return Mutation("", stem, out, f"{stem}.csv", a, a, b)


def _row_dropped(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    if len(rows) < 2:
        return None
    at = chance.randrange(len(rows))
    key = ",".join(rows[at][c] for c in schema.primary_key)
    return Mutation(
        "", stem, rows[:at] + rows[at + 1 :], f"{stem}.csv:{rows[at].line}", "row", key, "left out"
    )


def _row_doubled(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    at = chance.randrange(len(rows))
    key = ",".join(rows[at][c] for c in schema.primary_key)
    return Mutation(
        "",
        stem,
        [*rows[: at + 1], rows[at], *rows[at + 1 :]],
        f"{stem}.csv:{rows[at].line}",
        "row",
        key,
        "twice",
    )


def _unit_slip(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    units = {f.name: f.unit for f in schema.fields if f.unit in UNIT_FACTORS}
    picked = _pick(rows, [c for c in _numbers(schema) if c in units], chance)
    if picked is None or not _is_decimal(picked[2]):
        return None
    index, column, text = picked
    decimals = len(text.partition(".")[2])
    number = (Decimal(text) * UNIT_FACTORS[units[column]]).quantize(Decimal(1).scaleb(-max(decimals, 1)))
    return _changed(stem, rows, index, column, format(number, "f"))


def _category(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    """A word of a row changed for a word that another row has there."""
    numbers = set(_numbers(schema)) | {"source", "locator", "access", "note"}
    return _other_value(
        stem,
        rows,
        [f.name for f in schema.fields if f.name not in numbers and "edition" not in f.name],
        chance,
    )


def _edition(stem: str, rows: Rows, schema: RawSchema, chance: random.Random) -> Mutation | None:
    return _other_value(stem, rows, [f.name for f in schema.fields if "edition" in f.name], chance)


def _source(stem: str, rows: Rows, _: RawSchema, chance: random.Random) -> Mutation | None:
    return _other_value(stem, rows, ["source"] if "source" in rows[0].cells else [], chance)


def _other_value(stem: str, rows: Rows, columns: list[str], chance: random.Random) -> Mutation | None:
    picked = _pick(rows, columns, chance)
    if picked is None:
        return None
    index, column, text = picked
    others = sorted({r[column] for r in rows} - {text, ""})
    return _changed(stem, rows, index, column, chance.choice(others)) if others else None


KINDS: Mapping[str, Callable[..., Mutation | None]] = {
    "digit replaced": _on_number(_replaced),
    "digits swapped": _on_number(_swapped),
    "digit left out": _on_number(_left_out),
    "digit added": _on_number(_added),
    "decimal shifted": _on_number(_shifted),
    "zero for missing": _zero,
    "neighbouring row": _neighbour,
    "rows slipped": _slipped,
    "columns swapped": _columns_swapped,
    "row dropped": _row_dropped,
    "row doubled": _row_doubled,
    "unit slip": _unit_slip,
    "last digit off by one": _on_number(_last_off),
    "category swapped": _category,
    "edition swapped": _edition,
    "source swapped": _source,
}
