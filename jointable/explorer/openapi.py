"""The JSON forms described in OpenAPI, from the same parameters as the forms."""

from __future__ import annotations

from typing import Any

from jointable.explorer import limits
from jointable.explorer.questions import QUESTIONS, Field, Question
from jointable.explorer.site import Site

__all__ = ["description"]

#: What each answer holds at least; keys may be added, never renamed.
_ANSWERS: dict[str, dict[str, Any]] = {
    "joint": {
        "type": "object",
        "required": ["joint", "choices", "refused", "split", "assumptions", "cautions", "data_version"],
    },
    "range": {
        "type": "object",
        "required": ["class", "family", "size", "least", "greatest", "by_size", "data_version"],
    },
    "chart": {
        "type": "object",
        "required": ["family", "sizes", "across", "columns", "rows", "edition", "cautions", "data_version"],
    },
    "box": {
        "type": "array",
        "items": {
            "type": "object",
            "required": [
                "box",
                "edition",
                "required_in3",
                "available_in3",
                "passes",
                "lines",
                "data_version",
            ],
        },
    },
    "check": {"type": "object", "required": ["boxes", "sound", "edition", "data_version"]},
    "plan": {"type": "object", "required": ["boxes", "take_off", "edition", "plan", "data_version"]},
    "exercise": {"type": "object", "required": ["seed", "exercises", "data_version"]},
    "stock": {"type": "object", "required": ["classes", "unserved", "curve", "data_version"]},
    "trace": {
        "type": "object",
        "required": ["table", "key", "column", "value", "origin", "inputs", "checks", "data_version"],
    },
}

_ERROR = {
    "type": "object",
    "required": ["ok", "status", "error"],
    "properties": {"ok": {"const": False}, "status": {"type": "integer"}, "error": {"type": "string"}},
}


def description(site: Site) -> dict[str, Any]:
    """The OpenAPI document.

    Args:
        site: What the server knows; choices come from the published tables.

    Returns:
        The document, in the form of OpenAPI 3.1.
    """
    paths: dict[str, Any] = {f"/{q.name}.json": _path(q, site) for q in QUESTIONS.values()}
    for name, about in (
        ("audit", "How the data was seen and checked."),
        ("downloads", "The files to download."),
    ):
        paths[f"/{name}.json"] = {
            "get": _operation(name, about, {"type": "object", "required": ["data_version"]})
        }
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Jointable",
            "version": site.data_version,
            "description": "Which splicing connector takes a joint, which box holds it, and where each figure comes from.",
            "license": {"name": site.catalogue["licence"], "identifier": "CC-BY-4.0"},
        },
        "paths": paths,
        "components": {"schemas": {"Error": _ERROR}},
    }


def _path(question: Question, site: Site) -> dict[str, Any]:
    answer = _ANSWERS[question.name]
    get = _operation(question.name, question.about, answer)
    get["parameters"] = [
        {
            "name": f.name,
            "in": "query",
            "required": f.required,
            "description": f.help or f.label,
            "schema": _schema(f, site),
            "example": f.example,
        }
        for f in question.fields
    ]
    path = {"get": get}
    if question.posted:
        post = _operation(f"{question.name}_posted", question.about, answer)
        body = {
            "type": "object",
            "additionalProperties": False,
            "required": list(question.required),
            "properties": {f.name: _schema(f, site) for f in question.fields},
        }
        post["requestBody"] = {
            "required": True,
            "content": {"application/x-www-form-urlencoded": {"schema": body}},
        }
        path["post"] = post
    return path


def _schema(field: Field, site: Site) -> dict[str, Any]:
    choices = list(field.choices) or (site.choices(field.choices_of) if field.choices_of else [])
    if choices:
        return {"type": "string", "enum": choices}
    if field.kind == "number":
        return {"type": "number"}
    if field.kind == "flag":
        return {"type": "boolean"}
    return {"type": "string", "minLength": 1, "maxLength": limits.QUERY_CHARACTERS}


def _operation(name: str, about: str, answer: dict[str, Any]) -> dict[str, Any]:
    wrong = {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}
    return {
        "operationId": name,
        "summary": about,
        "responses": {
            "200": {"description": "The answer.", "content": {"application/json": {"schema": answer}}},
            "400": {"description": "The input cannot be answered.", "content": wrong},
            "405": {"description": "The method is not answered.", "content": wrong},
            "413": {"description": "The body is too large.", "content": wrong},
            "414": {"description": "The address is too long.", "content": wrong},
            "503": {"description": "The server is busy.", "content": wrong},
        },
    }
