"""The command about saved answers: `recheck`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import jointable

if TYPE_CHECKING:
    from jointable.saved import Recheck

__all__ = ["register"]

#: So many changes are printed; `--json` has them all.
_SHOWN = 20


def register(app: typer.Typer) -> None:
    """Add the command to the command line.

    Args:
        app: The command line.

    Source: none; a form of this project.
    """
    app.command()(recheck)


def recheck(
    answer: Annotated[
        Path, typer.Argument(metavar="ANSWER.json", help="What a command printed with --json.")
    ],
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the answer as JSON and nothing else.")
    ] = False,
) -> None:
    """Whether a saved answer still stands under today's data, and what changed.

    Exit 0: it stands; 1: it does not; 2: it cannot be asked again.

    Example: jointable recheck answer.json
    """
    with jointable.open() as reference:
        found = reference.recheck(answer)
    if as_json:
        from jointable.jsonform import dumps

        print(dumps(found.to_dict()))
    else:
        for line in _lines(found):
            print(line)
    if not found.stands and found.same_data:
        print("the data is the same: the file was edited, or another library computed it", file=sys.stderr)
    raise typer.Exit(0 if found.stands else 1)


def _lines(found: Recheck) -> list[str]:
    answers = f"{found.answers} answer{'s' if found.answers > 1 else ''}"
    data = (
        f"same data {found.data_version}"
        if found.same_data
        else f"data {found.data_then or 'unknown'} then, {found.data_version} today"
    )
    if found.stands:
        return [f"{answers} checked, {data}: it still stands"]
    out = [f"{answers} checked, {data}: {len(found.changes)} values differ"]
    out += [f"{c.path}: was {_told(c.was)}, is {_told(c.now)}" for c in found.changes[:_SHOWN]]
    left = len(found.changes) - _SHOWN
    return [*out, f"and {left} more"] if left > 0 else out


def _told(value: Any) -> str:
    from jointable.jsonform import dumps

    text = "nothing" if value is None else dumps(value, indent=None)
    return text if len(text) <= 60 else text[:57] + "..."
