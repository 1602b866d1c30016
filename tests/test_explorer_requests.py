"""Requests drawn from the explorer's own OpenAPI description: no 5xx, no hang, every header, no echo.

A sample runs with the tests. A release runs `python -m tests.test_explorer_requests 50000`.
"""

from __future__ import annotations

import http.client
import json
import sys
from collections.abc import Iterator, Mapping
from typing import Any
from urllib.parse import quote_plus, urlsplit

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.explorer_support import REQUIRED, Explorer, explorer

pytest.importorskip("datasette")

#: Of the sample.
EXAMPLES = 400
SECONDS = 2.0
MARK = "<q9x>'\""

_SIZES = st.sampled_from(
    ["12", "14 AWG", "#10", "4/0", "250 kcmil", "2.5 mm2", "6mm²", "18", "0", "13.5", MARK]
)
_WORDS = st.sampled_from(
    ["", " solid", " stranded", " flexible", " copper", " aluminium", " copper-clad", " THHN"]
)
_TERM = st.builds(lambda n, s, w: f"{n}x{s}{w}", st.integers(-1, 30), _SIZES, _WORDS)
_JOINT = st.builds(
    lambda terms, by: by.join(terms), st.lists(_TERM, max_size=5), st.sampled_from([" + ", "+", " | "])
)
_ITEM = st.sampled_from(
    [
        "box 4 x 1-1/2 square",
        "box 18 in3",
        "cable 12/2",
        "conductor 12",
        "device",
        "clamp",
        "grounding 12",
        "stud",
        "loop 14",
    ]
)
_LINE = st.builds(
    lambda n, i, e: f"{n} {i}{e}",
    st.integers(0, 10_000),
    _ITEM,
    st.sampled_from(["", " x 3", " gangs=2", MARK]),
)
_BOX = st.builds(lambda lines: "\n".join(["box 4 x 1-1/2 square", *lines]), st.lists(_LINE, max_size=6))
_ROW = st.builds(
    lambda b, i, s, n, j: f"{b},{i},{s},{n},{j}",
    st.sampled_from("ABC"),
    st.just("conductor"),
    _SIZES,
    st.integers(-1, 9),
    st.sampled_from(["", "L", "N"]),
)
_SCHEDULE = st.builds(
    lambda rows: "\n".join(["box,item,size,quantity,joint", *rows]), st.lists(_ROW, max_size=8)
)

#: Parameters that mean something are drawn by their grammar half of the time.
_GRAMMAR: Mapping[str, st.SearchStrategy[str]] = {
    "conductors": _JOINT,
    "items": _BOX,
    "schedule": _SCHEDULE,
    "size": st.sampled_from(["1", "1.6", "16", "2.5", "25", "99", "-1"]),
    "key": st.sampled_from(
        ["nec-2023,12 AWG", "12 AWG", "twist-on 16", "nec-2023,4 x 1-1/2 square", '"', ","]
    ),
    "column": st.sampled_from(["volume_in3", "area_mm2", "room_cm3", "clause", "no_such", "edition"]),
}
_ANYTHING = st.one_of(
    st.text(max_size=60),
    st.sampled_from(
        [MARK, "'; drop table box; --", "{{7*7}}", "\x00", "\u202e", "9" * 300, "a" * 4200, "../..", "%s%n"]
    ),
)


def _value(parameter: Mapping[str, Any]) -> st.SearchStrategy[str]:
    schema = parameter["schema"]
    options: list[st.SearchStrategy[str]] = [_ANYTHING]
    if parameter["name"] in _GRAMMAR:
        options += [_GRAMMAR[parameter["name"]]] * 3
    if "enum" in schema:
        options += [st.sampled_from(schema["enum"])] * 3
    if schema["type"] == "number":
        options += [
            st.floats().map(str),
            st.integers(-(10**20), 10**20).map(str),
            st.sampled_from(["90", "240", "10"]),
        ]
    if schema["type"] == "boolean":
        options += [st.sampled_from(["1", "0", "true", "false", ""])]
    return st.one_of(*options)


def _query(operation: Mapping[str, Any]) -> st.SearchStrategy[str]:
    parts = []
    for parameter in operation.get("parameters", ()):
        pair = _value(parameter).map(lambda v, n=parameter["name"]: (n, v))
        parts.append(pair if parameter["required"] else st.one_of(st.none(), st.none(), pair))
    extra = st.one_of(st.none(), st.none(), st.none(), st.tuples(st.text(max_size=8), _ANYTHING))
    return st.tuples(*parts, extra).map(
        lambda pairs: "&".join(f"{_coded(n)}={_coded(v)}" for n, v in (p for p in pairs if p is not None))
    )


def _coded(text: str) -> str:
    return quote_plus(text, errors="surrogatepass")


def requests_of(described: Mapping[str, Any]) -> st.SearchStrategy[tuple[str, str, str]]:
    """Method, address and query or body of requests to every described form, and to its page."""
    drawn = []
    for path, methods in described["paths"].items():
        queries = _query(methods["get"])
        for place in (path, path.removesuffix(".json")):
            drawn.append(st.tuples(st.just("GET"), st.just(place), queries))
            if "post" in methods:
                drawn.append(st.tuples(st.just("POST"), st.just(place), queries))
    return st.one_of(*drawn)


class Asker:
    """Sends requests over one connection, and holds every answer against what must be true."""

    def __init__(self, served: Explorer) -> None:
        place = urlsplit(served.address)
        self.connection = http.client.HTTPConnection(str(place.hostname), place.port, timeout=10)
        self.statuses: dict[int, int] = {}

    def check(self, method: str, path: str, query: str) -> None:
        """Ask, and fail where anything is not as it must be."""
        if method == "POST":
            self.connection.request(
                "POST", path, query, {"content-type": "application/x-www-form-urlencoded"}
            )
        else:
            self.connection.request(method, f"{path}?{query}" if query else path)
        answer = self.connection.getresponse()
        body = answer.read()
        self.statuses[answer.status] = self.statuses.get(answer.status, 0) + 1
        assert answer.status in (200, 301, 400, 413, 414), (answer.status, body[:400])
        headers = {k.lower(): v for k, v in answer.getheaders()}
        assert all(headers.get(name) == value for name, value in REQUIRED.items())
        if path.endswith(".json"):
            told = json.loads(body)
            assert answer.status == 200 or (told["ok"] is False and told["error"])
        else:
            assert MARK.encode() not in body
            assert b"<q9x>" not in body


@pytest.fixture(scope="module")
def served() -> Iterator[Explorer]:
    with explorer() as running:
        yield running


def _run(served: Explorer, examples: int) -> dict[int, int]:
    described = json.loads(served.ask("/openapi.json").text)
    asker = Asker(served)

    @settings(
        max_examples=examples,
        deadline=SECONDS * 1000,
        database=None,
        suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
    )
    @given(requests_of(described))
    def every_request(request: tuple[str, str, str]) -> None:
        asker.check(*request)

    every_request()
    return asker.statuses


def test_requests_of_the_description_are_answered(served: Explorer) -> None:
    statuses = _run(served, EXAMPLES)
    assert statuses.get(200, 0) > EXAMPLES / 20
    assert statuses.get(400, 0) > EXAMPLES / 20


if __name__ == "__main__":
    with explorer() as one:
        print(_run(one, int(sys.argv[1])))
