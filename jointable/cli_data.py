"""The commands about the data itself: `trace`, `sql`, `changes`, `explore`."""

from __future__ import annotations

from typing import Annotated, Any

import typer

import jointable
from jointable.cli_answer import kept, print_json, show
from jointable.cli_words import AsJson

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the commands to the command line.

    Args:
        app: The command line.

    Source: none; a form of this project.
    """
    for command in (trace, sql, changes, explore):
        app.command()(command)


def trace(
    table: Annotated[str, typer.Argument(help="The table.")],
    key: Annotated[str, typer.Argument(help="Primary key values in schema order, as one CSV line.")],
    column: Annotated[str, typer.Argument(help="The column.")],
    as_json: AsJson = False,
) -> None:
    """Where a value was printed, how it got here, and what checks it.

    Example: jointable trace box "nec-2023,4 x 1-1/2 square" volume_in3
    """
    asked: dict[str, Any] = {"table": table, "key": key, "column": column}
    with jointable.open() as reference:
        answer = reference.trace(**asked).to_dict() | {"data_version": reference.data_version}
        told = kept(reference, answer, "trace", asked)
    show(told, as_json, "show_trace")


def sql(
    query: Annotated[str, typer.Argument(help="A query over the published tables.")],
    as_json: AsJson = False,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV.")] = False,
) -> None:
    """Ask the database in SQL, read-only.

    Example: jointable sql "from allowance where edition = 'nec-2023'"
    """
    from jointable import query as asking

    with jointable.open() as reference:
        answer = asking.ask(reference, query)
    if as_csv:
        print(answer.csv(), end="")
        return
    if as_json:
        print_json(answer.records())
        return
    from jointable.console import console
    from jointable.present import show_rows

    show_rows(console(), answer.names, answer.rows)


def changes(
    since: Annotated[
        str | None, typer.Argument(metavar="[FROM]", help="A data version; changes after it.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Which published values changed between releases, and why.

    Example: jointable changes 2026.11.0
    """
    from jointable import query as asking

    with jointable.open() as reference:
        answer = asking.changes(reference, since)
        version = reference.data_version
    if as_json:
        print_json({"data_version": version, "changes": answer.records()})
        return
    from jointable.console import console
    from jointable.present import show_rows

    if answer.rows:
        show_rows(console(), answer.names, answer.rows)
    else:
        print(f"no value has changed{' since ' + since if since else ''}; data {version}")


def explore(
    host: Annotated[str, typer.Option(help="The address to serve on.")] = "127.0.0.1",
    port: Annotated[int, typer.Option(help="The port.", min=0, max=65535)] = 8001,
    no_sql: Annotated[bool, typer.Option("--no-sql", help="No SQL by hand.")] = False,
) -> None:
    """Serve the explorer, read-only: browse, ask and trace in a browser.

    Example: jointable explore --port 8002
    """
    from jointable.explorer import serve

    serve(host, port, sql=not no_sql)
