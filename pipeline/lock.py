"""One build at a time: a lock beside the folder that is written."""

from __future__ import annotations

import fcntl
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["locked"]


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the lock of a folder; a second build waits until the first is done.

    The lock file lies beside the folder and is empty; the system drops the lock with the process.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    with (folder.parent / f".{folder.name}-lock").open("w") as handle:
        fcntl.flock(handle, fcntl.LOCK_EX)
        yield
