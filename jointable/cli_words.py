"""Options that several commands share."""

from __future__ import annotations

from typing import Annotated

import typer

__all__ = ["AsJson", "Language"]

AsJson = Annotated[bool, typer.Option("--json", help="Print the answer as JSON and nothing else.")]


def _known(language: str | None) -> str | None:
    """The language as it is called, told before anything is computed or written."""
    from jointable.demands import one_of
    from jointable.language import LANGUAGES

    return one_of(language, LANGUAGES, "language")


Language = Annotated[
    str | None,
    typer.Option(help="en, fr or es: reasons, notes, assumptions and cautions.", callback=_known),
]
