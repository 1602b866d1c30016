"""`python -m pipeline.points`: the verification points, asked of the built database.

What is asked stands in `points.toml`; the answers are committed in `precomputed/`, published by the build, printed
in docs/, and asked again by the tests.
"""

from __future__ import annotations

import argparse
import csv
import io
import sys
import tomllib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import jointable
from jointable.files import write_text
from jointable.jsonform import dumps
from jointable.reference import Reference
from jointable.saved import saved
from pipeline.schema import ROOT

__all__ = ["Point", "answer", "committed", "computed", "main", "page"]

ASKED = Path(__file__).resolve().parent / "points.toml"
TARGET = Path(__file__).resolve().parent / "precomputed" / "verification_point.csv"
PAGE = ROOT / "docs" / "verification-points.md"

#: point, function, input and answer, the last two as JSON.
Point = tuple[str, str, str, str]
_COLUMNS = ("point", "function_name", "input", "answer")

_CHOICE = ("class", "total_min_mm2", "total_max_mm2", "margin", "room_cm3")
_SPLIT = ("class", "conductors", "jumper_ends")
_FILL = ("required_in3", "required_cm3", "available_in3", "available_cm3", "passes", "remaining")
_TRACE = ("value", "unit", "origin", "printed", "source", "locator", "formula")


def _joint(reference: Reference, text: str) -> Any:
    joint = jointable.Joint.parse(text)
    return {"text": str(joint), "count": joint.count}


def _connectors(reference: Reference, text: str, **demands: Any) -> Any:
    found = reference.connectors(text, **demands).to_dict()
    joint = {k: found["joint"][k] for k in ("total_mm2", "bundle_mm")}
    return {**joint, "choices": [_rounded(_kept(c, _CHOICE)) for c in found["choices"]]}


def _rounded(choice: dict[str, Any]) -> dict[str, Any]:
    """A logarithm may differ in its last digits from system to system; the margin is cut before them."""
    margin = choice["margin"]
    return choice | {"margin": None if margin is None else round(margin, 12)}


def _split(reference: Reference, text: str, **demands: Any) -> Any:
    found = reference.split(text, **demands)
    if found is None:
        return None
    whole = found.to_dict()
    return {
        "jumper": whole["jumper"],
        "jumpers": whole["jumpers"],
        "connectors": [_kept(c, _SPLIT) for c in whole["connectors"]],
    }


def _range(reference: Reference, size: str, **options: Any) -> Any:
    return _kept(reference.range(size, **options), ("class", "least", "greatest", "by_size"))


def _chart(reference: Reference, family: str, **options: Any) -> Any:
    return _kept(reference.chart(family, **options), ("across", "columns", "rows"))


def _stock(reference: Reference, schedule: Any, **options: Any) -> Any:
    found = reference.stock(schedule, **options)
    classes = [_kept(c, ("class", "joints", "quantity")) for c in found["classes"]]
    return {"classes": classes, "curve": [_kept(p, ("classes", "room_cm3")) for p in found["curve"]]}


def _fill(reference: Reference, schedule: Any, edition: str) -> Any:
    return [
        {**_kept(r.to_dict(), _FILL), "lines": [_kept(x, ("item", "count", "size", "volume_in3")) for x in r.to_dict()["lines"]]}
        for r in reference.fill(schedule, edition=edition)
    ]  # fmt: skip


def _room(reference: Reference, schedule: Any, edition: str) -> Any:
    kept = ("box", "inside_cm3", "contents_cm3", "left_cm3", "connectors_cm3", "gain_cm3")
    return [_kept(r.to_dict(), kept) for r in reference.room(schedule, edition=edition)]


def _plan(reference: Reference, source: Any, edition: str) -> Any:
    out = []
    for box in reference.plan(source, edition=edition).to_dict()["boxes"]:
        joints = [_kept(j, ("joint", "text", "class")) for j in box["joints"]]
        fill = _kept(box["fill"], ("required_in3", "available_in3", "passes"))
        out.append({"box": box["box"], "joints": joints, **fill, "pigtails": box["take_off"]["pigtails"]})
    return out


def _check(reference: Reference, source: Any, edition: str) -> Any:
    kept = ("finding", "joint", "when", "severity", "clause")
    return [
        {"box": b["box"], "findings": [_kept(f, kept) for f in b["findings"]]}
        for b in reference.check(source, edition).to_dict()["boxes"]
    ]


def _smallest_box(reference: Reference, items: Any, edition: str) -> Any:
    found = reference.smallest_box(items, edition)
    return [_kept(c.to_dict(), ("box", "gangs", "available_in3", "left_in3")) for c in found[:3]]


def _what_changes_it(reference: Reference, items: Any, edition: str) -> Any:
    found = reference.what_changes_it(items, edition)
    return [_kept(c.to_dict(), ("kind", "required_in3", "available_in3")) for c in found]


def _trace(reference: Reference, table: str, key: str, column: str) -> Any:
    return _kept(reference.trace(table, key, column).to_dict(), _TRACE)


def _recheck(reference: Reference, inputs: dict[str, Any], edited: Mapping[str, Any]) -> Any:
    """An answer saved, edited by hand, and asked again."""
    asked = dict(inputs)
    answer = saved(reference, reference.range(**asked), "range", asked)
    return _kept(reference.recheck({**answer, **edited}).to_dict(), ("stands", "changes"))


def _box_fill(reference: Reference, items: Any, edition: str) -> Any:
    columns = "box, required_in3, available_in3, passes"
    return _asked(reference, items, f"SELECT {columns} FROM box_fill('points', '{edition}') ORDER BY ALL")


def _box_fill_lines(reference: Reference, items: Any, edition: str) -> Any:
    query = f"SELECT box, item, count, size, volume_in3, clause FROM box_fill_lines('points', '{edition}') ORDER BY ALL"
    return _asked(reference, items, query)


def _joint_choices(reference: Reference, joints: Any, family: str) -> Any:
    query = f"SELECT joint, class FROM joint_choices('points', family := '{family}') ORDER BY joint, rank"
    return _asked(reference, joints, query)


def _scalar(macro: str) -> Callable[..., Any]:
    def asked(reference: Reference, value: str) -> Any:
        return reference.rows(f"SELECT {macro}(?)", [value])[0][0]

    return asked


def _asked(reference: Reference, rows: list[dict[str, Any]], query: str) -> Any:
    """The rows as a temporary table with every column of a schedule, and a query of it."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    values = ", ".join("(" + ", ".join("?" for _ in names) + ")" for _ in rows)
    columns = ", ".join(f'"{n}"::{"INTEGER" if n == "quantity" else "VARCHAR"} AS "{n}"' for n in names)
    reference.rows(
        f"CREATE OR REPLACE TEMP TABLE points AS SELECT {columns} FROM (VALUES {values}) t({', '.join(names)})",
        [row.get(name) for row in rows for name in names],
    )
    return reference.records(query)


def _kept(record: Mapping[str, Any], names: tuple[str, ...]) -> dict[str, Any]:
    return {name: record[name] for name in names}


FUNCTIONS: dict[str, Callable[..., Any]] = {
    "Joint.parse": _joint,
    "Reference.connectors": _connectors,
    "Reference.split": _split,
    "Reference.range": _range,
    "Reference.chart": _chart,
    "Reference.stock": _stock,
    "Reference.fill": _fill,
    "Reference.room": _room,
    "Reference.plan": _plan,
    "Reference.check": _check,
    "Reference.smallest_box": _smallest_box,
    "Reference.what_changes_it": _what_changes_it,
    "Reference.trace": _trace,
    "Reference.recheck": _recheck,
    "box_fill": _box_fill,
    "box_fill_lines": _box_fill_lines,
    "joint_choices": _joint_choices,
    "awg_mm2": _scalar("awg_mm2"),
    "kcmil_mm2": _scalar("kcmil_mm2"),
    "mm2_awg": _scalar("mm2_awg"),
}


def answer(reference: Reference, function: str, arguments: Mapping[str, Any]) -> str:
    """The answer of one function as JSON in one line."""
    return dumps(FUNCTIONS[function](reference, **arguments), indent=None)


def computed(reference: Reference) -> list[Point]:
    """Every point, asked of a database."""
    points = []
    for group in tomllib.loads(ASKED.read_text("utf-8"))["points"]:
        for number, arguments in enumerate(group["inputs"], 1):
            function = group["function"]
            name = f"{function.rpartition('.')[2]}-{number}"
            points.append((name, function, dumps(arguments, None), answer(reference, function, arguments)))
    return points


def committed() -> list[Point]:
    """The points as they are committed."""
    with TARGET.open(encoding="utf-8", newline="") as lines:
        return [(r["point"], r["function_name"], r["input"], r["answer"]) for r in csv.DictReader(lines)]


def page(points: list[Point]) -> str:
    """The page of docs/ that prints the points."""
    parts = [
        "# Verification points\n\n"
        "Written by `python -m pipeline.points`; edit `pipeline/points.toml`, not this. The same rows are\n"
        "published as the table `verification_point`. Numbers are exact and unrounded but for `margin`, a logarithm,\n"
        "which is given to twelve decimals. Room is an estimate of this project.\n"
    ]
    last = ""
    for name, function, asked, answered in points:
        if function != last:
            parts.append(f"## {function}\n")
            last = function
        parts.append(f"`{name}`\n\n```json input\n{asked}\n```\n\n```json answer\n{answered}\n```\n")
    return "\n".join(parts)


def _table(points: list[Point]) -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    writer.writerows(points)
    return text.getvalue()


def main(arguments: list[str] | None = None) -> int:
    """Write the points and their page, or compare; 0 as they are, 1 some answer differs."""
    parser = argparse.ArgumentParser(prog="python -m pipeline.points", description=__doc__)
    parser.add_argument("--check", action="store_true", help="ask again and compare; write nothing")
    parser.add_argument("--page", action="store_true", help="write the page from what is committed")
    options = parser.parse_args(arguments)
    if options.page:
        write_text(PAGE, page(committed()))
        return 0
    with jointable.open(ROOT / "published" / "jointable.duckdb") as reference:
        points = computed(reference)
    if options.check:
        different = sorted(set(committed()) ^ set(points))
        for name in dict.fromkeys(p[0] for p in different):
            print(
                f"{TARGET.name}: {name}: the answer differs; run `make points` and read it", file=sys.stderr
            )
        return 1 if different else 0
    write_text(TARGET, _table(points))
    write_text(PAGE, page(points))
    print(f"{len(points)} points of {len(FUNCTIONS)} functions; `make build` publishes them")
    return 0


if __name__ == "__main__":
    sys.exit(main())
