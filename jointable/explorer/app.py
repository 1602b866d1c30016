"""Putting the explorer together: the files, the workers, Datasette with our plugin, the server."""

from __future__ import annotations

import asyncio
import logging
import socket
import sys
import tomllib
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import uvicorn
from datasette.app import Datasette
from datasette.plugins import pm

from jointable.errors import InputError
from jointable.explorer import limits, plugin
from jointable.explorer.batches import Batches, Turns
from jointable.explorer.pipe import opened
from jointable.explorer.protocol import protocol
from jointable.explorer.render import HERE, TEMPLATES, parsed
from jointable.explorer.site import LOG, Site, downloads_of
from jointable.explorer.tables import DATABASE, metadata
from jointable.explorer.twin import TwinDatabase
from jointable.explorer.workers import LostError, Pool
from jointable.reference import database_path

__all__ = ["application", "open_site", "run", "twin_path"]

#: What the database must answer before anything is served.
_SHUT = {"enable_external_access": "false", "lock_configuration": "true", "access_mode": "read_only"}

_SETTINGS = {
    "default_page_size": 100,
    "max_returned_rows": limits.SQL_ROWS,
    "sql_time_limit_ms": limits.SQL_MILLISECONDS,
    "facet_time_limit_ms": 200,
    "facet_suggest_time_limit_ms": 50,
    "suggest_facets": False,
    "allow_download": False,
    "allow_csv_stream": True,
    "max_csv_mb": 16,
    "truncate_cells_html": 600,
    "default_cache_ttl": 0,
    "template_debug": False,
    "trace_debug": False,
}


class Explorer(Datasette):  # type: ignore[misc]
    """Datasette on the twin alone.

    Args:
        site: What `open_site` gives; the plugin finds it here.
    """

    def __init__(self, site: Site) -> None:
        self.jointable = site
        super().__init__(
            [],
            metadata=metadata(site.catalogue),
            settings={**_SETTINGS, "default_allow_sql": site.sql},
            template_dir=str(TEMPLATES),
        )
        self.remove_database("_memory")
        twin = TwinDatabase(self, str(site.twin), site.pages, site.free)
        self.add_database(twin, name=DATABASE)

    def absolute_url(self, request: Any, path: str) -> str:
        """An address in a page stays in it, whatever host and scheme led there; JSON names the whole one."""
        return str(super().absolute_url(request, path)) if request.path.endswith(".json") else path


def twin_path(database: Path) -> Path:
    """The SQLite twin beside a DuckDB file.

    Args:
        database: The DuckDB file.

    Returns:
        The path of an existing file.

    Raises:
        InputError: There is none.
    """
    twin = database.with_suffix(".sqlite")
    if not twin.is_file():
        raise InputError(
            "there is no SQLite twin beside the database",
            column="database",
            value=str(twin),
            expected="run `make build`, which writes both",
        )
    return twin


@asynccontextmanager
async def open_site(database: Path | None = None, sql: bool = True) -> AsyncIterator[Site]:
    """Start the workers and read what is published.

    Args:
        database: The DuckDB file; by default the one that `jointable.open` takes.
        sql: Whether visitors may write SQL.

    Yields:
        The site; its workers end with it.

    Raises:
        InputError: A file is missing, or the database cannot be locked.
    """
    place = database_path(database).resolve()
    twin = twin_path(place)
    module = "jointable.explorer"
    answers = Pool(f"{module}.answer_worker", [str(place)], 2)
    pages = Pool(f"{module}.sql_worker", [str(twin)], 2)
    free = Pool(f"{module}.sql_worker", [str(twin)], 1)
    try:
        await _started(answers, pages, free)
        shut = await _first(answers, "settings")
        if shut != _SHUT:
            raise InputError("the database is not shut to the outside", column="database", value=str(shut))
        catalogue = await _first(answers, "catalogue")
        catalogue["tables"] = await _in_twin(pages, catalogue["tables"])
        queries = tomllib.loads((HERE / "queries.toml").read_text("utf-8"))
        audit = await _first(answers, "audit")
        files = downloads_of(place, twin)
        site = Site(place, twin, answers, pages, free, sql, catalogue, files, queries, audit)
        turns = Turns(answers.size)
        site.batches = {name: Batches(answers, name, turns) for name in ("joint", "box")}
        try:
            yield site
        finally:
            site.close()
    finally:
        await asyncio.gather(answers.stop(), pages.stop(), free.stop())


async def _started(*pools: Pool) -> None:
    try:
        await asyncio.gather(*(pool.start() for pool in pools))
    except LostError:
        raise InputError(
            "the database cannot be opened", column="database", expected="see the message above"
        ) from None


async def _in_twin(pages: Pool, tables: dict[str, Any]) -> dict[str, Any]:
    """The tables that the twin has too; what the macros keep for themselves is no page."""
    message = {"sql": "select name from sqlite_master", "params": [], "milliseconds": 5_000, "rows": None}
    names = {row[0] for row in (await pages.ask_json(message, seconds=10, wait=10))["rows"]}
    return {name: table for name, table in tables.items() if name in names}


async def _first(pool: Pool, name: str) -> Any:
    """What the answer worker says before anything is served; it may take its time."""
    reply = opened(await pool.ask({"name": name, "parameters": {}}, seconds=60, wait=60))
    if "json" not in reply:
        raise InputError("the database cannot be read", column="database", value=str(reply))
    return parsed(reply["json"])


def application(site: Site) -> Any:
    """The explorer as an ASGI application.

    Args:
        site: What `open_site` gives.

    Returns:
        Datasette on the twin, with our plugin around it.
    """
    # Datasette's own pages of errors say more than they should.
    for name in ("datasette.handle_exception", "datasette.forbidden"):
        known = pm.get_plugin(name)
        if known is not None:
            pm.unregister(known)
    if not pm.is_registered(plugin):
        pm.register(plugin, "jointable.explorer.plugin")
    datasette = Explorer(site)
    return datasette.app()


def run(host: str, port: int, sql: bool) -> None:
    """Serve until the process is interrupted; see `jointable.explorer.serve`."""
    logging.basicConfig(level=logging.INFO, format="%(message)s", stream=sys.stderr)
    listening = _listen(host, port)
    limits.limit_memory(limits.SERVER_MEMORY)
    try:
        with asyncio.Runner(loop_factory=_fast_loop()) as runner:
            runner.run(_serve(listening, sql))
    except KeyboardInterrupt:
        pass
    finally:
        listening.close()


def _fast_loop() -> Any:
    """The event loop in C, where it is installed."""
    try:
        import uvloop
    except ImportError:
        return None
    return uvloop.new_event_loop


async def _serve(listening: socket.socket, sql: bool) -> None:
    async with open_site(sql=sql) as site:
        config = uvicorn.Config(
            application(site),
            log_level="warning",
            access_log=False,
            server_header=False,
            date_header=True,
            timeout_keep_alive=5,
            h11_max_incomplete_event_size=2 * limits.ADDRESS_BYTES,
            lifespan="off",
            http=protocol(),
            ws="none",
            proxy_headers=False,
        )
        host, port = listening.getsockname()[:2]
        shown = f"[{host}]" if ":" in host else host
        LOG.info("Jointable %s at http://%s:%s (Ctrl-C ends it)", site.data_version, shown, port)
        await uvicorn.Server(config).serve(sockets=[listening])


def _listen(host: str, port: int) -> socket.socket:
    try:
        family, kind, protocol, _, place = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        listening = socket.socket(family, kind, protocol)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(place)
        listening.listen(512)
    except OSError as error:
        raise InputError(
            f"cannot serve there ({error.strerror or error})",
            column="--host, --port",
            value=f"{host}:{port}",
            expected="a free port of this machine",
        ) from None
    listening.setblocking(False)
    return listening
