"""What is known about published values, read from an open database a whole set at a time."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Place", "Records", "key_line", "records_of"]

#: Table, key as one CSV line, column.
Place = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Records:
    """The small tables of evidence, read once, and questions about sets of values.

    Attributes:
        reference: The open database.
        keys: The key columns of each table, in schema order.
        columns: The columns of each table, in schema order.
        units: The unit of a column, where it has one.
        sources: Title and edition of each source.
        formulas: The formula of each derivation.
        inputs: Table, column and join condition of each input of a derivation.
        whole: The provenance of columns that one formula computes.
        corrections: The corrections of a raw cell, by file, key and column.

    Source: tables `provenance`, `derivation`, `derivation_input`, `source`, `correction`, `check_cell`.
    """

    reference: Reference
    keys: dict[str, list[str]]
    columns: dict[str, list[str]]
    units: dict[tuple[str, str], str]
    sources: dict[str, tuple[str | None, str | None]]
    formulas: dict[str, str]
    inputs: dict[str, list[tuple[str, str, str | None]]]
    whole: dict[tuple[str, str], dict[str, Any]]
    corrections: dict[tuple[str, str, str], list[dict[str, Any]]]

    def provenance(self, table: str, column: str, keys: Iterable[str]) -> dict[str, list[dict[str, Any]]]:
        """The provenance of some values of one column: the preferred reading first.

        Args:
            table: The table.
            column: The column.
            keys: Keys, each as one CSV line.

        Returns:
            For each key that has any, its rows of `provenance`.

        Source: the table `provenance`.

        Example:
            >>> import jointable
            >>> found = records_of(jointable.open()).provenance("allowance", "volume_in3", ["nec-2023,12 AWG"])
            >>> found["nec-2023,12 AWG"][0]["printed_value"]
            '2.25'
        """
        wanted = list(keys)
        if (table, column) in self.whole:
            return {key: [self.whole[table, column]] for key in wanted}
        found: dict[str, list[dict[str, Any]]] = {}
        for row in self.reference.records(
            "FROM provenance WHERE table_name = ? AND column_name = ? AND list_contains(?, row_key) ORDER BY reading",
            [table, column, wanted],
        ):
            found.setdefault(row["row_key"], []).append(row)
        return found

    def checks(self, places: Sequence[Place]) -> dict[Place, list[dict[str, Any]]]:
        """The checks that cover some values, with their residuals.

        Args:
            places: The values.

        Returns:
            For each value that any check covers, `check_id` and `residual` of each.

        Source: the table `check_cell`.

        Example:
            >>> import jointable
            >>> place = ("allowance", "nec-2023,12 AWG", "volume_in3")
            >>> len(records_of(jointable.open()).checks([place])[place]) > 1
            True
        """
        found: dict[Place, list[dict[str, Any]]] = {}
        for table, key, column, check_id, residual in self.reference.rows(
            "SELECT table_name, row_key, column_name, check_id, residual FROM check_cell WHERE (table_name, row_key, column_name) IN "
            "(SELECT (unnest($1::VARCHAR[]), unnest($2::VARCHAR[]), unnest($3::VARCHAR[]))) ORDER BY ALL",
            [[p[i] for p in places] for i in range(3)],
        ):
            place = (table, key, column)
            found.setdefault(place, []).append({"check_id": check_id, "residual": residual})
        return found

    def input_rows(
        self, table: str, key: tuple[str, ...], source: str, column: str, join: str | None
    ) -> list[tuple[Any, ...]]:
        """The values of another column that a formula read for one row.

        Args:
            table, key: The computed row.
            source, column: Where the formula reads.
            join: The condition between an input row `i` and the computed row `r`.

        Returns:
            Distinct rows: the key of the input as text, then its value.

        Source: the table `derivation_input`.

        Example:
            >>> import jointable
            >>> records = records_of(jointable.open())
            >>> records.input_rows("combination", ("2x12 AWG",), "conductor_size", "area_mm2", "i.size = '12 AWG'")[0][0]
            '12 AWG'
        """
        ours = " AND ".join(f'CAST("{n}" AS VARCHAR) = ?' for n in self.keys[table])
        wanted = ", ".join(f'CAST(i."{k}" AS VARCHAR)' for k in self.keys[source])
        return self.reference.rows(
            f'SELECT DISTINCT {wanted}, i."{column}" FROM "{source}" i, (SELECT * FROM "{table}" WHERE {ours}) r '
            f'WHERE {join or "true"} AND i."{column}" IS NOT NULL ORDER BY ALL',
            list(key),
        )


_READ: WeakKeyDictionary[Reference, Records] = WeakKeyDictionary()


def records_of(reference: Reference) -> Records:
    """The evidence of a database; its small tables are read once.

    Args:
        reference: The open database.

    Returns:
        Its `Records`.

    Source: the tables of evidence.

    Example:
        >>> import jointable
        >>> records_of(jointable.open()).keys["allowance"]
        ['edition', 'size']
    """
    found = _READ.get(reference)
    if found is None:
        found = _read(reference)
        _READ[reference] = found
    return found


def _read(reference: Reference) -> Records:
    columns: dict[str, list[str]] = {}
    units: dict[tuple[str, str], str] = {}
    for table, column, unit in reference.rows(
        "SELECT table_name, column_name, regexp_extract(comment, '\\[([^\\]]+)\\]$', 1) FROM duckdb_columns() "
        "WHERE NOT internal ORDER BY table_name, column_index"
    ):
        columns.setdefault(table, []).append(column)
        if unit:
            units[table, column] = unit
    inputs: dict[str, list[tuple[str, str, str | None]]] = {}
    for derivation, *reading in reference.rows(
        "SELECT derivation_id, table_name, column_name, join_condition FROM derivation_input ORDER BY derivation_id, position"
    ):
        inputs.setdefault(derivation, []).append((reading[0], reading[1], reading[2]))
    corrections: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for file, key, column, printed, corrected, reason, evidence in reference.rows(
        "SELECT raw_file, raw_key, raw_column, printed_value, corrected_value, reason, evidence FROM correction ORDER BY ALL"
    ):
        said = {"printed": printed, "corrected": corrected, "reason": reason, "evidence": evidence}
        corrections.setdefault((file, key, column), []).append(said)
    return Records(
        reference,
        {
            table: list(names)
            for table, names in reference.rows(
                "SELECT table_name, constraint_column_names FROM duckdb_constraints() WHERE constraint_type = 'PRIMARY KEY'"
            )
        },
        columns,
        units,
        {
            s: (title, edition)
            for s, title, edition in reference.rows("SELECT source_id, title, edition FROM source")
        },
        dict(reference.rows("SELECT derivation_id, formula FROM derivation")),
        inputs,
        {
            (row["table_name"], row["column_name"]): row
            for row in reference.records("FROM provenance WHERE row_key = '*'")
        },
        corrections,
    )


def key_line(values: Iterable[Any]) -> str:
    """Key values as one CSV line, the form in which a row is named.

    Args:
        values: The values in schema order.

    Returns:
        The line.

    Source: none; the form is this project's.

    Example:
        >>> key_line(("nec-2023", "4 x 1-1/2 square"))
        'nec-2023,4 x 1-1/2 square'
    """
    text = io.StringIO()
    csv.writer(text, lineterminator="").writerow([str(v) for v in values])
    return text.getvalue()
