"""Boxes planned, their labels and record, and exercises, as pages ask for them; run in the answer worker."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from jointable.demands import one_of
from jointable.errors import InputError
from jointable.exercise import exercise_dict, exercises
from jointable.explorer import limits
from jointable.language import LANGUAGES
from jointable.plan_answer import Plan
from jointable.plan_label import label_sections, record_csv
from jointable.plan_read import pattern_text, plan_of_text
from jointable.reference import Reference

__all__ = ["exercise", "label", "plan"]

Parameters = Mapping[str, Any]

#: So many exercises are on a page, and so far a seed goes.
_MOST = 24
_SEEDS = 10**9


def plan(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """Boxes whole, with the plan itself, so that it can be changed.

    Args:
        reference: The open database.
        parameters: Those of the question `plan`.

    Returns:
        The answer of `plan` as `--json` prints it, and `plan`, the text that it answers.

    Raises:
        InputError: The plan cannot be read, or has more boxes than a page takes.
    """
    text, answer = _planned(reference, parameters)
    return answer.to_dict() | {"plan": text}


def label(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """The labels and the record of planned boxes.

    Args:
        reference: The open database.
        parameters: Those of the question `plan`; `date` stands on label and record.

    Returns:
        `labels`, HTML sections; `record`, CSV text; and the data version.

    Raises:
        InputError: As `plan`; or the date is none.
    """
    language = one_of(parameters.get("language"), LANGUAGES, "language")
    _, answer = _planned(reference, parameters)
    date = parameters.get("date")
    return {
        "labels": label_sections(answer, date, language),
        "record": record_csv(answer, date),
        "data_version": reference.data_version,
    }


def _planned(reference: Reference, parameters: Parameters) -> tuple[str, Plan]:
    pattern, own = parameters.get("pattern"), parameters.get("plan")
    if pattern and own:
        raise InputError(
            "a pattern and a plan of your own", column="pattern", value=pattern, expected="one of them"
        )
    text = own or pattern_text(pattern or "")
    boxes = plan_of_text(reference, text, "plan")
    if len(boxes) > limits.PLAN_BOXES:
        raise InputError(
            "too many boxes for a page",
            column="plan",
            value=str(len(boxes)),
            expected=f"at most {limits.PLAN_BOXES}; the command line takes any number",
        )
    options = {n: parameters[n] for n in ("edition", "family") if parameters.get(n)}
    return text, reference.plan(boxes, **options)


def exercise(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """Exercises with worked answers; without them where `blank` is asked for.

    Args:
        reference: The open database.
        parameters: Those of the question `exercise`.

    Returns:
        The exercises as `jointable exercise --json` prints them.

    Raises:
        InputError: Seed or count is no such number, or the edition is unknown.
    """
    language = one_of(parameters.get("language"), LANGUAGES, "language")
    seed = _number(parameters, "seed", 1, 0, _SEEDS)
    count = _number(parameters, "count", 6, 1, _MOST)
    made = exercises(reference, seed, count, parameters.get("edition") or None, language)
    return exercise_dict(made, seed, reference.data_version, not parameters.get("blank"), language)


def _number(parameters: Parameters, name: str, usual: int, least: int, most: int) -> int:
    text = str(parameters.get(name) or usual)
    if re.fullmatch(r"[0-9]{1,12}", text) and least <= int(text) <= most:
        return int(text)
    raise InputError(
        "no such number", column=name, value=text, expected=f"a whole number from {least} to {most}"
    )
