"""The process that asks the library: `python -m jointable.explorer.answer_worker FILE`.

It holds the DuckDB file, opened read-only, with the outside shut off and its settings locked and read
back by `jointable.open`. No SQL of a visitor comes here.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Iterator
from typing import Any

from jointable.errors import InputError
from jointable.explorer import limits
from jointable.explorer.answers import ANSWERS
from jointable.explorer.pipe import AGAIN, ALONE, answer_forever, good, joined
from jointable.explorer.together import TOGETHER
from jointable.jsonform import dumps
from jointable.reference import Reference, database_path

__all__ = ["AnswerWorker", "main"]


class AnswerWorker:
    """Answers questions by name.

    Args:
        reference: The open database.
    """

    def __init__(self, reference: Reference) -> None:
        self.reference = reference

    def answer(self, message: dict[str, Any]) -> Any:
        """Answer one question, or many of one name.

        Args:
            message: `name` of the question and its `parameters`; or `many`, a list of them.

        Returns:
            The answer as exact JSON text, in bytes; or `wrong`: what is wrong with the input. Of many,
            all replies joined, or in place of one that it must be asked again or alone.
        """
        if "many" not in message:
            return self._one(message["name"], message["parameters"])
        return joined(self._many(message["name"], message["many"]))

    def _many(self, name: str, asked: list[dict[str, Any]]) -> Iterator[bytes]:
        end = time.monotonic() + limits.TOGETHER_ANSWERING
        try:
            light = TOGETHER[name](self.reference, asked)
        except Exception as error:  # each by itself then; the log says why
            print(f"{name}: {type(error).__name__}: {error}", file=sys.stderr, flush=True)
            light = set(range(len(asked)))
        for number, parameters in enumerate(asked):
            # Alone in its message a question has company of nobody whom it could keep waiting.
            if len(asked) > 1 and number not in light:
                yield ALONE
            elif number and time.monotonic() > end:
                yield AGAIN
            else:
                reply = self._one(name, parameters)
                yield reply if isinstance(reply, bytes) else json.dumps(reply).encode("ascii")

    def _one(self, name: str, parameters: dict[str, Any]) -> bytes | dict[str, Any]:
        try:
            return good(dumps(ANSWERS[name](self.reference, parameters)))
        except InputError as error:
            return {
                "wrong": {
                    "error": str(error),
                    "message": error.message,
                    "row": error.row,
                    "column": error.column,
                    "value": None if error.value is None else str(error.value),
                    "expected": error.expected,
                }
            }
        except MemoryError:
            return {"wrong": {"error": "this question needs more memory than it may have"}}
        except Exception as error:  # the page says only that it failed; the log says why
            print(f"{name}: {type(error).__name__}: {error}", file=sys.stderr, flush=True)
            return {"failed": type(error).__name__}


def main(arguments: list[str]) -> None:
    """Answer questions on standard input until it is closed."""
    limits.die_with_parent()
    limits.limit_memory(limits.ANSWER_MEMORY)
    target = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    # One thread each: the pool is what uses the processors, and one grows less between statements.
    with Reference(database_path(arguments[0]), threads=1) as reference:
        # What the library loads at its first answers is loaded before there is a question.
        for conductors in ("3x12", "8x12"):
            reference.connectors(conductors)
        reference.fill([{"item": "box", "volume_in3": "18"}, {"item": "conductor", "size": "14"}])
        answer_forever(AnswerWorker(reference).answer, sys.stdin.buffer, target)


if __name__ == "__main__":
    main(sys.argv[1:])
