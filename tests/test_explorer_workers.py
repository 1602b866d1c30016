"""A worker that is late: too large a question where it worked, too busy a machine where it waited."""

from __future__ import annotations

import asyncio
from collections.abc import Coroutine
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from jointable.explorer.batches import Batches, Turns
from jointable.explorer.pipe import AGAIN, joined
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


class _Counting:
    """A pool that answers at once, and remembers how many questions each message held."""

    size = 1

    def __init__(self, late: int = 0) -> None:
        self.held: list[list[int]] = []
        self.late = late

    async def ask(self, message: Any, _: float) -> bytes:
        asked = [parameters["number"] for parameters in message()["many"]]
        self.held.append(asked)
        put_off, self.late = self.late, 0
        await asyncio.sleep(0.005)
        return joined(AGAIN if n < put_off else b"=" for n in range(len(asked)))


def test_those_who_were_asked_together_are_asked_together_again() -> None:
    pool = _Counting()

    async def rounds() -> None:
        batches = Batches(pool, "box", Turns(pool.size))  # type: ignore[arg-type]
        await asyncio.gather(*(batches.ask({"number": n}) for n in range(8)))

        async def later(number: int) -> None:
            await asyncio.sleep(number / 1000)
            await batches.ask({"number": number})

        await asyncio.gather(*(later(n) for n in range(8)))

    _run(rounds())
    assert [len(held) for held in pool.held] == [8, 8]


def test_a_question_that_was_put_off_goes_first() -> None:
    pool = _Counting(late=1)

    async def crowd() -> None:
        batches = Batches(pool, "box", Turns(pool.size))  # type: ignore[arg-type]
        await asyncio.gather(*(batches.ask({"number": n}) for n in range(70)))

    _run(crowd())
    assert pool.held[0][0] == 0
    assert 0 in pool.held[1][:1]
    assert sorted({n for held in pool.held for n in held}) == list(range(70))
