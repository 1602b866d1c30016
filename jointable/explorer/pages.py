"""Our pages: each reads its question from the address, asks a worker, and shows the answer or gives it as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from datasette import Response

from jointable.errors import InputError
from jointable.explorer.bars import clauses_of
from jointable.explorer.forms import parameters_of
from jointable.explorer.openapi import description
from jointable.explorer.questions import QUESTIONS, Question
from jointable.explorer.render import parsed
from jointable.explorer.site import PageError, Site
from jointable.jsonform import dumps

__all__ = ["ROUTES"]


def _json(text: str) -> Response:
    return Response(text + "\n", content_type="application/json; charset=utf-8")


def _is_json(request: Any) -> bool:
    return bool(request.url_vars.get("format") == ".json")


async def _asked(question: Question, request: Any) -> dict[str, str]:
    try:
        return await parameters_of(question, request)
    except InputError as error:
        raise PageError(400, str(error), column=error.column, expected=error.expected) from None


def _need(question: Question, parameters: Mapping[str, str]) -> None:
    for name in question.required:
        if name not in parameters:
            field = question.field(name)
            raise PageError(400, f"{name}: not given", column=name, expected=f"such as {field.example!r}")


async def _page(
    site: Site, request: Any, name: str, parameters: Mapping[str, str], **context: Any
) -> Response:
    """A page with its form; with an error in the place of the answer where the input is wrong."""
    status = context.pop("status", 200)
    text = site.render(f"{name}.html", question=QUESTIONS[name], given=parameters, **context)
    return Response.html(text, status=status)


def _answering(name: str, prepare: Any = None) -> Any:
    """The view of a question: a form, and below it the answer."""
    question = QUESTIONS[name]

    async def view(request: Any, datasette: Any) -> Response:
        site: Site = datasette.jointable
        parameters = await _asked(question, request)
        if _is_json(request):
            _need(question, parameters)
            return _json(await site.ask(name, parameters))
        empty = await _empty(site, name, parameters)
        if not any(n in parameters for n in question.required):
            return await _page(site, request, name, parameters, answer=None, wrong=None, **empty)
        try:
            _need(question, parameters)
            answer = parsed(await site.ask(name, {**parameters, **_EXTRAS.get(name, {})}))
        except PageError as error:
            if error.status != 400:
                raise
            extra = await _beside_error(site, name, parameters)
            return await _page(
                site, request, name, parameters, answer=None, wrong=error, status=400, **(empty | extra)
            )
        context = empty | (prepare(answer) if prepare else {})
        return await _page(site, request, name, parameters, answer=answer, wrong=None, **context)

    return view


#: What a page asks beside what its JSON form does.
_EXTRAS: Mapping[str, Mapping[str, Any]] = {"joint": {"drawing": True}}


async def _empty(site: Site, name: str, parameters: Mapping[str, str]) -> dict[str, Any]:
    """What a page shows beside its form, whatever the answer."""
    if name == "range":
        try:
            return {"classes": parsed(await site.ask("classes", parameters))}
        except PageError:
            return {"classes": None}
    return {"smallest": []} if name == "box" else {}


async def _beside_error(site: Site, name: str, parameters: Mapping[str, str]) -> dict[str, Any]:
    """Items without a box have no verdict, but the boxes that would hold them can be told."""
    if name != "box":
        return {}
    try:
        return {"smallest": parsed(await site.ask("smallest", parameters))}
    except PageError:
        return {}


async def _index(request: Any, datasette: Any) -> Response:
    site: Site = datasette.jointable
    if _is_json(request):
        pages = {
            q.name: {"title": q.title, "about": q.about, "json": f"/{q.name}.json"}
            for q in QUESTIONS.values()
        }
        tables = {n: t["title"] for n, t in site.catalogue["tables"].items()}
        about = {"data_version": site.data_version, "licence": site.catalogue["licence"]}
        return _json(dumps({**about, "pages": pages, "tables": tables, "openapi": "/openapi.json"}))
    return Response.html(site.render("index.html", questions=QUESTIONS))


async def _audit(request: Any, datasette: Any) -> Response:
    site: Site = datasette.jointable
    _nothing_asked(request)
    text = await site.ask("audit", {})
    return _json(text) if _is_json(request) else Response.html(site.render("audit.html", answer=parsed(text)))


async def _downloads(request: Any, datasette: Any) -> Response:
    site: Site = datasette.jointable
    _nothing_asked(request)
    if _is_json(request):
        files = [
            {"name": d.name, "address": d.fixed, "bytes": d.size, "sha256": d.sha256}
            for d in site.downloads.values()
        ]
        about = {"data_version": site.data_version, "licence": site.catalogue["licence"]}
        return _json(dumps({**about, "files": files}))
    return Response.html(site.render("downloads.html"))


async def _openapi(request: Any, datasette: Any) -> Response:
    site: Site = datasette.jointable
    return _json(dumps(description(site)))


async def _downloads_moved(request: Any, datasette: Any) -> Response:
    return Response.redirect("/downloads/", status=301)


def _nothing_asked(request: Any) -> None:
    if request.query_string:
        raise PageError(400, "This page takes no parameters.")


_FORMAT = r"(?P<format>\.json)?$"

ROUTES = [
    (r"^/" + _FORMAT, _index),
    (r"^/joint" + _FORMAT, _answering("joint")),
    (r"^/range" + _FORMAT, _answering("range")),
    (r"^/box" + _FORMAT, _answering("box", lambda answer: {"clauses": clauses_of(answer)})),
    (r"^/stock" + _FORMAT, _answering("stock")),
    (r"^/trace" + _FORMAT, _answering("trace")),
    (r"^/audit" + _FORMAT, _audit),
    (r"^/downloads/" + _FORMAT, _downloads),
    (r"^/downloads(?P<format>\.json)$", _downloads),
    (r"^/downloads$", _downloads_moved),
    (r"^/openapi\.json$", _openapi),
]
