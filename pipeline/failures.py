"""What is said when something is wrong: one line, naming file, row, column, value and the remedy."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["BuildError", "Failure"]


@dataclass(frozen=True, slots=True)
class Failure:
    """One thing that stops a build.

    `file` is relative to the project, as `raw/name.csv`; `line` counts from 1, the header being 1.
    """

    file: str
    line: int | None
    column: str
    value: str
    check_id: str
    expected: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        text = f"{place}: {self.column}: {self.value!r}: {self.check_id}: {self.expected}"
        return " ".join(text.split())


class BuildError(Exception):
    """The build stops; nothing is published.

    Args:
        failures: Every failure found in the stage that stopped.
    """

    def __init__(self, failures: Iterable[Failure]) -> None:
        self.failures = tuple(failures)
        super().__init__("\n".join(str(failure) for failure in self.failures))
