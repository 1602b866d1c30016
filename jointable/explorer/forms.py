"""What a browser sends with a form: pairs of name and value, from an address or from a body."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import parse_qsl

from jointable.explorer.questions import Question, checked, read
from jointable.explorer.site import PageError

__all__ = ["parameters_of"]

_MOST_PARTS = 20
_NAME = re.compile(rb'\bname="([^"\r\n]*)"')
_FILE = re.compile(rb'\bfilename="')


async def parameters_of(question: Question, request: Any) -> dict[str, str]:
    """The parameters that a request gives.

    Args:
        question: What is asked.
        request: The request.

    Returns:
        Name to value, as `questions.read` gives them. A file that was sent is the value of the field
        whose lines it holds.

    Raises:
        PageError: The body is neither form.
        InputError: A parameter is unknown or given twice.
    """
    if request.method != "POST":
        return read(question, request.query_string)
    if request.query_string:
        raise PageError(400, "A request with a body takes its parameters from there.")
    body: bytes = await request.post_body()
    kind = request.headers.get("content-type", "")
    try:
        media = kind.partition(";")[0].strip().lower()
        if media == "multipart/form-data":
            pairs = _parts(kind, body, question)
        elif media in ("", "application/x-www-form-urlencoded"):
            pairs = parse_qsl(
                body.decode("utf-8"), keep_blank_values=True, max_num_fields=50, errors="strict"
            )
        else:
            raise PageError(400, "The body must be a form: urlencoded or multipart/form-data.")
    except ValueError:
        raise PageError(400, "The body cannot be read: it must be a form in UTF-8.") from None
    return checked(question, pairs)


def _parts(kind: str, body: bytes, question: Question) -> list[tuple[str, str]]:
    """The fields of a multipart form; an empty file field counts as none."""
    found = re.search(r'(?i:boundary)="?([^";,\s]{1,70})"?', kind)
    if found is None:
        raise PageError(400, "The multipart form names no boundary.")
    chunks = (b"\r\n" + body).split(b"\r\n--" + found[1].encode())
    if len(chunks) - 2 > _MOST_PARTS:
        raise PageError(400, f"A form may have {_MOST_PARTS} fields.")
    lines = next((f.name for f in question.fields if f.kind == "lines"), "")
    typed: list[tuple[str, str]] = []
    sent: list[tuple[str, str]] = []
    for chunk in chunks[1:]:
        head, _, value = chunk.partition(b"\r\n\r\n")
        name = _NAME.search(head)
        if name is None:
            continue
        text = value.decode("utf-8-sig")
        if not _FILE.search(head):
            typed.append((name[1].decode("utf-8"), text))
        elif text.strip():
            sent.append((lines, text))
    # A file goes before what is written in its field.
    return [pair for pair in typed if not sent or pair[0] != lines] + sent
