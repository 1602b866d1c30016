"""Saved answers: each holds what was asked and of which data, so that it can be asked again later.

An answer in JSON carries `inputs` (the command and everything it was given, files by their content;
`asked` where `inputs` are a part of the answer, as in a trace), `data_version` and `content_hash`. Asked again under today's data, it stands if every figure and word
is the same.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.errors import InputError
from jointable.jsonform import dumps
from jointable.language import translated
from jointable.schedule_form import FILE_ROW, closest

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["Change", "Recheck", "recheck", "rows_given", "saved", "saved_boxes"]

#: What an answer says of itself; it is no part of what is compared.
_ABOUT = ("data_version", "content_hash", "work")


@dataclass(frozen=True, slots=True)
class Change:
    """A value of a saved answer that is another one today; None where there is none."""

    path: str
    was: Any
    now: Any

    def to_dict(self) -> dict[str, Any]:
        """The change as `--json` prints it."""
        return {"path": self.path, "was": self.was, "now": self.now}


@dataclass(frozen=True, slots=True)
class Recheck:
    """Whether a saved answer still stands, and what changed."""

    answers: int
    changes: tuple[Change, ...]
    data_then: str | None
    data_version: str
    hash_then: str | None
    content_hash: str

    @property
    def stands(self) -> bool:
        """Whether every value is the same today."""
        return not self.changes

    @property
    def same_data(self) -> bool:
        """Whether it was computed from the very tables of today."""
        return self.hash_then == self.content_hash

    def to_dict(self) -> dict[str, Any]:
        """The verdict as `--json` prints it."""
        return {
            "stands": self.stands,
            "answers": self.answers,
            "same_data": self.same_data,
            "data_version_then": self.data_then,
            "data_version": self.data_version,
            "content_hash_then": self.hash_then,
            "content_hash": self.content_hash,
            "changes": [c.to_dict() for c in self.changes],
        }


def saved(
    reference: Reference, answer: Mapping[str, Any], command: str, inputs: Mapping[str, Any]
) -> dict[str, Any]:
    """An answer with what it was asked and of which data.

    Args:
        reference: The open database.
        answer: The answer, as `--json` prints it.
        command: The command that gave it.
        inputs: What the command was given; what is None was not given.

    Returns:
        The answer with `inputs` and `content_hash`.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> saved(jointable.open(), {"class": "twist-on 16"}, "range", {"size": "16", "ways": None})["inputs"]
        {'command': 'range', 'size': '16'}
    """
    given = {name: value for name, value in inputs.items() if value is not None and value is not False}
    key = "asked" if "inputs" in answer else "inputs"
    return {**answer, key: {"command": command, **given}, "content_hash": reference.content_hash}


def saved_boxes(
    reference: Reference,
    answers: Sequence[Mapping[str, Any]],
    command: str,
    inputs: Mapping[str, Any],
    rows: Sequence[Mapping[str, Any]],
) -> list[dict[str, Any]]:
    """Answers about boxes, each of which stands by itself with the rows of its own box.

    Args:
        reference: The open database.
        answers: One a box or space, as `--json` prints them.
        command: The command that gave them.
        inputs: What the command was given beside the schedule.
        rows: The rows of the schedule.

    Returns:
        The answers with `inputs` and `content_hash`.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> rows = [{"box": "A", "item": "conductor", "size": "12"}, {"box": "B", "item": "conductor", "size": "14"}]
        >>> saved_boxes(jointable.open(), [{"box": "B"}], "fill", {}, rows)[0]["inputs"]["schedule"]
        [{'box': 'B', 'item': 'conductor', 'size': '14'}]
    """
    by_box: dict[Any, list[Mapping[str, Any]]] = {}
    for row in rows:
        by_box.setdefault(row["box"], []).append(row)
    return [saved(reference, a, command, {**inputs, "schedule": by_box[a["box"]]}) for a in answers]


def rows_given(rows: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The rows of a schedule as they go into a saved answer: without empty cells and row numbers.

    Args:
        rows: The rows, as `Schedule.records` gives them.

    Returns:
        The rows, in their order.

    Source: none; a form of this project.

    Example:
        >>> rows_given([{"box": "A", "item": "clamp", "size": None}])
        [{'box': 'A', 'item': 'clamp'}]
    """
    return [{k: v for k, v in row.items() if v is not None and k != FILE_ROW} for row in rows]


def recheck(reference: Reference, source: Any) -> Recheck:
    """Ask a saved answer again under today's data.

    Args:
        reference: The open database.
        source: The path of a file that `--json` printed, or its content as a mapping or a list.

    Returns:
        Whether it stands, and every value that differs.

    Raises:
        InputError: The file cannot be read, is no saved answer, or what was asked can no longer be asked.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> reference = jointable.open()
        >>> answer = saved(reference, reference.range("16"), "range", {"size": "16"})
        >>> recheck(reference, answer).stands
        True
        >>> [c.path for c in recheck(reference, {**answer, "class": "twist-on 15"}).changes]
        ['class']
    """
    name = None if isinstance(source, (Mapping, list)) else str(source)
    content = _loaded(source) if name is not None else _plain(source)
    answers = content if isinstance(content, list) else [content]
    if not answers:
        raise InputError("no answer in it", file=name, expected="what a command prints with --json")
    changes: list[Change] = []
    for n, answer in enumerate(answers):
        start = f"[{n}]" if isinstance(content, list) else ""
        changes += _compared(_then(answer, name), _now(reference, answer, name), start)
    first = answers[0]
    return Recheck(
        len(answers),
        tuple(changes),
        first.get("data_version"),
        reference.data_version,
        first.get("content_hash"),
        reference.content_hash,
    )


def _loaded(source: Any) -> Any:
    name = str(source)
    try:
        return json.loads(Path(source).read_text("utf-8"), parse_float=Decimal)
    except OSError as error:
        raise InputError(
            f"cannot be read: {error.strerror or error}", file=name, expected="a file that --json printed"
        ) from error
    except ValueError as error:
        row = getattr(error, "lineno", None)
        raise InputError(
            "this is no JSON", file=name, row=row, expected="a file that --json printed"
        ) from error


def _plain(value: Any) -> Any:
    return json.loads(dumps(value, indent=None), parse_float=Decimal)


def _then(answer: Any, name: str | None) -> dict[str, Any]:
    if not isinstance(answer, Mapping) or _key(answer) is None:
        raise InputError(
            "it does not say what was asked",
            file=name,
            column="inputs",
            expected="an answer of a command with --json",
        )
    return {k: v for k, v in answer.items() if k not in (_key(answer), *_ABOUT)}


def _key(answer: Mapping[str, Any]) -> str | None:
    """Under which name an answer says what was asked."""
    for key in ("asked", "inputs"):
        if isinstance(answer.get(key), Mapping) and "command" in answer[key]:
            return key
    return None


def _now(reference: Reference, answer: Mapping[str, Any], name: str | None) -> dict[str, Any]:
    inputs = dict(answer[str(_key(answer))])
    command = inputs.pop("command")
    if command not in _ASKED:
        guess = closest(str(command), _ASKED)
        raise InputError(
            "no such command",
            file=name,
            column="inputs.command",
            value=command,
            expected=f"did you mean {guess!r}?" if guess else f"one of {', '.join(_ASKED)}",
        )
    try:
        found = _ASKED[command](reference, inputs, answer)
    except InputError as error:
        raise InputError(f"it can no longer be asked: {error}", file=name, column="inputs") from error
    except (TypeError, KeyError) as error:
        raise InputError(
            f"inputs that {command} does not take: {error}", file=name, column="inputs"
        ) from error
    # An answer in another language is compared in that language.
    told = translated(found, answer.get("language"))
    return {k: v for k, v in _plain(told).items() if k not in _ABOUT}


def _compared(was: Any, now: Any, path: str) -> Iterator[Change]:
    """What differs, down to single values; a list of another length is one change a place."""
    if isinstance(was, dict) and isinstance(now, dict):
        for key in {**was, **now}:
            yield from _compared(was.get(key), now.get(key), f"{path}.{key}" if path else key)
    elif isinstance(was, list) and isinstance(now, list):
        for n in range(max(len(was), len(now))):
            a, b = (x[n] if n < len(x) else None for x in (was, now))
            yield from _compared(a, b, f"{path}[{n}]")
    elif was != now:
        yield Change(path, was, now)


def _joint(reference: Reference, inputs: dict[str, Any], _: Mapping[str, Any]) -> Any:
    from jointable.listings import Listings, load_listings

    with _file(inputs.pop("listings", None)) as path, _file(inputs.pop("carry", None)) as carry:
        # Without a file none of the user's own, whatever the environment names today.
        listings = load_listings(path, reference) if path else Listings("", ())
        return reference.connectors(**inputs, listings=listings, carry=carry).to_dict()


def _fill(reference: Reference, inputs: dict[str, Any], answer: Mapping[str, Any]) -> Any:
    from jointable.fill_command import advised
    from jointable.fill_words import known_edition
    from jointable.schedule import read_schedule

    schedule, edition = read_schedule(inputs.pop("schedule")), inputs.pop("edition", None)
    results: Sequence[Any] = reference.fill(schedule, edition=edition, **inputs)
    if "changes" in answer:
        results = advised(reference, schedule, list(results), known_edition(reference, edition))
    return next((r.to_dict() for r in results if r.space == answer.get("space")), {})


def _room(reference: Reference, inputs: dict[str, Any], answer: Mapping[str, Any]) -> Any:
    found = reference.room(inputs.pop("schedule"), **inputs)
    return next((r.to_dict() for r in found if (r.box, r.space) == (answer["box"], answer.get("space"))), {})


def _stock(reference: Reference, inputs: dict[str, Any], _: Mapping[str, Any]) -> Any:
    with ExitStack() as open_files:
        held = {
            n: open_files.enter_context(_file(inputs.pop(n, None))) for n in ("prices", "carry", "listings")
        }
        return reference.stock(**inputs, **held)


def _plan(reference: Reference, inputs: dict[str, Any], _: Mapping[str, Any]) -> Any:
    with ExitStack() as open_files:
        held: dict[str, Any] = {
            n: open_files.enter_context(_file(inputs.pop(n, None))) for n in ("carry", "listings")
        }
        path = open_files.enter_context(_file(inputs.pop("toml")))
        return reference.plan(path, **inputs, **held).to_dict()


def _check(reference: Reference, inputs: dict[str, Any], _: Mapping[str, Any]) -> Any:
    with ExitStack() as open_files:
        listings = open_files.enter_context(_file(inputs.pop("listings", None)))
        toml = open_files.enter_context(_file(inputs.pop("toml", None)))
        edition = inputs.pop("edition", None)
        return reference.check(toml or {"joint": [inputs]}, edition, listings=listings).to_dict()


@contextmanager
def _file(text: str | None) -> Iterator[Path | None]:
    """A file of the user's as it was then."""
    if text is None:
        yield None
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "saved"
        path.write_text(text, "utf-8")
        yield path


#: How each command is asked again.
_ASKED: Mapping[str, Callable[[Reference, dict[str, Any], Mapping[str, Any]], Any]] = {
    "joint": _joint,
    "range": lambda reference, inputs, _: reference.range(**inputs),
    "chart": lambda reference, inputs, _: reference.chart(**inputs),
    "fill": _fill,
    "room": _room,
    "stock": _stock,
    "plan": _plan,
    "check": _check,
    "trace": lambda reference, inputs, _: reference.trace(**inputs).to_dict(),
}
