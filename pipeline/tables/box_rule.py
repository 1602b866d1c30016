"""Rules of the box: what counts, what must be how large, edition by edition."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from pipeline.readings import Raw, RawRow, Reading
from pipeline.tables.box import inches

__all__ = ["conform", "in_force"]

FILL_COLUMNS = (
    "item",
    "clause",
    "allowances",
    "per",
    "basis",
    "free_count",
    "beyond_share",
    "size_limit",
    "threshold",
    "threshold_unit",
    "volume_in3",
    "volume_cm3",
    "effect",
    "what",
    "reading",
)
LIMIT_COLUMNS = (
    "clause",
    "what",
    "factor",
    "limit_mm",
    "clearance_mm",
    "threshold_mm",
    "limit_in",
    "clearance_in",
    "threshold_in",
    "size_from",
    "size_to",
    "reading",
)
SIZE_COLUMNS = ("size_limit", "size_from", "size_to")
INCH_COLUMNS = ("limit_in", "clearance_in", "threshold_in")
UNITS = {"volume_in3": "in3", "volume_cm3": "cm3"} | {
    c: c.rpartition("_")[2] for c in LIMIT_COLUMNS if c[-3:] in ("_mm", "_in")
}

#: Published edition -> years of the editions as read in which a rule of its own would stand, the nearest
#: first, and whether the edition itself was read.
NEC = {
    "nec-2014": (("2014", "2011"), False),
    "nec-2017": (("2017", "2014", "2011"), False),
    "nec-2020": (("2020",), True),
    "nec-2023": (("2023",), True),
}
CEC = {"cec-2015": (("2015",), True), "cec-2018": (("2015",), False), "cec-2021": (("2021",), True)}

#: The next edition that was read, which brackets an inferred one from above.
ABOVE = {"nec-2014": "nfpa-70-2020", "nec-2017": "nfpa-70-2020", "cec-2018": "csa-c22.1-21"}


def conform(raw: Raw) -> Iterator[Reading]:
    """Readings of `fill_rule` and `box_limit`."""
    for row in raw["assumption"]:
        yield Reading("assumption", (row["id"],), "text", row["text"], row, "text", "defined")
    for stem, editions in (("nec_fill_rule", NEC), ("cec_fill_rule", CEC)):
        for edition, rows in in_force(raw[stem], editions).items():
            for row in rows:
                yield from _cells("fill_rule", edition, row, FILL_COLUMNS, editions[edition][1])
    for edition, rows in in_force(raw["nec_box_limit"], NEC).items():
        for row in rows:
            yield from _cells("box_limit", edition, row, LIMIT_COLUMNS, NEC[edition][1])
    for row in raw["cec_box_limit"]:
        yield from _cells("box_limit", "cec-2021", row, ("clause", "what", "limit_mm", "reading"), True)


def in_force(
    rows: list[RawRow], editions: Mapping[str, tuple[tuple[str, ...], bool]]
) -> dict[str, list[RawRow]]:
    """For each published edition the rows that hold in it: of each rule the nearest that was read."""
    out: dict[str, list[RawRow]] = {}
    for edition, (years, _) in editions.items():
        by_rule: dict[str, RawRow] = {}
        for year in years:
            for row in rows:
                if row["edition"] == year:
                    by_rule.setdefault(row["rule"], row)
        out[edition] = list(by_rule.values())
    return out


def _cells(table: str, edition: str, row: RawRow, columns: tuple[str, ...], read: bool) -> Iterator[Reading]:
    own = edition.endswith(row["edition"])
    note = "" if read or own else f"inferred: bracketed by {row.source} and {ABOVE[edition]}"
    for column in columns:
        printed = row[column]
        if not printed:
            continue
        value, origin = printed, "quoted"
        if column in SIZE_COLUMNS:
            value, origin = _size(printed), "converted"
        elif column in INCH_COLUMNS:
            value, origin = inches(printed), "converted"
        yield Reading(
            table,
            (edition, row["rule"]),
            column,
            value,
            row,
            column,
            origin if read or own else "inferred",
            UNITS.get(column, ""),
            UNITS.get(column, ""),
            note=note,
        )


def _size(text: str) -> str:
    return f"{text} kcmil" if text.isdigit() and int(text) >= 250 else f"{text} AWG"
