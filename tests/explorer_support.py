"""A running explorer for the tests: the real command in a process of its own, asked over HTTP."""

from __future__ import annotations

import http.client
import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from jointable.explorer.headers import SECURITY

ROOT = Path(__file__).resolve().parent.parent

#: Headers that every answer must carry, whatever it is.
REQUIRED = {name.decode(): value.decode() for name, value in SECURITY}


@dataclass
class Reply:
    """What came back."""

    status: int
    headers: dict[str, str]
    body: bytes
    seconds: float

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode("utf-8")


@dataclass
class Explorer:
    """An explorer that runs."""

    process: subprocess.Popen[str]
    address: str
    log: list[str] = field(default_factory=list)

    def ask(
        self,
        path: str,
        method: str = "GET",
        body: bytes | None = None,
        headers: dict[str, str] | None = None,
        timeout: float = 10,
    ) -> Reply:
        """Send one request exactly as written, and check that its answer carries every header."""
        place = urlsplit(self.address)
        connection = http.client.HTTPConnection(str(place.hostname), place.port, timeout=timeout)
        started = time.perf_counter()
        try:
            own_host = "host" in (headers or {})
            connection.putrequest(method, path, skip_host=own_host, skip_accept_encoding=True)
            for name, value in (headers or {}).items():
                connection.putheader(name, value)
            if body is not None:
                connection.putheader("content-length", str(len(body)))
            connection.endheaders(body)
            answer = connection.getresponse()
            found = Reply(
                answer.status,
                {k.lower(): v for k, v in answer.getheaders()},
                answer.read(),
                time.perf_counter() - started,
            )
        finally:
            connection.close()
        missing = {n for n, v in REQUIRED.items() if found.headers.get(n) != v}
        assert not missing, f"{method} {path[:200]}: without {missing}"
        return found

    def ask_until(
        self, good: Callable[[Reply], bool], path: str, *asked: Any, seconds: float = 30, pause: float = 0.3
    ) -> Reply:
        """Ask again until an answer is good, as a busy server asks of its visitors; the last answer."""
        end = time.monotonic() + seconds
        while not good(found := self.ask(path, *asked)) and time.monotonic() < end:
            time.sleep(pause)
        return found

    def memory(self) -> int:
        """Bytes of memory that the server and its workers hold, shared pages counted once."""
        return sum(_held(pid) for pid in (self.process.pid, *_children(self.process.pid)))


def _children(pid: int) -> list[int]:
    try:
        return [int(p) for p in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except FileNotFoundError:
        return []


def _held(pid: int) -> int:
    try:
        found = re.search(r"^Pss:\s+(\d+) kB", Path(f"/proc/{pid}/smaps_rollup").read_text(), re.MULTILINE)
    except (FileNotFoundError, ProcessLookupError, PermissionError):
        return 0
    return int(found[1]) * 1024 if found else 0


@contextmanager
def explorer(*options: str) -> Iterator[Explorer]:
    """Start the command, wait until it serves, and end it afterwards."""
    process = subprocess.Popen(
        [sys.executable, "-m", "jointable", "explore", "--port", "0", *options],
        stderr=subprocess.PIPE,
        stdout=subprocess.DEVNULL,
        text=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )
    assert process.stderr is not None
    log: list[str] = []
    address = ""
    for line in process.stderr:
        log.append(line)
        if found := re.search(r"http://\S+", line):
            address = found[0]
            break
    if not address:
        raise RuntimeError("the explorer did not start:\n" + "".join(log))
    stream = process.stderr
    threading.Thread(target=lambda: log.extend(stream), daemon=True).start()
    try:
        yield Explorer(process, address, log)
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
