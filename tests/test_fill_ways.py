"""The ways of one calculation: for few boxes the rows are read once, for millions each part reads its own.

`box_answer` reads all rows once; `box_fill` reads what boxes, extensions, barriers and devices carry from their
rows alone, told by their item. Random boxes of every kind, with rows that are bad and items written oddly, must
come out the same either way, in every order of the rows, and the same again through a partition of a cluster, where empty cells are
empty text.
"""

from __future__ import annotations

import random
from contextlib import closing
from typing import Any

import pyarrow
import pytest

import jointable
from jointable.batch import load_cells
from jointable.cluster import fill_partition
from jointable.schedule import read_schedule
from tests.oracle.random_boxes import schedule
from tests.oracle.random_limits import limit_schedule

COLUMNS = (
    "box, space, required_in3, required_cm3, available_in3, available_cm3, passes, largest_conductor, first_row, boxes, note, "
    "problems, volume_passes, limits_pass, assumptions, table_box"
)
ODD = {
    "box": " BOX",
    "conduit_body": "Conduit-Body",
    "extension": "EXTENSION ",
    "barrier": "Barrier",
    "device": "DeViCe",
}


def odd_rows(edition: str, boxes: int, chance: random.Random) -> list[dict[str, Any]]:
    """Random boxes; each third item is written oddly, each fortieth row is bad."""
    rows = [dict(row) for row in schedule(edition, boxes, chance.randrange(10**6))]
    if edition.startswith("nec"):
        rows += [
            dict(row, box=f"L{row['box']}") for row in limit_schedule(edition, boxes, chance.randrange(10**6))
        ]
    for row in rows:
        if chance.random() < 1 / 3:
            row["item"] = ODD.get(row["item"], row["item"])
        if chance.random() < 1 / 40:
            row[chance.choice(["size", "quantity", "depth_mm", "volume_in3"])] = chance.choice(
                ["-1", "x", "2.5"]
            )
    return rows


@pytest.mark.parametrize("edition", ["nec-2014", "nec-2023", "cec-2021"])
def test_every_way_gives_the_same(edition: str) -> None:
    chance = random.Random(edition)
    rows = odd_rows(edition, 150, chance)
    with jointable.open() as reference, closing(reference.connection.cursor()) as cursor:
        load_cells(cursor, read_schedule(rows, in_memory=True))
        expected = cursor.execute(
            f"SELECT {COLUMNS} FROM box_answer('items', '{edition}') ORDER BY ALL"
        ).fetchall()
        for order in ("box", "hash(box, item, file_row)"):
            cursor.execute(f"CREATE OR REPLACE TEMP TABLE turned AS FROM items ORDER BY {order}")
            found = cursor.execute(
                f"SELECT {COLUMNS} FROM box_fill('turned', '{edition}') ORDER BY ALL"
            ).fetchall()
            assert found == expected, order
    verdicts = {(row[6], row[11] > 0) for row in expected}
    assert len(expected) >= 150
    assert {(True, False), (False, False), (None, True)} <= verdicts
    names = sorted({name for row in rows for name in row})
    text = pyarrow.table({n: pyarrow.array([r.get(n) for r in rows], pyarrow.string()) for n in names})
    batches = iter(text.to_batches(max_chunksize=97))
    parted = pyarrow.Table.from_batches(fill_partition(batches, edition)).to_pylist()
    assert {
        (r["box"], r["space"]): (r["required_in3"], r["passes"]) for r in parted if not r["problems"]
    } == {(r[0], r[1]): (r[2], r[6]) for r in expected if not r[11]}


@pytest.mark.parametrize(
    ("item", "size", "reason"),
    [
        ("cable", "14/2/2", "no such cable"),
        ("cable", "4/0/3", "no grounding conductor is known"),
        ("clamp", "12", "the conductors of the box, each with its size"),
    ],
)
def test_what_is_wrong_is_named(item: str, size: str, reason: str) -> None:
    rows = [{"item": "box", "volume_in3": 90}, {"item": item, "size": size}]
    with jointable.open() as reference, pytest.raises(jointable.InputError, match=reason):
        reference.fill(rows, edition="nec-2023")
