"""Answers as HTML fragments for notebooks; they take the dictionaries that `--json` prints, and escape everything."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from html import escape
from typing import Any

from jointable.jsonform import dumps

__all__ = ["html_fill", "html_joint", "html_trace"]

#: Choices and refusals shown for each answer; the rest are counted.
_MOST = 8

_VERDICTS = {True: "passes", False: "does not pass", None: "undecided"}


def html_joint(answer: dict[str, Any], drawing: str = "") -> str:
    """The answer about a joint.

    Args:
        answer: The dictionary of `JointAnswer.to_dict`.
        drawing: An SVG element, trusted, of the bundle; or nothing.

    Returns:
        HTML without style, script or outside reference.

    Source: none; this is a form of this project.

    Example:
        >>> import jointable
        >>> "twist-on 16" in html_joint(jointable.open().connectors("3x12").to_dict())
        True
    """
    joint = answer["joint"]
    head = (
        f"<p><strong>{escape(joint['text'])}</strong>: total {_text(joint['total_mm2'])} mm², "
        f"bare bundle {_text(joint['bundle_mm'])} mm across</p>"
    )
    rows = [
        (
            (c.get("listing") or {}).get("connector") or c["class"],
            "–"
            if c["total_max_mm2"] is None
            else f"{_text(c['total_min_mm2'])} – {_text(c['total_max_mm2'])}",
            c["room_cm3"],
            "; ".join(c["requires"]),
            "; ".join([*c["reasons"], *c["notes"]]),
        )
        for c in answer["choices"]
    ]
    body = (
        _table(("class", "takes mm²", "room cm³", "the connector must be", "because"), rows, "larger")
        if rows
        else "<p>No class takes this joint.</p>" + _refused(answer["refused"])
    )
    return _whole(head + drawing + body, answer)


def _refused(refused: Sequence[dict[str, Any]]) -> str:
    return _table(("refused", "because"), [(r["class"], r["reason"]) for r in refused], "more")


def html_fill(results: Sequence[dict[str, Any]]) -> str:
    """The answers about boxes; the lines of a box where it is the only one.

    Args:
        results: Dictionaries of `FillResult.to_dict`.

    Returns:
        HTML without style, script or outside reference.

    Source: none; this is a form of this project.

    Example:
        >>> html_fill([])
        '<div class="jointable"><p>no boxes</p></div>'
    """
    if not results:
        return '<div class="jointable"><p>no boxes</p></div>'
    columns = ("box", "needs in³", "has in³", "needs cm³", "has cm³", "verdict", "edition")
    rows = [
        (
            r["box"] if r["space"] is None else f"{r['box']} / {r['space']}",
            r["required_in3"],
            r["available_in3"],
            r["required_cm3"],
            r["available_cm3"],
            _VERDICTS[r["passes"]],
            r["edition"],
        )
        for r in results
    ]
    body = _table(columns, rows, "more", most=len(rows))
    if len(results) == 1:
        body += _lines(results[0]["lines"])
    texts = {"assumptions": list(dict.fromkeys(a for r in results for a in r["assumptions"]))}
    return _whole(body, results[0] | texts)


def _lines(lines: Sequence[dict[str, Any]]) -> str:
    rows = [(x["item"], x["count"], x["size"], x["volume_in3"], x["volume_cm3"], x["clause"]) for x in lines]
    return _table(("item", "count", "size", "in³", "cm³", "clause"), rows, "more", most=len(rows))


def html_trace(node: dict[str, Any]) -> str:
    """Where a value comes from, as nested lists.

    Args:
        node: The dictionary of `Trace.to_dict`.

    Returns:
        HTML without style, script or outside reference.

    Source: none; this is a form of this project.

    Example:
        >>> import jointable
        >>> "314.16" in html_trace(jointable.open().trace("allowance", "nec-2023,12 AWG", "volume_in3").to_dict())
        True
    """
    return f'<div class="jointable"><ul>{_node(node)}</ul></div>'


def _node(node: dict[str, Any]) -> str:
    value = f"{_text(node['value'])} {node['unit'] or ''}".strip()
    told = [
        f"{label}{_text(node[name])}"
        for name, label in (
            ("origin", ""),
            ("title", ""),
            ("locator", ""),
            ("access", "access "),
            ("printed", "printed "),
            ("formula", "formula "),
        )
        if node.get(name)
    ]
    inner = "".join(map(_node, node["inputs"]))
    place = f"{node['table']} / {node['key']} / {node['column']}"
    return (
        f"<li><strong>{escape(place)}</strong> = {escape(value)}<br>{escape('; '.join(told))}"
        f"{f'<ul>{inner}</ul>' if inner else ''}</li>"
    )


def _table(columns: Sequence[str], rows: Sequence[Sequence[Any]], rest: str, most: int = _MOST) -> str:
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in columns)
    body = "".join(f"<tr>{''.join(f'<td>{escape(_text(v))}</td>' for v in row)}</tr>" for row in rows[:most])
    table = f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
    return table + (f"<p>and {len(rows) - most} {rest}</p>" if len(rows) > most else "")


def _whole(body: str, answer: dict[str, Any]) -> str:
    """The fragment with what the answer rests on: assumptions, cautions, data version."""
    cautions = [
        f"{c['text']} [{c['clause']}]" if c.get("clause") else c["text"] for c in answer.get("cautions", ())
    ]
    return (
        f'<div class="jointable">{body}{_list("Assumed", answer.get("assumptions", ()))}'
        f"{_list('Cautions', cautions)}<p>data {escape(str(answer['data_version']))}</p></div>"
    )


def _list(title: str, texts: Iterable[str]) -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f"<p>{title}</p><ul>{items}</ul>" if items else ""


def _text(value: Any) -> str:
    """A value as people read it; decimals exact and without padding zeros."""
    if value is None:
        return ""
    return dumps(value) if isinstance(value, Decimal) else str(value)
