"""The process that runs SQL on the twin: `python -m jointable.explorer.sql_worker FILE`.

It can read one file, opened immutable, and nothing else. It is killed by the server when it does not
answer in time, so a single step that SQLite cannot be stopped in (a pattern match, a long text) ends
too. Nothing is imported here but the standard library, so that a new one is ready in a moment.
"""

from __future__ import annotations

import base64
import os
import sqlite3
import sys
import time
from typing import Any
from urllib.parse import quote

from jointable.explorer import limits
from jointable.explorer.pipe import answer_forever

__all__ = ["SqlWorker", "main"]

#: Reads of the catalogue; everything else that a PRAGMA can do is refused.
PRAGMAS = frozenset(
    {
        "table_info",
        "table_xinfo",
        "index_list",
        "index_info",
        "index_xinfo",
        "foreign_key_list",
        "schema_version",
    }
)
#: Functions that reach outside of the query.
FORBIDDEN = frozenset(
    {"load_extension", "fts3_tokenizer", "readfile", "writefile", "edit", "sqlite_compileoption_get"}
)

_LIMITS = {
    sqlite3.SQLITE_LIMIT_LENGTH: 1_000_000,
    sqlite3.SQLITE_LIMIT_SQL_LENGTH: 20_000,
    sqlite3.SQLITE_LIMIT_COLUMN: 200,
    sqlite3.SQLITE_LIMIT_EXPR_DEPTH: 200,
    sqlite3.SQLITE_LIMIT_COMPOUND_SELECT: 50,
    sqlite3.SQLITE_LIMIT_VDBE_OP: 250_000,
    sqlite3.SQLITE_LIMIT_FUNCTION_ARG: 50,
    sqlite3.SQLITE_LIMIT_ATTACHED: 0,
    sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH: 500,
    sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER: 2_000,
    sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH: 1,
    sqlite3.SQLITE_LIMIT_WORKER_THREADS: 0,
}


class TooMuchError(Exception):
    """The answer is larger than a page can show."""


class SqlWorker:
    """Runs queries on one immutable file.

    Args:
        path: The SQLite file.
    """

    def __init__(self, path: str) -> None:
        self.connection = sqlite3.connect(f"file:{quote(path)}?immutable=1", uri=True, isolation_level=None)
        self.connection.text_factory = lambda data: data.decode("utf-8", "replace")
        self.connection.execute("PRAGMA query_only = 1")
        self.connection.execute("PRAGMA temp_store = MEMORY")
        self.connection.execute("PRAGMA trusted_schema = 0")
        self.connection.execute(f"PRAGMA hard_heap_limit = {limits.SQL_HEAP}")
        for limit, value in _LIMITS.items():
            self.connection.setlimit(limit, value)
        self.connection.set_authorizer(_allowed)
        self._stop_at = 0.0
        self.connection.set_progress_handler(lambda: time.monotonic() > self._stop_at, 1_000)

    def answer(self, message: dict[str, Any]) -> dict[str, Any]:
        """Run one query.

        Args:
            message: `sql`, `params` (a list or a mapping), `milliseconds`, `rows` (or None for all).

        Returns:
            `columns`, `rows` and `truncated`; or `error` (its kind) and `text`.
        """
        self._stop_at = time.monotonic() + message["milliseconds"] / 1000
        try:
            return self._run(message["sql"], _bound(message["params"]), message["rows"])
        except sqlite3.OperationalError as error:
            kind = "interrupted" if str(error) == "interrupted" else "sql"
            return {"error": kind, "text": str(error)}
        except TooMuchError as error:
            return {"error": "too much", "text": str(error)}
        except (MemoryError, sqlite3.DataError):
            return {"error": "too much", "text": "the query needs more memory than it may have"}
        except (sqlite3.Error, sqlite3.Warning, ValueError, OverflowError, RecursionError) as error:
            return {"error": "sql", "text": str(error)}

    def _run(self, sql: str, params: Any, most: int | None) -> dict[str, Any]:
        cursor = self.connection.execute(sql, params)
        columns = [c[0] for c in cursor.description or ()]
        rows: list[list[Any]] = []
        size = 0
        try:
            for row in cursor:
                if most is not None and len(rows) >= most:
                    return {"columns": columns, "rows": rows, "truncated": True}
                size += sum(len(v) if isinstance(v, (str, bytes)) else 8 for v in row)
                if size > limits.SQL_BYTES:
                    raise TooMuchError(f"the answer is larger than {limits.SQL_BYTES // 2**20} MB")
                rows.append([_sent(v) for v in row])
        finally:
            cursor.close()
        return {"columns": columns, "rows": rows, "truncated": False}


def _allowed(action: int, first: str | None, second: str | None, *_: str | None) -> int:
    if action in (sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_RECURSIVE):
        return sqlite3.SQLITE_OK
    if action == sqlite3.SQLITE_FUNCTION and (second or "").lower() not in FORBIDDEN:
        return sqlite3.SQLITE_OK
    if action == sqlite3.SQLITE_PRAGMA and first in PRAGMAS:
        return sqlite3.SQLITE_OK
    return sqlite3.SQLITE_DENY


def _sent(value: Any) -> Any:
    """A blob travels as base64 under a key of its own."""
    return {"blob": base64.b64encode(value).decode()} if isinstance(value, bytes) else value


def _bound(params: Any) -> Any:
    """Parameters from JSON; a number beyond 64 bits cannot be bound, its text can."""

    def one(value: Any) -> Any:
        return str(value) if isinstance(value, int) and abs(value) >= 2**63 else value

    if isinstance(params, dict):
        return {k: one(v) for k, v in params.items()}
    return [one(v) for v in params]


def main(arguments: list[str]) -> None:
    """Answer queries on standard input until it is closed."""
    limits.die_with_parent()
    limits.limit_memory(limits.SQL_MEMORY)
    worker = SqlWorker(arguments[0])
    target = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # nothing but answers goes out by the pipe
    answer_forever(worker.answer, sys.stdin.buffer, target)


if __name__ == "__main__":
    main(sys.argv[1:])
