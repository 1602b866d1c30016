"""The work behind a plan, a fill or a joint, each step a line to follow with a pencil."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

__all__ = ["fill_work", "joint_work", "plan_work"]


def plan_work(box: Mapping[str, Any], answers: Mapping[str, Mapping[str, Any]]) -> list[str]:
    """The steps behind one planned box.

    Args:
        box: A box of the answer of `plan`, as `--json` prints it.
        answers: For each joint the answer of `joint`, as `--json` prints it.

    Returns:
        Lines of text; areas in mm², volumes in in³.

    Source: the clauses that the lines name.
    """
    out = ["Joints"]
    for joint in box["joints"]:
        members = [*joint["of"], *(f"a pigtail to {p['to']}" for p in joint["pigtails"])]
        out.append(f"  {joint['joint']}: {' + '.join(members)} [{joint['clause']}]")
        if joint["joint"] in answers:
            out += [
                f"    {line}" for line in joint_work(answers[joint["joint"]], joint["class"], joint["reason"])
            ]
    return [*out, "Fill", *(f"  {line}" for line in fill_work(box["fill"]))]


def joint_work(answer: Mapping[str, Any], name: str | None = None, reason: str | None = None) -> list[str]:
    """The steps behind the class of a joint: areas, their sum, the limits of the class.

    Args:
        answer: An answer of `joint`, as `--json` prints it.
        name: The class to work out; the first choice unless said.
        reason: Why no class takes it, where that is known.

    Returns:
        Lines of text; areas in mm².

    Source: definition of the size classes (this project).

    Example:
        >>> import jointable
        >>> answer = jointable.open().connectors("3x12", family="twist-on").to_dict()
        >>> print(joint_work(answer)[0])
        3 x 12 AWG: 3 x 3.309 = 9.926 mm²
    """
    out = []
    for c in answer["joint"]["conductors"]:
        area = Decimal(c["area_mm2"])
        out.append(
            f"{c['count']} x {c['size']}: {c['count']} x {_three(area)} = {_three(c['count'] * area)} mm²"
        )
    total = Decimal(answer["joint"]["total_mm2"])
    out.append(f"sum of areas: {_three(total)} mm²")
    # A smaller class that refuses shows where the limit lies.
    below = [r for r in answer["refused"] if r["family"] == "twist-on" and " above " in r["reason"]]
    if below:
        out.append(f"{below[-1]['class']}: {below[-1]['reason']}")
    choice = next((c for c in answer["choices"] if name in (None, c["class"])), None)
    if choice is None or reason:
        return [*out, reason or answer["split_reason"] or "no class takes the joint"]
    if choice["total_min_mm2"] is not None:
        low, high = _plain(choice["total_min_mm2"]), _plain(choice["total_max_mm2"])
        out.append(f"{choice['class']}: {low} ≤ {_three(total)} ≤ {high} mm², so it takes the joint")
    else:
        out.append(f"{choice['class']}: {'; '.join(choice['reasons'])}")
    return out


def fill_work(result: Mapping[str, Any]) -> list[str]:
    """The steps behind the fill of a box: each allowance, their sum, the comparison.

    Args:
        result: An answer of `fill`, as `--json` prints it.

    Returns:
        Lines of text; volumes in in³.

    Source: the clauses that the lines name.

    Example:
        >>> import jointable
        >>> rows = [{"item": "box", "size": "4 x 1-1/2 square"},
        ...         {"item": "conductor", "size": 12, "quantity": 3}]
        >>> for line in fill_work(jointable.open().fill(rows)[0].to_dict()): print(line)
        conductor: 3 x 2.25 (12 AWG) = 6.75 in³ [314.16(B)(1)]
        sum: 6.75 = 6.75 in³
        6.75 ≤ 21, the box holds it: 14.25 in³ left
    """
    out = []
    for line in result["lines"]:
        volume = _plain(line["volume_in3"])
        if line["allowance_in3"] is None:
            out.append(f"{line['item']}: {volume} in³ [{line['clause']}]")
        else:
            size = f" ({line['size']})" if line["size"] else ""
            count, each = _plain(line["count"]), _plain(line["allowance_in3"])
            out.append(f"{line['item']}: {count} x {each}{size} = {volume} in³ [{line['clause']}]")
    needed = Decimal(result["required_in3"])
    parts = " + ".join(_plain(line["volume_in3"]) for line in result["lines"]) or "0"
    out.append(f"sum: {parts} = {_plain(needed)} in³")
    if result["available_in3"] is None:
        return [*out, "the volume of the box is not known"]
    has = Decimal(result["available_in3"])
    sign, said = ("≤", "the box holds it") if needed <= has else (">", "the box is too small")
    rest = f"{_plain(has - needed)} in³ left" if needed <= has else f"{_plain(needed - has)} in³ too many"
    out.append(f"{_plain(needed)} {sign} {_plain(has)}, {said}: {rest}")
    for limit in result["limits"]:
        if limit["passes"] is False:
            out.append(f"{limit['what']}: needs {limit['needed']}, has {limit['given']} [{limit['clause']}]")
    return out


def _plain(value: Any) -> str:
    number = Decimal(value)
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _three(value: Decimal) -> str:
    return format(value.quantize(Decimal("0.001")), "f")
