"""Messages between the server and its workers: a length of four bytes, then JSON.

JSON and not pickle, so that a worker that a hostile query has broken cannot run anything here.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Callable, Iterable
from typing import Any, BinaryIO

__all__ = ["AGAIN", "ALONE", "HEADER", "answer_forever", "good", "joined", "opened", "pack", "parted"]

HEADER = struct.Struct(">I")


def pack(message: Any) -> bytes:
    """A message as bytes.

    Args:
        message: What JSON can hold.

    Returns:
        Its length and the JSON text in UTF-8; lone surrogates become question marks.
    """
    body = json.dumps(message, ensure_ascii=False, separators=(",", ":")).encode("utf-8", "replace")
    return HEADER.pack(len(body)) + body


#: Replies within a joined one: the time was over before the question came up; it is too large for company.
AGAIN, ALONE = b"", b"!"
#: Before an answer that is sent on as it is; any other reply is an object.
_GOOD = b"="


def good(text: str) -> bytes:
    """An answer in JSON as a reply, not packed into JSON once more."""
    return _GOOD + text.encode("utf-8", "replace")


def opened(reply: bytes) -> dict[str, Any]:
    """A reply as a mapping: `json` is an answer as text, anything else is as the worker wrote it."""
    if reply.startswith(_GOOD):
        return {"json": reply[len(_GOOD) :].decode("utf-8")}
    found: dict[str, Any] = json.loads(reply)
    return found


def joined(replies: Iterable[bytes]) -> bytes:
    """Several replies as one, each with its length before it."""
    return b"".join(HEADER.pack(len(reply)) + reply for reply in replies)


def parted(reply: bytes) -> list[bytes]:
    """The replies that were joined."""
    found, at = [], 0
    while at < len(reply):
        end = at + HEADER.size + HEADER.unpack_from(reply, at)[0]
        found.append(reply[at + HEADER.size : end])
        at = end
    return found


def answer_forever(handle: Callable[[Any], Any], source: BinaryIO, target: BinaryIO) -> None:
    """Say that this process is ready, then answer one message after another until the pipe is closed.

    Args:
        handle: Gives the answer to a message, bytes that are sent as they are or what JSON can hold;
            it must not raise.
        source: Where messages come from.
        target: Where answers go.
    """
    target.write(pack("ready"))
    target.flush()
    while True:
        head = source.read(HEADER.size)
        if len(head) < HEADER.size:
            return
        body = source.read(HEADER.unpack(head)[0])
        answer = handle(json.loads(body))
        target.write(HEADER.pack(len(answer)) + answer if isinstance(answer, bytes) else pack(answer))
        target.flush()
