"""HTTP itself: limits on the head of a request, and our headers on the answer to what is no HTTP.

Both protocols of uvicorn answer a request that cannot be parsed before any application sees it.
"""

from __future__ import annotations

from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

from jointable.explorer import limits
from jointable.explorer.headers import SECURITY

__all__ = ["protocol"]

#: Bytes before the body of a request.
MOST_HEAD = 2 * limits.ADDRESS_BYTES
#: Seconds for them to arrive.
HEAD_SECONDS = 10.0


def _refusal(message: str) -> bytes:
    body = f"{message}\n".encode()
    own = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"cache-control", b"no-store"),
        (b"connection", b"close"),
    ]
    lines = [b"HTTP/1.1 400 Bad Request", *(k + b": " + v for k, v in [*own, *SECURITY]), b"", body]
    return b"\r\n".join(lines)


class _Limited:
    """What both protocols gain: an answer of ours to what is no HTTP, and a limit of time for a head."""

    transport: Any
    loop: Any
    _deadline: Any = None

    def send_400_response(self, msg: str) -> None:
        """Refuse what is no HTTP."""
        if not self.transport.is_closing():
            self.transport.write(_refusal("This is no HTTP request that can be read."))
            self.transport.close()

    def connection_made(self, transport: Any) -> None:
        """Begin to count the time of the first head."""
        super().connection_made(transport)  # type: ignore[misc]
        self._await_head()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop counting."""
        self._head_is_whole()
        super().connection_lost(exc)  # type: ignore[misc]

    def _await_head(self) -> None:
        if self._deadline is None:
            self._deadline = self.loop.call_later(HEAD_SECONDS, self.transport.close)

    def _head_is_whole(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None


class LimitedH11(_Limited, H11Protocol):
    """The protocol in Python; the limit of bytes is a setting of its own."""

    def handle_events(self) -> None:
        """A request that is under way has its head."""
        super().handle_events()
        if self.cycle is not None:
            self._head_is_whole()


def protocol() -> type[Any]:
    """The protocol to serve with: the one in C where it is installed."""
    try:
        from uvicorn.protocols.http.httptools_impl import HttpToolsProtocol
    except ImportError:
        return LimitedH11

    class LimitedHttpTools(_Limited, HttpToolsProtocol):
        """The protocol in C, which has no limit of bytes of its own."""

        _head = 0
        _in_body = False

        def data_received(self, data: bytes) -> None:
            """Count the bytes of a head as they come."""
            if not self._in_body:
                self._await_head()
                self._head += len(data)
                # One read may hold a head and much of its body; a head of several reads is counted.
                if self._head > MOST_HEAD and len(data) < self._head:
                    self.send_400_response("")
                    return
            super().data_received(data)

        def on_headers_complete(self) -> None:
            """The head is whole; a body has its own limit."""
            self._in_body = True
            self._head_is_whole()
            super().on_headers_complete()

        def on_message_complete(self) -> None:
            """The next byte belongs to another head."""
            self._in_body = False
            self._head = 0
            super().on_message_complete()

    return LimitedHttpTools
