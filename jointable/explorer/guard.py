"""The outermost layer: limits before anything runs, headers on everything that leaves."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Awaitable, Callable, MutableMapping
from typing import Any
from urllib.parse import unquote_plus

from jointable.explorer import limits
from jointable.explorer.cache import Answer, AnswerCache
from jointable.explorer.headers import PARTIAL, SECURITY, host_of, matches, takes_gzip
from jointable.explorer.questions import QUESTIONS
from jointable.explorer.render import ASSETS
from jointable.explorer.site import LOG, Download, PageError, Site
from jointable.explorer.table_address import FORMATS, check_table_address
from jointable.explorer.tables import source_ids_of
from jointable.explorer.tidy import tidied
from jointable.explorer.twin import FAILURES, FREE_SQL

__all__ = ["Guard"]

Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[MutableMapping[str, Any], Receive, Send], Awaitable[None]]

#: Pages beside the questions and the tables.
_PAGES = ("audit", "downloads", "openapi")
#: Addresses below a question that take its form too.
_BELOW = {"/plan/label": "plan", "/plan/record.csv": "plan"}
_FOREVER = b"public, max-age=31536000, immutable"
_BRIEFLY = b"public, max-age=300"
_CHUNK = 262_144


class Guard:
    """Wraps the application.

    Args:
        app: The application within.
        site: What the server knows.
    """

    def __init__(self, app: App, site: Site) -> None:
        self.app = app
        self.site = site
        self.cache = AnswerCache(size=48 * 2**20, largest=4 * 2**20)
        self.active = 0
        self.asked: dict[bytes, asyncio.Future[Answer]] = {}
        self._roots = frozenset(
            {"", ".json", "jointable", "assets", "favicon.ico", "robots.txt"}
            | {f"jointable.{kind}" for kind in FORMATS}
            | {name + end for name in (*QUESTIONS, *_PAGES) for end in ("", ".json")}
        )

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1000})
            return
        raw = bytes(scope.get("raw_path") or scope["path"].encode("utf-8")).partition(b"?")[0]
        path = raw.decode("ascii", "replace")
        try:
            found = await self._answer(scope, receive, raw, path)
        except PageError as error:
            found = self.site.error(error, path)
        except Exception:
            LOG.exception("%s %s", scope["method"], path)
            found = self.site.error(PageError(500, "The log of the server has the reason."), path)
        if isinstance(found, Download):
            await self._send_file(found, scope, send, raw)
        else:
            await self._send(found, scope, send)

    async def _answer(
        self, scope: MutableMapping[str, Any], receive: Receive, raw: bytes, path: str
    ) -> Answer | Download:
        query = bytes(scope.get("query_string") or b"")
        self._check_address(raw, path, query)
        posted = self._check_method(scope["method"], path)
        if path.startswith("/assets/") or path in ("/favicon.ico", "/robots.txt"):
            return self._asset(path)
        if path.startswith("/downloads/") and path not in ("/downloads/", "/downloads/.json"):
            return self._download(path)
        # Datasette puts the host into the link to the next page, so it is part of what is kept.
        host = host_of(scope["headers"])
        if host is None:
            raise PageError(400, "The header Host names no host.")
        key = b" ".join((host, raw, query))
        kept = None if posted else self.cache.get(key)
        if kept is not None:
            return kept
        if posted:
            return await self._within(scope, path, key, await _body(scope, receive), posted)
        return await self._shared(scope, path, key)

    async def _shared(self, scope: MutableMapping[str, Any], path: str, key: bytes) -> Answer:
        """The answer to an address; those who ask the same while it is found wait for the one answer."""
        asked = self.asked.get(key)
        if asked is None:
            asked = asyncio.ensure_future(self._within(scope, path, key, b"", False))
            self.asked[key] = asked
            asked.add_done_callback(lambda _: self.asked.pop(key, None))
        return await asyncio.shield(asked)

    def _check_address(self, raw: bytes, path: str, query: bytes) -> None:
        if len(raw) + len(query) > limits.ADDRESS_BYTES:
            raise PageError(414, f"An address may have {limits.ADDRESS_BYTES} bytes.")
        if len(unquote_plus(query.decode("ascii", "replace"))) > limits.QUERY_CHARACTERS:
            raise PageError(
                414,
                f"The query of an address may have {limits.QUERY_CHARACTERS} characters; send longer input by the form.",
            )
        if not path.startswith("/"):
            raise PageError(400, "An address begins with a slash.")
        # Datasette would redirect some of these to an address built from what was sent.
        if not raw.isascii() or any(mark in path for mark in ("//", "\\", "%", "..", "\x00")):
            raise PageError(404, "No page has such an address.")
        if path.split("/")[1] not in self._roots:
            raise PageError(404, "The pages are listed at the top of this one.")
        if path.startswith("/jointable"):
            check_table_address(path, query, self.site.catalogue["tables"], self.site.queries)

    def _check_method(self, method: str, path: str) -> bool:
        question = QUESTIONS.get(_BELOW.get(path, path[1:].removesuffix(".json")))
        may_post = question is not None and question.posted
        if method in ("GET", "HEAD") or (method == "POST" and may_post):
            return method == "POST"
        raise PageError(405, f"{method[:20]} is not answered here; nothing can be written.", posted=may_post)

    def _asset(self, path: str) -> Answer:
        if path == "/robots.txt":
            headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"cache-control", _BRIEFLY)]
            return Answer(200, headers, b"User-agent: *\nDisallow: /jointable?\n")
        found = ASSETS.files.get(ASSETS.address("mark.svg") if path == "/favicon.ico" else path)
        if found is None:
            raise PageError(404, "No such file.")
        body, kind = found
        lasting = _BRIEFLY if path == "/favicon.ico" else _FOREVER
        return Answer(200, [(b"content-type", kind.encode()), (b"cache-control", lasting)], body)

    def _download(self, path: str) -> Download:
        parts = path.removeprefix("/downloads/").split("/")
        found = self.site.downloads.get(parts[-1])
        if found is None or len(parts) > 2 or (len(parts) == 2 and parts[0] != f"sha256-{found.sha256}"):
            raise PageError(404, "No such file; the page of downloads lists what there is.")
        return found

    async def _within(
        self, scope: MutableMapping[str, Any], path: str, key: bytes, body: bytes, posted: bool
    ) -> Answer:
        """Run the application, if there is room, and keep what it answers."""
        if self.active >= limits.REQUESTS:
            raise PageError(503, "Too many requests at once. Ask again in a moment.")
        self.active += 1
        names = {p.partition(b"=")[0] for p in bytes(scope.get("query_string") or b"").split(b"&")}
        token = FREE_SQL.set(bool(names & {b"sql", b"_where"}))
        failures: list[str] = []
        heard = FAILURES.set(failures)
        try:
            async with asyncio.timeout(limits.REQUEST_SECONDS):
                answer = tidied(await _run(self.app, scope, body), path, self.site, failures)
        except TimeoutError:
            raise PageError(503, "This took too long. Ask again in a moment, or ask for less.") from None
        finally:
            FREE_SQL.reset(token)
            FAILURES.reset(heard)
            self.active -= 1
        partial = any(name == PARTIAL.encode() for name, _ in answer.headers)
        private = posted or partial or path.startswith("/stock")
        lasting = b"no-store" if private or answer.status != 200 else _BRIEFLY
        answer.headers.append((b"cache-control", lasting))
        if answer.status == 503:
            answer.headers.append((b"retry-after", b"1"))
        if answer.status == 200 and not private:
            self.cache.put(key, answer)
        return answer

    async def _send(self, answer: Answer, scope: MutableMapping[str, Any], send: Send) -> None:
        asked = dict(scope["headers"])
        headers = [*answer.headers, *SECURITY, *self._about()]
        status, body = answer.status, answer.body
        if status == 200:
            headers.append((b"vary", b"accept-encoding"))
            packed = answer.packed() if takes_gzip(asked.get(b"accept-encoding", b"")) else None
            if (b"cache-control", b"no-store") not in answer.headers:
                # Two forms of one answer are two to a cache: each has its own tag.
                etag = answer.etag[:-1] + b'-gzip"' if packed else answer.etag
                headers.append((b"etag", etag))
                if scope["method"] in ("GET", "HEAD") and matches(asked.get(b"if-none-match"), etag):
                    status, body, packed = 304, b"", None
            if packed:
                headers.append((b"content-encoding", b"gzip"))
                body = packed
        if status != 304:
            headers.append((b"content-length", str(len(body)).encode()))
        await send({"type": "http.response.start", "status": status, "headers": headers})
        await send({"type": "http.response.body", "body": b"" if scope["method"] == "HEAD" else body})

    async def _send_file(
        self, file: Download, scope: MutableMapping[str, Any], send: Send, raw: bytes
    ) -> None:
        etag = f'"{file.sha256[:32]}"'.encode()
        headers = [
            (b"content-type", file.kind.encode()),
            (b"etag", etag),
            (b"cache-control", _FOREVER if raw.count(b"/") == 3 else _BRIEFLY),
            (b"content-disposition", f'attachment; filename="{file.name}"'.encode()),
            *SECURITY,
            *self._about(),
        ]
        if sources := source_ids_of(self.site.catalogue["tables"].get(file.path.stem, {})):
            headers.append((b"x-source", sources.encode()))
        if matches(dict(scope["headers"]).get(b"if-none-match"), etag):
            await send({"type": "http.response.start", "status": 304, "headers": headers})
            await send({"type": "http.response.body", "body": b""})
            return
        headers.append((b"content-length", str(file.size).encode()))
        await send({"type": "http.response.start", "status": 200, "headers": headers})
        if scope["method"] == "HEAD":
            await send({"type": "http.response.body", "body": b""})
            return
        done = 0
        while done < file.size:
            chunk = await asyncio.to_thread(os.pread, file.handle, _CHUNK, done)
            done = done + len(chunk) if chunk else file.size
            await send({"type": "http.response.body", "body": chunk, "more_body": done < file.size})

    def _about(self) -> list[tuple[bytes, bytes]]:
        """What every answer says of the data: licence, description, version."""
        links = '</downloads/LICENSE-DATA>; rel="license", </downloads/datapackage.json>; rel="describedby"'
        return [(b"link", links.encode()), (b"x-data-version", self.site.data_version.encode())]


async def _body(scope: MutableMapping[str, Any], receive: Receive) -> bytes:
    """The body of a request, up to its limit."""
    too_large = PageError(
        413, f"A schedule may have {limits.BODY_BYTES // 1024} KiB here; the command line takes any size."
    )
    told = dict(scope["headers"]).get(b"content-length", b"")
    if told and (not told.isdigit() or int(told) > limits.BODY_BYTES):
        raise too_large
    parts: list[bytes] = []
    size = 0
    try:
        async with asyncio.timeout(limits.BODY_SECONDS):
            while True:
                message = await receive()
                if message["type"] == "http.disconnect":
                    raise PageError(400, "The request ended before its body did.")
                parts.append(message.get("body", b""))
                size += len(parts[-1])
                if size > limits.BODY_BYTES:
                    raise too_large
                if not message.get("more_body"):
                    return b"".join(parts)
    except TimeoutError:
        raise PageError(408, f"The body took more than {limits.BODY_SECONDS:g} seconds.") from None


#: Headers that the application within may set; the others are ours.
_KEPT = (b"content-type", b"content-disposition", b"location", PARTIAL.encode())
#: Headers that would make an answer personal; nothing here is.
_DROPPED = (b"cookie", b"authorization")


async def _run(app: App, scope: MutableMapping[str, Any], body: bytes) -> Answer:
    """Run the application within and collect what it sends."""
    status = 500
    headers: list[tuple[bytes, bytes]] = []
    parts: list[bytes] = []

    async def receive() -> Message:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: Message) -> None:
        nonlocal status
        if message["type"] == "http.response.start":
            status = message["status"]
            headers.extend((k.lower(), v) for k, v in message["headers"] if k.lower() in _KEPT)
        elif message["type"] == "http.response.body":
            parts.append(message.get("body", b""))

    inner = dict(scope, headers=[(k, v) for k, v in scope["headers"] if k.lower() not in _DROPPED])
    if inner["method"] == "HEAD":
        inner["method"] = "GET"
    await app(inner, receive, send)
    return Answer(status, headers, b"".join(parts))
