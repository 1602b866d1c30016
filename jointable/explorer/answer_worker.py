"""The process that asks the library: `python -m jointable.explorer.answer_worker FILE`.

It holds the DuckDB file, opened read-only, with the outside shut off and its settings locked and read
back by `jointable.open`. No SQL of a visitor comes here.
"""

from __future__ import annotations

import os
import sys
from typing import Any

import jointable
from jointable.errors import InputError
from jointable.explorer import limits
from jointable.explorer.answers import ANSWERS
from jointable.explorer.pipe import answer_forever
from jointable.jsonform import dumps

__all__ = ["AnswerWorker", "main"]


class AnswerWorker:
    """Answers questions by name.

    Args:
        reference: The open database.
    """

    def __init__(self, reference: jointable.Reference) -> None:
        self.reference = reference

    def answer(self, message: dict[str, Any]) -> dict[str, Any]:
        """Answer one question.

        Args:
            message: `name` of the question and its `parameters`.

        Returns:
            `json`: the answer as exact JSON text; or `wrong`: what is wrong with the input.
        """
        try:
            return {"json": dumps(ANSWERS[message["name"]](self.reference, message["parameters"]))}
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
            print(f"{message['name']}: {type(error).__name__}: {error}", file=sys.stderr, flush=True)
            return {"failed": type(error).__name__}


def main(arguments: list[str]) -> None:
    """Answer questions on standard input until it is closed."""
    limits.die_with_parent()
    limits.limit_memory(limits.ANSWER_MEMORY)
    target = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    with jointable.open(arguments[0]) as reference:
        # What the library loads at its first answers is loaded before there is a question.
        for conductors in ("3x12", "8x12"):
            reference.connectors(conductors)
        answer_forever(AnswerWorker(reference).answer, sys.stdin.buffer, target)


if __name__ == "__main__":
    main(sys.argv[1:])
