"""Questions of one kind that wait at the same time, asked in one message.

Planning the one large query of a fill or a joint takes most of its time, however many it is about. While
a worker is busy the next questions gather, and whoever is free takes them all at once. Who comes alone is
asked at once; who comes after a message in company waits a moment for as many as there were, since those who
were answered together ask again together, and the first of them would be asked alone.
"""

from __future__ import annotations

import asyncio
import os
import time
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from jointable.explorer import limits
from jointable.explorer.pipe import AGAIN, ALONE, parted
from jointable.explorer.workers import BusyError, LateError, LostError, Pool

__all__ = ["Batches", "Turns"]


def _future() -> asyncio.Future[Any]:
    return asyncio.get_running_loop().create_future()


def _cores() -> int:
    """How many processors there are for us: on one, two batches at once would only be smaller."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


@dataclass(slots=True)
class _Waiting:
    """One question."""

    parameters: Mapping[str, Any]
    #: Done when a worker took it.
    taken: asyncio.Future[Any] = field(default_factory=_future)
    #: The reply to it.
    answer: asyncio.Future[bytes] = field(default_factory=_future)
    #: Whether nobody else was taken with it.
    alone: bool = False


class Turns:
    """How many messages are answered at once, of whatever kind: as many as there are workers and processors.

    On one processor two would each take twice as long, and hold half as much.

    Args:
        most: The workers.
    """

    def __init__(self, most: int) -> None:
        self._most = most
        self._taken = 0
        self._over = asyncio.Condition()

    @property
    def most(self) -> int:
        """How many at once."""
        return min(self._most, _cores())

    async def __aenter__(self) -> None:
        async with self._over:
            await self._over.wait_for(lambda: self._taken < self.most)
            self._taken += 1

    async def __aexit__(self, *_: object) -> None:
        async with self._over:
            self._taken -= 1
            self._over.notify()


class Batches:
    """Asks a pool about many at once.

    Args:
        pool: The workers.
        name: The question.
        turns: Shared by all that ask the pool so.
    """

    def __init__(self, pool: Pool, name: str, turns: Turns) -> None:
        self.pool = pool
        self.name = name
        self.turns = turns
        self._waiting: deque[_Waiting] = deque()
        self._asking: set[asyncio.Task[None]] = set()
        self._most = limits.TOGETHER[name]
        #: How many the last message held.
        self._before = 1

    async def ask(self, parameters: Mapping[str, Any]) -> bytes:
        """The answer to one question, with others or alone.

        Args:
            parameters: Its parameters.

        Returns:
            The reply of the worker.

        Raises:
            BusyError: No worker was free in time.
            LateError: It took too long.
            LostError: The worker ended.
        """
        since = time.monotonic()
        reply = await self._in_company(parameters, since)
        while reply == AGAIN:
            reply = await self._in_company(parameters, since, first=True)
        if reply != ALONE:
            return reply
        gone = time.monotonic() - since
        message = {"name": self.name, "parameters": dict(parameters)}
        seconds = limits.ANSWER_SECONDS - gone
        return await self.pool.ask(message, seconds, max(limits.WAIT_SECONDS - gone, 0.0))

    async def _in_company(self, parameters: Mapping[str, Any], since: float, *, first: bool = False) -> bytes:
        """The reply of the next message that has room, if there is one in time; `first` goes before the others."""
        one = _Waiting(parameters)
        if first:
            self._waiting.appendleft(one)
        else:
            self._waiting.append(one)
        if len(self._asking) < self.turns.most:
            task = asyncio.get_running_loop().create_task(self._ask_waiting())
            self._asking.add(task)
            task.add_done_callback(self._asking.discard)
        try:
            wait = max(since + limits.TOGETHER_WAIT - time.monotonic(), 0.0)
            done, _ = await asyncio.wait({one.taken}, timeout=wait)
            if not done:
                raise BusyError
            # In company nobody hears late that the machine is busy; alone it has its whole time.
            patience = None if one.alone else max(since + limits.TOGETHER_SECONDS - time.monotonic(), 0.0)
            done, _ = await asyncio.wait({one.answer}, timeout=patience)
            if not done:
                raise BusyError
            return one.answer.result()
        finally:
            one.taken.cancel()  # nobody waits for it any more; nothing, if it was taken
            one.answer.cancel()

    async def _ask_waiting(self) -> None:
        while self._waiting:
            await self._gather()
            together: list[_Waiting] = []
            began = 0.0

            def message(together: list[_Waiting] = together) -> dict[str, Any]:
                nonlocal began
                began = time.monotonic()
                while self._waiting and len(together) < self._most:
                    one = self._waiting.popleft()
                    if not one.taken.cancelled():
                        one.taken.set_result(None)
                        together.append(one)
                for one in together:
                    one.alone = len(together) == 1
                return {"name": self.name, "many": [dict(one.parameters) for one in together]}

            replies: list[bytes] = []
            try:
                async with self.turns:
                    replies = parted(await self.pool.ask(message, limits.ANSWER_SECONDS))
                self._before = len(together)
                self._learn(len(together), time.monotonic() - began)
            except BusyError:
                pass  # none was taken
            except (LateError, LostError) as error:
                # It hits the one that is to blame; of several each is asked alone.
                if len(together) == 1 and not together[0].answer.done():
                    together[0].answer.set_exception(error)
            finally:
                for number, one in enumerate(together):
                    if not one.answer.done():
                        one.answer.set_result(replies[number] if number < len(replies) else ALONE)

    async def _gather(self) -> None:
        """Wait a moment for as many as the last message held, and for those of it that are put off."""
        end = time.monotonic() + limits.TOGETHER_GATHERING
        while self._before > 1:
            await asyncio.sleep(limits.TOGETHER_GATHERING / 10)
            if len(self._waiting) >= min(self._before, self._most) or time.monotonic() > end:
                return

    def _learn(self, number: int, seconds: float) -> None:
        """Take less where a message took long, since the machine is busy with other things, else more again.

        Not less than half: most of the time of a message is spent once, so that small ones cost the more.
        """
        if seconds > limits.TOGETHER_ANSWERING:
            self._most = max(number // 2, limits.TOGETHER[self.name] // 2)
        elif number >= self._most:
            self._most = min(2 * self._most, limits.TOGETHER[self.name])
