"""`python -m pipeline.audit`: the audit report, in Markdown and HTML, from the published database."""

from __future__ import annotations

import html
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import duckdb
from markdown_it import MarkdownIt

from jointable.files import write_text
from pipeline.schema import ROOT

__all__ = ["main", "report"]

DATABASE = ROOT / "published" / "jointable.duckdb"
TARGET = ROOT / "docs" / "audit.md"

INTRODUCTION = """# Audit report

This project publishes tables of conductors, generic connector size classes and box volumes. This report says,
for a reader who has never seen it, where the values were taken from, how each source was seen, what checks
bear on them, what was corrected, and what is still open.

How to read it:

- **access** says how a source was seen: *original* (the official text), *secondary* (a transcription or a
  quotation), *common practice* (a habit of the trade without a source), *memory* (not read; to be verified).
- **origin** says how a value came to stand here: *quoted* as printed, *converted* from another unit or form,
  *derived* by a formula, *defined* by this project, *inferred* between two editions that were read.
- **evidence** counts what bears on a value: the print itself and each check that compares it with something
  else; a check of form or keys only is none. Values with one piece of evidence only are listed at the end.
- A second keying by the same hand from the same reading protects against later slips, not against a misread
  source. It was keyed by one and the same author, and the error score does not count it.
"""

STYLE = """
:root { color-scheme: light dark; --line: #8886; }
body { font: 16px/1.5 system-ui, sans-serif; max-width: 70rem; margin: 2rem auto; padding: 0 1rem; }
table { border-collapse: collapse; margin: 1rem 0; font-size: .9rem; display: block; overflow-x: auto; }
th, td { border-bottom: 1px solid var(--line); padding: .3rem .6rem; text-align: left; vertical-align: top; }
h1, h2, h3 { line-height: 1.2; }
summary { cursor: pointer; }
code, li, p { overflow-wrap: anywhere; }
@media print { body { max-width: none; margin: 0; } table { display: table; font-size: 8pt; } }
"""


def report(database: Path = DATABASE) -> str:
    """The audit report as Markdown.

    Args:
        database: The published DuckDB file.

    Returns:
        Markdown; equal content gives equal text.
    """
    with duckdb.connect(str(database), read_only=True) as connection:
        parts = [INTRODUCTION, *_summary(connection), *_sources(connection), *_checks(connection)]
        parts += [*_score(connection), *_corrections(connection), *_single(connection)]
    return "\n".join(parts) + "\n"


def _rows(connection: duckdb.DuckDBPyConnection, query: str, *parameters: Any) -> list[tuple[Any, ...]]:
    return connection.execute(query, list(parameters)).fetchall()


def _table(names: Iterable[str], rows: Iterable[tuple[Any, ...]]) -> list[str]:
    names = list(names)
    lines = ["", "| " + " | ".join(names) + " |", "|" + "---|" * len(names)]
    lines += ["| " + " | ".join(_cell(v) for v in row) + " |" for row in rows]
    return [*lines, ""]


def _cell(value: Any) -> str:
    return "" if value is None else " ".join(str(value).split()).replace("|", "\\|").replace("<", "&lt;")


def _folded(title: str, lines: Iterable[str]) -> list[str]:
    """Long lists behind a line that opens them."""
    return ["", f"<details><summary>{html.escape(title)}</summary>", "", *lines, "", "</details>", ""]


def _summary(connection: duckdb.DuckDBPyConnection) -> list[str]:
    version = _rows(
        connection, "SELECT data_version FROM release ORDER BY released DESC, data_version DESC LIMIT 1"
    )[0][0]
    by_origin = _rows(
        connection, "SELECT origin, access, count(*) FROM cell_provenance GROUP BY ALL ORDER BY 3 DESC"
    )
    tables = _rows(
        connection,
        "SELECT table_name, count(DISTINCT row_key), count(*), count(*) FILTER (evidence = 1), "
        "count(*) FILTER (access = 'memory') FROM cell_provenance GROUP BY 1 ORDER BY 1",
    )
    return [
        f"## What is published\n\nData version {version}.",
        *_table(["origin", "access", "values"], by_origin),
        *_table(["table", "rows", "values", "one piece of evidence", "from memory"], tables),
    ]


def _sources(connection: duckdb.DuckDBPyConnection) -> list[str]:
    out = ["## Sources"]
    for source in _rows(
        connection,
        "SELECT source_id, title, edition, year, publisher, kind, access, note FROM source ORDER BY 1",
    ):
        name, title, edition, year, publisher, kind, access, note = source
        facts = ", ".join(str(f) for f in (edition, year, publisher) if f)
        out.append(
            f"### {_cell(title)}\n\n`{name}`: {kind}{', ' + _cell(facts) if facts else ''}; seen at best: {access}."
        )
        if note:
            out.append(f"\nOpen or to be known: {_cell(note)}")
        out += _taken(connection, name)
    return out


def _taken(connection: duckdb.DuckDBPyConnection, source: str) -> list[str]:
    taken = _rows(
        connection,
        "SELECT p.raw_file, p.table_name, p.access, count(*), count(*) FILTER (p.rank = 'preferred'), min(p.evidence), "
        "round(avg(p.evidence), 1) FROM provenance p WHERE source_id = ? GROUP BY ALL ORDER BY ALL",
        source,
    )
    checks = _rows(
        connection,
        "SELECT DISTINCT c.check_id FROM check_cell c JOIN provenance p USING (table_name, row_key, column_name) "
        "WHERE p.source_id = ? ORDER BY 1",
        source,
    )
    doubts = _rows(
        connection,
        "SELECT DISTINCT table_name, column_name, note FROM provenance WHERE source_id = ? AND note IS NOT NULL ORDER BY ALL LIMIT 12",
        source,
    )
    corrected, tried, caught, survivors = _rows(
        connection,
        "WITH files AS (SELECT DISTINCT raw_file FROM provenance WHERE source_id = $1 AND raw_file IS NOT NULL), "
        "score AS (SELECT s.* FROM error_score s JOIN files USING (raw_file)) "
        "SELECT (SELECT count(*) FROM correction WHERE source_id = $1), sum(tried), sum(caught), sum(less_safe) FROM score",
        source,
    )[0]
    out = []
    if taken:
        names = ["raw file", "table", "access", "values", "published", "least evidence", "mean evidence"]
        out += _table(names, taken)
    if checks:
        said = ", ".join(f"`{c[0]}`" for c in checks) + "."
        out += (
            _folded(f"Checks that bear on it: {len(checks)}", [said])
            if len(checks) > 6
            else [f"Checks: {said}"]
        )
    if taken:
        out.append(f"\nCorrections of its print: {corrected or 'none'}.")
        out.append(
            f"Error score of its raw files: {caught} of {tried} caught, {survivors} survivors less safe."
            if tried
            else "Error score of its raw files: fewer than 100 tries of each kind, in the pooled rows."
        )
    if doubts:
        out.append("\nOpen doubts and notes on its values:\n")
        out += [f"- `{table}.{column}`: {_cell(note)}" for table, column, note in doubts]
    return [*out, ""]


def _checks(connection: duckdb.DuckDBPyConnection) -> list[str]:
    rows = _rows(
        connection,
        "SELECT c.layer, c.check_id, c.what, c.tolerance, c.reason, r.compared, r.failed, r.worst_residual, r.cells "
        "FROM check_rule c JOIN check_result r USING (check_id) ORDER BY c.layer, c.check_id",
    )
    names = [
        "layer",
        "check",
        "compares",
        "tolerance",
        "reason",
        "compared",
        "failed",
        "worst residual",
        "cells",
    ]
    return ["## Checks and what they found", "", "A residual of 1 is the limit.", *_table(names, rows)]


def _score(connection: duckdb.DuckDBPyConnection) -> list[str]:
    kinds = _rows(
        connection,
        "SELECT kind, tried, caught, round(100 * share, 2), round(100 * share_low, 2), round(100 * share_high, 2), "
        "tried - caught, less_safe, caught_with_second_keying, (100.0 * caught_with_second_keying / tried)::DECIMAL(5, 2) "
        "FROM error_score WHERE raw_file = '*' ORDER BY kind",
    )
    tables = _rows(
        connection,
        "SELECT raw_file, kind, tried, caught, caught_with_second_keying, round(100 * share, 2), round(100 * share_low, 2), "
        "round(100 * share_high, 2), less_safe, replace(survivors, chr(10), '; ') "
        "FROM error_score WHERE raw_file <> '*' AND caught < tried ORDER BY ALL",
    )
    if not kinds:
        return ["## Error-injection score", "", "Not measured in this build."]
    names = [
        "kind of error",
        "tried",
        "caught",
        "per cent",
        "95 % from",
        "to",
        "survivors",
        "of them less safe",
    ]
    names += ["with second keying", "per cent with it"]
    detail = [
        "raw file",
        "kind",
        "tried",
        "caught",
        "with second keying",
        "per cent",
        "95 % from",
        "to",
        "less safe",
        "survivors",
    ]
    return [
        "## Error-injection score",
        "",
        "One cell, row or column at a time was made wrong on purpose; this is the share that the verification caught. "
        "Second keying is not in it and stands in columns of its own: it detects change, not error. The last two figures "
        "of a share are its 95 % interval. *Less safe* counts survivors that would let more fill pass or admit a joint "
        "wrongly. Files with fewer than 100 tries of a kind are pooled.",
        *_table(names, kinds),
        *_folded(f"Every error that survives, by name ({len(tables)} rows)", _table(detail, tables)),
    ]


def _corrections(connection: duckdb.DuckDBPyConnection) -> list[str]:
    rows = _rows(
        connection,
        "SELECT raw_file, raw_key, raw_column, printed_value, corrected_value, reason, evidence, source_id FROM correction ORDER BY ALL",
    )
    names = ["raw file", "row", "column", "printed", "corrected", "reason", "evidence", "source"]
    return [
        "## Corrections",
        "",
        "Printed values that are wrong in print; `raw/` keeps them as printed.",
        *_table(names, rows),
    ]


def _single(connection: duckdb.DuckDBPyConnection) -> list[str]:
    rows = _rows(
        connection,
        "SELECT table_name, column_name, count(*), string_agg(row_key, '; ' ORDER BY row_key) FROM cell_provenance "
        "WHERE evidence = 1 AND origin <> 'derived' GROUP BY ALL ORDER BY ALL",
    )
    return [
        "## Values with one piece of evidence only",
        "",
        "Nothing but the one reading bears on these: no second unit, no identity, no other table, no second source and "
        "no second keying. Take them with more care than others; each can be traced to where it was read.",
        *_table(["table", "column", "values"], (row[:3] for row in rows)),
        *(
            line
            for table, column, count, keys in rows
            for line in _folded(f"{table}.{column}: {count}", [_cell(keys)])
        ),
    ]


def as_html(text: str) -> str:
    """The report as one page without outside references."""
    body = MarkdownIt("commonmark").enable("table").render(text)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{html.escape('Jointable: audit report')}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n<main>\n{body}</main>\n</body>\n</html>\n"
    )


def main() -> int:
    """Write both forms of the report."""
    text = report()
    write_text(TARGET, text)
    write_text(TARGET.with_suffix(".html"), as_html(text))
    print(f"wrote {TARGET.relative_to(ROOT)} and {TARGET.with_suffix('.html').relative_to(ROOT)}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
