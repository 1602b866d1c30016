"""The command about what is there already: `check`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

import jointable
from jointable.cli_words import Language
from jointable.errors import InputError

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command to the command line.

    Args:
        app: The command line.

    Source: none; a form of this project.
    """
    app.command()(check)


def check(
    source: Annotated[
        str, typer.Argument(metavar="CONDUCTORS|FILE.toml|-", help="A joint as found, or opened boxes.")
    ],
    in_class: Annotated[
        str | None, typer.Option("--class", help="The class it is in, such as twist-on 16.")
    ] = None,
    listing: Annotated[str | None, typer.Option(help="The connector of your listings that it is in.")] = None,
    add: Annotated[str | None, typer.Option(help="Conductors to add, such as 1x12.")] = None,
    remove: Annotated[str | None, typer.Option(help="Conductors to take out.")] = None,
    new: Annotated[bool, typer.Option("--new", help="The changed joint gets a new connector.")] = False,
    reused: Annotated[bool, typer.Option("--reused", help="The connector was in use before.")] = False,
    kind: Annotated[
        str | None, typer.Option(help="hot, neutral, ground, traveller, switched or other.")
    ] = None,
    location: Annotated[str | None, typer.Option(help="dry, damp, wet or burial.")] = None,
    temperature: Annotated[str | None, typer.Option(help="Degrees Celsius at the joint.")] = None,
    voltage: Annotated[str | None, typer.Option(help="Volts of the circuit.")] = None,
    free: Annotated[str | None, typer.Option(help="Free conductor in mm.")] = None,
    listings: Annotated[Path | None, typer.Option(help="Your own listings, a CSV file.")] = None,
    edition: Annotated[str | None, typer.Option(help="The code edition, such as nec-2023.")] = None,
    language: Language = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the answer as JSON and nothing else.")
    ] = False,
) -> None:
    """What is wrong with a joint or box as found, and with what it becomes.

    Example: jointable check "3x12" --class "twist-on 10" --add 1x12
    """
    from jointable.language import translated
    from jointable.listings import default_listings
    from jointable.plan_read import TomlText, pattern_or_file
    from jointable.saved import saved

    own: dict[str, Any] = {
        "class": in_class, "listing": listing, "add": add, "remove": remove, "new": new, "reused": reused, "kind": kind,
        "location": location, "temperature_c": temperature, "voltage": voltage, "free_mm": free,
    }  # fmt: skip
    given = {key: value for key, value in own.items() if value not in (None, False)}
    asked: Any = source
    if source == "-" or source.lower().endswith(".toml"):
        if given:
            key = next(iter(given))
            raise InputError(
                "a file says this itself", column=key, value=given[key], expected=f"{key} in its [[joint]]"
            )
    else:
        asked = {"joint": [{"conductors": source, **given}]}
    if asked is source:
        asked = TomlText(*pattern_or_file(source, None))
        given = {"toml": asked.text}
    else:
        given = {"conductors": source, **given}
    used = listings or default_listings()
    if used is not None:
        given["listings"] = used.read_text("utf-8-sig") if used.is_file() else None
    with jointable.open() as reference:
        answer = reference.check(asked, edition, listings=used)
        told = translated(
            saved(reference, answer.to_dict(), "check", {**given, "edition": edition}), language
        )
    if as_json:
        from jointable.jsonform import dumps

        print(dumps(told))
    else:
        from jointable.console import console
        from jointable.present_check import show_check

        show_check(console(), told)
    raise typer.Exit(0 if answer.sound else 1)
