"""`python -m tests.explorer_load [--minutes N]`: how many requests a second the explorer answers.

The server runs on one core and the load generator (wrk, Debian's package) on another, on loopback. Beside
it, in the same run, stands what plain Datasette gives for the same table page. With --minutes a steady
load of 70 per cent of the ceiling follows, with every body checked. Prints Markdown; docs/performance.md
says what was found.
"""

from __future__ import annotations

import argparse
import itertools
import json
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import parse_qsl, quote, urlencode

import jointable
from jointable.explorer.answers import ANSWERS
from jointable.jsonform import dumps
from jointable.reference import database_path
from tests.explorer_support import Explorer, explorer

SECONDS = 8
CONNECTIONS = 32
SERVER_CORE, LOAD_CORE = 0, 1

BOX = "box 4 x 1-1/2 square\n2 cable 12/2\ndevice conductor_size=12\nclamp"

#: Joints, and as many boxes, of the steady load.
STEADY = 400
#: How many different addresses are asked: more than are answered in the time, or than are kept.
DIFFERENT = 6_000


def _joints() -> list[str]:
    """Joints of two sizes, AWG or metric, and up to six conductors; no two questions are alike."""
    systems = (
        ("8", "10", "12", "14", "16", "18", "20"),
        ("0.75 mm2", "1 mm2", "1.5 mm2", "2.5 mm2", "4 mm2"),
    )
    mixes = [
        f"{first}x{one} + {second}x{other}"
        for total in range(2, 7)
        for first in range(1, total)
        for second in (total - first,)
        for sizes in systems
        for one in sizes
        for other in sizes
        if one != other
    ]
    places = ("", "damp", "wet", "burial")
    families = ("", "twist-on", "screwless lever", "screwless push-in")
    return [
        f"/joint.json?{urlencode({'conductors': m, 'location': p, 'family': f})}"
        for f in families
        for p in places
        for m in mixes
    ]


def _boxes() -> list[str]:
    return [
        f"/box.json?brief=1&{urlencode({'items': f'{BOX}{chr(10)}pigtail 12 x {n % 9 + 1}{chr(10)}conductor 14 x {n // 9}'})}"
        for n in range(DIFFERENT)
    ]


DISTINCT = {"joint, JSON, each different": _joints, "fill, JSON, each different": _boxes}
REPEATED = {
    "joint, JSON": "/joint.json?conductors=3x12+%2B+1x14",
    "joint, page": "/joint?conductors=3x12+%2B+1x14",
    "fill, JSON": f"/box.json?brief=1&items={quote(BOX)}",
    "trace, page": "/trace?table=box&key=nec-2023,4+x+1-1/2+square&column=volume_in3",
    "table, page": "/jointable/box",
    "table, JSON": "/jointable/box.json",
}


def wrk(address: str, path: str, distinct: Sequence[str] = ()) -> tuple[float, float, int]:
    """Requests a second, 99th percentile [ms], and answers that were no success."""
    with tempfile.NamedTemporaryFile("w", suffix=".lua") as script:
        command = [
            "taskset",
            "-c",
            str(LOAD_CORE),
            "wrk",
            "-t1",
            f"-c{CONNECTIONS}",
            f"-d{SECONDS}s",
            "--latency",
        ]
        if distinct:
            script.write("paths = {\n" + "".join(f"  {json.dumps(p)},\n" for p in distinct) + "}\nn = 0\n")
            script.write("function request()\nn = n % #paths + 1\nreturn wrk.format('GET', paths[n])\nend\n")
            script.flush()
            command += ["-s", script.name]
        out = subprocess.run(
            [*command, address + ("" if distinct else path)], capture_output=True, text=True, check=True
        ).stdout
    rate = float(re.search(r"Requests/sec:\s+([\d.]+)", out)[1])  # type: ignore[index]
    value, unit = re.search(r"99%\s+([\d.]+)(us|ms|s)", out).groups()  # type: ignore[union-attr]
    failed = re.search(r"Non-2xx or 3xx responses: (\d+)", out)
    return rate, float(value) * {"us": 0.001, "ms": 1, "s": 1000}[unit], int(failed[1]) if failed else 0


@contextmanager
def plain_datasette() -> Iterator[str]:
    """Datasette as it comes, on the same twin."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    twin = database_path().with_suffix(".sqlite")
    process = subprocess.Popen(
        [
            "taskset",
            "-c",
            str(SERVER_CORE),
            sys.executable,
            "-m",
            "datasette",
            "serve",
            "-i",
            str(twin),
            "-p",
            str(port),
        ],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        for _ in range(100):
            try:
                socket.create_connection(("127.0.0.1", port), 0.2).close()
                break
            except OSError:
                time.sleep(0.1)
        yield f"http://127.0.0.1:{port}"
    finally:
        process.terminate()
        process.wait()


def _wanted(paths: Sequence[str]) -> list[tuple[str, bytes]]:
    """Addresses with the body that each must have, from the library itself."""
    found = []
    with jointable.open() as reference:
        for path in paths:
            name, _, query = path[1:].partition(".json?")
            answer = ANSWERS[name](reference, dict(parse_qsl(query)))
            found.append((path, f"{dumps(answer)}\n".encode()))
    return found


def steady(served: Explorer, rate: float, minutes: float) -> str:
    """An open-loop load of joints and boxes by turns, with every body checked, and how memory grew.

    There are more of them than the server keeps answers, so that each is answered anew. Memory counts
    from a tenth of the time on, when every worker holds what it keeps.
    """
    asked = [
        pair
        for both in zip(*(_wanted(of()[:STEADY]) for of in DISTINCT.values()), strict=True)
        for pair in both
    ]
    for path, _ in asked:
        served.ask(path)
    wrong: list[str] = []
    turned: list[float] = []
    taken: list[float] = []
    memory: list[int] = []
    # By then every worker has had its share of questions, and holds what it keeps.
    filled = threading.Timer(minutes * 6, lambda: memory.append(served.memory()))
    filled.start()
    began = time.monotonic()
    threads = 80

    def send(number: int) -> None:
        for turn in itertools.count(number, threads):
            at = began + turn / rate
            if at > began + minutes * 60:
                return
            time.sleep(max(at - time.monotonic(), 0))
            path, wanted = asked[turn % len(asked)]
            reply = served.ask(path)
            # Counted from when it was due, so that a server that falls behind cannot hide it.
            taken.append(time.monotonic() - at)
            if reply.status == 503:
                turned.append(reply.seconds)
            elif reply.status != 200 or reply.body != wanted:
                wrong.append(f"{path}: {reply.status}: {reply.body[:80]!r}")

    workers = [threading.Thread(target=send, args=(n,)) for n in range(threads)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    filled.join()
    growth = (served.memory() - memory[0]) / memory[0] * 100
    late = sorted(taken)[int(len(taken) * 0.99)] * 1000
    return (
        f"{len(taken):,} requests in {minutes:g} minutes at {rate:.0f} a second: {len(wrong)} wrong, "
        f"{len(turned)} turned away, p99 {late:.0f} ms, memory {growth:+.1f} % {wrong[:2] or ''}"
    )


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(prog="python -m tests.explorer_load", description=__doc__)
    parser.add_argument("--minutes", type=float, default=0, help="of steady load")
    minutes = parser.parse_args().minutes
    if shutil.which("wrk") is None or (os.cpu_count() or 1) < 2:
        sys.exit("this needs wrk (apt-get install wrk) and two cores")
    print("| what | requests a second | p99 ms | no success |\n|---|---:|---:|---:|")
    with explorer() as served:
        subprocess.run(
            ["taskset", "-a", "-cp", str(SERVER_CORE), str(served.process.pid)],
            check=True,
            capture_output=True,
        )
        for child in (
            Path(f"/proc/{served.process.pid}/task/{served.process.pid}/children").read_text().split()
        ):
            subprocess.run(["taskset", "-a", "-cp", str(SERVER_CORE), child], check=True, capture_output=True)
        for name, path in REPEATED.items():
            served.ask(path)
            rate, late, failed = wrk(served.address, path)
            print(f"| {name} | {rate:,.0f} | {late:.1f} | {failed} |", flush=True)
        for name, paths in DISTINCT.items():
            rate, late, failed = wrk(served.address, "", paths())
            print(f"| {name} | {rate:,.0f} | {late:.1f} | {failed} |", flush=True)
        if minutes:
            both = [p for pair in zip(*(of() for of in DISTINCT.values()), strict=False) for p in pair]
            rate, _, failed = wrk(served.address, "", both[2 * STEADY :])
            # Those that were turned away are no answers.
            print(steady(served, 0.7 * (rate - failed / SECONDS), minutes))
    with plain_datasette() as address:
        for name, path in (
            ("plain Datasette, table, page", "/jointable/box"),
            ("plain Datasette, table, JSON", "/jointable/box.json"),
        ):
            rate, late, failed = wrk(address, path)
            print(f"| {name} | {rate:,.0f} | {late:.1f} | {failed} |", flush=True)


if __name__ == "__main__":
    main()
