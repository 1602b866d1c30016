"""The HTML report of a schedule: every box, its lines with clauses, and how full it is."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from jointable.report_bar import DIGITS, bar, hatches, legend, segments, shown

if TYPE_CHECKING:
    from jointable.reference import Reference

__all__ = ["content_hashes", "html_report"]

#: The published tables that decide a fill.
TABLES = ("edition", "box", "allowance", "fill_rule", "box_limit")

_VERDICTS = {
    True: ("passes", "verdict"),
    False: ("does not pass", "verdict no"),
    None: ("undecided", "verdict open"),
}


def html_report(
    results: Sequence[Any],
    *,
    name: str,
    hashes: Mapping[str, str] | None = None,
    invented: bool = False,
) -> str:
    """Write the report of a schedule as one HTML page that needs nothing from outside.

    Args:
        results: The answer of `fill`: results, or dictionaries as `--json` prints them.
        name: What the schedule is called.
        hashes: Content hashes (SHA-256) to print, by what they are of.
        invented: Whether the page must say that the boxes are invented.

    Returns:
        The page. Volumes are in in³ and cm³, in Canada in mL and in³.

    Source: the clauses, editions and data version of the results.

    Example:
        >>> html_report([], name="boxes.csv").startswith("<!DOCTYPE html>")
        True
    """
    boxes = [r if isinstance(r, Mapping) else r.to_dict() for r in results]
    clauses = list(dict.fromkeys(c for r in boxes for c, _ in segments(r, f"volume_{_units(r)[0][1]}")))
    sections = "\n".join(_section(number, r, clauses) for number, r in enumerate(boxes, 1))
    style = files("jointable").joinpath("report.css").read_text("utf-8")
    body = (
        f"{hatches(clauses)}<main><h1>Box fill: {escape(name)}</h1>{_facts(boxes, hashes or {}, invented)}"
        f"{_summary(boxes)}{sections}{_cautions(boxes)}"
        '<div class="signature"><span>checked by</span><span>date</span></div></main>'
    )
    return (
        '<!DOCTYPE html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark">'
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"<title>Box fill: {escape(name)}</title><style>\n{style}</style></head>\n<body>{body}</body></html>\n"
    )


def _units(result: Mapping[str, Any]) -> tuple[tuple[str, str], tuple[str, str]]:
    """First and second unit with the column suffix of each, in the order people see them."""
    canada = str(result["edition"]).startswith("cec")
    litre, inch = ("mL" if canada else "cm³", "cm3"), ("in³", "in3")
    first = result.get("first_unit") or ("cm3" if canada else "in3")
    return (inch, litre) if first == "in3" else (litre, inch)


def _both(result: Mapping[str, Any], stem: str) -> tuple[str, str]:
    return tuple(  # type: ignore[return-value]
        shown(result[f"{stem}_{suffix}"], DIGITS[unit]) for unit, suffix in _units(result)
    )


def _name(result: Mapping[str, Any]) -> str:
    name = f"{result['box']} / {result['space']}" if result["space"] else str(result["box"])
    alike = result.get("boxes") or 1
    return f"{name} (× {alike})" if alike != 1 else name


def _facts(boxes: Sequence[Mapping[str, Any]], hashes: Mapping[str, str], invented: bool) -> str:
    verdicts = [r["passes"] for r in boxes]
    facts = [
        ("edition", ", ".join(dict.fromkeys(str(r["edition"]) for r in boxes))),
        ("data version", ", ".join(dict.fromkeys(str(r["data_version"]) for r in boxes))),
        (
            "result",
            f"{verdicts.count(True)} of {len(boxes)} pass, {verdicts.count(False)} do not, "
            f"{verdicts.count(None)} undecided",
        ),
        *((f"SHA-256 of {what}", value) for what, value in hashes.items()),
    ]
    note = "<p><strong>These boxes are invented; no real building is meant.</strong></p>" if invented else ""
    return note + '<dl class="facts">' + "".join(_fact(*fact) for fact in facts if fact[1]) + "</dl>"


def _fact(term: str, text: str) -> str:
    return f"<dt>{escape(term)}</dt><dd>{escape(text)}</dd>"


def _verdict(passes: bool | None) -> str:
    word, style = _VERDICTS[passes]
    return f'<span class="{style}">{word}</span>'


def _summary(boxes: Sequence[Mapping[str, Any]]) -> str:
    if not boxes:
        return "<p>The schedule holds no box.</p>"
    (first, _), (second, _) = _units(boxes[0])
    rows = []
    for number, r in enumerate(boxes, 1):
        need, there = _both(r, "required"), _both(r, "available")
        link = f'<a href="#box-{number}">{escape(_name(r))}</a>'
        rows.append(_row([link, *need, *there, _verdict(r["passes"])], numbers=(1, 2, 3, 4)))
    head = ["box", f"needed {first}", second, f"there {first}", second, "verdict"]
    return _table("All boxes", head, rows, numbers=(1, 2, 3, 4))


def _table(
    caption: str, head: Sequence[str], rows: Iterable[str], numbers: Sequence[int], foot: str = ""
) -> str:
    cells = "".join(
        f'<th scope="col"{" class=number" if i in numbers else ""}>{escape(h)}</th>'
        for i, h in enumerate(head)
    )
    return (
        f'<div class="scroll"><table><caption>{escape(caption)}</caption><thead><tr>{cells}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody>{foot}</table></div>"
    )


def _row(cells: Sequence[str], numbers: Sequence[int] = ()) -> str:
    """One row of a table; its cells are HTML already."""
    return (
        "<tr>"
        + "".join(f"<td{' class=number' if i in numbers else ''}>{c}</td>" for i, c in enumerate(cells))
        + "</tr>"
    )


def _section(number: int, r: Mapping[str, Any], clauses: Sequence[str]) -> str:
    unit = _units(r)[0][0]
    need, there = _both(r, "required"), _both(r, "available")
    units = [u for u, _ in _units(r)]
    head = (
        f'<header><h2 id="box-{number}">{escape(_name(r))}</h2>{_verdict(r["passes"])}</header>'
        f"<p>needs {need[0]} {units[0]} ({need[1]} {units[1]}), "
        + (
            f"has {there[0]} {units[0]} ({there[1]} {units[1]})</p>"
            if there[0]
            else "its volume is not known</p>"
        )
    )
    long = " long" if len(r["lines"]) + len(r["limits"]) > 18 else ""
    parts = [
        head,
        f'<p class="dim">{escape(str(r["note"]))}</p>' if r.get("note") else "",
        f'<div class="scroll">{bar(r, clauses, unit)}</div>',
        legend(r, clauses, unit),
        _lines(r),
        _limits(r),
        _list("Changes that bring it under", r.get("changes") or ()),
        _remaining(r),
        _list("Assumptions", r["assumptions"]),
    ]
    return f'<section class="box{long}" aria-labelledby="box-{number}">{"".join(parts)}</section>'


def _lines(r: Mapping[str, Any]) -> str:
    if not r["lines"]:
        return "<p>Nothing in it takes volume.</p>"
    (first, one), (second, two) = _units(r)
    rows = [
        _row(
            [
                escape(str(line["item"])),
                shown(line["count"]),
                escape(str(line["size"] or "")),
                shown(line[f"allowance_{one}"], DIGITS[first]),
                shown(line[f"volume_{one}"], DIGITS[first]),
                shown(line[f"volume_{two}"], DIGITS[second]),
                escape(str(line["clause"] or "")),
            ],
            numbers=(1, 3, 4, 5),
        )
        for line in r["lines"]
    ]
    need = _both(r, "required")
    foot = f"<tfoot>{_row(['needed', '', '', '', *need, ''], numbers=(1, 3, 4, 5))}</tfoot>"
    head = ["item", "count", "size", f"each {first}", first, second, "clause"]
    return _table("What takes volume", head, rows, (1, 3, 4, 5), foot)


def _limits(r: Mapping[str, Any]) -> str:
    checked = [limit for limit in r["limits"] if limit["passes"] is not None]
    rows = [
        _row(
            [
                escape(str(limit["clause"])),
                escape(str(limit.get("what") or "")),
                _measure(limit["needed"], limit),
                _measure(limit["given"], limit),
                _verdict(limit["passes"]),
            ],
            numbers=(2, 3),
        )
        for limit in checked
    ]
    head = ["clause", "what", "needed", "given", "verdict"]
    table = _table("Limits beside the fill", head, rows, (2, 3)) if rows else ""
    return table + _unchecked([limit for limit in r["limits"] if limit["passes"] is None])


def _unchecked(limits: Sequence[Mapping[str, Any]]) -> str:
    """Limits for which the schedule gives no figure; never left out, since they hold all the same."""
    if not limits:
        return ""
    texts = []
    for limit in limits:
        needed = _measure(limit["needed"], limit)
        what = escape(str(limit.get("what") or "limit"))
        texts.append(f"{escape(str(limit['clause']))} {what}{f' ({needed})' if needed else ''}")
    return f'<p class="unchecked"><strong>Not checked, for want of a figure:</strong> {"; ".join(texts)}.</p>'


def _measure(value: Any, limit: Mapping[str, Any]) -> str:
    text = shown(value)
    return f"{text} {escape(str(limit.get('unit') or ''))}".strip() if text else ""


def _remaining(r: Mapping[str, Any]) -> str:
    if not r["remaining"]:
        return ""
    room = ", ".join(f"{shown(x['count'])} of {escape(str(x['size']))}" for x in r["remaining"] if x["count"])
    return f"<p>Room for more conductors, of one size each: {room or 'none'}.</p>"


def _list(title: str, texts: Iterable[Any]) -> str:
    entries = "".join(f"<li>{escape(str(t))}</li>" for t in texts)
    return f"<h3>{title}</h3><ul>{entries}</ul>" if entries else ""


def _cautions(boxes: Sequence[Mapping[str, Any]]) -> str:
    by_id = {c["id"]: c for r in boxes for c in r["cautions"]}
    entries = "".join(f"<li>{escape(_caution(c))}</li>" for c in by_id.values())
    return f"<h2>Cautions</h2><ul>{entries}</ul>" if entries else ""


def _caution(caution: Mapping[str, Any]) -> str:
    return f"{caution['text']} ({caution['clause']})" if caution.get("clause") else str(caution["text"])


def content_hashes(reference: Reference) -> dict[str, str]:
    """The content hash of each published table that decides a fill, as the data package states it.

    Args:
        reference: The open database.

    Returns:
        Table name to SHA-256 of its published CSV.

    Source: the tables themselves; the form is that of `published/datapackage.json`.

    Example:
        >>> import jointable
        >>> sorted(content_hashes(jointable.open()))[0]
        'allowance'
    """
    return {name: _content_hash(reference, name) for name in TABLES}


@cache
def _content_hash(reference: Reference, table: str) -> str:
    cursor = reference.connection.cursor()
    rows = cursor.execute(f'FROM "{table}"').fetchall()
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow([c[0] for c in cursor.description or ()])
    writer.writerows([_cell(v) for v in row] for row in rows)
    return hashlib.sha256(text.getvalue().encode("utf-8")).hexdigest()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return ("true" if value else "false") if isinstance(value, bool) else str(value)
