"""What each page asks of the library; run in the answer worker. No sum is done here."""

from __future__ import annotations

import json
import signal
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache, partial
from typing import Any

from jointable.demands import one_of
from jointable.drawing import bundle_svg
from jointable.errors import InputError
from jointable.explorer import limits
from jointable.explorer.as_found import check
from jointable.explorer.audit import audit
from jointable.explorer.catalogue import catalogue
from jointable.explorer.lines import rows_of
from jointable.explorer.planned import exercise, label, plan
from jointable.explorer.questions import QUESTIONS
from jointable.jsonform import dumps
from jointable.language import LANGUAGES, translated
from jointable.plan_work import boxes_work, joint_work, work_of_plan
from jointable.reference import Reference
from jointable.schedule_csv import from_csv
from jointable.schedule_form import Schedule
from jointable.schedule_rows import from_records

__all__ = ["ANSWERS", "demands_of", "items_of"]

Parameters = Mapping[str, Any]

_DEMANDS = {
    "family": "family",
    "grip": "grip",
    "location": "location",
    "temperature": "temperature_c",
    "material_mark": "material_mark",
    "pass_through": "pass_through",
    "reopenable": "reopenable",
    "voltage": "voltage",
    "rank": "rank",
}


def joint(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """The classes that take a joint; with `drawing`, the bundle drawn to scale too, null where it took too long."""
    found = reference.connectors(parameters["conductors"], **demands_of(parameters))
    answer = dict(found.to_dict())
    if parameters.get("drawing"):
        answer["limits"] = _limits(reference, answer)
        answer["drawing"] = _drawn(answer)
    return answer


def demands_of(parameters: Parameters) -> dict[str, Any]:
    """The demands on a joint, by the names of the library."""
    return {ours: parameters[name] for name, ours in _DEMANDS.items() if parameters.get(name)}


def _drawn(answer: Mapping[str, Any]) -> str | None:
    """The bundle as a drawing: a search of up to a second, which a busy machine may not end in time."""
    try:
        with _ended_after(limits.DRAWING_SECONDS):
            # The drawing shows these and nothing else, so the same joint is searched once.
            shown = {"joint": answer["joint"], "choices": answer["choices"]}
            return _bundle(dumps(shown))
    except _OverError:
        return None


@lru_cache(maxsize=512)
def _bundle(answer: str) -> str:
    return bundle_svg(json.loads(answer))


class _OverError(Exception):
    """The time of a part is over."""


@contextmanager
def _ended_after(seconds: float) -> Iterator[None]:
    """End what runs within, Python code of the main thread, by `_OverError` when its time is over."""

    def over(*_: object) -> None:
        raise _OverError

    before = signal.signal(signal.SIGALRM, over)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def _limits(reference: Reference, answer: Mapping[str, Any]) -> dict[str, Any]:
    """The limits of the classes whose choice states no total: they go by each conductor or end.

    A clamp counts an AWG size by its usual metric pair, so that is where it is marked.
    """
    names = [c["class"] for c in answer["choices"] if c["total_max_mm2"] is None]
    sizes = list({c["size"] for c in answer["joint"]["conductors"]})
    own, paired = (
        sorted(set(found))
        for found in zip(
            *reference.rows(
                "SELECT area_mm2, clamp_mm2 FROM joint_size WHERE list_contains(?, size)", [sizes]
            ),
            strict=True,
        )
    )
    rows = reference.records(
        "SELECT class, ways, min_total_mm2, max_total_mm2, min_conductor_mm2, max_conductor_mm2 FROM connector_class "
        "WHERE list_contains(?, class)",
        [names],
    )
    return {row["class"]: {**row, "areas": own if row["ways"] is None else paired} for row in rows}


def range_(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """What a class takes."""
    options = {name: parameters[name] for name in ("family", "grip", "ways") if parameters.get(name)}
    ways = QUESTIONS["range"].field("ways").choices
    if options.get("ways", ways[0]) not in ways:  # the library reads it for clamps only
        raise InputError(
            "no such number of ways",
            column="ways",
            value=options["ways"],
            expected="one of " + ", ".join(ways),
        )
    return reference.range(parameters["size"], **options)


def chart(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """The smallest class by size and count, for a family."""
    return reference.chart(**parameters)


def classes(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """The general classes of a family, narrowest first."""
    family = parameters.get("family") or "twist-on"
    families = [r[0] for r in reference.rows("SELECT DISTINCT family FROM connector_class ORDER BY 1")]
    if family not in families:
        raise InputError(
            "no such family", column="family", value=family, expected="one of " + ", ".join(families)
        )
    found = reference.records(
        "SELECT class, family, size, ways, grip, variant, min_total_mm2, max_total_mm2, min_conductor_mm2, "
        "max_conductor_mm2, room_cm3 FROM connector_class WHERE family = ? AND variant = 'general' "
        "AND (ways IS NULL OR CAST(ways AS VARCHAR) = ?) ORDER BY size, grip",
        [family, parameters.get("ways") or "2"],
    )
    return {"family": family, "classes": found, "data_version": reference.data_version}


def box(reference: Reference, parameters: Parameters) -> list[Any] | dict[str, Any]:
    """The fill of each box, and what stands beside it as far as there is time.

    Returns:
        The answer of `fill`. With `beside` a mapping: `boxes`, each with `what_changes_it` and, where there
        is one box, `smallest_boxes` and `other_editions`, null where the time was over; and `whole`:
        whether it never was.
    """
    clock = _Clock(limits.BESIDE_SECONDS)
    schedule = items_of(parameters["items"])
    edition = parameters.get("edition") or None
    boxes = [dict(r.to_dict()) for r in reference.fill(schedule, edition)]
    if not parameters.get("beside"):
        return boxes
    failing = any(b["passes"] is False for b in boxes)
    changes = clock.run(lambda: reference.what_changes_it(schedule, edition)) if failing else []
    for one in boxes:
        place = (one["box"], one["space"])
        one["what_changes_it"] = (
            None if changes is None else [c.to_dict() for c in changes if (c.box, c.space) == place]
        )
    if len(boxes) == 1:
        boxes[0]["smallest_boxes"] = clock.run(lambda: smallest(reference, parameters))
        others = [e for e in editions(reference) if e != boxes[0]["edition"]]
        found = [clock.run(partial(_in_edition, reference, schedule, e)) for e in others]
        boxes[0]["other_editions"] = None if None in found else found
    return {"boxes": boxes, "whole": not clock.was_over}


class _Clock:
    """Runs one thing after another until the time is over."""

    def __init__(self, seconds: float) -> None:
        self.end = time.monotonic() + seconds
        self.was_over = False

    def run(self, part: Callable[[], Any]) -> Any:
        """The result of a part, or None once the time is over."""
        self.was_over = self.was_over or time.monotonic() > self.end
        return None if self.was_over else part()


def editions(reference: Reference) -> list[str]:
    """The editions with a rule of box volume."""
    return [
        r[0] for r in reference.rows("SELECT edition FROM edition WHERE has_volume_rule ORDER BY edition")
    ]


def smallest(reference: Reference, parameters: Parameters) -> list[dict[str, Any]]:
    """The standard boxes that hold some items, smallest first."""
    schedule = items_of(parameters["items"])
    return [c.to_dict() for c in reference.smallest_box(schedule, parameters.get("edition") or None)]


def _in_edition(reference: Reference, schedule: Schedule, edition: str) -> dict[str, Any]:
    """The verdict on one box under another edition; where there is none, the reason."""
    try:
        result = reference.fill(schedule, edition)[0].to_dict()
    except InputError as error:
        return {"edition": edition, "passes": None, "reason": str(error)}
    names = ("edition", "required_in3", "required_cm3", "available_in3", "available_cm3", "passes")
    return {name: result[name] for name in names}


def stock(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """The fewest classes that serve a schedule."""
    text = parameters["schedule"]
    schedule = from_csv(text.encode("utf-8"), "schedule")
    _small_enough(schedule)
    options = {
        ours: parameters[name]
        for name, ours in (("family", "family"), ("grip", "grip"), ("spare", "spare_percent"))
        if parameters.get(name)
    }
    return reference.stock(schedule, **options)


def trace(reference: Reference, parameters: Parameters) -> dict[str, Any]:
    """Where a value comes from."""
    found = reference.trace(parameters["table"], parameters["key"], parameters["column"])
    return found.to_dict() | {"data_version": reference.data_version}


def settings(reference: Reference, _: Parameters) -> dict[str, Any]:
    """The settings that keep the database shut, as read back from it."""
    names = ("enable_external_access", "lock_configuration", "access_mode")
    row = reference.rows("SELECT " + ", ".join(f"CAST(current_setting('{n}') AS VARCHAR)" for n in names))[0]
    return dict(zip(names, row, strict=True))


def items_of(text: str) -> Schedule:
    """The schedule that item lines make."""
    rows, lines = rows_of(text)
    schedule = from_records(rows, None, lines)
    _small_enough(schedule)
    return schedule


def _small_enough(schedule: Schedule) -> None:
    if (schedule.size or 0) > limits.SCHEDULE_ROWS:
        raise InputError(
            "too many rows for a page",
            value=str(schedule.size),
            expected=f"at most {limits.SCHEDULE_ROWS}; the command line takes any number",
        )


Work = Callable[[Reference, Any, str | None], Any]


def _spoken(
    answering: Callable[[Reference, Parameters], Any], work: Work | None = None
) -> Callable[[Reference, Parameters], Any]:
    """The same answer in the language that is asked for, with its work where that is asked for."""

    def told(reference: Reference, parameters: Parameters) -> Any:
        language = one_of(parameters.get("language"), LANGUAGES, "language")
        found = answering(reference, {n: v for n, v in parameters.items() if n not in ("language", "work")})
        shown = work if parameters.get("work") else None
        several = isinstance(found, dict) and "whole" in found
        if several or isinstance(found, list):  # an answer for each box
            boxes = found["boxes"] if several else found
            out = translated(boxes, language)
            if shown is not None:
                out = [{**o, "work": shown(reference, b, language)} for o, b in zip(out, boxes, strict=True)]
            return {**found, "boxes": out} if several else out
        added = {} if shown is None else {"work": shown(reference, found, language)}
        return {**translated(found, language), **added}

    return told


def _joint_steps(_: Reference, answer: Any, language: str | None) -> list[str]:
    return joint_work(answer, language=language)


def _box_steps(_: Reference, answer: Any, language: str | None) -> list[str]:
    return boxes_work(answer, language)


ANSWERS: Mapping[str, Callable[[Reference, Parameters], Any]] = {
    "joint": _spoken(joint, _joint_steps),
    "range": _spoken(range_),
    "chart": _spoken(chart),
    "classes": classes,
    "box": _spoken(box, _box_steps),
    "smallest": smallest,
    "plan": _spoken(plan, work_of_plan),
    "label": label,
    "exercise": exercise,
    "check": _spoken(check),
    "stock": _spoken(stock),
    "trace": trace,
    "audit": audit,
    "catalogue": catalogue,
    "settings": settings,
}
