"""Random boxes that have limits: pull boxes of 4 AWG and larger, and device boxes with a depth."""

from __future__ import annotations

import random
from decimal import Decimal

from .fill_oracle import OracleError, fill
from .limits_oracle import DESIGNATORS, TRADE_SIZES
from .random_boxes import Schedule

_LARGE = ("4", "3", "2", "1", "1/0", "2/0", "3/0", "4/0", "250 kcmil", "350 kcmil", "500 kcmil")
_OPPOSITE = {"left": "right", "right": "left", "top": "bottom", "bottom": "top"}
_WALLS = tuple(_OPPOSITE)


class LimitMaker:
    """Makes the rows of one box after another from one seed."""

    def __init__(self, edition: str, seed: int) -> None:
        self.draw = random.Random(f"limits {edition} {seed}")

    def rows(self, name: str) -> Schedule:
        """One box."""
        made = self._pull_box() if self.draw.random() < 0.6 else self._device_box()
        return [{"box": name} | row for row in made]

    def _length(self, low: int, high: int) -> str:
        return str(Decimal(self.draw.randint(low * 10, high * 10)) / 10)

    def _device_box(self) -> Schedule:
        draw = self.draw
        depth = draw.choice(("", "12", "23.7", "23.8", "30.1", "30.2", "38", "52.3", "52.4", "60", "75"))
        box = {"item": "box", "volume_in3": str(draw.randint(10, 40)), "depth_mm": depth}
        rows: Schedule = [
            box,
            {"item": "conductor", "size": draw.choice(("14", "12", "10", "8")), "quantity": "2"},
        ]
        if draw.random() < 0.2:
            rows.append({"item": "extension", "volume_in3": "5", "depth_mm": draw.choice(("", "12.7"))})
        for _ in range(draw.randint(0, 2)):
            projection = draw.choice(("", "20", "24.2", "25", "25.1", "32", "48", "48.1", "54"))
            row = {"item": "device", "depth_mm": projection}
            if draw.random() < 0.6:
                row["conductor_size"] = draw.choice(("14", "12", "10", "8", "6"))
            rows.append(row)
        return rows

    def _pull_box(self) -> Schedule:
        draw = self.draw
        sizes = DESIGNATORS[5:10] if draw.random() < 0.4 else TRADE_SIZES[3:10]
        rows: Schedule = [
            {"item": "conductor", "size": draw.choice(_LARGE), "quantity": str(draw.randint(1, 6))}
        ]
        if draw.random() < 0.3:
            rows.append({"item": "conductor", "size": draw.choice(("12", "10", "6")), "quantity": "3"})
        for number in range(draw.randint(1, 3)):
            rows += self._run(f"r{number}", sizes)
        box = {"item": "box", "width_mm": self._length(250, 1200), "height_mm": self._length(250, 1200)}
        box["depth_mm"] = self._length(100, 400)
        if draw.random() < 0.15:
            box |= {"volume_in3": "900", draw.choice(("width_mm", "height_mm")): ""}
        elif draw.random() < 0.1:
            # neither a mark nor a depth: no volume is known
            del box["depth_mm"]
        rows.append(box)
        draw.shuffle(rows)
        return rows

    def _run(self, name: str, sizes: list[str]) -> Schedule:
        """The two entries of one run; straight pulls stand in rows of their own."""
        draw = self.draw
        pull = draw.choice(("straight", "angle", "u", "splice"))
        wall = draw.choice(_WALLS)
        other = {
            "straight": _OPPOSITE[wall],
            "u": wall,
            "angle": draw.choice([side for side in _WALLS if side not in (wall, _OPPOSITE[wall])]),
            "splice": draw.choice(_WALLS),
        }[pull]
        row = "s" if pull == "straight" else draw.choice(("1", "2"))
        size = draw.choice(sizes)
        first = {"item": "raceway", "size": size, "wall": wall, "row": row, "pull": pull, "run": name}
        second = first | {"wall": other, "size": size if draw.random() < 0.7 else draw.choice(sizes)}
        chance = draw.random()
        if chance < 0.15:
            first["run"] = second["run"] = ""
        elif chance < 0.9:
            first["distance_mm"] = self._length(200, 900)
        return [first, second]


def limit_schedule(edition: str, boxes: int, seed: int = 0) -> Schedule:
    """Rows of so many boxes that have limits and an answer."""
    maker = LimitMaker(edition, seed)
    made: Schedule = []
    number = 0
    while number < boxes:
        rows = maker.rows(f"p{number}")
        try:
            fill(rows, edition)
        except OracleError:
            continue
        made += rows
        number += 1
    return made
