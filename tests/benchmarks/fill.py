"""Millions of boxes: the full rules against one join and one sum of the same file, ratios in one run.

    python -m tests.benchmarks.fill [--boxes 2000000] [--repeat 3] [--folder DIR] [--skip-pandas]

Everything is made here: a Parquet file of about eight rows a box, in a temporary folder, in three shapes
(rows in any order with four columns; the same with all optional columns; sorted by box). Figures:

- unsorted: `box_fill` against one join and one sum a box of the same file (aim 1.2);
- optional: the same with all optional columns and bad rows (aim 1.5);
- sorted: `box_fill` of a file in the order of its boxes against the bare scan of its four columns (aim 6);
- pandas: the same rules on a sample, box by box and vectorised, as boxes a second;
- memory: the greatest resident size of a `write_fill` of the file in a process of its own, and what spilled.

Every way must give identical figures, or the run ends with an error.
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb

if TYPE_CHECKING:
    from tests.benchmarks.figures import Figure

ROOT = Path(__file__).resolve().parent.parent.parent
DATABASE = ROOT / "published" / "jointable.duckdb"
EDITION = "nec-2023"
FOUR = "box, item, size, quantity"
FILL = "SELECT box, required_in3, available_in3, passes, problems FROM box_fill('{items}', '" + EDITION + "')"

#: The greatest resident size of a process itself [KiB]; what the system adds up also holds its parent's.
PEAK = "Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0]"

#: Eight rows a box; what they say depends on the number of the box alone.
ROWS = """
SELECT 'box ' || b AS box, item, size, quantity, {extra} FROM range({boxes}) t(b), (VALUES
  ('box', NULL, 1), ('conductor', '12', 2), ('conductor', '14', 3), ('cable', '12/2', 1), ('grounding', '12', 2),
  ('device', '12', 1), ('clamp', NULL, 1), ('through', '10', 1)) v(kind, of, n),
  LATERAL (SELECT kind AS item, CASE WHEN kind = 'box' THEN ['4 x 1-1/2 square', '4 x 2-1/8 square',
    '4-11/16 x 2-1/8 square', '3 x 2 x 3-1/2 device'][1 + b % 4] ELSE of END AS size, n + b % 3 * (kind = 'conductor')::INTEGER AS quantity) w
"""
OPTIONAL = """
  CASE WHEN item = 'box' AND b % 5 = 0 THEN 30.3 END AS volume_in3, CASE WHEN item = 'box' AND b % 7 = 0 THEN 344 END AS volume_cm3,
  CASE WHEN item = 'device' AND b % 3 = 0 THEN 2 END AS gangs, CASE WHEN item = 'device' THEN '12' END AS conductor_size,
  CASE WHEN item = 'box' THEN 54.0 END AS depth_mm, NULL::DOUBLE AS loop_mm, CASE WHEN item = 'grounding' THEN 'bare' END AS insulation,
  NULL::VARCHAR AS material, NULL::VARCHAR AS space, CASE WHEN item = 'conductor' THEN 'j' || b % 3 END AS joint,
  CASE WHEN item = 'box' THEN 1 END AS boxes, CASE WHEN item = 'box' AND b % 11 = 0 THEN 'a note' END AS note
"""


def make(folder: Path, boxes: int) -> None:
    """Write the three files."""
    with duckdb.connect() as connection:
        connection.execute("SET preserve_insertion_order = false")
        for name, extra, order in (
            ("unsorted", "b", "ORDER BY hash(box, item, size)"),
            ("optional", OPTIONAL, "ORDER BY hash(box, item, size)"),
            ("sorted", "b", "ORDER BY b"),
        ):
            rows = ROWS.format(extra=extra, boxes=boxes)
            left_out = "" if name == "optional" else "EXCLUDE (b)"
            connection.execute(
                f"COPY (SELECT * {left_out} FROM ({rows}) {order}) TO '{folder / name}.parquet' (COMPRESSION zstd)"
            )


def connect(folder: Path) -> duckdb.DuckDBPyConnection:
    """The published macros in reach of the files, as a batch has them."""
    connection = duckdb.connect(config={"memory_limit": "3GB", "temp_directory": str(folder / "spill")})
    connection.execute(f"ATTACH '{DATABASE}' AS published (READ_ONLY)")
    connection.execute("USE published")
    for name in ("unsorted", "optional", "sorted"):
        connection.execute(f"CREATE TEMP VIEW {name} AS FROM read_parquet('{folder / name}.parquet')")
    # A small table of one figure a word, for the one join of the comparison.
    connection.execute(
        "CREATE TEMP TABLE weight AS SELECT item, size, any_value(id) AS weight "
        f"FROM fill_code WHERE edition = '{EDITION}' GROUP BY ALL"
    )
    return connection


def one_sum(items: str) -> str:
    """One join and one sum a box: the least that any calculation does."""
    return (
        f"SELECT i.box, sum(w.weight * i.quantity) FROM temp.main.{items} i "
        "LEFT JOIN temp.main.weight w ON w.item = i.item AND w.size = coalesce(i.size, '') GROUP BY i.box"
    )


def timed(connection: duckdb.DuckDBPyConnection, query: str) -> float:
    """Seconds of a query whose every row is made and none kept."""
    columns = [d[0] for d in connection.execute(f"DESCRIBE {query}").fetchall()]
    folded = ", ".join(f'bit_xor(hash("{name}"))' for name in columns)
    began = time.perf_counter()
    connection.execute(f"SELECT {folded} FROM ({query})").fetchall()
    return time.perf_counter() - began


def compare(repeat: int, *ways: Callable[[], float]) -> list[float]:
    """The median of each way, taken by turns, so that all meet the same machine."""
    turns = [[way() for way in ways] for _ in range(repeat)]
    return [statistics.median(turn[n] for turn in turns) for n in range(len(ways))]


def write_in_process(folder: Path) -> dict[str, float]:
    """A whole `write_fill` in a process of its own: seconds, peak memory [GiB], greatest spill [GiB]."""
    spilled = [0]
    done = threading.Event()

    def watch() -> None:
        while not done.wait(0.2):
            sizes = [p.stat().st_size for p in folder.rglob("*.tmp") if p.is_file()]
            spilled[0] = max(spilled[0], sum(sizes))

    threading.Thread(target=watch, daemon=True).start()
    code = (
        "import sys, time, jointable\n"
        "from pathlib import Path\n"
        "from jointable.fill_output import write_fill\n"
        "began = time.perf_counter()\n"
        f"done = write_fill(jointable.open({str(DATABASE)!r}), sys.argv[1], sys.argv[2], {EDITION!r})\n"
        f"print(time.perf_counter() - began, {PEAK}, done.boxes)"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(folder / "unsorted.parquet"), str(folder / "out.parquet")],
        capture_output=True, text=True, check=True, cwd=ROOT,
    )  # fmt: skip
    done.set()
    seconds, peak, boxes = run.stdout.split()
    return {
        "seconds": float(seconds), "peak_gib": int(peak) / 2**20, "spill_gib": spilled[0] / 2**30, "boxes": int(boxes),
    }  # fmt: skip


def pandas_ways(connection: duckdb.DuckDBPyConnection, sample: int) -> tuple[float, float, float]:
    """Seconds a million boxes: box by box, vectorised, and the macro, on the same sample; results compared."""
    import pandas

    first = f"FROM temp.main.sorted WHERE CAST(substr(box, 5) AS BIGINT) < {sample}"
    connection.execute(f"CREATE OR REPLACE TEMP TABLE sample AS {first}")
    frame = connection.execute("FROM temp.main.sample").df()
    allowance = {
        size.removesuffix(" AWG"): float(v)
        for size, v in connection.execute(
            f"SELECT size, volume_in3 FROM allowance WHERE edition = '{EDITION}'"
        ).fetchall()
    }

    def of_box(rows: pandas.DataFrame) -> float:
        total, grounds, largest, ground, clamp = 0.0, 0, 0.0, 0.0, False
        for row in rows.itertuples():
            if row.item == "box":
                continue
            if row.item == "clamp":
                clamp = True
                continue
            size, _, wires = row.size.partition("/")
            each = allowance[size]
            largest = max(largest, each)
            if row.item == "cable":
                total += each * int(wires) * row.quantity
            elif row.item == "device":
                total += 2 * each * row.quantity
            elif row.item != "grounding":
                total += each * row.quantity
            if row.item in ("cable", "grounding"):
                grounds += row.quantity
                ground = max(ground, each)
        return total + clamp * largest + ground * (1 + max(0, grounds - 4) / 4) * (grounds > 0)

    few = frame[frame.box.isin(frame.box.unique()[: max(1, sample // 50)])]
    began = time.perf_counter()
    by_box = few.groupby("box")[["item", "size", "quantity"]].apply(of_box)
    slow = (time.perf_counter() - began) / by_box.size * 1e6

    began = time.perf_counter()
    parts = frame["size"].str.partition("/")
    each = parts[0].map(allowance).where(frame.item != "box").fillna(0.0)
    wires = pandas.to_numeric(parts[2], errors="coerce").where(frame.item == "cable").fillna(1)
    is_ground = frame.item.isin(["cable", "grounding"])
    counts = frame.item.isin(["conductor", "through", "cable"]) * wires + 2 * (frame.item == "device")
    table = pandas.DataFrame({
        "box": frame.box, "own": each * counts * frame.quantity, "each": each, "grounds": frame.quantity * is_ground,
        "ground": each * is_ground, "clamp": frame.item == "clamp",
    })  # fmt: skip
    g = table.groupby("box").agg(
        own=("own", "sum"), largest=("each", "max"), grounds=("grounds", "sum"), ground=("ground", "max"), clamp=("clamp", "max")
    )  # fmt: skip
    quick = g.own + g.clamp * g.largest + g.ground * (1 + (g.grounds - 4).clip(lower=0) / 4) * (g.grounds > 0)
    vectorised = (time.perf_counter() - began) / len(g) * 1e6

    # Into a table, as the frames of pandas hold what they found.
    began = time.perf_counter()
    connection.execute(
        "CREATE OR REPLACE TEMP TABLE ours AS "
        f"SELECT box, required_in3 FROM box_fill('temp.main.sample', '{EDITION}')"
    )
    took = time.perf_counter() - began
    ours = dict(connection.execute("FROM ours").fetchall())
    macro = took / len(ours) * 1e6
    wrong = [b for b, v in quick.items() if abs(float(ours[b]) - v) > 1e-9]
    wrong += [b for b, v in by_box.items() if abs(float(ours[b]) - v) > 1e-9]
    if wrong or not ours or len(by_box) == 0:
        raise SystemExit(f"pandas and the macro differ: {wrong[:3]}")
    return slow, vectorised, macro


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--boxes", type=int, default=2_000_000)
    parser.add_argument("--repeat", type=int, default=3)
    parser.add_argument("--folder", type=Path, default=None)
    parser.add_argument("--skip-pandas", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(dir=given.folder) as name:
        print(json.dumps(ratios(Path(name), given.boxes, given.repeat, not given.skip_pandas), indent=1))


def ratios(folder: Path, boxes: int, repeat: int, with_pandas: bool) -> dict[str, Any]:
    """All figures of one run."""
    make(folder, boxes)
    connection = connect(folder)
    fills = {n: FILL.format(items=f"temp.main.{n}") for n in ("unsorted", "optional", "sorted")}
    same = {
        n: connection.execute(f"SELECT count(*), bit_xor(hash(box, required_in3, available_in3, passes)), sum(problems) FROM ({fills[n]})").fetchone()
        for n in ("unsorted", "sorted")
    }  # fmt: skip
    if same["unsorted"] != same["sorted"] or same["unsorted"][0] != boxes or same["unsorted"][2] != 0:
        raise SystemExit(f"the two orders of one file differ: {same}")
    scan = f"SELECT {FOUR} FROM temp.main.sorted"
    one, full, one_optional, full_optional, in_order, bare = compare(
        repeat,
        lambda: timed(connection, one_sum("unsorted")),
        lambda: timed(connection, fills["unsorted"]),
        lambda: timed(connection, one_sum("optional")),
        lambda: timed(connection, fills["optional"]),
        lambda: timed(connection, fills["sorted"]),
        lambda: timed(connection, scan),
    )
    found: dict[str, Any] = {
        "boxes": boxes, "rows": boxes * 8, "duckdb": duckdb.__version__,
        "unsorted": {"one_sum_s": one, "fill_s": full, "ratio": full / one, "aim": 1.2},
        "optional": {"one_sum_s": one_optional, "fill_s": full_optional, "ratio": full_optional / one_optional, "aim": 1.5},
        "sorted": {"scan_s": bare, "fill_s": in_order, "ratio": in_order / bare, "aim": 6},
        "write_fill": write_in_process(folder),
        "peak_gib_of_this_process": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20,
    }  # fmt: skip
    print(json.dumps(found), file=sys.stderr)
    if with_pandas:
        slow, vectorised, macro = pandas_ways(connection, min(boxes, 200_000))
        found["pandas"] = {
            "apply_s_a_million": slow, "vectorised_s_a_million": vectorised, "macro_s_a_million": macro,
            "apply_ratio": slow / macro, "vectorised_ratio": vectorised / macro,
        }  # fmt: skip
    return found


def measure(quick: bool) -> Iterator[Figure]:
    """The figures of a run as the table of all benchmarks shows them."""
    from tests.benchmarks.figures import Figure

    boxes = 100_000 if quick else 2_000_000
    with tempfile.TemporaryDirectory() as name:
        found = ratios(Path(name), boxes, 1 if quick else 3, with_pandas=True)
    for name, beside, key in (
        ("unsorted", "one join and one sum", "one_sum_s"),
        ("optional", "one join and one sum", "one_sum_s"),
        ("sorted", "the bare scan", "scan_s"),
    ):
        part = found[name]
        what = f"{boxes:,} boxes, {name}"
        met = part["ratio"] <= part["aim"]
        yield Figure(
            what, part["fill_s"], "s", f"{beside}, {part[key]:.3g} s", part["ratio"], f"{part['aim']}", met
        )
    written = found["write_fill"]
    yield Figure(
        "write_fill, peak memory", written["peak_gib"], "GiB", aim="under 4", met=written["peak_gib"] < 4
    )
    for way, aim in (("apply", 100), ("vectorised", 1)):
        ratio = found["pandas"][f"{way}_ratio"]
        seconds = found["pandas"][f"{way}_s_a_million"]
        yield Figure(
            f"pandas {way}, a million boxes", seconds, "s", "the macro", ratio, f"over {aim}", ratio > aim
        )


if __name__ == "__main__":
    main()
