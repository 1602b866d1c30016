"""Boxes and allowances: printed tables of two codes become `edition`, `allowance`, `box`, `box_count`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

from pipeline.readings import Raw, RawRow, Reading

__all__ = ["SIZES", "box_name", "conform", "inches", "kind_of", "print_key", "second_key"]

#: Sizes whose numbers of conductors Table 314.16(A) prints, as the columns are named.
SIZES = ("18", "16", "14", "12", "10", "8", "6")
CEC_SIZES = ("14", "12", "10", "8", "6")

#: Which printed edition a published one is taken from, and the older print that brackets it.
NEC = {"nec-2014": "2020", "nec-2017": "2020", "nec-2020": "2020", "nec-2023": "2023"}
CEC = ("cec-2015", "cec-2018", "cec-2021")
INFERRED = ("nec-2014", "nec-2017")
BRACKET = "inferred: printed so in nom-001-sede-2012 (model of 2011) and in nfpa-70-2020"

#: What the words of the tables are here.
KINDS = {
    "round": "round",
    "octagonal": "round",
    "square": "square",
    "device": "device",
    "masonry box/gang": "masonry",
    "masonry": "masonry",
    "through box": "through",
    "concrete ring": "concrete ring",
}

SPANISH = {
    "Redonda": "round",
    "Cuadrada": "square",
    "Dispositivo": "device",
    "mampostería": "masonry",
    "FS": "FS",
    "FD": "FD",
}


def conform(raw: Raw) -> Iterator[Reading]:
    """Readings of the editions, allowances, boxes and printed numbers."""
    yield from _editions(raw["edition"])
    for edition, printed in NEC.items():
        yield from _nec_allowances(raw, edition, printed)
        yield from _nec_boxes(raw, edition, printed)
    for edition in CEC:
        yield from _cec_allowances(raw, edition)
        yield from _cec_boxes(raw["cec_table_23"], edition)


def _editions(rows: Iterable[RawRow]) -> Iterator[Reading]:
    for row in rows:
        for column in ("code", "year", "title", "jurisdiction", "has_volume_rule", "basis"):
            if row[column]:
                yield Reading("edition", (row["edition"],), column, row[column], row, column)


def _origin(edition: str, otherwise: str = "quoted") -> str:
    return "inferred" if edition in (*INFERRED, "cec-2018") else otherwise


def _nec_allowances(raw: Raw, edition: str, printed: str) -> Iterator[Reading]:
    again = {row["size"]: row for row in raw["nom_314_16_b"]}
    for row in raw[f"nec_314_16_b_{printed}"]:
        key, origin = (edition, f"{row['size']} AWG"), _origin(edition)
        note = BRACKET if origin == "inferred" else ""
        for column, unit in (("volume_in3", "in3"), ("volume_cm3", "cm3")):
            yield Reading("allowance", key, column, row[column], row, column, origin, unit, unit, note=note)
        yield Reading("allowance", key, "clause", row.locator, row, "locator", origin)
        second = again[row["size"]]
        yield Reading(
            "allowance",
            key,
            "volume_cm3",
            second["volume_cm3"],
            second,
            "volume_cm3",
            unit="cm3",
            rank="normal",
        )


def kind_of(row: RawRow) -> str:
    """The kind of a box of Table 314.16(A)."""
    return KINDS.get(row["shape"]) or row["shape"].split()[0]


def box_name(row: RawRow) -> tuple[str, str, str]:
    """Name, face and depth in inches (text) of a box of Table 314.16(A).

    The face is what boxes of different depth share: `4 square`, `3 x 2 device`, `FS single`.
    """
    kind, size = kind_of(row), row["trade_size_in"]
    if kind in ("FS", "FD"):
        cover = row["shape"].split()[1]
        depth = size[size.index("(") + 1 : size.index(")")]
        return f"{kind} {cover} {depth}", f"{kind} {cover}", depth
    face, _, depth = size.rpartition(" x ")
    return f"{size} {kind}", f"{face} {kind}", depth


def inches(text: str) -> str:
    """A printed mixed fraction of an inch as an exact decimal.

    >>> inches("2-1/8"), inches("11/16"), inches("4")
    ('2.125', '0.6875', '4')
    """
    whole, _, part = text.partition("-")
    value = Fraction(whole) + (Fraction(part) if part else 0)
    decimal = f"{float(value):.4f}".rstrip("0").rstrip(".")
    if Fraction(decimal) != value:
        raise ValueError(f"{text} has no exact decimal of four places")
    return decimal


def _nec_boxes(raw: Raw, edition: str, printed: str) -> Iterator[Reading]:
    again = {second_key(row): row for row in raw["nom_314_16_a"]}
    for row in raw[f"nec_314_16_a_{printed}"]:
        name, face, depth = box_name(row)
        key, origin = (edition, name), _origin(edition)
        note = BRACKET if origin == "inferred" else ""
        kind = kind_of(row)
        words = {
            "kind": (kind, "shape"),
            "face": (face, "trade_size_in"),
            "trade_size_mm": (row["trade_size_mm"], "trade_size_mm"),
            "depth_in": (inches(depth), "trade_size_in"),
            "volume_basis": ("gang" if kind in ("masonry", "FS", "FD") else "whole", "shape"),
            "clause": (row.locator, "locator"),
        }
        for column, (value, place) in words.items():
            yield Reading("box", key, column, value, row, place, _origin(edition, "converted"), note=note)
        for column, unit in (("volume_in3", "in3"), ("volume_cm3", "cm3")):
            yield Reading("box", key, column, row[column], row, column, origin, unit, unit, note=note)
        for size in SIZES:
            count = (edition, name, f"{size} AWG")
            yield Reading("box_count", count, "count", row[f"n_{size}"], row, f"n_{size}", origin, note=note)
        if print_key(row) in again:
            yield from _second_print(edition, name, again[print_key(row)])


def print_key(row: RawRow) -> tuple[str, ...]:
    """What a row of Table 314.16(A) shares with its print in the Mexican law: kind, cover, millimetres."""
    kind = kind_of(row)
    words = row["trade_size_mm"].replace("min.", "").replace("depth", "").split(" x ")
    cover = row["shape"].split()[1] if kind in ("FS", "FD") else ""
    return (kind, cover, *(f"{float(word):.1f}" for word in words))


def second_key(row: RawRow) -> tuple[str, ...]:
    """The same of a row of the Mexican law, which prints centimetres and Spanish words."""
    shape = row["shape"]
    kind = next(kind for word, kind in SPANISH.items() if word in shape)
    cover = "" if kind not in ("FS", "FD") else "single" if "individual" in shape else "multiple"
    words = row["trade_size_cm"].removeprefix("Profundidad mínima ").split(" x ")
    return (kind, cover, *(f"{float(word) * 10:.1f}" for word in words))


def _second_print(edition: str, name: str, row: RawRow) -> Iterator[Reading]:
    yield Reading(
        "box", (edition, name), "volume_cm3", row["volume_cm3"], row, "volume_cm3", unit="cm3", rank="normal"
    )
    for size in SIZES:
        key = (edition, name, f"{size} AWG")
        yield Reading("box_count", key, "count", row[f"n_{size}"], row, f"n_{size}", rank="normal")


def _cec_allowances(raw: Raw, edition: str) -> Iterator[Reading]:
    note = "the edition of the print is not recorded; taken as the same in every edition"
    millilitres = {row["size"]: row for row in raw["cec_table_22_ml"]}
    for row in raw["cec_table_22_in3"]:
        key, other = (edition, f"{row['size']} AWG"), millilitres[row["size"]]
        yield Reading(
            "allowance", key, "volume_in3", row["volume_in3"], row, "volume_in3", "inferred", "in3", note=note
        )
        yield Reading(
            "allowance",
            key,
            "volume_cm3",
            other["volume_ml"],
            other,
            "volume_ml",
            "inferred",
            "cm3",
            "mL",
            note=note,
        )
        yield Reading("allowance", key, "clause", "Table 22", row, "locator", "inferred", note=note)


def _cec_boxes(rows: Iterable[RawRow], edition: str) -> Iterator[Reading]:
    note = "the edition of the print is not recorded; taken as the same in every edition"
    for row in rows:
        kind, size = KINDS.get(row["kind"], row["kind"]), row["trade_size_in"]
        face, _, depth = size.rpartition(" x ")
        gangs, by_depth = kind in ("FS", "FD"), row["volume_basis"] == "per depth"
        key = (edition, f"{kind} {size}" if gangs else f"{size} {kind}")
        basis = {"whole": "whole", "per gang": "gang", "per depth": "mm"}[row["volume_basis"]]
        words = {
            "kind": (kind, "kind"),
            "face": (key[1] if gangs or by_depth else f"{face} {kind}", "trade_size_in"),
            "volume_basis": (basis, "volume_basis"),
            "clause": ("Table 23", "locator"),
        }
        if not gangs and not by_depth:
            words["depth_in"] = (inches(depth), "trade_size_in")
        for column, (value, place) in words.items():
            yield Reading("box", key, column, value, row, place, "inferred", note=note)
        yield Reading(
            "box", key, "volume_in3", row["volume_in3"], row, "volume_in3", "inferred", "in3", note=note
        )
        yield Reading(
            "box", key, "volume_cm3", row["volume_ml"], row, "volume_ml", "inferred", "cm3", "mL", note=note
        )
