"""Templates: one environment for our pages, and the same names for Datasette's."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote_plus, urlencode

from jinja2 import Environment, FileSystemLoader, StrictUndefined, pass_context
from jinja2.runtime import Context

from jointable.chart import joint_of_cell
from jointable.chart_sheet import bare, chart_corner, chart_title
from jointable.explorer import bars, limits, trace_graph
from jointable.explorer.questions import address
from jointable.language import LANGUAGES, said, said_word
from jointable.plan_draw import plan_svg
from jointable.report_bar import DIGITS, shown

__all__ = ["ASSETS", "TEMPLATES", "Assets", "globals_of", "our_environment", "parsed", "trace_address"]

HERE = Path(__file__).resolve().parent
TEMPLATES = HERE / "templates"
STATIC = HERE / "static"

_KINDS = {".css": "text/css; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".svg": "image/svg+xml"}


class Assets:
    """Our style, script and mark, each at an address with its hash, so that it never goes stale."""

    def __init__(self, folder: Path) -> None:
        self.files: dict[str, tuple[bytes, str]] = {}
        self._addresses: dict[str, str] = {}
        for path in sorted(folder.iterdir()):
            body = path.read_bytes()
            digest = hashlib.sha256(body).hexdigest()[:16]
            place = f"/assets/{path.stem}-{digest}{path.suffix}"
            self.files[place] = (body, _KINDS[path.suffix])
            self._addresses[path.name] = place

    def address(self, name: str) -> str:
        """Where a file of ours is."""
        return self._addresses[name]


ASSETS = Assets(STATIC)


def trace_address(table: str, key: str, column: str, json: bool = False) -> str:
    """The address of a trace."""
    return address("trace", {"table": table, "key": key, "column": column}, json)


def trace_of(provenance: str) -> str:
    """The address of a trace from a provenance id, `TABLE/KEY/COLUMN`; a key may hold a slash."""
    table, _, rest = provenance.partition("/")
    key, _, column = rest.rpartition("/")
    return trace_address(table, key, column)


def traces_of(ids: Iterable[str]) -> list[tuple[str, str, str]]:
    """Label, address and provenance id of each trace; a table that comes twice is told by its columns."""
    found = list(ids)
    tables = [i.partition("/")[0] for i in found]
    out = []
    for name, table in zip(found, tables, strict=True):
        column = name.rpartition("/")[2]
        label = (
            table if tables.count(table) == 1 else column if len(set(tables)) == 1 else f"{table} {column}"
        )
        out.append((words(label), trace_of(name), name))
    return out


def parsed(text: str | bytes) -> Any:
    """JSON with exact decimals."""
    return json.loads(text, parse_float=Decimal)


def figure(value: Any, digits: int | None = None) -> str:
    """A number or text as people read it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float, Decimal)):
        return shown(value, digits)
    return "" if value is None else str(value)


def cautions_of(results: Iterable[Mapping[str, Any]]) -> list[Any]:
    """The cautions of several answers, each once."""
    return list({c["id"]: c for r in results for c in r["cautions"]}.values())


def by_family(choices: Iterable[Mapping[str, Any]]) -> list[tuple[str, list[Mapping[str, Any]]]]:
    """Choices in their families, in the order of the answer."""
    out: dict[str, list[Mapping[str, Any]]] = {}
    for choice in choices:
        out.setdefault(choice["family"], []).append(choice)
    return list(out.items())


@pass_context
def translate(context: Context, text: str) -> str:
    """What stands on a page beside the answer, in the language that is asked for."""
    return said(text, language_of(context))


@pass_context
def spoken(context: Context, word: str, kind: str) -> str:
    """A word of a kind, such as a family, in the language that is asked for."""
    return said_word(word, kind, language_of(context))


def language_of(context: Context) -> str | None:
    """The language that the address asks for, where it is one of ours."""
    given = context.get("given")
    language = given.get("language") if isinstance(given, Mapping) else None
    return language if language in LANGUAGES else None


def split_words(split: Mapping[str, Any]) -> str:
    """How a joint is split, in a sentence that has its translation."""
    jumpers = split["jumpers"]
    tied = f"{jumpers} jumper{'s' if jumpers != 1 else ''} of {split['jumper']}"
    return f"{len(split['connectors'])} connectors, tied by {tied}:"


def part_words(part: Mapping[str, Any]) -> str:
    """One connector of a split."""
    ends = part["jumper_ends"]
    return f"on {part['conductors']} and {ends} jumper end{'s' if ends != 1 else ''}"


def words(name: str) -> str:
    """A name of ours as words: `other_editions` becomes `other editions`."""
    return name.replace("_", " ")


def breadth(text: str) -> str:
    """How a cell of a table breaks: short ones do not, long ones get room."""
    return "short" if len(text) <= 28 else "long" if len(text) > 60 else "plain"


def linkable(link: str) -> bool:
    """Whether an address is short enough to be answered."""
    query = link.partition("?")[2]
    return len(unquote_plus(query)) <= limits.QUERY_CHARACTERS and len(link) <= limits.ADDRESS_BYTES - 16


def filters_of() -> Mapping[str, Any]:
    """The filters that every template may use."""
    return {
        "bare": bare,
        "breadth": breadth,
        "chart_corner": chart_corner,
        "chart_title": chart_title,
        "figure": figure,
        "linkable": linkable,
        "said": said,
        "spoken": spoken,
        "split_words": split_words,
        "part_words": part_words,
        "words": words,
    }


def globals_of() -> Mapping[str, Any]:
    """What every template may use."""
    return {
        "_": translate,
        "asset": ASSETS.address,
        "address": address,
        "bars": bars,
        "by_family": by_family,
        "digits": DIGITS,
        "fill_cautions": cautions_of,
        "graph": trace_graph.graph,
        "joint_of_cell": joint_of_cell,
        "plan_svg": plan_svg,
        "trace_address": trace_address,
        "traces_of": traces_of,
        "urlencode_query": urlencode,
    }


@cache
def our_environment() -> Environment:
    """The environment of our own pages; everything is escaped, a name that is missing is an error."""
    env = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.globals.update(globals_of())
    env.tests["ending"] = lambda name, ends: name.endswith(tuple(ends))
    env.filters.update(filters_of())
    return env
