"""Our pages: each reads its question from the address, asks a worker, and shows the answer or gives it as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from datasette import Response

from jointable.errors import InputError
from jointable.explorer.bars import clauses_of
from jointable.explorer.forms import parameters_of
from jointable.explorer.headers import PARTIAL
from jointable.explorer.openapi import description
from jointable.explorer.questions import QUESTIONS, Question
from jointable.explorer.render import parsed
from jointable.explorer.site import PageError, Site
from jointable.jsonform import dumps

__all__ = ["ROUTES"]


#: What a page asks for beside the answer that its JSON form gives.
_MORE = {"joint": "drawing", "box": "beside"}


def _json(text: str, whole: bool = True) -> Response:
    headers = {} if whole else {PARTIAL: "1"}
    return Response(text + "\n", headers=headers, content_type="application/json; charset=utf-8")


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


async def _found(site: Site, name: str, parameters: Mapping[str, str], drawn: bool) -> tuple[Any, bool]:
    """The answer to a question, and whether it is whole."""
    more: dict[str, Any] = {}
    if drawn and name in _MORE:
        more = {_MORE[name]: True}
    answer = parsed(await site.ask(name, {**parameters, **more}))
    if name == "box":
        return answer["boxes"], answer["whole"]
    return answer, not more or answer["drawing"] is not None


def _answering(name: str) -> Any:
    """The view of a question: a form, and below it the answer."""
    question = QUESTIONS[name]

    async def view(request: Any, datasette: Any) -> Response:
        site: Site = datasette.jointable
        parameters = await _asked(question, request)
        if _is_json(request):
            _need(question, parameters)
            if name != "box" or "beside" not in parameters:  # as the worker wrote it
                return _json(await site.ask(name, parameters))
            answer, whole = await _found(site, name, parameters, drawn=False)
            return _json(dumps(answer), whole)
        context: dict[str, Any] = {"answer": None, "wrong": None, **await _beside(site, name, parameters)}
        status, whole = 200, True
        if any(n in parameters for n in question.required):
            try:
                _need(question, parameters)
                context["answer"], whole = await _found(site, name, parameters, drawn=True)
            except PageError as error:
                if error.status != 400:
                    raise
                context["wrong"], status = error, 400
                if name == "box":
                    context["smallest"] = await _boxes_that_hold(site, parameters)
        if name == "box":
            context["clauses"] = clauses_of(context["answer"] or [])
        text = site.render(f"{name}.html", question=question, given=parameters, **context)
        return Response.html(text, status=status, headers={} if whole else {PARTIAL: "1"})

    return view


async def _beside(site: Site, name: str, parameters: Mapping[str, str]) -> dict[str, Any]:
    """What a page shows beside its form, whatever the answer."""
    if name == "range":
        try:
            return {"classes": parsed(await site.ask("classes", parameters))}
        except PageError:
            return {"classes": None}
    return {"smallest": []} if name == "box" else {}


async def _boxes_that_hold(site: Site, parameters: Mapping[str, str]) -> Any:
    """Items without a box have no verdict, but the boxes that would hold them can be told."""
    try:
        return parsed(await site.ask("smallest", parameters))
    except PageError:
        return []


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
    if _is_json(request):
        return _json(dumps(site.audit))
    return Response.html(site.render("audit.html", answer=site.audit))


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
    (r"^/box" + _FORMAT, _answering("box")),
    (r"^/stock" + _FORMAT, _answering("stock")),
    (r"^/trace" + _FORMAT, _answering("trace")),
    (r"^/audit" + _FORMAT, _audit),
    (r"^/downloads/" + _FORMAT, _downloads),
    (r"^/downloads(?P<format>\.json)$", _downloads),
    (r"^/downloads$", _downloads_moved),
    (r"^/openapi\.json$", _openapi),
]
