"""The headers that every response carries."""

from __future__ import annotations

__all__ = ["PARTIAL", "POLICY", "SECURITY"]

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
