"""`python -m tests.explorer_load [--minutes N]`: how many requests a second the explorer answers.

The server runs on one core and the load generator (wrk, Debian's package) on another, on loopback. Beside
it, in the same run, stands what plain Datasette gives for the same table page. With --minutes a steady
load of 70 per cent of the ceiling follows, with every body checked. Prints Markdown; docs/performance.md
says what was found.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import quote

from jointable.reference import database_path
from tests.explorer_support import Explorer, explorer

SECONDS = 8
CONNECTIONS = 32
SERVER_CORE, LOAD_CORE = 0, 1

BOX = "box 4 x 1-1/2 square\n2 cable 12/2\ndevice conductor_size=12\nclamp"

#: Addresses that are all different, so that no answer is kept: %d counts up.
DISTINCT = {
    "joint, JSON, each different": "/joint.json?conductors=3x12+%%2B+1x14&voltage=%d",
    "fill, JSON, each different": f"/box.json?items={quote(BOX).replace('%', '%%')}%%0Apigtail+12+x+%d",
}
REPEATED = {
    "joint, JSON": "/joint.json?conductors=3x12+%2B+1x14",
    "joint, page": "/joint?conductors=3x12+%2B+1x14",
    "fill, JSON": f"/box.json?items={quote(BOX)}",
    "trace, page": "/trace?table=box&key=nec-2023,4+x+1-1/2+square&column=volume_in3",
    "table, page": "/jointable/box",
    "table, JSON": "/jointable/box.json",
}


def wrk(address: str, path: str, distinct: bool) -> tuple[float, float, int]:
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
            start = int(time.time()) % 1000
            script.write(
                f"n={start}\nfunction request()\nn=n+1\nreturn wrk.format('GET', string.format('{path}', n % 990 + 1))\nend\n"
            )
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


def steady(served: Explorer, rate: float, minutes: float) -> str:
    """An open-loop load with every body checked, and how memory grew."""
    path = REPEATED["joint, JSON"]
    wanted = served.ask(path).body
    wrong: list[str] = []
    sent = 0
    before = served.memory()
    end = time.monotonic() + minutes * 60
    threads = 8

    def send(number: int) -> None:
        nonlocal sent
        start = time.monotonic() + number / rate
        turn = 0
        while time.monotonic() < end:
            wait = start + turn * threads / rate - time.monotonic()
            if wait > 0:
                time.sleep(wait)
            reply = served.ask(path)
            if reply.status != 200 or reply.body != wanted:
                wrong.append(f"{reply.status}: {reply.body[:80]!r}")
            turn += 1
            sent += 1

    workers = [threading.Thread(target=send, args=(n,)) for n in range(threads)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    growth = (served.memory() - before) / before * 100
    return f"{sent:,} requests in {minutes:g} minutes at {rate:.0f} a second: {len(wrong)} wrong, memory {growth:+.1f} %"


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
            rate, late, failed = wrk(served.address, path, distinct=False)
            print(f"| {name} | {rate:,.0f} | {late:.1f} | {failed} |", flush=True)
        for name, path in DISTINCT.items():
            rate, late, failed = wrk(served.address, path, distinct=True)
            print(f"| {name} | {rate:,.0f} | {late:.1f} | {failed} |", flush=True)
        if minutes:
            # A thread of Python asks some 400 times a second; the ceiling of that is what counts here.
            print(steady(served, 280, minutes))
    with plain_datasette() as address:
        for name, path in (
            ("plain Datasette, table, page", "/jointable/box"),
            ("plain Datasette, table, JSON", "/jointable/box.json"),
        ):
            rate, late, failed = wrk(address, path, distinct=False)
            print(f"| {name} | {rate:,.0f} | {late:.1f} | {failed} |", flush=True)


if __name__ == "__main__":
    main()
