"""Schedules on a cluster: the same macro, the same figures, however the rows are parted."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import polars
import pyarrow
import pytest

import jointable
from jointable.cluster import RESULT, fill_cluster, fill_partition
from jointable.errors import InputError
from jointable.fill import fill

COLUMNS = [part.split()[0] for part in RESULT.split(", ")]


def rows(boxes: int) -> list[dict[str, Any]]:
    """Boxes of every count, their rows far from each other."""
    return [
        {"box": f"B{n}", "item": item, "size": size, "quantity": quantity}
        for item, size, quantity in (
            ("box", "4 x 1-1/2 square", 1),
            ("conductor", "12", None),
            ("clamp", None, 1),
        )
        for n in range(boxes)
        for quantity in [quantity if quantity is not None else 1 + n % 11]
    ]


@pytest.fixture(scope="module")
def expected() -> dict[str, tuple[Any, Any]]:
    with jointable.open() as reference:
        return {r.box: (r.required_in3, r.passes) for r in fill(reference, rows(300), "nec-2023")}


@pytest.mark.parametrize("size", [1, 7, 100_000])
def test_a_box_split_over_batches_is_one_box(size: int, expected: dict[str, tuple[Any, Any]]) -> None:
    table = pyarrow.Table.from_pylist(rows(300))
    batches: Iterator[Any] = iter(table.to_batches(max_chunksize=size))
    found = pyarrow.Table.from_batches(fill_partition(batches, "nec-2023")).to_pylist()
    assert list(found[0]) == COLUMNS
    assert {r["box"]: (r["required_in3"], r["passes"]) for r in found} == expected


def test_an_empty_partition_gives_nothing() -> None:
    assert list(fill_partition(iter([]), "nec-2023")) == []


def test_a_bad_box_is_marked() -> None:
    table = pyarrow.Table.from_pylist(
        [*rows(1), {"box": "X", "item": "condutor", "size": "12", "quantity": 1}]
    )
    found = pyarrow.Table.from_batches(fill_partition(iter(table.to_batches()), "nec-2023")).to_pylist()
    assert {r["box"]: r["problems"] > 0 for r in found} == {"B0": False, "X": True}
    assert [r["required_in3"] for r in found if r["box"] == "X"] == [None]


@pytest.fixture(scope="module")
def spark() -> Iterator[Any]:
    sql = pytest.importorskip("pyspark.sql", reason="the optional extra `spark` is not installed")
    with pytest.MonkeyPatch.context() as patch:
        # The workers must run this interpreter and find this library.
        patch.setenv("PYSPARK_PYTHON", sys.executable)
        patch.setenv("PYTHONPATH", str(Path(jointable.__file__).parent.parent))
        session = (
            sql.SparkSession.builder.master("local[2]").config("spark.ui.enabled", "false").getOrCreate()
        )
        yield session
        session.stop()


@pytest.mark.parametrize("partitions", [1, 5])
def test_two_workers_give_the_same(
    spark: Any, partitions: int, expected: dict[str, tuple[Any, Any]], tmp_path: Path
) -> None:
    polars.DataFrame(rows(300)).write_parquet(tmp_path / "a.parquet")
    frame = spark.read.parquet(str(tmp_path / "a.parquet")).repartition(4)
    found = fill_cluster(frame, "nec-2023", partitions=partitions).collect()
    assert {r["box"]: (r["required_in3"], r["passes"]) for r in found} == expected
    with pytest.raises(InputError, match="unknown edition"):
        fill_cluster(frame, "nec-1999")
