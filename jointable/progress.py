"""How far long work is: a bar on the terminal."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

__all__ = ["Progress", "terminal_progress"]

#: What is told the step and its percentage; 0 where that is not known.
Progress = Callable[[str, float], None]


@contextmanager
def terminal_progress() -> Iterator[Progress | None]:
    """A progress bar on standard error if that is a terminal, else None; it waits two seconds.

    Yields:
        What to tell the step and its percentage, or None.

    Source: none; the form is this project's.

    Example:
        >>> with terminal_progress() as progress:
        ...     progress is None or callable(progress)
        True
    """
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, TextColumn
    from rich.progress import Progress as Bar

    began = time.monotonic()
    columns = (TextColumn("{task.description}"), BarColumn(), TextColumn("{task.fields[told]}"))
    with Bar(*columns, console=Console(stderr=True), transient=True) as shown:
        task = shown.add_task("", total=None, visible=False, told="")

        def tell(step: str, percentage: float) -> None:
            took = int(time.monotonic() - began)
            share = f"{percentage:3.0f} %  " if percentage else ""
            # A bar that only moves, as long as the database does not know how far it is.
            total = 100 if percentage else None
            told = f"{share}{took // 60}:{took % 60:02} min"
            shown.update(
                task, description=step, total=total, completed=percentage, told=told, visible=took >= 2
            )

        yield tell
