"""Random boxes, realistic and nasty, for comparing two implementations of the fill.

`schedule(edition, boxes, seed)` gives a long list of rows as a CSV would hold them, the same for the
same seed. Every item kind and every optional column of the schedule occurs; raceways stand in
`random_limits`.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from decimal import Decimal
from fractions import Fraction

from hypothesis import reject
from hypothesis import strategies as st

from . import canada, nec_tables
from .fill_oracle import Answer, OracleError, fill

Schedule = list[dict[str, str]]

_COMMON = ("14", "12", "12", "12", "10")
_NEC_SIZES = ("18", "16", "14", "12", "10", "8", "6")
_CANADA_SIZES = ("14", "12", "10", "8", "6")
_WAYS_TO_WRITE = ("{}", "{} AWG", "#{}", "{}AWG")
_FRACTION_SIGNS = {"-1/2": "½", "-1/4": "¼", "-3/4": "¾", "-1/8": "⅛", "-3/8": "⅜", "-7/8": "⅞"}


class Maker:
    """Makes the rows of one box after another from one seed."""

    def __init__(self, edition: str, seed: int) -> None:
        self.edition = edition
        self.canada = edition in canada.EDITIONS
        self.sizes = _CANADA_SIZES if self.canada else _NEC_SIZES
        self.draw = random.Random(f"{edition} {seed}")

    def size(self) -> str:
        """A conductor size, mostly a common one, in one of the ways people write it."""
        pick = self.draw.choice(_COMMON if self.draw.random() < 0.6 else self.sizes)
        return self.draw.choice(_WAYS_TO_WRITE).format(pick)

    def quantity(self) -> str:
        """A quantity: mostly small, sometimes empty, none, or the greatest that a row may hold."""
        chance = self.draw.random()
        if chance < 0.02:
            return "0"
        if chance < 0.024:
            return "9999"
        return "" if chance < 0.1 else str(self.draw.choice((1, 1, 2, 2, 3, 4, 5, 6, 8, 12)))

    def name(self) -> str:
        """A box of the edition's table, its name written in one of several ways."""
        names = canada.BOX_NAMES if self.canada else nec_tables.BOX_NAMES
        name = self.draw.choice(names)
        chance = self.draw.random()
        if chance < 0.1 and not name.startswith("F"):
            words = name.split()
            return " ".join([words[-1], *words[:-1]])
        if chance < 0.2:
            for letters, sign in _FRACTION_SIGNS.items():
                name = name.replace(letters, sign)
        elif chance < 0.25 and not self.canada:
            return self.draw.choice(tuple(nec_tables.METRIC_NAMES))
        elif chance < 0.3:
            name = name.replace("-1/2", ".5").replace("-1/4", ".25").replace("-7/8", ".875")
        return name

    def box(self, marked: bool, space: bool = False) -> dict[str, str]:
        """The row that holds the volume; a space has a `box` row with a marked one."""
        row = {"item": "box", "size": "" if marked else self.name()}
        if marked:
            row |= self.draw.choice((self._in3(8, 40), self._in3(8, 40), self._cm3(130, 650)))
            if self.draw.random() < 0.1:
                row["size"] = self.name()  # the mark wins
            if not space and not row["size"] and self.draw.random() < 0.15:
                row["item"] = "conduit_body"
        else:
            ganging = row["size"].split()[-1] in ("device", "masonry") or (
                not self.canada and row["size"].startswith("F")
            )
            row["quantity"] = str(self.draw.choice((1, 1, 2, 3, 4))) if ganging else ""
        if row["item"] == "box" and self.draw.random() < 0.1:
            row["boxes"] = str(self.draw.randint(1, 40))
        return row

    def _in3(self, low: int, high: int) -> dict[str, str]:
        places = self.draw.choice((1, 10, 100, 10000))
        return {"volume_in3": str(Decimal(self.draw.randint(low * places, high * places)) / places)}

    def _cm3(self, low: int, high: int) -> dict[str, str]:
        places = self.draw.choice((1, 10))
        return {"volume_cm3": str(Decimal(self.draw.randint(low * places, high * places)) / places)}

    def item(self, spaces: bool) -> dict[str, str]:
        """One item row, each kind in its turn."""
        kinds = [
            "cable", "conductor", "conductor", "cable", "through", "loop", "pigtail", "grounding",
            "isolated_grounding", "fixture_wire", "fixture_grounding", "clamp", "stud", "hickey",
            "device", "device", "terminal_block", "connector", "extension", "barrier",
        ]  # fmt: skip
        kind = self.draw.choice(kinds)
        if kind == "barrier" and not spaces and self.draw.random() < 0.8:
            kind = "device"
        row = {"item": kind, "quantity": self.quantity()}
        row |= getattr(self, f"_{kind}", self._conductor)()
        if self.draw.random() < 0.03:
            row["note"] = self.draw.choice(("from panel A", 'a "quoted", note', "ä¼"))
        if kind in ("conductor", "pigtail", "loop") and self.draw.random() < 0.2:
            row["joint"] = self.draw.choice(("black", "white", "red"))
        return row

    def _conductor(self) -> dict[str, str]:
        row = {"size": self.size()}
        if self.draw.random() < 0.15:
            row["insulation"] = self.draw.choice(("THHN", "TW"))
        if self.draw.random() < 0.1:
            row["construction"] = self.draw.choice(("solid", "stranded"))
        if self.draw.random() < 0.1:
            row["material"] = "copper"
        return row

    def _cable(self) -> dict[str, str]:
        sizes = tuple(size for size in self.sizes if size not in ("18", "16"))
        size = self.draw.choice(("14", "12", "10") if self.draw.random() < 0.8 else sizes)
        return {"size": f"{size}/{self.draw.choice((2, 2, 2, 3, 3, 4))}"}

    def _loop(self) -> dict[str, str]:
        length = self.draw.choice(("", "", "299.9", "300", "300.0", "150", "450"))
        return {"size": self.size(), "loop_mm": length}

    def _grounding(self) -> dict[str, str]:
        insulation = self.draw.choice(("", "", "bare", "THHN")) if self.canada else ""
        return {"size": self.size(), "insulation": insulation}

    def _isolated_grounding(self) -> dict[str, str]:
        return {"size": self.size()}

    def _fixture_grounding(self) -> dict[str, str]:
        return {"size": self.draw.choice(("18", "16", "14", "12"))}

    def _fixture_wire(self) -> dict[str, str]:
        return {"size": self.draw.choice(("18", "18", "16", "16", "14", "12"))}

    def _clamp(self) -> dict[str, str]:
        return {"size": self.size() if self.draw.random() < 0.2 else ""}  # ignored, and said

    _stud = _hickey = _clamp

    def _device(self) -> dict[str, str]:
        row = {"gangs": self.draw.choice(("", "", "", "1", "2", "3"))}
        if self.draw.random() < 0.5:
            row[self.draw.choice(("conductor_size", "size"))] = self.size()
        if self.draw.random() < 0.2:
            row["depth_mm"] = self.draw.choice(("20", "25.4", "25.5", "31.75", "48", "60"))
        return row

    def _terminal_block(self) -> dict[str, str]:
        column = self.draw.choice(("conductor_size", "size"))
        return {column: self.size() if self.draw.random() < 0.7 else ""}

    _connector = _terminal_block

    def _extension(self) -> dict[str, str]:
        chance = self.draw.random()
        if chance < 0.4:
            return self.draw.choice((self._in3(2, 20), self._cm3(30, 330)))
        return {"size": self.name() if chance < 0.7 else self.draw.choice(("", "3/4 plaster ring"))}

    def _barrier(self) -> dict[str, str]:
        if self.draw.random() < 0.3:
            return self._in3(1, 2)
        return {"material": self.draw.choice(("metal", "", "plastic"))}

    def rows(self, name: str) -> Schedule:
        """One box, its rows in any order."""
        parts = [""] if self.draw.random() < 0.93 else ["left", "right", "middle"][: self.draw.randint(1, 3)]
        rows = []
        for part in parts:
            held = [self.box(bool(part) or self.draw.random() < 0.4, bool(part))]
            held += [self.item(bool(part)) for _ in range(self.draw.choice((0, 1, 3, 4, 5, 6, 7, 9, 14)))]
            rows += [row | {"space": part} for row in held]
        self.draw.shuffle(rows)
        return [{"box": name} | row for row in rows]


def _exact_text(value: Fraction) -> str:
    return format(Decimal(value.numerator) / value.denominator, "f")


def brim(rows: Schedule, edition: str, step: str = "0") -> Schedule:
    """The same box with a marked volume that is just what it needs, more or less a step in in3."""
    added = fill(rows, edition)[0]
    holder = next(row for row in rows if row["item"] in ("box", "conduit_body"))
    plain = [row for row in rows if row["item"] not in ("extension", "barrier")]
    volume = added.required_in3 + Fraction(step)
    mark = {"volume_in3": _exact_text(volume), "volume_cm3": ""}
    return [row | mark if row is holder else row for row in plain]


def schedule(edition: str, boxes: int, seed: int = 0) -> Schedule:
    """Rows of so many boxes that have an answer, each named `b0`, `b1`, …

    Every tenth box has just what it needs, or a ten-thousandth of a cubic inch less or more.
    """
    return answered(edition, boxes, seed)[0]


def answered(edition: str, boxes: int, seed: int = 0) -> tuple[Schedule, list[Answer]]:
    """The same rows, and the answers by which it was seen that there are some."""
    maker = Maker(edition, seed)
    made: Schedule = []
    found: list[Answer] = []
    number = 0
    while number < boxes:
        rows = maker.rows(f"b{number}")
        try:
            answers = fill(rows, edition)
        except OracleError:
            continue  # the rejects have tests of their own
        deep = any(line.size is None for line in answers[0].lines)
        if number % 10 == 0 and len(answers) == 1 and not answers[0].space and not deep:
            step = maker.draw.choice(("0", "0.0001", "-0.0001"))
            if answers[0].required_in3:
                rows = brim(rows, edition, step)
                answers = fill(rows, edition)
        made += rows
        found += answers
        number += 1
    return made, found


@st.composite
def boxes(draw: st.DrawFn, edition: str) -> Schedule:
    """One box of an edition that has an answer, as a hypothesis strategy."""
    maker = Maker(edition, 0)
    maker.draw = draw(st.randoms(use_true_random=False))
    rows = maker.rows("b")
    try:
        fill(rows, edition)
    except OracleError:
        reject()
    return rows


def items_of(rows: Iterable[dict[str, str]]) -> set[str]:
    """The item kinds that occur."""
    return {row["item"] for row in rows}
