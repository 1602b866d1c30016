"""The work behind a plan, a fill or a joint, each step a line to follow with a pencil."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from jointable.language import said

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["boxes_work", "fill_work", "joint_work", "plan_work", "work_of_plan"]


def work_of_plan(
    reference: Reference, plan: Mapping[str, Any], language: str | None = None
) -> dict[str, list[str]]:
    """The steps behind a plan, box by box.

    Args:
        reference: The open database.
        plan: The answer of `plan` in English, as `--json` prints it.
        language: The language of the steps; None is English.

    Returns:
        Box to lines of text; areas in mm², volumes in in³.

    Source: the clauses that the lines name.

    Example:
        >>> import jointable
        >>> reference = jointable.open()
        >>> made = reference.plan({"enters": [{"size": "12/2"}], "device": [{"kind": "receptacle"}]})
        >>> list(work_of_plan(reference, made.to_dict()))
        ['box 1']
    """
    out = {}
    for box in plan["boxes"]:
        location = next((r.get("location") for r in box["schedule"] if r["item"] == "box"), None)
        asked = {j["joint"]: j for j in box["joints"] if j["text"]}
        answers = {
            name: reference.connectors(
                j["text"], location=location or None, pass_through=j["on_through_to"] is not None
            ).to_dict()
            for name, j in asked.items()
        }
        out[box["box"]] = plan_work(box, answers, language)
    return out


def plan_work(
    box: Mapping[str, Any], answers: Mapping[str, Mapping[str, Any]], language: str | None = None
) -> list[str]:
    """The steps behind one planned box.

    Args:
        box: A box of the answer of `plan`, as `--json` prints it.
        answers: For each joint the answer of `joint`, as `--json` prints it.
        language: The language of the steps; None is English.

    Returns:
        Lines of text; areas in mm², volumes in in³.

    Source: the clauses that the lines name.
    """
    out = [said("Joints", language)]
    for joint in box["joints"]:
        members = [*joint["of"], *(said(f"a pigtail to {p['to']}", language) for p in joint["pigtails"])]
        out.append(f"  {joint['joint']}: {' + '.join(members)} [{said(joint['clause'], language)}]")
        if joint["joint"] in answers:
            steps = joint_work(answers[joint["joint"]], joint["class"], joint["reason"], language)
            out += [f"    {line}" for line in steps]
    return [*out, said("Fill", language), *(f"  {line}" for line in fill_work(box["fill"], language))]


def boxes_work(result: Mapping[str, Any], language: str | None = None) -> list[str]:
    """The steps behind the fill of one of several boxes, each line with the name of its box.

    Args:
        result: An answer of `fill` in English, as `--json` prints it.
        language: The language of the steps; None is English.

    Returns:
        Lines of text; volumes in in³, in Canada in mL where the box states them so.

    Source: the clauses that the lines name.

    Example:
        >>> import jointable
        >>> rows = [{"item": "box", "size": "4 x 1-1/2 square"},
        ...         {"item": "conductor", "size": 12, "quantity": 3}]
        >>> boxes_work(jointable.open().fill(rows)[0].to_dict())[-1]
        'box 1: 6.75 ≤ 21, the box holds it: 14.25 in³ left'
    """
    return [f"{result['box']}: {line}" for line in fill_work(result, language)]


def joint_work(
    answer: Mapping[str, Any],
    name: str | None = None,
    reason: str | None = None,
    language: str | None = None,
) -> list[str]:
    """The steps behind the class of a joint: areas, their sum, the limits of the class.

    Args:
        answer: An answer of `joint`, as `--json` prints it.
        name: The class to work out; the first choice unless said.
        reason: Why no class takes it, where that is known.
        language: The language of the steps; None is English.

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
    out.append(said(f"sum of areas: {_three(total)} mm²", language))
    choice = next((c for c in answer["choices"] if name in (None, c["class"])), None)
    # A smaller class that refuses shows where the limit lies.
    family = choice["family"] if choice else "twist-on"
    below = [r for r in answer["refused"] if r["family"] == family and " above " in r["reason"]]
    if below and (choice is None or choice["total_min_mm2"] is not None):
        out.append(f"{below[-1]['class']}: {said(below[-1]['reason'], language)}")
    if reason or (choice is None and name is None):
        return [*out, said(reason or answer["split_reason"] or "no class takes the joint", language)]
    if choice is None:
        return [*out, f"{name}: {said('chosen by what is printed on it', language)}"]
    if choice["total_min_mm2"] is not None:
        low, high = _plain(choice["total_min_mm2"]), _plain(choice["total_max_mm2"])
        fits = said(f"{low} ≤ {_three(total)} ≤ {high} mm², so it takes the joint", language)
        out.append(f"{choice['class']}: {fits}")
    else:
        out.append(f"{choice['class']}: {'; '.join(said(r, language) for r in choice['reasons'])}")
    return out


def fill_work(result: Mapping[str, Any], language: str | None = None) -> list[str]:
    """The steps behind the fill of a box: each allowance, their sum, the comparison.

    Args:
        result: An answer of `fill` in English, as `--json` prints it.
        language: The language of the steps; None is English.

    Returns:
        Lines of text; volumes in in³, in Canada in mL where the box states them so.

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
    unit, key = ("mL", "cm3") if _in_millilitres(result) else ("in³", "in3")
    out = []
    for line in result["lines"]:
        volume = _plain(line[f"volume_{key}"])
        if line[f"allowance_{key}"] is None:
            out.append(f"{line['item']}: {volume} {unit} [{line['clause']}]")
        else:
            size = f" ({line['size']})" if line["size"] else ""
            count, each = _plain(line["count"]), _plain(line[f"allowance_{key}"])
            out.append(f"{line['item']}: {count} x {each}{size} = {volume} {unit} [{line['clause']}]")
    needed = Decimal(result[f"required_{key}"])
    parts = " + ".join(_plain(line[f"volume_{key}"]) for line in result["lines"]) or "0"
    out.append(said(f"sum: {parts} = {_plain(needed)} {unit}", language))
    if result[f"available_{key}"] is None:
        return [*out, said("the volume of the box is not known", language)]
    has = Decimal(result[f"available_{key}"])
    sign, verdict = ("≤", "the box holds it") if needed <= has else (">", "the box is too small")
    rest = (
        f"{_plain(has - needed)} {unit} left" if needed <= has else f"{_plain(needed - has)} {unit} too many"
    )
    out.append(said(f"{_plain(needed)} {sign} {_plain(has)}, {verdict}: {rest}", language))
    for limit in result["limits"]:
        if limit["passes"] is False:
            told = f"{limit['what']}: needs {limit['needed']}, has {limit['given']} [{limit['clause']}]"
            out.append(said(told, language))
    return out


def _in_millilitres(result: Mapping[str, Any]) -> bool:
    """Whether a box is reckoned in mL: in Canada, where its volume is stated so and the verdict is the same."""
    has, needed = result["available_cm3"], result["required_cm3"]
    if not result["edition"].startswith("cec") or has is None:
        return False
    # A volume stated in in³ has more decimals in mL than anybody prints.
    stated = Decimal(has) == Decimal(has).quantize(Decimal("0.1"))
    return stated and (Decimal(needed) <= Decimal(has)) == (
        Decimal(result["required_in3"]) <= Decimal(result["available_in3"])
    )


def _plain(value: Any) -> str:
    number = Decimal(value)
    text = format(number, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _three(value: Decimal) -> str:
    return format(value.quantize(Decimal("0.001")), "f")
