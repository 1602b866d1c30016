"""Answers kept: the files never change while the server runs, so equal addresses have equal answers."""

from __future__ import annotations

import gzip
import hashlib
from collections import OrderedDict
from dataclasses import dataclass, field

__all__ = ["Answer", "AnswerCache"]

Headers = list[tuple[bytes, bytes]]

#: Smaller bodies gain nothing from compression.
_LEAST_TO_COMPRESS = 1_024


@dataclass(slots=True)
class Answer:
    """A whole response."""

    status: int
    headers: Headers
    body: bytes
    etag: bytes = b""
    _packed: bytes | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        if not self.etag:
            self.etag = b'"' + hashlib.sha256(self.body).hexdigest()[:32].encode() + b'"'

    def packed(self) -> bytes | None:
        """The body compressed, if that makes it smaller; computed once."""
        if self._packed is None and len(self.body) >= _LEAST_TO_COMPRESS:
            packed = gzip.compress(self.body, 5, mtime=0)
            self._packed = packed if len(packed) < len(self.body) else b""
        return self._packed or None

    @property
    def size(self) -> int:
        """Bytes that it takes, with its compressed form, which is made when it is first asked for."""
        return len(self.body) * 5 // 4 + 512


class AnswerCache:
    """The answers asked for last, up to a size.

    Args:
        size: Bytes in all.
        largest: Bytes of the largest answer that is kept.
    """

    def __init__(self, size: int, largest: int) -> None:
        self.size = size
        self.largest = largest
        self._kept: OrderedDict[bytes, Answer] = OrderedDict()
        self._taken = 0

    def get(self, key: bytes) -> Answer | None:
        """The answer to an address, if it is kept."""
        found = self._kept.get(key)
        if found is not None:
            self._kept.move_to_end(key)
        return found

    def put(self, key: bytes, answer: Answer) -> None:
        """Keep an answer, and let go of those not asked for longest."""
        if answer.size > self.largest or key in self._kept:
            return
        self._kept[key] = answer
        self._taken += answer.size
        while self._taken > self.size:
            _, old = self._kept.popitem(last=False)
            self._taken -= old.size
