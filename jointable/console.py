"""The terminal: width, colour only where it is wanted, and plain ASCII where that is all there is."""

from __future__ import annotations

import codecs
import sys
from typing import TextIO

from rich.console import Console

__all__ = ["console", "prepare_streams"]

#: What a character of ours becomes where the terminal has only ASCII.
PLAIN = {
    "²": "2",
    "³": "3",
    "×": "x",
    "–": "-",
    "—": "-",
    "…": "...",
    "≥": ">=",
    "≤": "<=",
    "°": " deg ",
    "·": "-",
    "→": "->",
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "’": "'",
    "√": "sqrt",
    "π": "pi",
    "−": "-",
    "├": "|",
    "└": "`",
    "─": "-",
    "│": "|",
}


def _plain(error: UnicodeError) -> tuple[str, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text = error.object[error.start : error.end]
    return "".join(PLAIN.get(c, "?") for c in text), error.end


def prepare_streams() -> None:
    """Make standard output and error take any text, whatever their encoding."""
    codecs.register_error("jointable-plain", _plain)
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="jointable-plain")


def console(stream: TextIO | None = None) -> Console:
    """A console for a stream; NO_COLOR and COLUMNS are honoured."""
    target = stream or sys.stdout
    return Console(file=target, highlight=False, soft_wrap=False, emoji=False, markup=False)
