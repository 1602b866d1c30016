"""Jointable: which connector takes a joint, which box holds it, and where each figure comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from jointable.errors import InputError, JointableError
from jointable.reference import Reference
from jointable.reference import open_reference as open  # noqa: A004  (jointable.open is the front door)

if TYPE_CHECKING:
    from jointable.notation import Joint

__all__ = ["InputError", "Joint", "JointableError", "Reference", "open"]
__version__ = "0.1.0"


def __getattr__(name: str) -> object:
    """Load the notation when it is first asked for, so that the import stays quick."""
    if name == "Joint":
        from jointable.notation import Joint

        return Joint
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
