"""Our pages: each reads its question from the address, asks a worker, and shows the answer or gives it as JSON."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from datasette import Response

from jointable.chart_sheet import PAPERS, chart_svg
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


#: What a page asks for beside the answer alone; the JSON form of a box, unless it is to be brief, too.
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
    parameters = {n: v for n, v in parameters.items() if n != "brief"}
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
            if name != "box" or parameters.pop("brief", ""):  # as the worker wrote it
                return _json(await site.ask(name, parameters))
            answer, whole = await _found(site, name, parameters, drawn=True)
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


async def _plan(request: Any, datasette: Any) -> Response:
    """Boxes whole, from a pattern or a plan of the reader's own."""
    site: Site = datasette.jointable
    question = QUESTIONS["plan"]
    parameters = await _asked(question, request)
    asked = "pattern" in parameters or "plan" in parameters
    if _is_json(request):
        if not asked:
            raise PageError(400, "plan: not given", column="plan", expected="plan, or the name of a pattern")
        return _json(await site.ask("plan", parameters))
    context: dict[str, Any] = {"answer": None, "wrong": None}
    if asked:
        try:
            context["answer"] = parsed(await site.ask("plan", parameters))
        except PageError as error:
            if error.status != 400:
                raise
            context["wrong"] = error
    answer = context["answer"]
    text = answer["plan"] if answer else parameters.get("plan", question.field("plan").example)
    context["clauses"] = clauses_of([b["fill"] for b in answer["boxes"]] if answer else [])
    page = site.render("plan.html", question=question, given=parameters, own=text, **context)
    return Response.html(page, status=400 if context["wrong"] else 200)


async def _label(request: Any, datasette: Any) -> Response:
    """The labels of planned boxes, as a page to print."""
    site: Site = datasette.jointable
    found, parameters = await _labels(site, request)
    return Response.html(site.render("label.html", given=parameters, answer=found))


async def _record(request: Any, datasette: Any) -> Response:
    """The as-built record of planned boxes, as a file."""
    found, _ = await _labels(datasette.jointable, request)
    return Response(
        found["record"],
        headers={"content-disposition": 'attachment; filename="as-built.csv"'},
        content_type="text/csv; charset=utf-8",
    )


async def _labels(site: Site, request: Any) -> tuple[Any, dict[str, str]]:
    parameters = await _asked(QUESTIONS["plan"], request)
    if "pattern" not in parameters and "plan" not in parameters:
        raise PageError(400, "plan: not given", column="plan", expected="plan, or the name of a pattern")
    return parsed(await site.ask("label", parameters)), parameters


async def _exercise(request: Any, datasette: Any) -> Response:
    """Exercises: asked for nothing, those of the first seed."""
    site: Site = datasette.jointable
    question = QUESTIONS["exercise"]
    parameters = await _asked(question, request)
    if _is_json(request):
        return _json(await site.ask("exercise", parameters))
    context: dict[str, Any] = {"answer": None, "wrong": None}
    try:
        context["answer"] = parsed(await site.ask("exercise", parameters))
    except PageError as error:
        if error.status != 400:
            raise
        context["wrong"] = error
    text = site.render("exercise.html", question=question, given=parameters, **context)
    return Response.html(text, status=400 if context["wrong"] else 200)


async def _check(request: Any, datasette: Any) -> Response:
    """What is there already: a joint, or boxes."""
    site: Site = datasette.jointable
    question = QUESTIONS["check"]
    parameters = await _asked(question, request)
    asked = "conductors" in parameters or "boxes" in parameters
    if _is_json(request):
        if not asked:
            raise PageError(400, "conductors: not given", column="conductors", expected="such as '3x12'")
        return _json(await site.ask("check", parameters))
    context: dict[str, Any] = {"answer": None, "wrong": None}
    if asked:
        try:
            context["answer"] = parsed(await site.ask("check", parameters))
        except PageError as error:
            if error.status != 400:
                raise
            context["wrong"] = error
    filled = [b["fill"] for b in context["answer"]["boxes"] if b["fill"]] if context["answer"] else []
    text = site.render(
        "check.html", question=question, given=parameters, clauses=clauses_of(filled), **context
    )
    return Response.html(text, status=400 if context["wrong"] else 200)


async def _chart(request: Any, datasette: Any) -> Response:
    """The chart of a family: asked for nothing, that of the first family."""
    site: Site = datasette.jointable
    question = QUESTIONS["chart"]
    parameters = await _asked(question, request)
    if _is_json(request):
        return _json(await site.ask("chart", parameters))
    context: dict[str, Any] = {"answer": None, "wrong": None}
    try:
        context["answer"] = parsed(await site.ask("chart", parameters))
    except PageError as error:
        if error.status != 400:
            raise
        context["wrong"] = error
    text = site.render("chart.html", question=question, given=parameters, papers=tuple(PAPERS), **context)
    return Response.html(text, status=400 if context["wrong"] else 200)


async def _chart_sheet(request: Any, datasette: Any) -> Response:
    """The same chart as a drawing in the size of a paper."""
    site: Site = datasette.jointable
    parameters = await _asked(QUESTIONS["chart"], request)
    answer = parsed(await site.ask("chart", parameters))
    return Response(chart_svg(answer, request.url_vars["paper"]), content_type="image/svg+xml; charset=utf-8")


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
    (r"^/chart" + _FORMAT, _chart),
    (r"^/chart/(?P<paper>" + "|".join(PAPERS) + r")\.svg$", _chart_sheet),
    (r"^/box" + _FORMAT, _answering("box")),
    (r"^/plan" + _FORMAT, _plan),
    (r"^/plan/label$", _label),
    (r"^/plan/record\.csv$", _record),
    (r"^/check" + _FORMAT, _check),
    (r"^/exercise" + _FORMAT, _exercise),
    (r"^/stock" + _FORMAT, _answering("stock")),
    (r"^/trace" + _FORMAT, _answering("trace")),
    (r"^/audit" + _FORMAT, _audit),
    (r"^/downloads/" + _FORMAT, _downloads),
    (r"^/downloads(?P<format>\.json)$", _downloads),
    (r"^/downloads$", _downloads_moved),
    (r"^/openapi\.json$", _openapi),
]
