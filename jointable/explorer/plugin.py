"""Our Datasette plugin: pages, names for templates, descriptions, queries, and what is shut off.

The hooks are those that Datasette 0.65 and the coming 1.0 share.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from datasette import hookimpl
from datasette.utils.asgi import Base400, Forbidden, NotFound, Response
from datasette.views.base import DatasetteError

from jointable.explorer.guard import Guard
from jointable.explorer.pages import ROUTES
from jointable.explorer.render import figure, filters_of, globals_of
from jointable.explorer.site import LOG, PageError, Site
from jointable.explorer.tables import cells, columns_of, row_address
from jointable.explorer.workers import BusyError

__all__: list[str] = []

DATABASE = "jointable"

Hook = TypeVar("Hook", bound=Callable[..., Any])


def hook(function: Hook) -> Hook:
    """Mark a function as one of Datasette's hooks, keeping its type."""
    marked: Hook = hookimpl(function)
    return marked


@hook
def register_routes(datasette: Any) -> list[tuple[str, Callable[..., Any]]]:
    """Our pages come before those of Datasette."""
    return list(ROUTES)


@hook
def asgi_wrapper(datasette: Any) -> Callable[[Any], Guard]:
    """Limits and headers stand around everything."""
    site: Site = datasette.jointable
    return lambda app: Guard(app, site)


@hook
def prepare_jinja2_environment(env: Any, datasette: Any) -> None:
    """The names of our templates, in Datasette's environment too."""
    env.globals.update(globals_of())
    env.globals.update(site=datasette.jointable, cells=cells, columns_of=columns_of, row_address=row_address)
    env.filters.update(filters_of())
    env.trim_blocks = env.lstrip_blocks = True


@hook
def canned_queries(datasette: Any, database: str, actor: Any) -> dict[str, Any]:
    """The questions that engineers ask, ready to run."""
    return dict(datasette.jointable.queries) if database == DATABASE else {}


@hook
def render_cell(value: Any, table: str | None) -> str | None:
    """A number that a query gives, printed as the table pages print it; these have cells of their own."""
    return figure(value) if table is None and isinstance(value, float) else None


@hook
def skip_csrf(datasette: Any, scope: Any) -> bool:
    """There are no cookies and nothing to write, so there is nothing to forge."""
    return True


@hook
def forbidden(datasette: Any, request: Any, message: str) -> Response:
    """What is switched off, such as SQL by hand."""
    return _response(datasette.jointable, request, PageError(403, f"This is switched off here: {message}."))


@hook
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Response:
    """Every error as one clear page of ours, without a word of the inside."""
    site: Site = datasette.jointable
    return _response(site, request, _page_error(site, request, exception))


def _page_error(site: Site, request: Any, exception: Exception) -> PageError:
    if isinstance(exception, PageError):
        return exception
    if isinstance(exception, BusyError):
        return PageError(503, "All workers are taken. Ask again in a moment.")
    if isinstance(exception, NotFound):
        return PageError(404, "No table, row or page has this address.")
    if isinstance(exception, Forbidden):
        return PageError(403, "This is switched off here.")
    if isinstance(exception, DatasetteError):
        message = (
            "The query takes longer than it may." if exception.message_is_html else str(exception.message)
        )
        return PageError(exception.status if 400 <= exception.status < 500 else 400, message)
    if isinstance(exception, Base400):
        return PageError(exception.status, str(exception.args[0]) if exception.args else "Bad request")
    if request.path.startswith(f"/{DATABASE}"):
        # The tables do not change, so what fails here is the address.
        LOG.warning("%s: %s", type(exception).__name__, exception)
        return PageError(400, "A part of this address cannot be read.")
    LOG.error("%s", request.path, exc_info=exception)
    return PageError(500, "The log of the server has the reason.")


def _response(site: Site, request: Any, error: PageError) -> Response:
    answer = site.error(error, request.path.partition("?")[0])
    kind = next(v for k, v in answer.headers if k == b"content-type")
    return Response(answer.body.decode("utf-8"), status=answer.status, content_type=kind.decode())
