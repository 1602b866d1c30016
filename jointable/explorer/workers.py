"""The server's side of its workers: a few processes, each asked one thing at a time, killed when late."""

from __future__ import annotations

import asyncio
import json
import math
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from jointable.explorer import limits
from jointable.explorer.pipe import HEADER, pack

__all__ = ["BusyError", "LateError", "LostError", "Pool"]


#: Seconds between two tries to start a worker that does not.
_REVIVAL_SECONDS = 0.5
#: The share of its time for which a late worker had the processor if the question was too large.
_HEAVY = 0.6


class BusyError(Exception):
    """No worker was free in time: the server is overloaded."""


class LateError(Exception):
    """The worker did not answer in time and was ended.

    Args:
        heavy: Whether it had the processor for most of that time: then the question is too large;
            else the machine is too busy.
    """

    def __init__(self, heavy: bool) -> None:
        super().__init__()
        self.heavy = heavy


class LostError(Exception):
    """The worker ended while it answered, most likely for want of memory."""


class _Worker:
    """One process, and the pipe to it."""

    def __init__(self, command: Sequence[str]) -> None:
        self.command = command
        self.process: asyncio.subprocess.Process | None = None

    async def start(self) -> None:
        """Start the process and wait until it says that it is ready."""
        self.process = await asyncio.create_subprocess_exec(
            *self.command, stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE, env=dict(os.environ)
        )
        await self._read()

    async def ask(self, message: bytes) -> bytes:
        """Its answer to a message; whatever goes wrong, the process is ended."""
        assert self.process is not None
        assert self.process.stdin is not None
        try:
            self.process.stdin.write(message)
            await self.process.stdin.drain()
        except ConnectionError as error:
            await self.end()
            raise LostError from error
        return await self._read()

    async def _read(self) -> bytes:
        assert self.process is not None
        assert self.process.stdout is not None
        try:
            head = await self.process.stdout.readexactly(HEADER.size)
            return await self.process.stdout.readexactly(HEADER.unpack(head)[0])
        except (asyncio.IncompleteReadError, ConnectionError) as error:
            await self.end()
            raise LostError from error
        except BaseException:
            # Also when the request was given up: what the worker still says belongs to nobody.
            await self.end()
            raise

    def used(self) -> float:
        """Seconds of processor time that it had so far; endless where the system does not tell."""
        if self.process is None:
            return math.inf
        try:
            fields = Path(f"/proc/{self.process.pid}/stat").read_text("ascii").rpartition(")")[2].split()
        except (OSError, ValueError):
            return math.inf
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    async def end(self) -> None:
        """End the process."""
        process, self.process = self.process, None
        if process is not None:
            if process.returncode is None:
                process.kill()
            await process.wait()


async def _given_up(asking: asyncio.Future[bytes]) -> None:
    """End what is asked, with its process, if it still runs."""
    if not asking.done():
        asking.cancel()
        await asyncio.wait({asking})


class Pool:
    """Processes of one kind.

    Args:
        module: The module that each runs.
        arguments: What it is started with.
        size: How many there are.
    """

    def __init__(self, module: str, arguments: Sequence[str], size: int) -> None:
        command = [sys.executable, "-m", module, *arguments]
        self.size = size
        self._workers = [_Worker(command) for _ in range(size)]
        self._idle: asyncio.LifoQueue[_Worker] = asyncio.LifoQueue()
        self._revivals: set[asyncio.Task[None]] = set()

    async def start(self) -> None:
        """Start all processes and wait until they are ready.

        Raises:
            LostError: One ended before it was.
        """
        await asyncio.gather(*(worker.start() for worker in self._workers))
        for worker in self._workers:
            self._idle.put_nowait(worker)

    async def stop(self) -> None:
        """End all processes."""
        for revival in list(self._revivals):
            revival.cancel()
        await asyncio.gather(*(worker.end() for worker in self._workers))

    def _give_back(self, worker: _Worker) -> None:
        """A worker that was ended is idle again only when its successor is ready."""
        if worker.process is not None:
            self._idle.put_nowait(worker)
            return
        revival = asyncio.get_running_loop().create_task(self._revive(worker))
        self._revivals.add(revival)
        revival.add_done_callback(self._revivals.discard)

    async def _revive(self, worker: _Worker) -> None:
        while worker.process is None:
            try:
                await worker.start()
            except (LostError, OSError):
                await asyncio.sleep(_REVIVAL_SECONDS)
        self._idle.put_nowait(worker)

    async def ask(self, message: Any, seconds: float, wait: float = limits.WAIT_SECONDS) -> bytes:
        """Ask the first worker that is free.

        Args:
            message: What it is asked, or what gives it once there is a free one.
            seconds: How long it may take.
            wait: How long to wait for a free one.

        Returns:
            Its answer, JSON in UTF-8.

        Raises:
            BusyError: None was free.
            LateError: It took too long.
            LostError: It ended.
        """
        try:
            async with asyncio.timeout(wait):
                worker = await self._idle.get()
        except TimeoutError:
            raise BusyError from None
        before = worker.used()
        asking = asyncio.ensure_future(worker.ask(pack(message() if callable(message) else message)))
        try:
            done, _ = await asyncio.wait({asking}, timeout=seconds)
            if done:
                return await asking
            raise LateError(heavy=not worker.used() - before < _HEAVY * seconds)
        finally:
            await _given_up(asking)
            self._give_back(worker)

    async def ask_json(self, message: Any, seconds: float, wait: float = limits.WAIT_SECONDS) -> Any:
        """The same, with the answer read."""
        return json.loads(await self.ask(message, seconds, wait))
