"""The command line: each command asks the library one question and prints the answer."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

import jointable
from jointable import cli_chart, cli_check, cli_data, cli_plan, cli_saved
from jointable.cli_answer import kept, print_json, show
from jointable.cli_words import AsJson, Language
from jointable.errors import InputError

if TYPE_CHECKING:
    from jointable.reference import Reference
    from jointable.schedule_form import Schedule

__all__ = ["app", "main"]

app = typer.Typer(
    name="jointable",
    help="Choose the connector for a joint, fit the joint in its box, and see where each figure comes from.",
    epilog=(
        'Examples: jointable joint "3x12 + 1x14 stranded" --location wet; jointable fill boxes.csv; '
        'jointable trace box "nec-2023,4 x 1-1/2 square" volume_in3'
    ),
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Family = Annotated[str | None, typer.Option(help="Only this family, such as twist-on.")]
Grip = Annotated[str | None, typer.Option(help="standard or wide.")]
ShowWork = Annotated[bool, typer.Option("--show-work", help="Each step as a line to follow.")]


@app.command()
def joint(
    text: Annotated[str, typer.Argument(help='The conductors, such as "3x12 + 1x14 stranded".')],
    family: Family = None,
    grip: Grip = None,
    location: Annotated[str | None, typer.Option(help="dry, damp, wet or burial.")] = None,
    temperature: Annotated[str | None, typer.Option(help="Degrees Celsius at the joint.")] = None,
    material_mark: Annotated[str | None, typer.Option(help="cu or al-cu.")] = None,
    pass_through: Annotated[
        bool, typer.Option("--pass-through", help="One grounding conductor goes on through.")
    ] = False,
    reopenable: Annotated[bool, typer.Option("--reopenable", help="It must open again.")] = False,
    voltage: Annotated[str | None, typer.Option(help="Volts of the circuit.")] = None,
    listings: Annotated[Path | None, typer.Option(help="Your own listings, a CSV file.")] = None,
    carry: Annotated[Path | None, typer.Option(help="Choose only from this list, a CSV file.")] = None,
    rank: Annotated[str, typer.Option(help="Order in a family: room, classes or margin.")] = "room",
    edition: Annotated[str | None, typer.Option(help="The edition whose clauses the notes cite.")] = None,
    svg: Annotated[Path | None, typer.Option(help="Write a drawing of the bundle and the ranges.")] = None,
    show_work: ShowWork = False,
    language: Language = None,
    as_json: AsJson = False,
) -> None:
    """Which connector classes take a joint.

    Example: jointable joint "3x12 + 1x14 stranded" --location wet
    """
    asked: dict[str, Any] = {
        "joint": text,
        "family": family,
        "grip": grip,
        "location": location,
        "temperature_c": temperature,
        "material_mark": material_mark,
        "pass_through": pass_through,
        "reopenable": reopenable,
        "voltage": voltage,
        "rank": rank,
        "edition": edition,
    }
    with jointable.open() as reference:
        answer = reference.connectors(**asked, listings=listings, carry=carry)
        if svg is not None:
            _write(svg, answer.svg())
        told = kept(
            reference,
            answer.to_dict(),
            "joint",
            {**asked, "listings": _listings(listings), "carry": _file_text(carry)},
        )
    told = _in(told, language) | (_joint_work(told, language) if show_work else {})
    show(told, as_json, "show_joint")


@app.command("range")
def range_(
    size: Annotated[str, typer.Argument(help="The size of the class, such as 16.")],
    family: Annotated[str, typer.Option(help="The family.")] = "twist-on",
    grip: Annotated[str, typer.Option(help="standard or wide.")] = "standard",
    ways: Annotated[str, typer.Option(help="Ways of a clamp.")] = "2",
    language: Language = None,
    as_json: AsJson = False,
) -> None:
    """What a class takes: the least and the greatest mixes, and how many of each size.

    Example: jointable range 16 --grip wide
    """
    asked: dict[str, Any] = {"size": size, "family": family, "grip": grip, "ways": ways}
    with jointable.open() as reference:
        told = kept(reference, reference.range(**asked), "range", asked)
    show(_in(told, language), as_json, "show_range")


@app.command()
def fill(
    schedule: Annotated[str | None, typer.Argument(help="A schedule file, or - for standard input.")] = None,
    demo: Annotated[
        bool, typer.Option("--demo", help="The invented building that comes with the package.")
    ] = False,
    edition: Annotated[str | None, typer.Option(help="The code edition, such as nec-2023.")] = None,
    output: Annotated[Path | None, typer.Option(help="Write the results: .csv, .parquet or .jsonl.")] = None,
    report: Annotated[Path | None, typer.Option(help="Write an HTML report.")] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Stop at the first bad row.")] = False,
    show_work: ShowWork = False,
    language: Language = None,
    as_json: AsJson = False,
) -> None:
    """Whether each box of a schedule is big enough, line by line with its clause.

    Example: jointable fill boxes.csv --edition nec-2020
    """
    from jointable import fill_command

    if demo == (schedule is not None):
        raise InputError(
            "one schedule is asked for", column="SCHEDULE", value=schedule, expected="a file, - or --demo"
        )
    with jointable.open() as reference:
        done = fill_command.run(reference, None if demo else schedule, edition, output, report, strict)
        told = _boxes(reference, done.results or (), done.schedule, "fill", edition=edition)
    if done.results is not None:
        spoken = _in(told, language)
        for result, one in zip(told, spoken, strict=True) if show_work else ():
            from jointable.plan_work import boxes_work

            one["work"] = boxes_work(result, language)
        show(spoken, as_json, "show_fill")
    for line in done.messages:
        print(line, file=sys.stderr)
    raise typer.Exit(done.exit_code)


@app.command()
def stock(
    schedule: Annotated[str, typer.Argument(help="A schedule file, or - for standard input.")],
    family: Family = None,
    grip: Grip = None,
    spare: Annotated[str, typer.Option(help="Spare allowance in per cent.")] = "0",
    carry: Annotated[Path | None, typer.Option(help="Choose only from this list, a CSV file.")] = None,
    listings: Annotated[Path | None, typer.Option(help="Your own listings, a CSV file.")] = None,
    prices: Annotated[Path | None, typer.Option(help="Your own prices, a CSV file; kept local.")] = None,
    language: Language = None,
    as_json: AsJson = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print the classes as CSV.")] = False,
) -> None:
    """The fewest classes that serve every joint of a schedule, with quantities.

    Example: jointable stock boxes.csv --spare 10
    """
    from jointable.saved import rows_given
    from jointable.schedule import read_schedule

    opened = read_schedule(schedule, in_memory=True)
    asked: dict[str, Any] = {"family": family, "grip": grip, "spare_percent": spare}
    with jointable.open() as reference:
        answer = reference.stock(opened, **asked, prices=prices, carry=carry, listings=listings)
        if not as_csv:
            told = prices.read_text("utf-8-sig") if prices else None
            given = {**asked, "schedule": rows_given(opened.records()), "prices": told}
            given |= {
                "carry": _file_text(carry),
                "listings": _listings(listings) if carry or prices else None,
            }
            told = _in(kept(reference, answer, "stock", given), language)
            if as_json:
                print_json(told)
                return
            from jointable.console import console
            from jointable.present_stock import show_stock

            show_stock(console(), told)
            return
    from jointable.query import Rows
    from jointable.trace import plain

    columns = ["class", "family", "size", "ways", "grip", "variant", "joints", "quantity"]
    rows = [tuple((c | {"size": plain(c["size"])})[n] for n in columns) for c in answer["classes"]]
    print(Rows(columns, rows).csv(), end="")
    for joint in _in(answer, language)["unserved"]:
        print(f"not served: {joint['box']} {joint['joint']}: {joint['reason']}", file=sys.stderr)


@app.command()
def room(
    schedule: Annotated[str, typer.Argument(help="A schedule file, or - for standard input.")],
    edition: Annotated[str | None, typer.Option(help="The code edition, such as nec-2023.")] = None,
    family: Family = None,
    grip: Grip = None,
    present: Annotated[
        str | None, typer.Option("--class", help="The class that the joints are in now, such as twist-on 25.")
    ] = None,
    language: Language = None,
    as_json: AsJson = False,
) -> None:
    """What the contents of each box take physically, an estimate, and what smaller connectors gain.

    Example: jointable room boxes.csv --class "twist-on 25 wide"
    """
    from jointable.saved import rows_given
    from jointable.schedule import read_schedule

    opened = read_schedule(schedule, in_memory=True)
    asked: dict[str, Any] = {"edition": edition, "family": family, "grip": grip, "present": present}
    with jointable.open() as reference:
        found = reference.room(opened, **asked)
        # Which classes are fewest depends on all boxes, so each answer rests on the whole schedule.
        given = {**asked, "schedule": rows_given(opened.records())}
        answer = _in([kept(reference, r.to_dict(), "room", given) for r in found], language)
    if as_json:
        print_json(answer)
        return
    from jointable.console import console
    from jointable.present_room import show_room

    show_room(console(), answer)


cli_data.register(app)
cli_plan.register(app)
cli_check.register(app)
cli_chart.register(app)
cli_saved.register(app)


def _in(answer: Any, language: str | None) -> Any:
    """The answer in a language; as it is where none was asked for."""
    if language is None:
        return answer
    from jointable.language import translated

    return translated(answer, language)


def _joint_work(told: dict[str, Any], language: str | None) -> dict[str, list[str]]:
    """The steps behind the class of a joint, in a language."""
    from jointable.plan_work import joint_work

    return {"work": joint_work(told, language=language)}


def _boxes(
    reference: Reference, results: Sequence[Any], schedule: Schedule | None, command: str, **asked: Any
) -> list[dict[str, Any]]:
    """Answers about boxes, each with the rows of its own box; without them where they are too many to hold."""
    from jointable.saved import rows_given, saved_boxes

    told = [r.to_dict() for r in results]
    if schedule is None or schedule.cells is None:
        return told
    return saved_boxes(reference, told, command, asked, rows_given(schedule.records()))


def _file_text(path: Path | None) -> str | None:
    return path.read_text("utf-8-sig") if path else None


def _listings(path: Path | None) -> str | None:
    """The text of the user's own listings, which an answer rests on as well."""
    from jointable.listings import default_listings

    used = path or default_listings()
    return used.read_text("utf-8-sig") if used else None


def _write(path: Path, text: str) -> None:
    from jointable.files import write_text

    write_text(path, text)


def main(arguments: list[str] | None = None) -> int:
    """Run the command line.

    Args:
        arguments: The words after the program's name; by default those of the process.

    Returns:
        0 answered, 1 some box fails or stays undecided, 2 bad input or usage.

    Source: none; this is a form of this project.

    Example:
        >>> main(["trace", "allowance", "nec-2023,12 AWG", "no_such_column"])
        2
    """
    from jointable.console import prepare_streams

    prepare_streams()
    try:
        words = sys.argv[1:] if arguments is None else arguments
        result = app(args=[_as_typed(w) for w in words], standalone_mode=False, prog_name="jointable")
        sys.stdout.flush()
    except InputError as error:
        print(error, file=sys.stderr)
        return 2
    except BrokenPipeError:
        _discard_output()
        return 0
    except OSError as error:
        if error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO):
            raise
        _discard_output()
        print(f"{error.filename or 'standard output'}: cannot be written ({error.strerror})", file=sys.stderr)
        return 2
    except Exception as error:
        return _usage(error)
    return result if isinstance(result, int) else 0


def _discard_output() -> None:
    """Nobody reads on, or nothing more fits: what is left must not fail again when the process ends."""
    with contextlib.suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _as_typed(word: str) -> str:
    """The word as it was typed in UTF-8, where the locale could not read it (`LC_ALL=C`)."""
    try:
        return os.fsencode(word).decode("utf-8")
    except UnicodeError:
        return word


def _usage(error: Exception) -> int:
    """A wrong option or argument is one line too; anything else is a fault of ours and is shown whole."""
    message = getattr(error, "format_message", None)
    if message is None:
        if type(error).__name__ == "Abort":
            return 2
        if type(error).__module__.startswith(("duckdb", "_duckdb")):
            said = str(error).splitlines()[0]
            what = (
                "a file cannot be written"
                if "ould not write" in said
                else "the question is too large to compute"
            )
            print(f"{what}: {said}", file=sys.stderr)
            return 2
        raise error
    print(message(), file=sys.stderr)
    return 2
