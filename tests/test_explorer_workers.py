"""A worker that is late: too large a question where it worked, too busy a machine where it waited."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from jointable.explorer.workers import BusyError, LateError, Pool


def _run(work: Coroutine[Any, Any, Any]) -> Any:
    """Run in a thread of its own, since a browser of other tests may keep a loop in this one."""
    with ThreadPoolExecutor(1) as threads:
        return threads.submit(asyncio.run, work).result()


async def _asked(*messages: tuple[str, float]) -> list[object]:
    """What one worker says to one message after another; what went wrong stands in its place."""
    pool = Pool("tests.slow_worker", (), 1)
    await pool.start()
    said: list[object] = []
    for how, seconds in messages:
        try:
            said.append(await pool.ask_json({"how": how, "seconds": seconds}, seconds=1.0, wait=20.0))
        except (LateError, BusyError) as error:
            said.append(error)
    await pool.stop()
    return said


@pytest.mark.parametrize(("how", "heavy"), [("work", True), ("sleep", False)])
def test_a_late_worker_is_told_apart_by_its_processor_time(how: str, heavy: bool) -> None:
    late, after = _run(_asked((how, 30.0), ("work", 0.0)))
    assert isinstance(late, LateError)
    assert late.heavy is heavy
    assert after == "work"  # its successor answers


def test_a_taken_worker_is_busy() -> None:
    async def both() -> object:
        pool = Pool("tests.slow_worker", (), 1)
        await pool.start()
        first = asyncio.ensure_future(pool.ask_json({"how": "sleep", "seconds": 0.5}, seconds=5.0))
        await asyncio.sleep(0.1)
        with pytest.raises(BusyError):
            await pool.ask_json({"how": "sleep", "seconds": 0.0}, seconds=1.0, wait=0.05)
        said = await first
        await pool.stop()
        return said

    assert _run(both()) == "sleep"
