"""The scalar macros of the database against the library's exact decimals, and every macro told what it answers.

The plain client, with only the file: read-only, locked, opened itself or attached.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import duckdb
import pytest

from jointable.gauge import awg_area_mm2, awg_size, kcmil_area_mm2, mm2_awg
from jointable.reference import connect

ROOT = Path(__file__).resolve().parent.parent
DATABASE = ROOT / "published" / "jointable.duckdb"
SQL = ROOT / "jointable" / "sql"
NUMBERS = range(-3, 41)
LEAST = Decimal("0.000000001")


@pytest.fixture(scope="module")
def plain() -> Iterator[duckdb.DuckDBPyConnection]:
    """The file by itself, read-only and locked."""
    # Connections of one process to one file share their settings, which may be locked already.
    with connect(DATABASE) as connection:
        yield connection


def one(connection: duckdb.DuckDBPyConnection, expression: str, value: object) -> object:
    row = connection.execute(f"SELECT {expression}", [value]).fetchone()
    assert row is not None
    return row[0]


def test_the_area_of_every_awg_size_to_the_last_digit(plain: duckdb.DuckDBPyConnection) -> None:
    """ASTM B258, nominal diameters: as the library has it and as the table conductor_size holds it."""
    for number in NUMBERS:
        size = awg_size(number)
        forms = [number, size, size.lower(), size.replace(" ", ""), size.removesuffix(" AWG")]
        forms += [f"#{size.removesuffix(' AWG')}", float(number)]
        assert {one(plain, "awg_mm2(?)", form) for form in forms} == {awg_area_mm2(number)}, size
    differ = plain.execute(
        "SELECT count(*), count(*) FILTER (awg_mm2(size) <> area_mm2) FROM conductor_size WHERE system = 'AWG'"
    ).fetchone()
    assert differ == (len(NUMBERS), 0)


def test_circular_mils_to_the_last_digit(plain: duckdb.DuckDBPyConnection) -> None:
    for kcmil in ("250", "1", "0.5", "41.74", "2000", "123456.789", "999999999"):
        for form in (kcmil, f"{kcmil} kcmil", f"{kcmil}MCM", Decimal(kcmil)):
            assert one(plain, "kcmil_mm2(?)", form) == kcmil_area_mm2(kcmil), form
    differ = plain.execute(
        "SELECT count(*), count(*) FILTER (kcmil_mm2(size) <> area_mm2) FROM conductor_size WHERE system = 'kcmil'"
    ).fetchone()
    assert differ is not None
    assert differ[0] > 5
    assert differ[1] == 0


def test_the_nearest_awg_that_is_not_smaller(plain: duckdb.DuckDBPyConnection) -> None:
    """At each size, a billionth of a mm2 under and over it, and at the metric sizes between."""
    for number in NUMBERS:
        area = awg_area_mm2(number)
        larger = awg_size(number - 1) if number > NUMBERS[0] else None
        assert one(plain, "mm2_awg(?)", area) == awg_size(number)
        assert one(plain, "mm2_awg(?)", area - LEAST) == awg_size(number)
        assert one(plain, "mm2_awg(?)", area + LEAST) == larger
    for text in ("0.5", "0.75", "1", "1.5", "2.5", "4", "6", "10", "16", "25", "50", "95"):
        found = one(plain, "mm2_awg(?)", f"{text} mm2")
        assert found == awg_size(math.floor(mm2_awg(text)))
        assert one(plain, "mm2_awg(?)", Decimal(text)) == found
        assert one(plain, "mm2_awg(?)", f"{text} mm²") == found


@pytest.mark.parametrize(
    ("macro", "value"),
    [
        *[
            ("awg_mm2", v)
            for v in (None, "", 41, -4, "12.5", 12.5, "5/0", "250 kcmil", "2.5 mm2", "AWG", "x")
        ],
        *[("kcmil_mm2", v) for v in (None, "", 0, -250, "12 AWG", "4/0", "2.5 mm2", "x")],
        *[("mm2_awg", v) for v in (None, "", 0, -1, "120", 120, "12 AWG", "250 kcmil", "x")],
    ],
)
def test_what_is_no_size_is_null(plain: duckdb.DuckDBPyConnection, macro: str, value: object) -> None:
    assert one(plain, f"{macro}(?)", value) is None


def test_an_attached_file_answers() -> None:
    """The scalar macros by their full name; the table macros after USE, the items fully named."""
    with duckdb.connect() as connection:
        connection.execute(f"ATTACH '{DATABASE}' AS jointable (READ_ONLY)")
        connection.execute("SELECT jointable.awg_mm2(12), jointable.kcmil_mm2(250), jointable.mm2_awg(2.5)")
        assert connection.fetchone() == (Decimal("3.308772876"), Decimal("126.676869774"), "13 AWG")
        connection.execute(
            "CREATE TABLE items AS SELECT * FROM (VALUES ('a', 'box', '4 x 1-1/2 square', 1), "
            "('a', 'conductor', '12', 6), ('a', 'device', '12', 1)) t(box, item, size, quantity)"
        )
        connection.execute("USE jointable")
        found = connection.execute(
            "SELECT required_in3, passes FROM box_fill('memory.main.items', 'nec-2023')"
        )
        assert found.fetchone() == (Decimal(18), True)


def test_a_macro_that_no_other_calls_says_what_it_answers(plain: duckdb.DuckDBPyConnection) -> None:
    macros = plain.execute(
        "SELECT function_name, comment FROM duckdb_functions() "
        "WHERE NOT internal AND function_type IN ('macro', 'table_macro')"
    ).fetchall()
    assert len(macros) > 20
    written = "".join(path.read_text("utf-8") for path in sorted(SQL.glob("*.sql")))
    calls = {name: len(re.findall(rf"\b{name}\(", written)) for name, _ in macros}
    silent = [name for name, comment in macros if not comment and calls[name] < 2]
    assert not silent, "no comment in 90_comments.sql, and nothing else calls it"


@pytest.mark.parametrize(
    "macro",
    "awg_mm2 kcmil_mm2 mm2_awg joint_choices box_fill box_fill_lines box_limits box_remaining box_problems "
    "box_answer".split(),
)
def test_a_macro_of_the_documents_is_commented(plain: duckdb.DuckDBPyConnection, macro: str) -> None:
    found = plain.execute(
        "SELECT comment FROM duckdb_functions() WHERE function_name = ?", [macro]
    ).fetchall()
    assert len(found) == 1
    assert len(found[0][0]) > 40
