"""What Datasette gives of a table as JSON or CSV, made whole: where it comes from, and what went wrong."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from typing import Any

from jointable.explorer.cache import Answer
from jointable.explorer.site import PageError, Site
from jointable.explorer.tables import DATABASE, source_ids_of, sources_of

__all__ = ["tidied"]


def tidied(answer: Answer, path: str, site: Site, failures: Sequence[str]) -> Answer:
    """An answer of Datasette with what it leaves out.

    Args:
        answer: What it gave.
        path: Its address.
        site: What the server knows.
        failures: What queries of this request failed with.

    Returns:
        JSON with the data version, the source and the units of its table, and without the time that the query
        took, which would give equal rows another ETag each time. Every form beside the page has its sources in
        a header. Everything else as it is.

    Raises:
        PageError: A query of a CSV failed, where Datasette would give an empty file, as if there were no rows; or
            it gives an error as if it were an answer.
    """
    if not path.startswith(f"/{DATABASE}"):
        return answer
    kind = next((v for k, v in answer.headers if k == b"content-type"), b"")
    if path.endswith(".csv") and answer.status == 200:
        if failures:
            raise PageError(400, failures[0])
        kind = b"text/csv; charset=utf-8"
    if not kind or kind.startswith(b"text/html"):
        return answer
    headers = [(b"content-type", kind), *((k, v) for k, v in answer.headers if k != b"content-type")]
    if answer.status == 200:
        headers.append((b"x-source", _source_ids(path, site)))
    whole = None
    if kind.startswith(b"application/json"):
        told = json.loads(answer.body)
        if answer.status == 200 and isinstance(told, dict) and told.get("ok") is False:
            raise PageError(400, str(told.get("error")))
        whole = _whole(told, path, site) if isinstance(told, dict) else None
    if whole is None:
        return Answer(answer.status, headers, answer.body)
    return Answer(answer.status, headers, json.dumps(whole, ensure_ascii=False).encode("utf-8", "replace"))


def _table_of(path: str, site: Site) -> Mapping[str, Any]:
    name = path.rpartition(".")[0].split("/")[2:3]
    return site.catalogue["tables"].get(name[0], {}) if name else {}


def _source_ids(path: str, site: Site) -> bytes:
    """Where a form without room for it, such as CSV, comes from."""
    ids = (
        source_ids_of(_table_of(path, site))
        or "Jointable; its table provenance names the source of each value"
    )
    return ids.encode()


def _whole(told: dict[str, Any], path: str, site: Site) -> dict[str, Any] | None:
    if told.get("ok") is False:
        titled = {"title": told.get("title") or "This cannot be answered"}
        return (
            {k: v for k, v in told.items() if k != "query_ms"} | titled | {"data_version": site.data_version}
        )
    if told.get("database") != DATABASE:
        return None  # rows by key: another object than a table's
    table = _table_of(path, site)
    source = sources_of(table)
    told.pop("query_ms", None)
    more: dict[str, Any] = {"source": f"{source} ({told['source']})"} if source and "source" in told else {}
    if "units" in told:
        more["units"] = {name: c["unit"] for name, c in table.get("columns", {}).items() if c["unit"]}
    return told | more | {"data_version": site.data_version}
