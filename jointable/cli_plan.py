"""The commands about whole boxes: `plan` and `exercise`."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import jointable
from jointable.cli_words import Language
from jointable.errors import InputError

if TYPE_CHECKING:
    from jointable.plan import Plan

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the commands to the command line.

    Args:
        app: The command line.

    Source: none; a form of this project.
    """
    app.command()(plan)
    app.command()(exercise)


def plan(
    source: Annotated[
        str | None, typer.Argument(metavar="FILE.toml|-", help="What enters each box, and its devices.")
    ] = None,
    pattern: Annotated[
        str | None, typer.Option(help="A ready pattern in place of a file; `list` names them all.")
    ] = None,
    edition: Annotated[str | None, typer.Option(help="The code edition, such as nec-2023.")] = None,
    family: Annotated[str | None, typer.Option(help="The family, twist-on unless said.")] = None,
    grip: Annotated[str | None, typer.Option(help="standard or wide.")] = None,
    carry: Annotated[Path | None, typer.Option(help="Choose only from this list, a CSV file.")] = None,
    listings: Annotated[Path | None, typer.Option(help="Your own listings, a CSV file.")] = None,
    output: Annotated[Path | None, typer.Option(help="Write an ordinary schedule, a CSV file.")] = None,
    svg: Annotated[Path | None, typer.Option(help="Write a line diagram of the first box.")] = None,
    label: Annotated[Path | None, typer.Option(help="Write labels to print, an HTML file.")] = None,
    record: Annotated[Path | None, typer.Option(help="Write the as-built record, a CSV file.")] = None,
    date: Annotated[str | None, typer.Option(help="Date on labels and record, such as 2026-11-25.")] = None,
    show_work: Annotated[bool, typer.Option("--show-work", help="Each step as a line to follow.")] = False,
    language: Language = None,
    as_json: Annotated[
        bool, typer.Option("--json", help="Print the answer as JSON and nothing else.")
    ] = False,
) -> None:
    """One box whole: joints, classes, fill, smallest box and room, from cables and devices.

    Example: jointable plan --pattern receptacle-feed-through
    """
    from jointable.files import write_text
    from jointable.jsonform import dumps
    from jointable.language import translated
    from jointable.plan_read import pattern_names, pattern_or_file, plan_of_text
    from jointable.plan_work import work_of_plan
    from jointable.saved import saved

    if pattern == "list" and source is None:
        print(dumps(pattern_names()) if as_json else "\n".join(pattern_names()))
        return
    if (source is None) == (pattern is None):
        raise InputError(
            "one plan is asked for", column="FILE", value=source, expected="a TOML file, - or --pattern NAME"
        )
    with jointable.open() as reference:
        text, name = pattern_or_file(source, pattern)
        boxes = plan_of_text(reference, text, name)
        options: dict[str, Any] = {"family": family, "grip": grip}
        answer = reference.plan(boxes, edition, **options, carry=carry, listings=listings)
        given = {"toml": text, "edition": edition, **options, **_carried(carry, listings)}
        told = translated(saved(reference, answer.to_dict(), "plan", given), language)
        work = work_of_plan(reference, answer.to_dict(), language) if show_work else {}
    for path, text in _files(answer, output, svg, label, record, date, language):
        write_text(path, text)
        print(f"{path}: written", file=sys.stderr)
    if as_json:
        print(dumps(told | ({"work": work} if show_work else {})))
    else:
        from jointable.console import console
        from jointable.present_plan import show_plan

        show_plan(console(), told, work)
    raise typer.Exit(0 if answer.passes else 1)


def _carried(carry: Path | None, listings: Path | None) -> dict[str, str | None]:
    """The texts of what is carried and of the listings that it names."""
    from jointable.listings import default_listings

    used = listings or default_listings() if carry else None
    return {
        "carry": carry.read_text("utf-8-sig") if carry else None,
        "listings": used.read_text("utf-8-sig") if used else None,
    }


def _files(
    answer: Plan,
    output: Path | None,
    svg: Path | None,
    label: Path | None,
    record: Path | None,
    date: str | None,
    language: str | None,
) -> list[tuple[Path, str]]:
    """What to write, all of it made before anything is written."""
    from jointable.plan_draw import plan_svg
    from jointable.plan_label import labels_html, record_csv
    from jointable.plan_schedule import schedule_csv

    given = [p.resolve() for p in (output, svg, label, record) if p is not None]
    if len(set(given)) < len(given):
        raise InputError(
            "two outputs are one file", column="output", value=output, expected="a file for each"
        )
    out: list[tuple[Path, str]] = []
    if output is not None:
        if output.suffix.lower() != ".csv":
            raise InputError(
                "a schedule is written as CSV",
                column="output",
                value=output,
                expected="a name ending in .csv",
            )
        out.append((output, schedule_csv(answer.schedule)))
    if svg is not None:
        out.append((svg, plan_svg(answer.boxes[0].to_dict(), standalone=True, language=language)))
    if label is not None:
        out.append((label, labels_html(answer, date, language)))
    if record is not None:
        out.append((record, record_csv(answer, date)))
    return out


def exercise(
    seed: Annotated[int, typer.Option(help="Which exercises; the same seed gives the same ones.")] = 1,
    count: Annotated[int, typer.Option(min=1, max=50, help="How many.")] = 6,
    answers: Annotated[bool, typer.Option("--answers", help="With worked answers.")] = False,
    edition: Annotated[str | None, typer.Option(help="The code edition, such as nec-2023.")] = None,
    output: Annotated[Path | None, typer.Option(help="Write them to print, an HTML file.")] = None,
    language: Language = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON and nothing else.")] = False,
) -> None:
    """Exercises in joints and box fill, with worked answers, to print.

    Example: jointable exercise --seed 7 --answers
    """
    from jointable.exercise import exercise_dict, exercise_html, exercise_text, exercises
    from jointable.files import write_text
    from jointable.jsonform import dumps

    if output is not None and output.suffix.lower() not in (".html", ".htm"):
        raise InputError(
            "exercises are written as HTML",
            column="output",
            value=output,
            expected="a name ending in .html; without --output they are printed as text",
        )
    with jointable.open() as reference:
        made = exercises(reference, seed, count, edition, language)
        version = reference.data_version
    if output is not None:
        write_text(output, exercise_html(made, seed, version, answers, language))
        print(f"{output}: written", file=sys.stderr)
        if not as_json:
            return
    if as_json:
        print(dumps(exercise_dict(made, seed, version, answers, language)))
        return
    print(exercise_text(made, seed, version, answers, language))
