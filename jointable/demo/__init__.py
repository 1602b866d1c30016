"""An invented building that comes with the package, so that the first question has an answer."""

from __future__ import annotations

from importlib.resources import as_file, files
from pathlib import Path

__all__ = ["NAME", "demo_schedule"]

NAME = "an invented building: a workshop, its yard and a flat above"


def demo_schedule() -> Path:
    """The path of the demo schedule.

    Returns:
        A CSV schedule of invented boxes, some of them overfull on purpose.

    Source: none; every box is invented.

    Example:
        >>> demo_schedule().name
        'schedule.csv'
    """
    # The package is never imported from a zip file, so the file lies where this one does.
    with as_file(files(__package__).joinpath("schedule.csv")) as path:
        return path
