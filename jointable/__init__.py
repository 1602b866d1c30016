"""Jointable: which connector takes a joint, which box holds it, and where each figure comes from."""

from __future__ import annotations

from jointable.errors import InputError, JointableError
from jointable.reference import Reference
from jointable.reference import open_reference as open  # noqa: A004  (jointable.open is the front door)

__all__ = ["InputError", "JointableError", "Reference", "open"]
__version__ = "0.1.0"
