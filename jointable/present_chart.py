"""The chart of a family on a terminal."""

from __future__ import annotations

from typing import Any

from rich.console import Console
from rich.text import Text

from jointable.chart_sheet import bare, chart_corner, chart_title
from jointable.language import said
from jointable.present import show_closing, show_rows

__all__ = ["show_chart"]


def show_chart(out: Console, answer: dict[str, Any]) -> None:
    """Print a chart: a row a size, a column a count.

    Args:
        out: Where to print.
        answer: The chart, as `--json` prints it.

    Source: none; a form of this project.

    Example:
        >>> chart = {"family": "twist-on", "grip": None, "sizes": "awg", "across": "conductors", "columns": ["2"],
        ...     "rows": [{"size": "12 AWG", "classes": ["10"]}], "data_version": "0", "edition": "nec-2023"}
        >>> show_chart(Console(width=80), chart)  # doctest: +ELLIPSIS
        Smallest twist-on class, by size and number of conductors
        AWG...
    """
    out.print(Text(chart_title(answer), style="bold"))
    sizes = answer["sizes"]
    names = [chart_corner(answer), *(bare(c, sizes) for c in answer["columns"])]
    rows = [(bare(r["size"], sizes), *(c or "-" for c in r["classes"])) for r in answer["rows"]]
    show_rows(out, names, rows)
    show_closing(out, answer)
    out.print(Text(f"{said('Clauses as in', answer.get('language'))} {answer['edition']}", style="dim"))
