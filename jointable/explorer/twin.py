"""The SQLite twin as Datasette sees it, with its queries run by workers instead of in this process."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from contextvars import ContextVar
from typing import Any

from datasette.database import Database, QueryInterrupted, Results
from datasette.utils import sqlite3

from jointable.explorer import limits
from jointable.explorer.workers import LateError, LostError, Pool

__all__ = ["FAILURES", "FREE_SQL", "Row", "TwinDatabase"]

#: Set where the query was written by the visitor: such queries wait for one another, not for the pages.
FREE_SQL: ContextVar[bool] = ContextVar("free_sql", default=False)
#: What queries of the request failed with, for answers that Datasette gives as if there were no rows.
FAILURES: ContextVar[list[str] | None] = ContextVar("failures", default=None)


class Row(tuple[Any, ...]):
    """A row that knows its columns, like `sqlite3.Row`."""

    names: tuple[str, ...]

    @classmethod
    def of(cls, names: tuple[str, ...], values: Sequence[Any]) -> Row:
        """A row of values; a blob comes as a mapping."""
        row = cls(base64.b64decode(v["blob"]) if isinstance(v, dict) else v for v in values)
        row.names = names
        return row

    def keys(self) -> list[str]:
        """The names of the columns."""
        return list(self.names)

    def __getitem__(self, key: Any) -> Any:
        return super().__getitem__(self.names.index(key) if isinstance(key, str) else key)


class TwinDatabase(Database):  # type: ignore[misc]
    """The twin.

    Args:
        datasette: The application.
        path: The SQLite file, opened immutable.
        pages: Workers for the queries of pages.
        free: Workers for queries that visitors write.
    """

    def __init__(self, datasette: Any, path: str, pages: Pool, free: Pool) -> None:
        super().__init__(datasette, path, is_mutable=False)
        self.pages = pages
        self.free = free

    async def execute(
        self,
        sql: str,
        params: Mapping[str, Any] | Sequence[Any] | None = None,
        truncate: bool = False,
        custom_time_limit: int | None = None,
        page_size: int | None = None,
        log_sql_errors: bool = True,
    ) -> Any:
        """Run one query; see `datasette.database.Database.execute`."""
        milliseconds = min(limits.SQL_MILLISECONDS, custom_time_limit or limits.SQL_MILLISECONDS)
        most = self.ds.max_returned_rows
        message = {
            "sql": sql,
            "params": params if params is not None else {},
            "milliseconds": max(1, milliseconds),
            "rows": most + (page_size == most) if truncate else None,
        }
        answer = await self._ask(message, milliseconds, sql, params)
        if "error" in answer:
            if answer["error"] == "interrupted":
                raise QueryInterrupted(answer["text"], sql, params)
            heard = FAILURES.get()
            if heard is not None:
                heard.append(answer["text"])
            raise sqlite3.OperationalError(answer["text"])
        names = tuple(answer["columns"])
        description = tuple((name, None, None, None, None, None, None) for name in names)
        return Results([Row.of(names, r) for r in answer["rows"]], answer["truncated"], description)

    async def _ask(self, message: Any, milliseconds: int, sql: str, params: Any) -> Any:
        pool = self.free if FREE_SQL.get() else self.pages
        try:
            # A step that SQLite cannot be stopped in is ended a little after its time.
            return await pool.ask_json(message, milliseconds / 1000 + 0.2)
        except LateError:
            raise QueryInterrupted("interrupted", sql, params) from None
        except LostError:
            raise sqlite3.OperationalError("the query needs more memory than it may have") from None

    async def label_column_for_table(self, table: str) -> None:
        """None: a key says more here than a title, which editions of one code share."""

    async def attached_databases(self) -> list[Any]:
        """None; the list would name the place of the file."""
        return []
