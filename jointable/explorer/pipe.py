"""Messages between the server and its workers: a length of four bytes, then JSON.

JSON and not pickle, so that a worker that a hostile query has broken cannot run anything here.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Callable
from typing import Any, BinaryIO

__all__ = ["HEADER", "answer_forever", "pack"]

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


def answer_forever(handle: Callable[[Any], Any], source: BinaryIO, target: BinaryIO) -> None:
    """Say that this process is ready, then answer one message after another until the pipe is closed.

    Args:
        handle: Gives the answer to a message; it must not raise.
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
        target.write(pack(handle(json.loads(body))))
        target.flush()
