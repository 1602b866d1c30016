"""Names of boxes: trade sizes that can be, and volumes that fit in them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from pipeline.checks import Comparison, Context, check
from pipeline.forms import FORMS
from pipeline.readings import RawRow
from pipeline.tables.box import CEC_SIZES, SIZES, SPANISH, inches, second_key

__all__: list[str] = []

CANADA, MEXICO = "cec_table_23", "nom_314_16_a"

#: How many dimensions the size of a kind of box names; FS and FD boxes go by gangs.
DIMENSIONS = {
    "octagonal": 2,
    "square": 2,
    "round": 2,
    "device": 3,
    "masonry": 3,
    "through box": 2,
    "concrete ring": 1,
}

#: Least and greatest volume as a part of the nominal dimensions: walls, rounded corners and ears take the rest.
FULL = {"octagonal": (60, 65), "round": (60, 65)}
USUAL = (73, 95)


def _dimensions(row: RawRow) -> list[Fraction] | None:
    parts = row["trade_size_in"].split(" x ")
    if not all(FORMS["fraction"].matches(part) for part in parts):
        return None
    return [Fraction(inches(part)) for part in parts]


@check(
    "cec-size-form",
    layer="cross-check",
    reads=(CANADA,),
    what="a kind of box is named by as many dimensions as it has, FS and FD boxes by gangs from one to four; a through box has "
    "the face of a masonry box, a device box is 3 or 4 inches high",
)
def cec_size_form(c: Context) -> Iterator[Comparison]:
    gangs: dict[str, list[RawRow]] = {}
    masonry = {r["trade_size_in"].rpartition(" x ")[0] for r in c.rows(CANADA) if r["kind"] == "masonry"}
    for row in c.rows(CANADA):
        kind = row["kind"]
        if kind in ("FS", "FD"):
            gangs.setdefault(kind, []).append(row)
            continue
        sizes = _dimensions(row)
        ok = sizes is not None and len(sizes) == DIMENSIONS[kind]
        cells = ((row, "trade_size_in"), (row, "kind"))
        yield Comparison(cells, ok, 0.0, f"{DIMENSIONS[kind]} dimensions in inches")
        if sizes is not None and kind == "device":
            yield Comparison(cells, sizes[0] in (3, 4), 0.0, "a device box 3 or 4 inches high")
        if kind == "through box":
            yield Comparison(
                cells,
                row["trade_size_in"] in masonry,
                0.0,
                "the face of a masonry box: " + ", ".join(sorted(masonry)),
            )
    for rows in gangs.values():
        wanted = {f"{n} gang" for n in range(1, 5)}
        for row in rows:
            ok = row["trade_size_in"] in wanted or row["trade_size_in"] == "1 gang tandem"
            ok = ok and wanted <= {r["trade_size_in"] for r in rows}
            yield Comparison(((row, "trade_size_in"), (row, "kind")), ok, 0.0, "1 to 4 gang, each once")


@check(
    "cec-size-volume",
    layer="cross-check",
    reads=(CANADA,),
    what="the volume of a box is most of its nominal dimensions, but not all; it is in quarters of a cubic inch",
    tolerance="73 to 95 % of the dimensions, 60 to 65 % for octagonal and round boxes",
    reason="Walls, corners and ears take up the rest; no rule says how much, so the span is that of the table and of its United States twin.",
)
def cec_size_volume(c: Context) -> Iterator[Comparison]:
    for row in c.rows(CANADA):
        quarters = 4 * Fraction(row["volume_in3"])
        yield Comparison(((row, "volume_in3"),), quarters.denominator == 1, 0.0, "quarters of a cubic inch")
        sizes = _dimensions(row)
        if sizes is None or row["kind"] in ("FS", "FD"):
            continue
        least, most = FULL.get(row["kind"], USUAL)
        whole = Fraction(1)
        # One dimension of a face is a diameter or a side, and stands for both.
        for size in sizes if len(sizes) == 3 or row["kind"] == "through box" else [sizes[0], *sizes]:
            whole *= size
        part = 100 * Fraction(row["volume_in3"]) / whole
        cells = ((row, "trade_size_in"), (row, "volume_in3"), (row, "kind"))
        yield Comparison(
            cells,
            least <= part <= most,
            0.0,
            f"a size of which {row['volume_in3']} in3 is {least} to {most} %",
        )


@check(
    "cec-size-twin",
    layer="second evidence",
    reads=(CANADA, "nec_314_16_a_2023"),
    what="a box that Table 314.16(A) lists too has nearly the volume it has there",
    tolerance="8 % of the volume",
    reason="The two tables round the same boxes differently: 15 beside 15.5, 8 beside 7.5, 14 beside 13.",
)
def cec_size_twin(c: Context) -> Iterator[Comparison]:
    ours = {"round": "octagonal"}
    listed = {(ours.get(r["shape"], r["shape"]), r["trade_size_in"]): r for r in c.rows("nec_314_16_a_2023")}
    for row in c.rows(CANADA):
        other = listed.get((row["kind"], row["trade_size_in"]))
        if other is not None:
            a, b = Fraction(row["volume_in3"]), Fraction(other["volume_in3"])
            off = 100 * abs(a - b) / b
            cells = ((row, "volume_in3"), (other, "volume_in3"), (row, "trade_size_in"), (row, "kind"))
            yield Comparison(cells, off <= 8, float(off / 8), f"about {other['volume_in3']}")


@check(
    "cec-size-order",
    layer="cross-check",
    reads=(CANADA,),
    what="a deeper box of the same face holds no less; more gangs hold more, and FD boxes half as much again as FS boxes",
    tolerance="FD over FS: 1.45 to 1.65",
    reason="FD boxes are the deeper ones: 2-3/8 in beside 1-3/4 in.",
)
def cec_size_order(c: Context) -> Iterator[Comparison]:
    faces: dict[tuple[str, ...], list[tuple[Fraction, RawRow]]] = {}
    gangs: dict[tuple[str, str], RawRow] = {}
    for row in c.rows(CANADA):
        if row["kind"] in ("FS", "FD"):
            if re.fullmatch(r"\d gang", row["trade_size_in"]):
                gangs[row["kind"], row["trade_size_in"][0]] = row
                faces.setdefault((row["kind"],), []).append((Fraction(row["trade_size_in"][0]), row))
            continue
        sizes = _dimensions(row)
        if sizes:
            faces.setdefault((row["kind"], *map(str, sizes[:-1])), []).append((sizes[-1], row))
    for rows in faces.values():
        for (_, one), (_, other) in pairwise(sorted(rows, key=lambda r: r[0])):
            ok = Fraction(one["volume_in3"]) <= Fraction(other["volume_in3"])
            cells = (
                (other, "volume_in3"),
                (one, "volume_in3"),
                (other, "trade_size_in"),
                (one, "trade_size_in"),
            )
            yield Comparison(cells, ok, 0.0, f"at least {one['volume_in3']}")
    for (kind, count), row in gangs.items():
        shallow = gangs.get(("FS", count))
        if kind == "FD" and shallow is not None:
            over = Fraction(row["volume_in3"]) / Fraction(shallow["volume_in3"])
            ok = Fraction("1.45") <= over <= Fraction("1.65")
            yield Comparison(
                ((row, "volume_in3"), (shallow, "volume_in3")),
                ok,
                0.0,
                f"1.45 to 1.65 times {shallow['volume_in3']}",
            )


@check(
    "nom-row-number",
    layer="keys",
    reads=(MEXICO,),
    what="the rows are numbered without a gap in the order of kinds, sizes stand to two decimals",
)
def nom_row_number(c: Context) -> Iterator[Comparison]:
    rows = sorted(c.rows(MEXICO), key=lambda r: int(r["row"]))
    kinds = list(SPANISH.values())
    for number, row in enumerate(rows, 1):
        yield Comparison(((row, "row"),), row["row"] == str(number), 0.0, str(number))
    for row in rows:
        decimals = [len(d) for d in re.findall(r"\.(\d+)", row["trade_size_cm"])]
        ok = all(d <= 2 for d in decimals)
        yield Comparison(((row, "trade_size_cm"),), ok, 0.0, "centimetres to two decimals")
    for above, row in pairwise(rows):
        one, other = second_key(above), second_key(row)
        ok = kinds.index(one[0]) <= kinds.index(other[0]) or {one[0], other[0]} == {"FS", "FD"}
        cells = ((row, "shape"), (above, "shape"), (row, "row"))
        yield Comparison(cells, ok, 0.0, f"a kind at or after {one[0]}")


@check(
    "allowance-sizes",
    layer="keys",
    reads=("nom_314_16_b", "cec_table_22_ml"),
    what="the tables of allowances go from 18 or 14 AWG to 6 AWG, every even size once, and rise with the conductor",
)
def allowance_sizes(c: Context) -> Iterator[Comparison]:
    for stem, sizes, column in (
        ("nom_314_16_b", SIZES, "volume_cm3"),
        ("cec_table_22_ml", CEC_SIZES, "volume_ml"),
    ):
        rows = sorted(c.rows(stem), key=lambda r: Fraction(r[column]))
        for row, size in zip(rows, sizes, strict=False):
            yield Comparison(((row, "size"), (row, column)), row["size"] == size, 0.0, size)
