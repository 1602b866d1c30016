"""The explorer: everything that is published, to browse, ask and trace in a browser, read-only.

Datasette serves the SQLite twin; our plugin adds the pages that answer. See docs/explorer.md.
"""

from __future__ import annotations

from jointable.errors import InputError

__all__ = ["serve"]


def serve(host: str = "127.0.0.1", port: int = 8001, sql: bool = True) -> None:
    """Serve the explorer until the process is interrupted.

    Args:
        host: The address to serve on.
        port: The port; 0 takes a free one, which is printed.
        sql: Whether visitors may write SQL; it runs on the SQLite twin only.

    Raises:
        InputError: Datasette is not installed, the port is taken, or there is no database.

    Source: none; this is a form of this project.

    Example:
        >>> serve(host="no.such.host.invalid")
        Traceback (most recent call last):
        ...
        jointable.errors.InputError: --host, --port: 'no.such.host.invalid:8001': cannot serve there ...
    """
    try:
        from jointable.explorer.app import run
    except ModuleNotFoundError as error:
        raise InputError(
            f"the explorer needs {error.name}", column="explore", expected="pip install 'jointable[explore]'"
        ) from None
    run(host, port, sql)
