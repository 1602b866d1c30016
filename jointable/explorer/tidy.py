"""What Datasette gives of a table as JSON or CSV, made whole: where it comes from, and what went wrong."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from jointable.explorer.cache import Answer
from jointable.explorer.site import PageError, Site
from jointable.explorer.tables import DATABASE, sources_of

__all__ = ["tidied"]


def tidied(answer: Answer, path: str, site: Site, failures: Sequence[str]) -> Answer:
    """An answer of Datasette with what it leaves out.

    Args:
        answer: What it gave.
        path: Its address.
        site: What the server knows.
        failures: What queries of this request failed with.

    Returns:
        JSON with the data version and the source of its table, and without the time that the query took,
        which would give equal rows another ETag each time. Everything else as it is.

    Raises:
        PageError: A query of a CSV failed; Datasette would give an empty file, as if there were no rows.
    """
    if not path.startswith(f"/{DATABASE}"):
        return answer
    if path.endswith(".csv") and answer.status == 200 and failures:
        raise PageError(400, failures[0])
    kind = next((v for k, v in answer.headers if k == b"content-type"), b"")
    if not kind.startswith(b"application/json"):
        return answer
    told = json.loads(answer.body)
    whole = _whole(told, path, site) if isinstance(told, dict) else None
    if whole is None:
        return answer
    return Answer(
        answer.status, answer.headers, json.dumps(whole, ensure_ascii=False).encode("utf-8", "replace")
    )


def _whole(told: dict[str, Any], path: str, site: Site) -> dict[str, Any] | None:
    if told.get("ok") is False:
        titled = {"title": told.get("title") or "This cannot be answered"}
        return (
            {k: v for k, v in told.items() if k != "query_ms"} | titled | {"data_version": site.data_version}
        )
    if told.get("database") != DATABASE:
        return None  # rows by key: another object than a table's
    name = path.removesuffix(".json").split("/")[2:3]
    source = sources_of(site.catalogue["tables"].get(name[0], {})) if name else ""
    told.pop("query_ms", None)
    more = {"source": f"{source} ({told['source']})"} if source and "source" in told else {}
    return told | more | {"data_version": site.data_version}
