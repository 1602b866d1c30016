"""Opening the published database: read-only, locked, and the front of every question."""

from __future__ import annotations

import os
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

from jointable.errors import InputError

if TYPE_CHECKING:
    import duckdb

    from jointable.check_answer import Check
    from jointable.fill_result import FillResults
    from jointable.joint import JointAnswer
    from jointable.notation import Joint
    from jointable.plan_answer import Plan
    from jointable.room_answer import BoxRoom
    from jointable.saved import Recheck
    from jointable.trace import Trace

__all__ = ["Reference", "database_path", "open_reference"]

#: The layouts of the tables that this version of the library reads.
SCHEMA_VERSIONS = (1,)

#: Where a checkout keeps what it built, and where a wheel keeps its copy.
_PLACES = (
    Path(__file__).parent / "data" / "jointable.duckdb",
    Path(__file__).parent.parent / "published" / "jointable.duckdb",
)


def database_path(path: str | os.PathLike[str] | None = None) -> Path:
    """Find the published database.

    Args:
        path: A file to use; else the environment variable JOINTABLE_DATABASE, else the copy
            inside the installed package, else `published/` of a checkout.

    Returns:
        The path of an existing file.

    Raises:
        InputError: There is no such file.

    Source: none; this is a form of this project.

    Example:
        >>> database_path().name
        'jointable.duckdb'
    """
    named = path or os.environ.get("JOINTABLE_DATABASE")
    if named:
        found = Path(named)
        if not found.is_file():
            raise InputError(
                "no database there",
                column="database",
                value=named,
                expected="the path of a jointable.duckdb file",
            )
        return found
    for place in _PLACES:
        if place.is_file():
            return place
    raise InputError(
        "the database has not been built",
        column="database",
        value=str(_PLACES[-1]),
        expected="run `make build`, or set JOINTABLE_DATABASE to a jointable.duckdb file",
    )


def connect(path: Path, threads: int | None = None) -> duckdb.DuckDBPyConnection:
    """Open the database read-only, with the outside shut off and the settings locked."""
    import duckdb  # half of the library's import time, so it is loaded when it is first needed

    connection = duckdb.connect(str(path), read_only=True)
    try:
        if threads is not None:
            connection.execute(f"SET threads = {threads:d}")
        connection.execute("SET enable_external_access = false")
        connection.execute("SET lock_configuration = true")
    except duckdb.InvalidInputException:
        # Connections of one process to one file share their settings: an earlier one has locked them.
        pass
    rows = connection.execute(
        "SELECT current_setting('enable_external_access'), current_setting('lock_configuration')"
    ).fetchone()
    # The settings decide what a query may touch, so they are read back, not taken on trust.
    if rows is None or rows[0] not in (False, "false") or rows[1] not in (True, "true"):
        raise InputError("the database could not be locked", column="database", value=str(path))
    return connection


class Reference:
    """An open, read-only copy of the published tables, and every question asked of them.

    Args:
        path: The database file.
        threads: Threads of the database; as many as there are processors, unless said.

    Source: the tables' own `source` and `provenance`.

    Example:
        >>> with open_reference() as reference:
        ...     len(reference.data_version) > 0
        True
    """

    def __init__(self, path: Path, threads: int | None = None) -> None:
        self.path = path
        self.connection = connect(path, threads)
        self._lock = threading.RLock()
        self._data_version: str | None = None
        self._content_hash: str | None = None

    def __enter__(self) -> Reference:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Close the database."""
        self.connection.close()

    def rows(self, query: str, parameters: Any = None) -> list[tuple[Any, ...]]:
        """Run a query and return its rows as tuples."""
        with self._lock:
            return self.connection.execute(query, parameters).fetchall()

    def records(self, query: str, parameters: Any = None) -> list[dict[str, Any]]:
        """Run a query and return its rows as dictionaries."""
        with self._lock:
            cursor = self.connection.execute(query, parameters)
            names = [column[0] for column in cursor.description or ()]
            return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    # Each question is answered by the module of its name; these are the doors to them.

    def connectors(self, joint: Joint | str, **demands: Any) -> JointAnswer:
        """Which connector classes take a joint; see `jointable.joint.choose`, with `carry` `choose_carried`."""
        from jointable.joint import choose

        if (carry := demands.pop("carry", None)) is not None:
            from jointable.carry import choose_carried

            return choose_carried(self, joint, carry, **demands)
        return choose(self, joint, **demands)

    def split(self, joint: Joint | str, **demands: Any) -> Any:
        """How to make a joint with several connectors; see `jointable.split.split`."""
        from jointable.split import split

        return split(self, joint, **demands)

    def range(self, size: str, **options: Any) -> dict[str, Any]:
        """What a class takes; see `jointable.ranges.range_of_class`."""
        from jointable.ranges import range_of_class

        return range_of_class(self, size, **options).to_dict()

    def chart(self, family: str = "twist-on", **options: Any) -> dict[str, Any]:
        """The smallest class by size and count; see `jointable.chart.chart_of_family`."""
        from jointable.chart import chart_of_family

        return chart_of_family(self, family, **options).to_dict()

    def stock(self, schedule: Any, **options: Any) -> dict[str, Any]:
        """The fewest classes that serve a schedule; see `jointable.stock.stock`."""
        from jointable.stock import stock

        return stock(self, schedule, **options).to_dict()

    def room(self, schedule: Any, **options: Any) -> list[BoxRoom]:
        """What the contents of boxes take physically; see `jointable.room.room`."""
        from jointable.room import room

        return room(self, schedule, **options)

    def fill(self, schedule: Any, edition: str | None = None, **options: Any) -> FillResults:
        """Whether each box is big enough; see `jointable.fill.fill`."""
        from jointable.fill import fill
        from jointable.fill_result import FillResults

        return FillResults(fill(self, schedule, edition, **options))

    def plan(self, source: Any, edition: str | None = None, **options: Any) -> Plan:
        """Boxes whole, from cables and devices to joints, fill and room; see `jointable.plan.plan`."""
        from jointable.plan import plan

        return plan(self, source, edition, **options)

    def check(self, source: Any, edition: str | None = None, **options: Any) -> Check:
        """Opened boxes or a joint as found, and what they become; see `jointable.check.check`."""
        from jointable.check import check

        return check(self, source, edition, **options)

    def smallest_box(self, items: Any, edition: str | None = None) -> Any:
        """The standard boxes that hold the items, smallest first; see `jointable.advice`."""
        from jointable.advice import smallest_box

        return smallest_box(self, items, edition)

    def what_changes_it(self, items: Any, edition: str | None = None) -> Any:
        """Which single change brings an overfull box under; see `jointable.advice`."""
        from jointable.advice import what_changes_it

        return what_changes_it(self, items, edition)

    def trace(self, table: str, key: str | tuple[str, ...], column: str) -> Trace:
        """Where a value comes from; see `jointable.trace.trace`."""
        from jointable.trace import trace

        return trace(self, table, key, column)

    def recheck(self, answer: Any) -> Recheck:
        """Whether a saved answer still stands; see `jointable.saved.recheck`."""
        from jointable.saved import recheck

        return recheck(self, answer)

    @property
    def data_version(self) -> str:
        """The version of the published data (calendar form, as `2026.11.0`)."""
        if self._data_version is None:
            version, schema = self.rows(
                "SELECT data_version, schema_version FROM release ORDER BY released DESC, data_version DESC LIMIT 1"
            )[0]
            if schema not in SCHEMA_VERSIONS:
                raise InputError(
                    f"its tables have layout {schema}, which this library cannot read",
                    column="database",
                    value=str(self.path),
                    expected=f"layout {', '.join(map(str, SCHEMA_VERSIONS))}, or the library of that release",
                )
            self._data_version = str(version)
        return self._data_version

    @property
    def content_hash(self) -> str:
        """SHA-256 of the content of all published tables, the same for the same data wherever it was built."""
        if self._content_hash is None:
            self._content_hash = str(self.rows("SELECT content_hash()")[0][0])
        return self._content_hash


def _pinned(reference: Reference, version: str) -> None:
    """Refuse another data version than the one asked for, and say how to get that one."""
    if reference.data_version == version:
        return
    rows = reference.rows("SELECT library_version FROM release WHERE data_version = ?", [version])
    known = ", ".join(str(r[0]) for r in reference.rows("SELECT data_version FROM release ORDER BY ALL"))
    pin = (
        f"it came with jointable=={rows[0][0]}: install that version, or give the path of its jointable.duckdb"
        if rows
        else f"one of {known}, or give the path of a jointable.duckdb that holds it"
    )
    raise InputError(
        f"this database holds data {reference.data_version}", column="version", value=version, expected=pin
    )


def open_reference(path: str | os.PathLike[str] | None = None, *, version: str | None = None) -> Reference:
    """Open the packaged database, read-only and locked.

    Args:
        path: A database file; by default the one that `database_path` finds.
        version: The data version that the answers must rest on, as `2026.11.0`; by default the one
            that is there.

    Returns:
        A `Reference`.

    Raises:
        InputError: There is no database, it cannot be opened, or it holds another version.

    Source: none; this is a form of this project.

    Example:
        >>> open_reference().rows("SELECT size FROM conductor_size WHERE size = '12 AWG'")
        [('12 AWG',)]
    """
    import duckdb

    place = database_path(path)
    try:
        reference = Reference(place)
    except duckdb.Error as error:
        first = str(error).splitlines()[0]
        raise InputError(f"cannot be opened: {first}", column="database", value=str(place)) from error
    if version is not None:
        try:
            _pinned(reference, version)
        except InputError:
            reference.close()
            raise
    return reference
