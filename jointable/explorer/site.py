"""What the server knows while it runs: its files, its workers, what is published, and how a page looks."""

from __future__ import annotations

import hashlib
import json
import logging
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from jointable.explorer import limits
from jointable.explorer.batches import Batches
from jointable.explorer.cache import Answer
from jointable.explorer.pipe import opened
from jointable.explorer.render import our_environment
from jointable.explorer.workers import BusyError, LateError, LostError, Pool

__all__ = ["LOG", "Download", "PageError", "Site", "downloads_of"]

LOG = logging.getLogger("jointable.explorer")

#: What a page asks for beside the answer itself takes a time of its own.
_MORE = ("drawing", "beside")

HTML = b"text/html; charset=utf-8"
JSON = b"application/json; charset=utf-8"

_KINDS = {
    ".csv": "text/csv; charset=utf-8",
    ".json": "application/json; charset=utf-8",
    ".parquet": "application/vnd.apache.parquet",
    ".sqlite": "application/vnd.sqlite3",
    ".duckdb": "application/octet-stream",
    "": "text/plain; charset=utf-8",
}

_TITLES = {
    400: "This cannot be answered",
    404: "There is no such page",
    405: "This cannot be done here",
    408: "The request did not arrive in time",
    413: "This is too large",
    414: "The address is too long",
    500: "Something went wrong here",
    503: "The server is busy",
}


class PageError(Exception):
    """A page that cannot be given, with its status and what would be right."""

    def __init__(self, status: int, message: str, /, **details: Any) -> None:
        super().__init__(message)
        self.status = status
        self.message = message
        self.details = details


@dataclass(frozen=True, slots=True)
class Download:
    """A file that is offered, held open: what is published anew beside it changes nothing here."""

    name: str
    path: Path
    handle: int
    size: int
    sha256: str

    @property
    def kind(self) -> str:
        """Its media type."""
        return _KINDS.get(self.path.suffix, "application/octet-stream")

    @property
    def fixed(self) -> str:
        """Its address by content: what is there never changes."""
        return f"/downloads/sha256-{self.sha256}/{self.name}"


def downloads_of(database: Path, twin: Path) -> dict[str, Download]:
    """The files to offer: what was published beside the databases, and the licence of the data.

    Args:
        database: The DuckDB file.
        twin: The SQLite file.

    Returns:
        Downloads by name.
    """
    folder = database.parent
    found = {path.name: path for path in (database, twin)}
    if (folder / "datapackage.json").is_file():
        names = ["datapackage.json", "croissant.json", "SHA256SUMS"]
        names += [p.name for kind in ("csv", "parquet") for p in sorted(folder.glob(f"*.{kind}"))]
        found |= {name: folder / name for name in names if (folder / name).is_file()}
    for place in (folder.parent, folder):
        if (place / "LICENSE-DATA").is_file():
            found["LICENSE-DATA"] = place / "LICENSE-DATA"
            break
    return {name: _download(name, path) for name, path in found.items()}


def _download(name: str, path: Path) -> Download:
    handle = os.open(path, os.O_RDONLY)
    with open(handle, "rb", closefd=False) as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
    return Download(name, path, handle, os.fstat(handle).st_size, digest)


@dataclass(slots=True)
class Site:
    """One running explorer."""

    database: Path
    twin: Path
    answers: Pool
    pages: Pool
    free: Pool
    sql: bool
    catalogue: Mapping[str, Any]
    downloads: Mapping[str, Download]
    queries: Mapping[str, Any] = field(default_factory=dict)
    audit: Mapping[str, Any] = field(default_factory=dict)
    batches: Mapping[str, Batches] = field(default_factory=dict)

    def close(self) -> None:
        """Let go of the files."""
        for file in self.downloads.values():
            os.close(file.handle)

    @property
    def data_version(self) -> str:
        """The version of the data."""
        return str(self.catalogue["data_version"])

    def choices(self, name: str) -> list[str]:
        """The values that a form offers."""
        if name == "traced":
            return [t for t, table in self.catalogue["tables"].items() if table["reference"]]
        return list(self.catalogue["choices"][name])

    def render(self, template: str, **context: Any) -> str:
        """A page of ours."""
        return our_environment().get_template(template).render(site=self, **context)

    async def ask(self, name: str, parameters: Mapping[str, Any], wait: float = limits.WAIT_SECONDS) -> str:
        """Ask the library.

        Args:
            name: The question.
            parameters: Its parameters.

        Returns:
            The answer as JSON text.

        Raises:
            PageError: The input is wrong (400), no worker was free in time or it took too long (503).
        """
        try:
            reply = opened(await self._reply(name, parameters))
        except BusyError:
            raise PageError(503, "All workers are taken. Ask again in a moment.") from None
        except LateError as error:
            if not error.heavy:
                raise PageError(503, "The machine is too busy for this now. Ask again in a moment.") from None
            raise PageError(
                400, "This takes longer than a page may. The command line has no such limit."
            ) from None
        except LostError:
            raise PageError(400, "This needs more memory than a page may take.") from None
        if "wrong" in reply:
            wrong = dict(reply["wrong"])
            raise PageError(400, wrong.pop("error"), **{k: v for k, v in wrong.items() if v is not None})
        if "failed" in reply:
            raise PageError(500, "The answer failed for a reason of ours; the log of the server has it.")
        return str(reply["json"])

    async def _reply(self, name: str, parameters: Mapping[str, Any]) -> bytes:
        if name in self.batches and not any(more in parameters for more in _MORE):
            return await self.batches[name].ask(parameters)
        return await self.answers.ask({"name": name, "parameters": dict(parameters)}, limits.ANSWER_SECONDS)

    def error(self, error: PageError, path: str) -> Answer:
        """The page, or for an address that ends in .json the object, that tells of an error."""
        title = _TITLES.get(error.status, "Error")
        headers = [(b"cache-control", b"no-store")]
        if error.status == 503:
            headers.append((b"retry-after", b"1"))
        if error.status == 405:
            headers.append((b"allow", b"GET, HEAD, POST" if error.details.get("posted") else b"GET, HEAD"))
        details = {k: v for k, v in error.details.items() if k != "posted"}
        if path.endswith(".json"):
            body = {"ok": False, "status": error.status, "title": title, "error": error.message, **details}
            body["data_version"] = self.data_version
            text = json.dumps(body, ensure_ascii=False, indent=1)
            return Answer(error.status, [(b"content-type", JSON), *headers], text.encode("utf-8", "replace"))
        page = self.render(
            "error.html", title=title, status=error.status, error=error.message, details=details
        )
        return Answer(error.status, [(b"content-type", HTML), *headers], page.encode("utf-8", "replace"))
