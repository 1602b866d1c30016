"""A label and a record for a finished box: what is in it, by which edition and data, and when."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable
from decimal import Decimal
from html import escape

from jointable.errors import InputError
from jointable.language import said
from jointable.plan_answer import BoxPlan, Plan

__all__ = ["RECORD_COLUMNS", "label_sections", "labels_html", "record_csv"]

RECORD_COLUMNS = (
    "box", "title", "circuits", "joints", "classes", "box_size", "required_in3", "available_in3", "passes",
    "edition", "data_version", "date",
)  # fmt: skip

_STYLE = (
    "@page{margin:8mm}body{font:9pt/1.3 system-ui,sans-serif;margin:0;color-scheme:light dark}"
    ".label{border:1px solid;width:62mm;min-height:29mm;padding:2mm;margin:0 2mm 2mm 0;"
    "display:inline-block;vertical-align:top;break-inside:avoid;box-sizing:border-box}"
    ".label h2{font-size:11pt;margin:0}.label p{margin:0}"
)

#: What every label ends with.
_PLAN_ONLY = "From a plan; what was built is to be checked. Not a statement of compliance."


def labels_html(answer: Plan, date: str | None = None, language: str | None = None) -> str:
    """Labels of 62 mm, one a box, as a page to print.

    Args:
        answer: A plan.
        date: The date of the work as year-month-day, or None for a blank to fill in by hand.
        language: The language of the words; None is English.

    Returns:
        An HTML page that needs nothing else.

    Raises:
        InputError: The date is none.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> made = jointable.open().plan({"name": "K1", "enters": [{"size": "12/2"}],
        ...                               "device": [{"kind": "receptacle"}]})
        >>> "<h2>K1</h2>" in labels_html(made, "2026-11-25")
        True
    """
    title = escape(said("Box labels", language))
    return (
        f'<!DOCTYPE html><html lang="{language or "en"}"><meta charset="utf-8"><title>{title}</title>'
        f"<style>{_STYLE}</style><body>{label_sections(answer, date, language)}</body></html>\n"
    )


def label_sections(answer: Plan, date: str | None = None, language: str | None = None) -> str:
    """The labels alone, to stand in a page that has a style for them.

    Args:
        answer: A plan.
        date: The date of the work as year-month-day, or None for a blank to fill in by hand.
        language: The language of the words; None is English.

    Returns:
        An HTML section of the class `label` a box.

    Raises:
        InputError: The date is none.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> made = jointable.open().plan({"name": "K1", "enters": [{"size": "12/2"}],
        ...                               "device": [{"kind": "receptacle"}]})
        >>> label_sections(made).startswith('<section class="label"><h2>K1</h2>')
        True
    """
    day = _date(date)
    return "".join(_label(box, day, language) for box in answer)


def _label(box: BoxPlan, day: str, language: str | None) -> str:
    fill = box.fill
    circuits = ", ".join(_circuits(box))
    none = said("no single class", language)
    needed = f"{_plain(fill.required_in3)} of {_plain(fill.available_in3)} in³, {fill.edition}"
    lines = [
        *([said(box.given.title, language)] if box.given.title else []),
        *([said(f"Circuits: {circuits}", language)] if circuits else []),
        *(f"{j['joint']}: {j['text']}, {j['class'] or none}" for j in box.joints),
        f"{said(needed, language)}: {said(_verdict(fill.passes), language)}",
        said(f"Date {day or '____________'} · data {box.data_version}", language),
        said(_PLAN_ONLY, language),
    ]
    text = "".join(f"<p>{escape(line)}</p>" for line in lines)
    return f'<section class="label"><h2>{escape(box.box)}</h2>{text}</section>'


def record_csv(answer: Plan, date: str | None = None) -> str:
    """The as-built record, a row a box.

    Args:
        answer: A plan.
        date: The date of the work as year-month-day, or None for an empty cell.

    Returns:
        CSV text with the columns `RECORD_COLUMNS`; volumes in in³.

    Raises:
        InputError: The date is none.

    Source: none; a form of this project.

    Example:
        >>> import jointable
        >>> made = jointable.open().plan({"name": "K1", "enters": [{"size": "12/2"}],
        ...                               "device": [{"kind": "receptacle"}]})
        >>> record_csv(made).splitlines()[1].split(",")[0]
        'K1'
    """
    day = _date(date)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(RECORD_COLUMNS)
    writer.writerows(_record(box, day) for box in answer)
    return out.getvalue()


def _record(box: BoxPlan, day: str) -> Iterable[str]:
    fill = box.fill
    cells = box.rows[0]
    size = cells.get("size") or f"marked {_plain(fill.available_in3)} in³"
    sections = cells.get("quantity", "1")
    yield from (
        box.box,
        box.given.title,
        "; ".join(_circuits(box)),
        "; ".join(f"{j['joint']}: {j['text']}" for j in box.joints),
        "; ".join(f"{j['joint']}: {j['class'] or 'no single class'}" for j in box.joints),
        size if sections == "1" else f"{sections} x ({size})",
        _plain(fill.required_in3),
        _plain(fill.available_in3),
        {True: "true", False: "false", None: ""}[fill.passes],
        fill.edition,
        box.data_version,
        day,
    )


def _circuits(box: BoxPlan) -> list[str]:
    return list(dict.fromkeys(e.circuit for e in box.given.entries if e.circuit))


def _verdict(passes: bool | None) -> str:
    return {True: "holds", False: "too small", None: "undecided"}[passes]


def _plain(value: Decimal | None) -> str:
    if value is None:
        return "?"
    text = format(value, "f")
    return text.rstrip("0").rstrip(".") if "." in text else text


def _date(date: str | None) -> str:
    if date is None:
        return ""
    from datetime import date as day

    try:
        if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", date):
            raise ValueError
        return day.fromisoformat(date).isoformat()
    except ValueError:
        raise InputError(
            "not a date", column="date", value=date, expected="year-month-day such as 2026-11-25"
        ) from None
