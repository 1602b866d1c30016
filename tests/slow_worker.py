"""`python -m tests.slow_worker`: a worker that answers at once, sleeps, or works, as it is told."""

from __future__ import annotations

import sys
import time
from typing import Any

from jointable.explorer.pipe import answer_forever


def answer(message: dict[str, Any]) -> str:
    """What it was told to do, once that is done."""
    end = time.monotonic() + message["seconds"]
    if message["how"] == "sleep":
        time.sleep(message["seconds"])
    while time.monotonic() < end:
        pass
    return str(message["how"])


if __name__ == "__main__":
    answer_forever(answer, sys.stdin.buffer, sys.stdout.buffer)
