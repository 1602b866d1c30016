"""Exercises in joints and box fill: published examples and seeded random boxes, with worked answers."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.fill import known_edition
from jointable.plan_work import fill_work, joint_work

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Exercise", "exercise_text", "exercises", "published"]

_SIZES = ("14", "12", "10")

#: Random boxes: the cables of a role, what is told of them, and the devices that go with them.
_DEVICES = (("switch", "switched leg"), ("receptacle", "feed through"))


@dataclass(frozen=True, slots=True)
class Exercise:
    """A question, the steps of its answer, the answer, and the source of a published one."""

    question: str
    steps: tuple[str, ...]
    answer: str
    source: str | None = None

    def to_dict(self, answers: bool) -> dict[str, Any]:
        """The exercise as `--json` prints it, with its answer or without."""
        worked = {"steps": list(self.steps), "answer": self.answer} if answers else {}
        return {"question": self.question, "source": self.source, **worked}


def published() -> list[dict[str, Any]]:
    """Published worked examples that start from cables and devices.

    Returns:
        For each its id, stated_in3 [in³], source, what it tells, and its plan.

    Source: named in each.

    Example:
        >>> len(published()) >= 6
        True
    """
    text = (Path(__file__).parent / "exercise_examples.toml").read_text("utf-8")
    examples: list[dict[str, Any]] = tomllib.loads(text, parse_float=Decimal)["example"]
    return examples


def exercises(
    reference: Reference, seed: int = 1, count: int = 6, edition: str | None = None
) -> list[Exercise]:
    """Exercises, the same for the same seed, data and edition.

    Args:
        reference: The open database.
        seed: Which ones.
        count: How many: joints, random boxes and published examples in turn.
        edition: The code edition of the boxes; by default nec-2023. Published examples are of the
            NEC and come under an NEC edition only.

    Returns:
        Exercises with worked answers; areas in mm², volumes in in³.

    Raises:
        InputError: The edition is unknown or has no volume rule.

    Source: published ones name theirs; random ones are computed by `joint` and `plan`.

    Example:
        >>> import jointable
        >>> reference = jointable.open()
        >>> exercises(reference, 7, 3) == exercises(reference, 7, 3)
        True
    """
    chosen = known_edition(reference, edition)
    dice = random.Random(seed)
    examples = published() if chosen.startswith("nec") else []
    dice.shuffle(examples)
    out = []
    for number in range(count):
        if number % 3 == 0:
            out.append(_joint(reference, dice))
        elif number % 3 == 1 or not examples:
            out.append(_box(reference, dice, chosen))
        else:
            example = examples[number // 3 % len(examples)]
            out.append(_worked(reference, example["plan"], example["tells"], chosen, example["source"]))
    return out


def _joint(reference: Reference, dice: random.Random) -> Exercise:
    sizes = dice.sample(_SIZES, dice.choice((1, 2)))
    terms = [f"{dice.randint(2 if len(sizes) == 1 else 1, 3)}x{size}" for size in sorted(sizes, key=int)]
    text = " + ".join(terms)
    answer = reference.connectors(text, family="twist-on").to_dict()
    best = answer["choices"][0]["class"] if answer["choices"] else "no single class"
    return Exercise(
        f"Which is the smallest twist-on class that takes {text} AWG, solid copper?",
        tuple(joint_work(answer)),
        best,
    )


def _box(reference: Reference, dice: random.Random, edition: str) -> Exercise:
    size = dice.choice(_SIZES[:2])
    kind, onward = dice.choice(_DEVICES)
    legs = dice.randint(1, 3) if kind == "receptacle" else 1
    metal = dice.choice((True, False))
    plan = {
        "volume_in3": dice.choice(("16", "18", "20.3", "22.5")),
        "metal": metal,
        "fittings": ["clamp"] if dice.random() < 0.5 else [],
        "enters": [
            {"name": "feed", "role": "feed", "size": f"{size}/2"},
            {"name": "onward", "role": onward, "size": f"{size}/2", "quantity": legs},
        ],
        "device": [{"kind": kind}],
    }
    clamps = ", internal clamps" if plan["fittings"] else ""
    tells = (
        f"{1 + legs} cables {size}/2 with ground enter a box marked {plan['volume_in3']} in³{clamps}; "
        f"one {kind} is in it."
    )
    return _worked(reference, plan, tells, edition, None)


def _worked(
    reference: Reference, plan: Mapping[str, Any], tells: str, edition: str, source: str | None
) -> Exercise:
    result = reference.plan(plan, edition).boxes[0].fill
    verdict = {True: "it holds", False: "it is too small", None: "undecided"}[result.passes]
    needed = format(result.required_in3.normalize(), "f")
    return Exercise(
        f"{tells} How many in³ does {edition} ask for, and is the box large enough?",
        tuple(fill_work(result.to_dict())),
        f"{needed} in³; {verdict}",
        source,
    )


def exercise_text(made: Iterable[Exercise], seed: int, version: str, answers: bool) -> str:
    """Exercises as text to print.

    Args:
        made: The exercises.
        seed: Their seed, for the title.
        version: The data version.
        answers: Whether worked answers stand below each.

    Returns:
        Lines of text.

    Source: none; a form of this project.

    Example:
        >>> print(exercise_text([Exercise("What?", ("one step",), "that")], 1, "2026.11.0", False))
        Exercises 1, data 2026.11.0
        <BLANKLINE>
        1. What?
        <BLANKLINE>
        For teaching; work by a qualified person, de-energised.
    """
    lines = [f"Exercises {seed}, data {version}", ""]
    for number, one in enumerate(made, 1):
        lines.append(f"{number}. {one.question}")
        if one.source:
            lines.append(f"   after {one.source}")
        if answers:
            lines += [f"   {step}" for step in one.steps]
            lines.append(f"   Answer: {one.answer}")
        lines.append("")
    return "\n".join([*lines, "For teaching; work by a qualified person, de-energised."])
