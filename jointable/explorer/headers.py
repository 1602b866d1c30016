"""The headers that every response carries, and what those of a request say."""

from __future__ import annotations

import re
from collections.abc import Iterable

__all__ = ["PARTIAL", "POLICY", "SECURITY", "host_of", "matches", "takes_gzip"]

#: A name or an address, with a port.
_HOST = re.compile(rb"[\w.\-:\[\]]{0,255}")

#: Of an answer that is not whole, so that nobody keeps it.
PARTIAL = "x-partial"

#: Nothing from elsewhere, nothing inline, no frame around us.
POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self'",
        "connect-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)

SECURITY: list[tuple[bytes, bytes]] = [
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), geolocation=(), microphone=(), payment=(), usb=()"),
]


def host_of(headers: Iterable[tuple[bytes, bytes]]) -> bytes | None:
    """The host that a request names, empty where it names none; None for what could be no host.

    An answer may repeat it: the address of the next page in JSON is a whole one.

    >>> host_of([(b"host", b"[::1]:8001")]), host_of([(b"host", b"<script>")])
    (b'[::1]:8001', None)
    """
    named = [value for name, value in headers if name == b"host"]
    if not named:
        return b""
    return named[0] if len(named) == 1 and _HOST.fullmatch(named[0]) else None


def matches(asked: bytes | None, etag: bytes) -> bool:
    """Whether the tags of If-None-Match hold one.

    >>> matches(b'W/"a", "b"', b'"a"'), matches(None, b'"a"')
    (True, False)
    """
    if asked is None:
        return False
    return asked.strip() == b"*" or etag in [tag.strip().removeprefix(b"W/") for tag in asked.split(b",")]


def takes_gzip(accepted: bytes) -> bool:
    """Whether Accept-Encoding takes gzip; a weight of nought refuses it.

    >>> takes_gzip(b"br, gzip"), takes_gzip(b"gzip; q=0.0, br"), takes_gzip(b"gzip;q=0.5")
    (True, False, True)
    """
    if b"q=0" not in accepted:
        return b"gzip" in accepted
    for part in accepted.lower().split(b","):
        name, _, weight = part.partition(b";")
        if name.strip() == b"gzip":
            return not weight or weight.strip().removeprefix(b"q=").strip(b"0.") != b""
    return False
