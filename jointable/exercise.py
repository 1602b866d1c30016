"""Exercises in joints and box fill: published examples and seeded random boxes, with worked answers."""

from __future__ import annotations

import random
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.admission import admit_together
from jointable.fill import known_edition
from jointable.language import said
from jointable.notation import Joint
from jointable.plan_work import fill_work, joint_work

if TYPE_CHECKING:
    from jointable.fill_result import FillResult
    from jointable.reference import Reference

__all__ = ["Exercise", "exercise_dict", "exercise_html", "exercise_text", "exercises", "published"]

_SIZES = ("14", "12", "10")
_FAMILY = "twist-on"

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
    reference: Reference,
    seed: int = 1,
    count: int = 6,
    edition: str | None = None,
    language: str | None = None,
) -> list[Exercise]:
    """Exercises, the same for the same seed, data and edition.

    Args:
        reference: The open database.
        seed: Which ones.
        count: How many: joints, random boxes and published examples in turn.
        edition: The code edition of the boxes; by default nec-2023. Published examples are of the
            NEC and come under an NEC edition only.
        language: `en`, `fr` or `es`; None is English.

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
    drafts: list[_Joint | _Box] = []
    for number in range(count):
        if number % 3 == 0:
            drafts.append(_joint(dice))
        elif number % 3 == 1 or not examples:
            drafts.append(_box(dice, language))
        else:
            example = examples[number // 3 % len(examples)]
            drafts.append(_Box(example["plan"], said(example["tells"], language), example["source"]))
    # All are asked about together, since planning a statement takes longer than answering it.
    joints = [d for d in drafts if isinstance(d, _Joint)]
    admit_together(reference, [(Joint.parse(j.text), {"family": _FAMILY}) for j in joints])
    plans = [d.plan for d in drafts if isinstance(d, _Box)]
    filled = iter(reference.plan(plans, chosen).boxes if plans else ())
    return [
        _matched(reference, draft, language)
        if isinstance(draft, _Joint)
        else _worked(next(filled).fill, draft, chosen, language)
        for draft in drafts
    ]


@dataclass(frozen=True, slots=True)
class _Joint:
    text: str


@dataclass(frozen=True, slots=True)
class _Box:
    plan: Mapping[str, Any]
    tells: str
    source: str | None = None


def _joint(dice: random.Random) -> _Joint:
    sizes = dice.sample(_SIZES, dice.choice((1, 2)))
    terms = [f"{dice.randint(2 if len(sizes) == 1 else 1, 3)}x{size}" for size in sorted(sizes, key=int)]
    return _Joint(" + ".join(terms))


def _matched(reference: Reference, joint: _Joint, language: str | None) -> Exercise:
    answer = reference.connectors(joint.text, family=_FAMILY).to_dict()
    best = answer["choices"][0]["class"] if answer["choices"] else said("no single class", language)
    return Exercise(
        said(f"Which is the smallest twist-on class that takes {joint.text} AWG, solid copper?", language),
        tuple(joint_work(answer, language=language)),
        best,
    )


def _box(dice: random.Random, language: str | None) -> _Box:
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
    clamps = " with internal clamps" if plan["fittings"] else ""
    tells = (
        f"{1 + legs} cables {size}/2 with ground enter a box{clamps} marked {plan['volume_in3']} in³; "
        f"one {kind} is in it."
    )
    return _Box(plan, said(tells, language))


def _worked(result: FillResult, box: _Box, edition: str, language: str | None) -> Exercise:
    verdict = {True: "it holds", False: "it is too small", None: "undecided"}[result.passes]
    needed = format(result.required_in3.normalize(), "f")
    asked = said(f"How many in³ does {edition} ask for, and is the box large enough?", language)
    return Exercise(
        f"{box.tells} {asked}",
        tuple(fill_work(result.to_dict(), language)),
        f"{needed} in³; {said(verdict, language)}",
        box.source,
    )


def exercise_dict(
    made: Iterable[Exercise], seed: int, version: str, answers: bool, language: str | None = None
) -> dict[str, Any]:
    """Exercises as `--json` prints them.

    Args:
        made: The exercises.
        seed: Their seed.
        version: The data version.
        answers: Whether their worked answers are in it.
        language: Their language, said where it was asked for.

    Returns:
        Keys data_version, seed and exercises; of each question, source and, where wanted, steps and answer.

    Source: none; a form of this project.

    Example:
        >>> exercise_dict([Exercise("What?", (), "that")], 1, "2026.11.0", True)["exercises"][0]["answer"]
        'that'
    """
    told = {"data_version": version, "seed": seed, "exercises": [e.to_dict(answers) for e in made]}
    return told | ({"language": language} if language else {})


_STYLE = (
    "@page{margin:16mm}body{font:11pt/1.45 system-ui,sans-serif;max-width:44rem;margin:1rem auto;padding:0 1rem;"
    "color-scheme:light dark}li{break-inside:avoid;margin:.9rem 0}.room{height:28mm}"
    ".source,.closing{font-size:.9em}.steps{margin:.3rem 0 .3rem 1rem}.steps p{margin:0}"
    ".answers{break-before:page;border-top:1px solid;margin-top:3rem}"
    "@media print{body{margin:0;padding:0;max-width:none}.answers{border:0;margin:0}}"
)


def exercise_html(
    made: Iterable[Exercise], seed: int, version: str, answers: bool, language: str | None = None
) -> str:
    """Exercises as a page to print on A4 or Letter, with room to reckon; answers on a page of their own.

    Args:
        made: The exercises.
        seed: Their seed, for the title.
        version: The data version.
        answers: Whether worked answers follow.
        language: The language of the headings; None is English.

    Returns:
        An HTML page that needs nothing else.

    Source: none; a form of this project.

    Example:
        >>> "break-before:page" in exercise_html([Exercise("What?", ("one step",), "that")], 1, "v", True)
        True
    """
    rows = list(made)
    title = said(f"Exercises {seed}, data {version}", language)
    origin, closing = said("Source", language), said(_CLOSING, language)
    asked = "".join(
        f"<li>{escape(e.question)}"
        + (f'<p class="source">{escape(f"{origin}: {e.source}")}</p>' if e.source else "")
        + '<div class="room"></div></li>'
        for e in rows
    )
    worked = "".join(
        f'<li><div class="steps">{"".join(f"<p>{escape(s)}</p>" for s in e.steps)}</div>'
        f"<strong>{escape(said('Answer:', language))} {escape(e.answer)}</strong></li>"
        for e in rows
    )
    below = f'<section class="answers"><h2>{said("Worked answers", language)}</h2><ol>{worked}</ol></section>'
    return (
        f'<!DOCTYPE html><html lang="{language or "en"}"><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{_STYLE}</style><body><h1>{escape(title)}</h1><ol>{asked}</ol>"
        f'<p class="closing">{escape(closing)}</p>{below if answers else ""}</body></html>\n'
    )


#: What all exercises end with.
_CLOSING = "For teaching; work by a qualified person, de-energised."


def exercise_text(
    made: Iterable[Exercise], seed: int, version: str, answers: bool, language: str | None = None
) -> str:
    """Exercises as text to print.

    Args:
        made: The exercises.
        seed: Their seed, for the title.
        version: The data version.
        answers: Whether worked answers stand below each.
        language: The language of the headings; None is English.

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
    lines = [said(f"Exercises {seed}, data {version}", language), ""]
    for number, one in enumerate(made, 1):
        lines.append(f"{number}. {one.question}")
        if one.source:
            lines.append(f"   {said('Source', language)}: {one.source}")
        if answers:
            lines += [f"   {step}" for step in one.steps]
            lines.append(f"   {said('Answer:', language)} {one.answer}")
        lines.append("")
    return "\n".join([*lines, said(_CLOSING, language)])
