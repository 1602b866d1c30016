"""The server's side of its workers: a few processes, each asked one thing at a time, killed when late."""

from __future__ import annotations

import asyncio
import json
import os
import sys
from collections.abc import Sequence
from typing import Any

from jointable.explorer import limits
from jointable.explorer.pipe import HEADER, pack

__all__ = ["BusyError", "LateError", "LostError", "Pool"]


class BusyError(Exception):
    """No worker was free in time: the server is overloaded."""


class LateError(Exception):
    """The worker did not answer in time and was ended."""


class LostError(Exception):
    """The worker ended while it answered, most likely for want of memory."""


class _Worker:
    def __init__(self, command: Sequence[str]) -> None:
        self.command = command
        self.process: asyncio.subprocess.Process | None = None

    async def start(self) -> None:
        self.process = await asyncio.create_subprocess_exec(
            *self.command, stdin=asyncio.subprocess.PIPE, stdout=asyncio.subprocess.PIPE, env=dict(os.environ)
        )

    async def ask(self, message: bytes) -> bytes:
        if self.process is None or self.process.returncode is not None:
            await self.start()
        process = self.process
        assert process is not None
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            process.stdin.write(message)
            await process.stdin.drain()
            head = await process.stdout.readexactly(HEADER.size)
            return await process.stdout.readexactly(HEADER.unpack(head)[0])
        except (asyncio.IncompleteReadError, ConnectionError) as error:
            await self.end()
            raise LostError from error
        except BaseException:
            # Also when the request was given up: what the worker still says belongs to nobody.
            await self.end()
            raise

    async def end(self) -> None:
        process, self.process = self.process, None
        if process is not None:
            if process.returncode is None:
                process.kill()
            await process.wait()


class Pool:
    """Processes of one kind.

    Args:
        module: The module that each runs.
        arguments: What it is started with.
        size: How many there are.
    """

    def __init__(self, module: str, arguments: Sequence[str], size: int) -> None:
        command = [sys.executable, "-m", module, *arguments]
        self._workers = [_Worker(command) for _ in range(size)]
        self._idle: asyncio.LifoQueue[_Worker] = asyncio.LifoQueue()
        for worker in self._workers:
            self._idle.put_nowait(worker)

    async def start(self) -> None:
        """Start all processes."""
        await asyncio.gather(*(worker.start() for worker in self._workers))

    async def stop(self) -> None:
        """End all processes."""
        await asyncio.gather(*(worker.end() for worker in self._workers))

    async def ask(self, message: Any, seconds: float, wait: float = limits.WAIT_SECONDS) -> bytes:
        """Ask the first worker that is free.

        Args:
            message: What it is asked.
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
        try:
            async with asyncio.timeout(seconds):
                return await worker.ask(pack(message))
        except TimeoutError:
            raise LateError from None
        finally:
            self._idle.put_nowait(worker)

    async def ask_json(self, message: Any, seconds: float, wait: float = limits.WAIT_SECONDS) -> Any:
        """The same, with the answer read."""
        return json.loads(await self.ask(message, seconds, wait))
