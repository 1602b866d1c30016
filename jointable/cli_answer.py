"""How commands show an answer."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["kept", "print_json", "show"]


def show(answer: Any, as_json: bool, presenter: str) -> None:
    """Print an answer.

    Args:
        answer: The answer, as `--json` prints it.
        as_json: Whether it is printed as JSON.
        presenter: The function of `jointable.present` that shows it otherwise.

    Source: none; a form of this project.
    """
    if as_json:
        print_json(answer)
        return
    from jointable import present
    from jointable.console import console

    show: Callable[..., None] = getattr(present, presenter)
    show(console(), answer)
    # The work comes last, however the answer is shown.
    for one in answer if isinstance(answer, list) else [answer]:
        for line in one.get("work", ()):
            print(line)


def print_json(answer: Any) -> None:
    """Print an answer as JSON.

    Args:
        answer: The answer.

    Source: none; a form of this project.
    """
    from jointable.jsonform import dumps

    print(dumps(answer))


def kept(reference: Reference, answer: Any, command: str, asked: dict[str, Any]) -> dict[str, Any]:
    """The answer with what was asked and of which data, so that it can be rechecked.

    Args:
        reference: The open database.
        answer: The answer.
        command: The command.
        asked: What it was asked.

    Returns:
        The answer with its inputs and the hash of the data.

    Source: none; a form of this project.
    """
    from jointable.saved import saved

    return saved(reference, answer, command, asked)
