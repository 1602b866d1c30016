"""A batch of joints: the macro in one query against a plain loop and pandas; run as a script.

    python -m tests.benchmarks.joints [--joints 1000000] [--loop 100000] [--bundles 200]

The loop sees fewer joints and is scaled. Two questions are asked: the twist-on class of least room for
each joint, by the macro, a loop and pandas; and the class of least room in every family, with the
constructions that a family takes, by the macro and a loop. The answers must agree; figures taken in
one run are comparable with one another.
"""

from __future__ import annotations

import argparse
import random
import time
from collections.abc import Callable
from decimal import Decimal
from typing import Any

import duckdb
import pandas as pd

import jointable
from jointable.batch import attached
from jointable.bundle import bundle_of
from jointable.geometry import bare_diameter_mm

SIZES = ("24", "22", "20", "18", "16", "14", "12", "10", "8", "6")
METRIC = ("0.5 mm2", "0.75 mm2", "1 mm2", "1.5 mm2", "2.5 mm2", "4 mm2", "6 mm2", "10 mm2")

_JOINTS = f"""
CREATE TEMP TABLE joints AS
WITH joint AS (SELECT i::INTEGER AS joint, (random() * 5)::INTEGER AS kind, (random() * 2)::INTEGER AS parts
  FROM range($joints) t(i)), spread AS (SELECT joint, kind, unnest(range(1 + parts)) AS part FROM joint)
SELECT joint,
  CASE WHEN kind = 0 THEN ({list(METRIC)})[1 + floor(random() * {len(METRIC)})::INTEGER]
    ELSE ({[f"{s} AWG" for s in SIZES]})[1 + floor(random() * {len(SIZES)})::INTEGER] END AS size,
  1 + floor(random() * 3)::INTEGER AS quantity
FROM spread
"""


def timed(work: Callable[[], Any], runs: int = 3) -> tuple[float, Any]:
    """The least time of some runs in seconds, and the last answer."""
    best, answer = float("inf"), None
    for _ in range(runs):
        start = time.perf_counter()
        answer = work()
        best = min(best, time.perf_counter() - start)
    return best, answer


Ladder = list[tuple[str, int, int, int, int]]


def ladder(connection: duckdb.DuckDBPyConnection) -> Ladder:
    """The general twist-on classes in order of rank, limits in billionths of mm2."""
    rows = connection.execute(
        "SELECT class, min_total_mm2, max_total_mm2, min_conductor_mm2, max_conductor_mm2 FROM connector_class "
        "WHERE family = 'twist-on' AND variant = 'general' ORDER BY rank"
    ).fetchall()
    return [(name, *(int(x * 10**9) for x in limits)) for name, *limits in rows]


def plain_loop(rows: list[tuple[int, str, int]], areas: dict[str, int], classes: Ladder) -> dict[int, str]:
    """One joint after the other, in integers: what one would write without a database."""
    joints: dict[int, list[tuple[int, int]]] = {}
    for joint, size, quantity in rows:
        joints.setdefault(joint, []).append((areas[size], quantity))
    out = {}
    for joint, parts in joints.items():
        count = sum(q for _, q in parts)
        if not 2 <= count <= 6:
            continue
        total = sum(a * q for a, q in parts)
        narrow, wide = min(a for a, _ in parts), max(a for a, _ in parts)
        for name, least, most, thin, thick in classes:
            if least <= total <= most and thin <= narrow and wide <= thick:
                out[joint] = name
                break
    return out


def offered(connection: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """The general classes of every family in order of rank, limits in billionths of mm2."""
    limits = ("min_total_mm2", "max_total_mm2", "min_conductor_mm2", "max_conductor_mm2", "over_run_mm2")
    classes = connection.sql("FROM offered_class WHERE wanted = 'general' AND is_made ORDER BY rank")
    names = classes.columns
    out = [dict(zip(names, row, strict=True)) for row in classes.fetchall()]
    for one in out:
        one.update({x: None if one[x] is None else int(one[x] * 10**9) for x in limits})
    return out


def whole_loop(
    rows: list[tuple[int, str, int]],
    areas: dict[str, tuple[int, int]],
    solid_to: int,
    classes: list[dict[str, Any]],
) -> dict[tuple[int, str], str]:
    """The class of least room in each family, one joint and one class after the other, in integers."""
    joints: dict[int, list[tuple[int, int, int]]] = {}
    for joint, size, quantity in rows:
        joints.setdefault(joint, []).append((*areas[size], quantity))
    out: dict[tuple[int, str], str] = {}
    for joint, parts in joints.items():
        count = sum(q for *_, q in parts)
        total = sum(a * q for a, _, q in parts)
        narrow, wide = min(a for a, *_ in parts), max(a for a, *_ in parts)
        clamp_narrow, clamp_wide = min(c for _, c, _ in parts), max(c for _, c, _ in parts)
        solid, stranded = any(a <= solid_to for a, *_ in parts), any(a > solid_to for a, *_ in parts)
        for one in classes:
            family = one["family"]
            if (joint, family) in out:
                continue
            if (solid and one["solid_taken"] == "no") or (stranded and one["stranded_taken"] == "no"):
                continue
            if one["series"] == "clamp":
                thin, thick = clamp_narrow, clamp_wide
            else:
                thin, thick = narrow, wide
            if family == "crimped butt":
                if count != 2:
                    continue
                counted, least, most = 1, narrow, wide
            else:
                counted, least, most = count, total, total
            if (
                count >= one["min_conductors"]
                and counted <= one["max_conductors"]
                and (one["min_total_mm2"] is None or least >= one["min_total_mm2"])
                and (one["max_total_mm2"] is None or most <= one["max_total_mm2"])
                and (one["over_run_mm2"] is None or wide > one["over_run_mm2"])
                and (one["max_conductor_mm2"] is None or thick <= one["max_conductor_mm2"])
                and (one["min_conductor_mm2"] is None or thin >= one["min_conductor_mm2"])
            ):
                out[joint, family] = one["class"]
    return out


def with_pandas(frame: pd.DataFrame, areas: dict[str, int], classes: Ladder) -> pd.Series:
    """The same with groups and masks."""
    area = frame["size"].map(areas)
    work = pd.DataFrame(
        {
            "joint": frame["joint"],
            "quantity": frame["quantity"],
            "area": area,
            "total": area * frame["quantity"],
        }
    )
    facts = work.groupby("joint").agg(
        count=("quantity", "sum"), total=("total", "sum"), narrow=("area", "min"), wide=("area", "max")
    )
    out = pd.Series(None, index=facts.index, dtype=object)
    some = facts["count"].between(2, 6)
    for name, least, most, thin, thick in reversed(classes):
        fits = (
            some & facts["total"].between(least, most) & (facts["narrow"] >= thin) & (facts["wide"] <= thick)
        )
        out[fits] = name
    return out.dropna()


def batch(joints: int, loop: int) -> None:
    """The choice for many joints at once."""
    with jointable.open() as reference, attached(reference) as connection:
        connection.execute("SELECT setseed(0.5)")
        connection.execute(_JOINTS, {"joints": joints})
        classes = ladder(connection)
        areas = {
            s: int(a * 10**9)
            for s, a in connection.execute("SELECT size, area_mm2 FROM joint_size").fetchall()
        }

        def ask(some: str, to: str) -> int:
            connection.execute(
                f"CREATE OR REPLACE TEMP TABLE {to} AS FROM joint_choice('{some}', family := 'twist-on')"
            )
            return int(connection.execute(f"SELECT count(*) FROM temp.main.{to}").fetchall()[0][0])

        macro, answered = timed(lambda: ask("temp.main.joints", "chosen"))
        connection.execute(f"CREATE TEMP VIEW few AS FROM temp.main.joints WHERE joint < {loop}")
        rows = connection.execute("SELECT joint, size, quantity FROM temp.main.few").fetchall()
        plain, by_loop = timed(lambda: plain_loop(rows, areas, classes), 1)
        plain *= joints / loop
        frame = connection.execute("FROM temp.main.joints").df()
        pandas, by_pandas = timed(lambda: with_pandas(frame, areas, classes), 1)
        chosen = dict(connection.execute("SELECT joint, class FROM temp.main.chosen").fetchall())
        assert answered
        assert chosen == by_pandas.to_dict()
        assert by_loop == {j: c for j, c in chosen.items() if j < loop}
    print(f"{joints:,} joints, {answered:,} with a class; all three agree")
    print(f"macro joint_choice  {macro:8.2f} s  {joints / macro:12,.0f} a second")
    print(
        f"plain Python loop   {plain:8.2f} s  {plain / macro:6.1f} times the macro (over {loop:,} joints, scaled)"
    )
    print(f"pandas              {pandas:8.2f} s  {pandas / macro:6.1f} times the macro")


def every_family(joints: int, loop: int) -> None:
    """The choice in every family for many joints at once, against a loop over joints and classes."""
    with jointable.open() as reference, attached(reference) as connection:
        connection.execute("SELECT setseed(0.5)")
        connection.execute(_JOINTS, {"joints": joints})
        choose = "CREATE OR REPLACE TEMP TABLE chosen AS FROM joint_choice('temp.main.joints')"
        macro, _ = timed(lambda: connection.execute(choose))
        areas = {
            size: (int(area * 10**9), int(clamp * 10**9))
            for size, area, clamp in connection.sql(
                "SELECT size, area_mm2, clamp_mm2 FROM joint_size"
            ).fetchall()
        }
        few = f"SELECT joint, size, quantity FROM temp.main.joints WHERE joint < {loop}"
        rows, classes = connection.sql(few).fetchall(), offered(connection)
        plain, by_loop = timed(lambda: whole_loop(rows, areas, 6 * 10**9, classes), 1)
        plain *= joints / loop
        chosen = connection.sql(f"FROM temp.main.chosen WHERE joint < {loop}").fetchall()
    assert chosen
    assert by_loop == {(joint, family): name for joint, family, _, name in chosen}
    print(f"every family: macro {macro:.2f} s, {joints / macro:,.0f} joints a second")
    print(
        f"plain Python loop   {plain:8.2f} s  {plain / macro:6.1f} times the macro (over {loop:,} joints, scaled)"
    )


def one_by_one(count: int = 60) -> None:
    """Selections of the library one by one, each joint another."""
    dice = random.Random(11)
    with jointable.open() as reference:
        reference.connectors("2x12")
        asked = {
            f"{dice.randint(1, 4)}x{dice.choice(SIZES)} + {dice.randint(1, 2)}x{dice.choice(SIZES)}"
            for _ in range(count)
        }
        start = time.perf_counter()
        for text in asked:
            reference.connectors(text)
        each = (time.perf_counter() - start) / len(asked)
        start = time.perf_counter()
        for text in asked:
            reference.connectors(text, family="twist-on")
        one = (time.perf_counter() - start) / len(asked)
    print(f"ref.connectors one by one: {each * 1e3:.1f} ms over all families, {one * 1e3:.1f} ms for one")


def bundles(count: int) -> None:
    """Bundles outside the table of combinations, by the library's own search."""
    dice = random.Random(7)
    for pieces in (3, 6, 9, 12):
        sets = [
            tuple(
                sorted(
                    (bare_diameter_mm(f"{dice.choice(SIZES)} AWG", "stranded") for _ in range(pieces)),
                    reverse=True,
                )
            )
            for _ in range(max(4, count // pieces**2 * 9))
        ]
        start = time.perf_counter()
        for diameters in sets:
            bundle_of(tuple(Decimal(d) for d in diameters))
        took = time.perf_counter() - start
        print(f"bundles of {pieces:2}: {len(sets) / took:8.1f} a second")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--joints", type=int, default=1_000_000)
    parser.add_argument("--loop", type=int, default=100_000)
    parser.add_argument("--bundles", type=int, default=200)
    given = parser.parse_args()
    batch(given.joints, min(given.loop, given.joints))
    every_family(given.joints, min(given.loop, given.joints) // 5)
    one_by_one()
    bundles(given.bundles)


if __name__ == "__main__":
    main()
