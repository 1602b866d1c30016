"""Where a value of a plan stands: the file and the line, which the TOML reader does not tell."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from jointable.errors import InputError

__all__ = ["NOWHERE", "Where"]


@dataclass(frozen=True, slots=True)
class Where:
    """A place in a plan, to tell of: the file, its text, and the line at which a table begins."""

    file: str | None
    text: str
    line: int = 0

    def part(self, key: str, number: int) -> Where:
        """The place of the so-manyth table `key` after this one."""
        if not self.text:
            return self
        starts = [0]
        for line in self.text.splitlines(keepends=True):
            starts.append(starts[-1] + len(line))
        begin = starts[self.line - 1] if self.line else 0
        plain = re.compile(rf"^\s*\[\[\s*(?:\w+\s*\.\s*)*{key}\s*\]\]", re.MULTILINE)
        found = [m.start() for m in plain.finditer(self.text, begin)]
        if not found:
            at = re.compile(rf"^\s*{key}\s*=", re.MULTILINE).search(self.text, begin)
            found = (
                [m.start() for m in re.finditer(r"(?<=[\[,])\s*\{", self.text[at.start() :])] if at else []
            )
            found = [f + at.start() for f in found] if at else []
        if number >= len(found):
            return self
        place = found[number]
        place += len(self.text[place:]) - len(self.text[place:].lstrip())
        return Where(self.file, self.text, self.text.count("\n", 0, place) + 1)

    def error(self, key: str | None, value: Any, what: str, right: str) -> InputError:
        """The one line about a value of this table."""
        return InputError(
            what, file=self.file, row=self._line_of(key, value), column=key, value=value, expected=right
        )

    def _line_of(self, key: str | None, value: Any) -> int | None:
        """The first line from here that holds the key, else where the table begins."""
        if self.file is None:
            return None
        lines = self.text.splitlines()
        begin = max(self.line, 1)
        if key:
            pattern = re.compile(rf"(?<![\w.-])['\"]?{re.escape(key)}['\"]?\s*=")
            with_value = [n for n, line in enumerate(lines[begin - 1 :], begin) if pattern.search(line)]
            said = [n for n in with_value if str(value) in lines[n - 1]]
            if said or with_value:
                return (said or with_value)[0]
        return begin


#: The place of what came from Python, which has no file.
NOWHERE = Where(None, "")
