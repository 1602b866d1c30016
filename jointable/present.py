"""Answers as tables for people; everything here takes the dictionaries that `--json` prints."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from rich import box as rules
from rich.cells import cell_len
from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text
from rich.tree import Tree

from jointable.language import said, said_word
from jointable.present_advice import show_carried, show_guidance
from jointable.trace import plain

__all__ = ["show_closing", "show_fill", "show_joint", "show_range", "show_rows", "show_trace"]

#: Choices shown for each family; the rest are counted.
MOST_CHOICES = 3
#: So much of a word stays together in a column.
_WORD = 10


def show_joint(out: Console, answer: dict[str, Any]) -> None:
    """Print the answer of `joint`."""
    joint = answer["joint"]
    out.print(Text(joint["text"], style="bold"))
    across = f"total {plain(joint['total_mm2'])} mm², bare bundle {plain(joint['bundle_mm'])} mm across"
    out.print(said(across, answer.get("language")))
    by_family: dict[str, list[dict[str, Any]]] = {}
    for choice in answer["choices"]:
        by_family.setdefault(choice["family"], []).append(choice)
    if by_family:
        _print(out, _choices(by_family, answer.get("language")))
    for choice in answer["choices"]:
        for told in (*choice["reasons"], *choice["notes"]) if choice.get("listing") else ():
            _line(out, f"{choice['listing']['connector']}: {told}")
    for family, choices in by_family.items():
        generic = [c for c in choices[:MOST_CHOICES] if not c.get("listing")]
        for note in _distinct(n for c in generic for n in c["notes"]):
            _line(out, f"{said_word(family, 'family', answer.get('language'))}: {note}")
    if not answer["choices"]:
        carried = "carried connector" if answer.get("carry") else "class"
        out.print(said(f"No {carried} takes this joint.", answer.get("language")))
    if not answer["choices"] or len(by_family) == 1:
        _refusals(out, answer["refused"], answer.get("language"))
    _split(out, answer)
    show_carried(out, answer.get("carry"), answer.get("language"))
    show_guidance(out, answer)
    show_closing(out, answer)


def _choices(by_family: dict[str, list[dict[str, Any]]], language: str | None) -> Table:
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading, side in (
        ("class", "left"),
        ("takes mm²", "right"),
        ("room cm³", "right"),
        ("the connector must be", "left"),
    ):
        _column(table, said(heading, language), side)
    for choices in by_family.values():
        # What the user's own file lists comes first, all of it; of generic classes the first few.
        shown = len(choices) if choices[0].get("listing") else MOST_CHOICES
        for choice in choices[:shown]:
            name = choice["listing"]["connector"] if choice.get("listing") else choice["class"]
            table.add_row(
                name, _range(choice), plain(choice["room_cm3"]), "; ".join(choice["requires"]) or "-"
            )
        if len(choices) > shown:
            table.add_row(Text(said(f"and {len(choices) - shown} more", language), style="dim"), "", "", "")
    return table


def _column(table: Table, heading: str, side: str) -> None:
    table.add_column(heading, justify="right" if side == "right" else "left", overflow="fold")


def _print(out: Console, table: Table) -> None:
    """Print a table; where it would have to break figures or drop a column, its rows one under the other."""
    for column in table.columns:
        longest = max((cell_len(str(cell)) for cell in column.cells), default=0)
        column.min_width = longest if column.justify == "right" else min(longest, _WORD)
    if sum((c.min_width or 0) + 2 for c in table.columns) <= out.width:
        out.print(table)
        return
    headings = [str(c.header) for c in table.columns]
    for cells in zip(*(c.cells for c in table.columns), strict=True):
        first, *rest = (str(cell) for cell in cells)
        out.print(Text(first, style="bold"))
        told = [f"{name} {cell}" for name, cell in zip(headings[1:], rest, strict=True) if cell]
        if told:
            out.print(Padding(Text("; ".join(told)), (0, 0, 0, 2)))


def _range(choice: dict[str, Any]) -> str:
    if choice["total_max_mm2"] is None:
        return "-"
    return f"{plain(choice['total_min_mm2'])} – {plain(choice['total_max_mm2'])}"


def _refusals(out: Console, refused: list[dict[str, Any]], language: str | None) -> None:
    if not refused:
        return
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    table.add_column(said("refused", language), overflow="fold")
    table.add_column(said("because", language), overflow="fold")
    for refusal in refused[:12]:
        near = f"; {refusal['near_miss']}" if refusal.get("near_miss") else ""
        table.add_row(refusal["class"], refusal["reason"] + near)
    _print(out, table)
    if len(refused) > 12:
        _line(out, said(f"and {len(refused) - 12} more", language))


def _split(out: Console, answer: dict[str, Any]) -> None:
    split, language = answer["split"], answer.get("language")
    if split:
        how = (
            f"With {_counted(len(split['connectors']), 'connector')} and "
            f"{_counted(split['jumpers'], 'jumper')} of {split['jumper']}:"
        )
        _line(out, said(how, language))
        for part in split["connectors"]:
            ends = _counted(part["jumper_ends"], "jumper end")
            _line(out, said(f"  {part['class']}: {part['conductors']} and {ends}", language))
    elif answer.get("split_reason"):
        _line(out, answer["split_reason"])


def _counted(count: int, what: str) -> str:
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def show_fill(out: Console, results: list[dict[str, Any]], detail: bool | None = None) -> None:
    """Print the answer of `fill`: every box in a line, and the lines of those that do not pass.

    Args:
        out: Where to print.
        results: The answer, as `--json` prints it.
        detail: Lines for every box (True) or for none (False); by default for boxes that do not
            pass, and for a box that stands alone.
    """
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    unit = "mL" if results and results[0]["edition"].startswith("cec") else "in³"
    language = results[0].get("language") if results else None
    for heading, side in (
        ("box", "left"),
        ("needs", "right"),
        ("has", "right"),
        ("passes", "left"),
    ):
        told = said(heading, language)
        _column(table, f"{told} {unit}" if side == "right" else told, side)
    for r in results:
        table.add_row(_name(r), *_volumes(r, unit), _verdict(r["passes"], language))
    _print(out, table)
    for r in results:
        if detail or (detail is None and (len(results) == 1 or r["passes"] is not True)):
            _detail(out, r, unit)
    shown = _distinct(a for r in results for a in r["assumptions"]) if len(results) > 1 else []
    for text in shown[:8]:
        _line(out, f"{said('Assumed:', language)} {text}")
    if results:
        passed = sum(r["passes"] is True for r in results)
        verdict = f"{passed} of {len(results)} pass under {results[0]['edition']}."
        _line(out, said(verdict, language))
        _cautions(out, list({c["id"]: c for r in results for c in r["cautions"]}.values()), language)
        out.print(Text(f"{said('data', language)} {results[0]['data_version']}", style="dim"))


def _name(r: dict[str, Any]) -> str:
    return f"{r['box']} / {r['space']}" if r["space"] else str(r["box"])


def _volumes(r: dict[str, Any], unit: str) -> tuple[str, str]:
    suffix = "cm3" if unit == "mL" else "in3"
    return plain(r[f"required_{suffix}"]), plain(r[f"available_{suffix}"]) or "?"


def _verdict(passes: bool | None, language: str | None = None) -> Text:
    if passes is None:
        return Text(said("undecided", language), style="bold")
    return Text(said("yes", language)) if passes else Text(said("NO", language), style="bold reverse")


def _detail(out: Console, r: dict[str, Any], unit: str) -> None:
    suffix = "cm3" if unit == "mL" else "in3"
    needs, has = _volumes(r, unit)
    language = r.get("language")
    out.print(Text(said(f"{_name(r)}: needs {needs} {unit}, has {has} {unit}", language), style="bold"))
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading, side in (
        ("item", "left"),
        ("count", "right"),
        ("size", "left"),
        (unit, "right"),
        ("clause", "left"),
    ):
        _column(table, said(heading, language), side)
    for line in r["lines"]:
        table.add_row(
            line["item"],
            plain(line["count"]),
            line["size"] or "",
            plain(line[f"volume_{suffix}"]),
            line["clause"],
        )
    if r["lines"]:
        _print(out, table)
    for limit in r["limits"]:
        _line(out, said(_limit(limit), language))
    if r["remaining"] and r["passes"]:
        room = ", ".join(f"{x['count']} x {x['size']}" for x in r["remaining"] if x["count"])
        held = f"Still holds one of: {room}" if room else "Holds no further conductor."
        _line(out, said(held, language))
    for text in r["assumptions"]:
        _line(out, f"{said('Assumed:', language)} {text}")
    for text in r.get("changes", ()):
        _line(out, f"{said('Would pass with:', language)} {text}")


def _limit(limit: dict[str, Any]) -> str:
    """A limit in a line: what it measures, what it needs and what is given, with their unit."""
    unit = f" {limit['unit']}" if limit.get("unit") else ""
    what = f" {limit['what']}" if limit.get("what") else ""
    needed = "" if limit["needed"] is None else f" needs {plain(limit['needed'])}{unit},"
    if limit["passes"] is None:
        given = "not given" if limit["given"] is None else f"given {plain(limit['given'])}{unit}"
        return f"{limit['clause']}{what}:{needed} {given}: not checked"
    return (
        f"{limit['clause']}{what}:{needed} given {plain(limit['given'])}{unit}: {_verdict(limit['passes'])}"
    )


def show_range(out: Console, answer: dict[str, Any]) -> None:
    """Print the answer of `range`."""
    language = answer.get("language")
    out.print(Text(answer["class"], style="bold"))
    for name in ("least", "greatest"):
        for mix in answer[name]:
            _line(out, f"{said(name + ':', language)} {mix['text']} ({plain(mix['total_mm2'])} mm²)")
    for mix in answer["usual"]:
        _line(
            out, f"{said('usual:', language)} {mix['text']} ({plain(mix['total_mm2'])} mm²), {mix['met_as']}"
        )
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for heading, side in (("size", "left"), ("at least", "right"), ("at most", "right")):
        _column(table, said(heading, language), side)
    for row in answer["by_size"]:
        table.add_row(row["size"], str(row["min_count"]), str(row["max_count"]))
    _print(out, table)
    show_closing(out, answer)


def show_trace(out: Console, answer: dict[str, Any]) -> None:
    """Print the answer of `trace` as a tree."""
    out.print(_branch(answer, Tree(_head(answer))))


def _head(node: dict[str, Any]) -> Text:
    unit = f" {node['unit']}" if node["unit"] else ""
    return Text.assemble(
        (f"{node['table']} / {node['key']} / {node['column']}", "bold"), f" = {plain(node['value'])}{unit}"
    )


def _branch(node: dict[str, Any], tree: Tree) -> Tree:
    for text in _facts(node):
        tree.add(Text(text))
    for inner in node["inputs"]:
        _branch(inner, tree.add(_head(inner)))
    if node.get("more_inputs"):
        tree.add(Text(f"and {node['more_inputs']} more inputs"))
    return tree


def _facts(node: dict[str, Any]) -> Iterable[str]:
    if node["formula"]:
        yield f"derived: {node['formula']}"
    if node["source"]:
        edition = f", {node['edition']}" if node.get("edition") else ""
        title = node.get("title") or node["source"]
        place = f"{title}{edition} ({node['source']}), {node['locator']}"
        yield f"{node['origin']} from {place}; access {node['access']}"
    if node["printed"]:
        yield f"printed: {node['printed']}"
    for c in node["corrections"]:
        yield f"corrected from {c['printed']}: {c['reason']} ({c['evidence']})"
    for r in node.get("other_readings", ()):
        yield f"also {r['printed']} in {r['source']}, {r['locator']}"
    if node["checks"]:
        yield "checked by " + ", ".join(f"{c['check_id']} ({plain(c['residual'])})" for c in node["checks"])
    if node["evidence"]:
        yield f"pieces of evidence: {node['evidence']}"
    if node.get("note"):
        yield f"note: {node['note']}"


def show_rows(
    out: Console, names: list[str], rows: list[tuple[Any, ...]], figures: tuple[str, ...] = ()
) -> None:
    """Print the rows of a query; columns of figures stand to the right."""
    table = Table(box=rules.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name in names:
        _column(table, name, "right" if name in figures else "left")
    for row in rows:
        table.add_row(*("" if v is None else str(v) for v in row))
    _print(out, table)


def show_closing(out: Console, answer: dict[str, Any]) -> None:
    """Print what an answer rests on, its cautions, and the data it comes from."""
    for text in answer.get("assumptions", ()):
        _line(out, f"{said('Assumed:', answer.get('language'))} {text}")
    _cautions(out, answer.get("cautions", []), answer.get("language"))
    out.print(Text(f"{said('data', answer.get('language'))} {answer['data_version']}", style="dim"))


def _cautions(out: Console, cautions: list[dict[str, Any]], language: str | None) -> None:
    for caution in cautions:
        clause = f" [{said(caution['clause'], language)}]" if caution.get("clause") else ""
        out.print(Text(f"! {caution['text']}{clause}", style="italic"))


def _line(out: Console, text: str) -> None:
    out.print(Text(text))


def _distinct(texts: Iterable[str]) -> list[str]:
    return list(dict.fromkeys(texts))
