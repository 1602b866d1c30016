"""Schedules larger than one machine: the same macro over the partitions of an Apache Spark frame.

Rows of one box are first brought into one partition; each partition then streams through DuckDB and
the published database on its worker. Nothing is scheduled here: that is Spark's work.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

from jointable.batch import ITEMS, attached
from jointable.errors import InputError
from jointable.fill_words import known_edition
from jointable.reference import open_reference
from jointable.schedule_header import checked_header
from jointable.schedule_scan import as_read

if TYPE_CHECKING:
    import pyarrow
    from pyspark.sql import DataFrame

__all__ = ["RESULT", "fill_cluster", "fill_partition"]

#: The columns of a result, as Spark is told them.
RESULT = (
    "box string, space string, edition string, required_in3 decimal(18,10), required_cm3 decimal(18,10), "
    "available_in3 decimal(18,10), available_cm3 decimal(18,10), passes boolean, largest_conductor string, "
    "problems int"
)

#: Rows of a batch that is given back to Spark.
_BATCH = 100_000

#: The same with every type told, since Spark takes Arrow columns as they come.
_COLUMNS = (
    "box::VARCHAR AS box, space::VARCHAR AS space, edition, required_in3::DECIMAL(18,10) AS required_in3, "
    "required_cm3::DECIMAL(18,10) AS required_cm3, available_in3::DECIMAL(18,10) AS available_in3, "
    "available_cm3::DECIMAL(18,10) AS available_cm3, passes, largest_conductor, problems::INTEGER AS problems"
)


def fill_cluster(
    frame: DataFrame, edition: str | None = None, database: str | None = None, partitions: int | None = None
) -> DataFrame:
    """Fill all boxes of a Spark frame.

    Args:
        frame: The schedule, with the columns that a schedule has.
        edition: The code edition; by default nec-2023.
        database: The path of jointable.duckdb on every worker; by default the packaged one.
        partitions: How many; by default as Spark is set.

    Returns:
        A frame with a row for each box and space [in³, cm³]; where `problems` is not 0 the box is
        bad and its figures are null. No order is kept.

    Raises:
        InputError: The header or the edition is wrong.

    Source: as `jointable.fill.fill`; the same macro, so the same figures.

    Example:
        >>> RESULT.split(",")[0]
        'box string'
    """
    from pyspark.sql import functions

    checked_header(frame.columns, None)
    with open_reference(database) as reference:
        chosen = known_edition(reference, edition)
    # By its name as it is read, so that no box is in two partitions.
    box = functions.trim(functions.translate(frame["box"].cast("string"), "\t\n\r\x0b\x0c", "     "))
    by_box = frame.repartition(partitions, box) if partitions else frame.repartition(box)

    def work(batches: Iterator[pyarrow.RecordBatch]) -> Iterator[pyarrow.RecordBatch]:
        return fill_partition(batches, chosen, database)

    return by_box.mapInArrow(work, RESULT)


def fill_partition(
    batches: Iterator[pyarrow.RecordBatch], edition: str, database: str | None = None
) -> Iterator[pyarrow.RecordBatch]:
    """Fill the boxes of one partition.

    Args:
        batches: Batches of rows; a box may be split over several of them.
        edition: A known edition.
        database: The path of jointable.duckdb, by default the packaged one.

    Yields:
        Batches of results with the columns of `RESULT`.

    Raises:
        InputError: The partition cannot be computed.

    Source: as `jointable.fill.fill`.

    Example:
        >>> list(fill_partition(iter([]), "nec-2023"))
        []
    """
    first = next(batches, None)
    if first is None:
        return
    import duckdb
    import pyarrow

    def all_batches() -> Iterator[Any]:
        yield first
        yield from batches

    reader = pyarrow.RecordBatchReader.from_batches(first.schema, all_batches())
    with (
        tempfile.TemporaryDirectory(prefix="jointable-") as folder,
        open_reference(database) as reference,
        attached(reference, folder) as connection,
    ):
        connection.register("given", reader)
        try:
            # The macro scans its input more than once, the reader can be read once.
            connection.execute("CREATE TEMP TABLE held AS FROM given")
            connection.execute(f"CREATE TEMP VIEW items AS SELECT {as_read(connection, 'held')} FROM held")
            result = connection.sql(f"SELECT {_COLUMNS} FROM box_fill('{ITEMS}', '{edition}')")
            yield from _reader(result)(_BATCH)
        except duckdb.Error as error:
            raise InputError(f"a partition cannot be computed: {str(error).splitlines()[0]}") from error


def _reader(result: Any) -> Callable[[int], Iterator[pyarrow.RecordBatch]]:
    """The streaming reader of a relation; its name changed between the supported versions of DuckDB."""
    reader: Callable[[int], Iterator[pyarrow.RecordBatch]]
    reader = result.to_arrow_reader if hasattr(result, "to_arrow_reader") else result.fetch_arrow_reader
    return reader
