"""The page about what is there already: an opened joint or opened boxes, and what they become."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jointable.errors import InputError
from jointable.explorer import limits
from jointable.plan_read import TomlText
from jointable.reference import Reference

__all__ = ["EXAMPLE", "check"]

#: A box as a page offers it to be changed.
EXAMPLE = (
    'name = "kitchen"\nsize = "4 x 1-1/2 square"\n\n[[joint]]\nname = "hot"\nconductors = "3x12"\n'
    'class = "twist-on 10"\npigtails = "1x12"\nadd = "1x12"\n\n[[joint]]\nname = "ground"\nconductors = "3x12"\n'
    'class = "twist-on 10"\nthrough_device = true\n\n[[item]]\nitem = "device"\nsize = "12"'
)

#: Parameters of the page -> keys of a joint.
_KEYS = {
    "class": "class", "add": "add", "remove": "remove", "kind": "kind", "location": "location",
    "temperature": "temperature_c", "voltage": "voltage", "free": "free_mm",
}  # fmt: skip


def check(reference: Reference, parameters: Mapping[str, Any]) -> dict[str, Any]:
    """What is wrong with a joint or boxes as found, and with what they become.

    Args:
        reference: The open database.
        parameters: `conductors` with what is said of the joint, or `boxes`, TOML.

    Returns:
        The answer of `check`.

    Raises:
        InputError: Neither or both are given, or something in them is wrong.
    """
    conductors, boxes = parameters.get("conductors"), parameters.get("boxes")
    if bool(conductors) == bool(boxes):
        raise InputError(
            "a joint and boxes at once" if boxes else "nothing to look at",
            column="conductors",
            value=conductors,
            expected="the conductors of a joint, or boxes as TOML",
        )
    edition = parameters.get("edition") or None
    if boxes:
        return _small_enough(reference.check(TomlText(boxes, "boxes"), edition).to_dict())
    joint: dict[str, Any] = {"conductors": conductors}
    joint |= {key: parameters[name] for name, key in _KEYS.items() if parameters.get(name)}
    joint |= {name: True for name in ("new", "reused") if parameters.get(name)}
    return reference.check({"joint": [joint]}, edition).to_dict()


def _small_enough(answer: dict[str, Any]) -> dict[str, Any]:
    if len(answer["boxes"]) > limits.PLAN_BOXES:
        raise InputError(
            "too many boxes for a page",
            column="boxes",
            value=str(len(answer["boxes"])),
            expected=f"at most {limits.PLAN_BOXES}; the command line takes any number",
        )
    return answer
