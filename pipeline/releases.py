"""The list of releases, the next version numbers, and the change log written from both."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable
from dataclasses import asdict, dataclass, fields
from datetime import date
from itertools import groupby
from pathlib import Path

from pipeline.changes import Change

__all__ = ["Release", "bumped", "changelog", "next_version", "read_releases", "read_value_changes"]

CHANGE_COLUMNS = (
    "data_version", "table_name", "row_key", "column_name", "old_value", "new_value", "kind", "reason",
)  # fmt: skip

_HEADINGS = {
    "changed": "Values changed: results may change",
    "added": "Added",
    "withdrawn": "Withdrawn: results may change",
    "provenance": "Same value, other source or reading",
}
#: Examples shown of changes that share table, column and reason.
_SHOWN = 5


@dataclass(frozen=True, slots=True)
class Release:
    """One release, as it stands in `releases.csv`."""

    data_version: str
    schema_version: str
    released: str
    note: str
    library_version: str
    memory_values: str = ""


def read_releases(path: Path) -> list[Release]:
    """All releases, the oldest first."""
    with path.open(encoding="utf-8", newline="") as lines:
        rows = [Release(**row) for row in csv.DictReader(lines)]
    return sorted(rows, key=lambda r: _numbers(r.data_version))


def releases_csv(releases: Iterable[Release]) -> str:
    """The text of `releases.csv`."""
    text = io.StringIO(newline="")
    writer = csv.DictWriter(text, [f.name for f in fields(Release)], lineterminator="\n")
    writer.writeheader()
    writer.writerows(asdict(r) for r in releases)
    return text.getvalue()


def read_value_changes(path: Path) -> list[tuple[str, Change]]:
    """Every change of every release, with the release."""
    with path.open(encoding="utf-8", newline="") as lines:
        return [
            (
                r["data_version"],
                Change(
                    r["table_name"],
                    r["row_key"],
                    r["column_name"],
                    r["old_value"] or None,
                    r["new_value"] or None,
                    r["kind"],
                    r["reason"],
                ),
            )
            for r in csv.DictReader(lines)
        ]


def value_changes_csv(changes: Iterable[tuple[str, Change]]) -> str:
    """The text of `value_changes.csv`."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(CHANGE_COLUMNS)
    for version, c in changes:
        writer.writerow([version, c.table, c.row, c.column, c.old or "", c.new or "", c.kind, c.reason])
    return text.getvalue()


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(part) for part in version.split("."))


def next_version(last: str, today: date) -> str:
    """The data version after another: year, month, and a number that counts within the month.

    >>> next_version("2026.11.0", date(2026, 11, 30)), next_version("2026.11.4", date(2027, 1, 2))
    ('2026.11.1', '2027.1.0')
    """
    year, month, number = _numbers(last)
    if (today.year, today.month) < (year, month):
        raise ValueError(f"{today} lies before the last release, {last}")
    return f"{today.year}.{today.month}.{number + 1 if (today.year, today.month) == (year, month) else 0}"


def bumped(version: str, part: str | None) -> str:
    """A version of the library, raised in one part.

    >>> bumped("0.1.3", "minor"), bumped("0.1.3", "patch"), bumped("0.1.3", None)
    ('0.2.0', '0.1.4', '0.1.3')
    """
    if part is None:
        return version
    numbers = list(_numbers(version))
    at = ("major", "minor", "patch").index(part)
    return ".".join(str(n) for n in [*numbers[:at], numbers[at] + 1, *([0] * (2 - at))])


def changelog(releases: list[Release], changes: Iterable[tuple[str, Change]]) -> str:
    """The text of CHANGELOG.md: each release, its changes by kind, the newest first.

    Args:
        releases: All releases, the oldest first.
        changes: Every change, with its release.

    Returns:
        Markdown; equal arguments give equal text.
    """
    by_release: dict[str, list[Change]] = {}
    for version, change in changes:
        by_release.setdefault(version, []).append(change)
    parts = [
        "# Changes\n\n"
        "Written by `python -m pipeline.release`; edit that, not this. Each changed value with its row stands in\n"
        "the table `value_change`, which `jointable changes` prints.\n"
    ]
    last: Release | None = None
    entries = []
    for release in releases:
        entries.append(_entry(release, last, by_release.get(release.data_version, [])))
        last = release
    return "\n".join([*parts, *reversed(entries)])


def _entry(release: Release, last: Release | None, changes: list[Change]) -> str:
    lines = [
        f"## Data {release.data_version} ({release.released})\n",
        f"{release.note}\n",
        f"- library {release.library_version}{_from(last.library_version if last else None, release.library_version)}",
        f"- schema {release.schema_version}{_from(last.schema_version if last else None, release.schema_version)}",
    ]
    if release.memory_values:
        lines.append(f"- values known from memory only, to be verified: {int(release.memory_values):,}")
    if last is not None and not changes:
        lines.append("- no value of a reference table changed")
    lines.append("")
    for kind, heading in _HEADINGS.items():
        of_kind = [c for c in changes if c.kind == kind]
        if of_kind:
            lines += [f"### {heading}\n", *_grouped(of_kind), ""]
    return "\n".join(lines)


def _from(old: str | None, new: str) -> str:
    return f" (before: {old})" if old and old != new else ""


def _grouped(changes: list[Change]) -> Iterable[str]:
    """Changes of one reason in one column together."""

    def group(c: Change) -> tuple[str, str, str]:
        return c.table, c.column, c.reason

    for (table, column, reason), found in groupby(sorted(changes, key=group), group):
        some = list(found)
        where = f"`{table}`" if column == "*" else f"`{table}.{column}`"
        yield f"- {where}, {len(some)} {'place' if len(some) == 1 else 'places'}: {reason}"
        for c in some[:_SHOWN]:
            yield f"  - {c.row}: {_shown(c)}"
        if len(some) > _SHOWN:
            yield f"  - and {len(some) - _SHOWN} more"


def _shown(change: Change) -> str:
    if change.column == "*" and change.row != "*":
        return change.new or change.old or ""
    return f"{change.old or 'nothing'} → {change.new or 'nothing'}"
