"""The errors that users see: one line each, saying what, where, and what would be right."""

from __future__ import annotations

__all__ = ["InputError", "JointableError"]


class JointableError(Exception):
    """Base of every error that this library raises on purpose."""


class InputError(JointableError, ValueError):
    """Input that cannot be answered.

    Args:
        message: What is wrong, and what would be right when `expected` is not given.
        file: The file it stands in, if it came from one.
        row: The row of the file, the header being row 1.
        column: The column or option it concerns.
        value: The value as given.
        expected: What would be right.

    Source: none; this is a form of this project.

    Example:
        >>> print(InputError("no such size", file="a.csv", row=3, column="size", value="13.5",
        ...                  expected="an AWG size such as 12"))
        a.csv:3: size: '13.5': no such size; an AWG size such as 12
    """

    def __init__(
        self,
        message: str,
        *,
        file: str | None = None,
        row: int | None = None,
        column: str | None = None,
        value: object = None,
        expected: str | None = None,
    ) -> None:
        self.message = message
        self.file = file
        self.row = row
        self.column = column
        self.value = value
        self.expected = expected
        super().__init__(str(self))

    def __str__(self) -> str:
        place = self.file or ""
        if self.row is not None:
            place = f"{place}:{self.row}" if place else f"row {self.row}"
        parts = [place] if place else []
        if self.column:
            parts.append(self.column)
        if self.value is not None:
            parts.append(repr(str(self.value)))
        text = self.message if not self.expected else f"{self.message}; {self.expected}"
        return " ".join((": ".join([*parts, text])).split())
