"""The command that prints the chart of a family."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

import jointable
from jointable.cli_words import Language

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command to the command line.

    Args:
        app: The command line.

    Source: none; a form of this project.
    """
    app.command()(chart)


def chart(
    family: Annotated[str, typer.Option(help="The family.")] = "twist-on",
    grip: Annotated[
        str | None, typer.Option(help="standard or wide; unsaid, whichever takes less room.")
    ] = None,
    sizes: Annotated[str, typer.Option(help="awg or mm2.")] = "awg",
    edition: Annotated[str | None, typer.Option(help="The code edition, such as nec-2023.")] = None,
    svg: Annotated[Path | None, typer.Option(help="Write a sheet to print.")] = None,
    paper: Annotated[str, typer.Option(help="a4, letter, or pocket (A6, folded once).")] = "a4",
    language: Language = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the answer as JSON and nothing else.")
    ] = False,
) -> None:
    """The smallest class for so many conductors of one size, for a whole family.

    Example: jointable chart --family twist-on --svg chart.svg --paper pocket
    """
    from jointable.chart_sheet import PAPERS
    from jointable.demands import one_of
    from jointable.language import translated
    from jointable.saved import saved

    one_of(paper, tuple(PAPERS), "paper")
    asked: dict[str, Any] = {"family": family, "grip": grip, "sizes": sizes, "edition": edition}
    with jointable.open() as reference:
        answer = translated(saved(reference, reference.chart(**asked), "chart", asked), language)
    if svg:
        from jointable.chart_sheet import chart_svg
        from jointable.files import write_text

        write_text(svg, chart_svg(answer, paper))
    if as_json:
        from jointable.jsonform import dumps

        print(dumps(answer))
        return
    from jointable.console import console
    from jointable.present_chart import show_chart

    show_chart(console(), answer)
