"""Conductor tables: what they hold, the misprints they correct, and that each of their checks can fail."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal

import pytest

from pipeline.checks import Check, Context, all_checks, run_check
from pipeline.checks._figures import Departures, figures
from pipeline.conform import Conformed
from pipeline.readings import Raw, RawRow
from pipeline.tables import cable, conductor, crosswalk, insulated, wire

MODULES = {
    "conductor",
    "table_8",
    "table_5",
    "iec_60228",
    "iec_60227",
    "insulation",
    "cable",
    "crosswalk",
}
CHECKS = [c for c in all_checks() if c.run.__module__.rpartition(".")[2] in MODULES]


@pytest.fixture(scope="module")
def tables(conformed: Conformed) -> Mapping[str, Mapping[tuple[str, ...], Mapping[str, str | None]]]:
    return conformed.tables


def number(row: Mapping[str, str | None], column: str) -> Decimal:
    return Decimal(str(row[column]))


@pytest.mark.parametrize(
    ("table", "rows"),
    [
        ("conductor_size", 89),
        ("conductor", 178),
        ("insulated_conductor", 684),
        ("cable", 115),
        ("cable_scope", 8),
        ("crosswalk", 59),
    ],
)
def test_row_counts(tables, table: str, rows: int) -> None:
    assert len(tables[table]) == rows


def test_sizes_are_ranked_by_area(tables) -> None:
    rows = sorted(tables["conductor_size"].values(), key=lambda r: int(str(r["rank"])))
    areas = [number(row, "area_mm2") for row in rows]
    assert areas == sorted(areas)
    assert [int(str(row["rank"])) for row in rows] == list(range(1, len(rows) + 1))


@pytest.mark.parametrize(
    ("size", "area"),
    [
        ("12 AWG", "3.308772876"),
        ("10 AWG", "5.261154955"),
        ("18 AWG", "0.823046834"),
        ("4/0 AWG", "107.219302577"),
        ("250 kcmil", "126.676869774"),
        ("2.5 mm2", "2.500000000"),
    ],
)
def test_areas_at_nine_decimals(tables, size: str, area: str) -> None:
    """ASTM B258: the area of the unrounded diameter, worked out here with another identity."""
    assert tables["conductor_size"][(size,)]["area_mm2"] == area
    if size.endswith("AWG"):
        n = {"4/0": -3}.get(size.split()[0]) or int(size.split()[0])
        by_float = 3.141592653589793 / 4 * 0.127**2 * 92 ** ((36 - n) / 19.5)
        assert abs(by_float - float(area)) < 1e-8


def test_every_awg_and_table_8_size_is_there(tables) -> None:
    awg = {f"{n} AWG" for n in (*range(1, 41), "1/0", "2/0", "3/0", "4/0")}
    assert awg <= {key[0] for key in tables["conductor_size"]}
    kcmil = (250, 300, 350, 400, 500, 600, 700, 750, 800, 900, 1000, 1250, 1500, 1750, 2000)
    assert {f"{k} kcmil" for k in kcmil} <= {key[0] for key in tables["conductor_size"]}


@pytest.mark.parametrize(
    ("table", "key", "column", "value"),
    [
        ("insulated_conductor", ("THW", "10 AWG", "stranded"), "area_mm2", "15.680"),
        ("insulated_conductor", ("RHH*", "12 AWG", "stranded"), "area_mm2", "16.770"),
        ("conductor", ("1500 kcmil", "stranded"), "r75_cu_coated_ohm_km", "0.028960"),
        ("conductor", ("1750 kcmil", "stranded"), "r75_cu_coated_ohm_km", "0.024800"),
        ("conductor", ("2000 kcmil", "stranded"), "r75_cu_coated_ohm_km", "0.021720"),
        ("conductor", ("12 AWG", "stranded"), "strand_diameter_in", "0.0310"),
        # Kept as printed, low though it is: the code itself prints it so.
        ("insulated_conductor", ("RFH-1", "18 AWG", "stranded"), "area_mm2", "5.161"),
    ],
)
def test_misprints_are_corrected_and_kept(
    tables, table: str, key: tuple[str, ...], column: str, value: str
) -> None:
    assert tables[table][key][column] == value


def test_corrected_rows_keep_the_printed_text(raw: Raw) -> None:
    row = next(r for r in raw["nec_table_5_metric"] if r["size"] == "10" and r["types"].startswith("TW"))
    assert (row["area_mm2"], row.printed("area_mm2")) == ("15.68", "55.68")
    labels = [
        r
        for r in raw["nec_table_5_metric"]
        if r["size"] in ("8", "6") and r.printed("size_label_mm2") != r["size_label_mm2"]
    ]
    assert len(labels) == 13


@pytest.mark.parametrize(
    ("insulation", "dry", "damp", "wet"),
    [
        ("TW", 60, 60, 60),
        ("THHN", 90, 90, None),
        ("THHW", 90, None, 75),
        ("XHHW-2", 90, 90, 90),
        ("RHW*", 75, 75, 75),
        ("Z", 90, 90, None),
    ],
)
def test_temperature_ratings(tables, insulation: str, dry: int, damp: int | None, wet: int | None) -> None:
    """NFPA 70-2020 Table 310.4(A); Z and ZW from NOM-001-SEDE-2012 Table 310-104(a)."""
    row = tables["insulation"][(insulation,)]
    assert [row[f"{place}_degc"] for place in ("dry", "damp", "wet")] == [
        None if t is None else str(t) for t in (dry, damp, wet)
    ]


@pytest.mark.parametrize(
    ("name", "ground"),
    [
        ("14/2", "14 AWG"),
        ("12/2", "12 AWG"),
        ("10/3", "10 AWG"),
        ("8/3", "10 AWG"),
        ("6/2", "10 AWG"),
        ("4/2", "8 AWG"),
    ],
)
def test_cable_grounding_conductor(tables, name: str, ground: str) -> None:
    """Memory: same size to 10 AWG, 10 AWG for 8 and 6."""
    row = tables["cable_conductor"][(name, "grounding")]
    assert (row["quantity"], row["size"]) == ("1", ground)


@pytest.mark.parametrize(
    ("awg", "pair"),
    [
        ("20", "0.5"),
        ("18", "0.75"),
        ("16", "1.5"),
        ("14", "2.5"),
        ("12", "4"),
        ("10", "6"),
        ("8", "10"),
        ("6", "16"),
        ("4", "25"),
    ],
)
def test_usual_metric_pairs(tables, awg: str, pair: str) -> None:
    """Common practice; IEC 60947-1 Table 1 (memory) names the same."""
    row = tables["crosswalk"][(f"{awg} AWG",)]
    assert row["usual_size"] == row["iec_60947_1_size"] == f"{pair} mm2"


def test_insulated_is_wider_than_bare(tables) -> None:
    compared = 0
    for (insulation, size, construction), row in tables["insulated_conductor"].items():
        bare = tables["conductor"][size, construction]
        if insulation != "bare":
            assert number(row, "diameter_in") > number(bare, "diameter_in")
            compared += 1
    assert compared == 665


def test_checks_hold(raw: Raw, conformed: Conformed) -> None:
    context = Context(raw, conformed.tables, conformed.readings)
    failures = [failure for check in CHECKS for failure in run_check(check, context).failures]
    assert failures == []
    assert len(CHECKS) > 50


def slips(raw: Raw, stem: str) -> Iterator[Raw]:
    """The raw rows with one cell of a file changed, one at a time, or one row left out."""
    rows = list(raw[stem])
    for at, row in enumerate(rows):
        for column, text in row.cells.items():
            if any(character.isdigit() for character in text):
                for new in (raised(text), re.sub("[1-9]", "0", text, count=1), text + "5"):
                    yield {
                        **raw,
                        stem: [*rows[:at], replace(row, cells={**row.cells, column: new}), *rows[at + 1 :]],
                    }
        yield {**raw, stem: [*rows[:at], *rows[at + 1 :]]}


def raised(text: str) -> str:
    """A text with its first digit raised by one, nine becoming zero."""
    at = next(at for at, character in enumerate(text) if character.isdigit())
    return text[:at] + str((int(text[at]) + 1) % 10) + text[at + 1 :]


@pytest.mark.parametrize("check", CHECKS, ids=lambda c: c.id)
def test_each_check_can_fail(raw: Raw, check: Check) -> None:
    """Some slip in each file that a check reads makes it fail."""
    for stem in check.reads:
        if stem == "known_departures" and not any(r["check"] == check.id for r in raw[stem]):
            continue
        assert any(run_check(check, Context(wrong, {})).failures for wrong in slips(raw, stem)), stem


@pytest.mark.parametrize(("units", "fails"), [("-1", False), ("0", True), ("-2", True), ("1", True)])
def test_a_departure_is_exact_and_must_be_met(raw: Raw, units: str, fails: bool) -> None:
    """A known departure moves the comparison; it does not widen it."""
    row = next(
        r for r in raw["known_departures"] if r["file"] == "nec_table_5_metric" and r["column"] == "dia_mm"
    )
    assert row["units"] == "-1"
    others = [r for r in raw["known_departures"] if r is not row]
    wrong = {**raw, "known_departures": [*others, replace(row, cells={**row.cells, "units": units})]}
    check = next(c for c in CHECKS if c.id == row["check"])
    assert bool(run_check(check, Context(wrong, {})).failures) == fails
    unknown = {
        **raw,
        "known_departures": [
            *raw["known_departures"],
            replace(row, cells={**row.cells, "key": "no such row"}),
        ],
    }
    assert run_check(check, Context(unknown, {})).failures


def test_a_figure_beyond_the_last_place_fails() -> None:
    """83,694 lies within half a unit of 83,690 to four figures, but a table of four figures cannot print it."""
    context = Context({"known_departures": []}, {})
    row = RawRow("awg_table_b", 2, {"awg": "1", "cmil": "83694"})
    value = wire.circular_mils(wire.size_area_mm2("AWG", "1"))
    known = Departures(context, "any")
    assert not known.against(row, "cmil", value, figures(value, 4), "").ok
    printed = replace(row, cells={"awg": "1", "cmil": "83690"})
    assert known.against(printed, "cmil", value, figures(value, 4), "").ok


@pytest.mark.parametrize("module", [conductor, insulated, cable, crosswalk])
@pytest.mark.parametrize(
    ("stem", "column", "value"),
    [
        ("conductor_size", "nominal", "0"),
        ("conductor_size", "nominal", "99999"),
        ("nec_table_5_metric", "size", "13"),
        ("nec_table_5_inch_sheet", "types", "no such type"),
        ("nec_table_8_metric", "size", "12.5"),
        ("nec_table_5a_inch", "size", "0"),
        ("awg_metric_textbook", "metric_mm2", "(x)"),
        ("insulation_wall", "size_to", "99"),
        ("nm_cable", "size", "1/5"),
    ],
)
def test_wrong_rows_raise_nothing(raw: Raw, module, stem: str, column: str, value: str) -> None:
    """Conforming passes wrong rows on: the schema and the checks say what is wrong with them."""
    for at in (0, len(raw[stem]) - 1):
        rows = list(raw[stem])
        rows[at] = replace(rows[at], cells={**rows[at].cells, column: value})
        assert list(module.conform({**raw, stem: rows}))
