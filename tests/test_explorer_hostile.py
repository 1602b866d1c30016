"""The explorer against hostile requests: a clear answer, in time, in memory, and nothing changed."""

from __future__ import annotations

import hashlib
import re
import threading
import time
from collections.abc import Iterator
from html.parser import HTMLParser

import pytest

from jointable.explorer.limits import ANSWER_SECONDS, REQUEST_SECONDS, SQL_MILLISECONDS
from jointable.reference import database_path
from tests.explorer_hostile import Hostile, hostile
from tests.explorer_support import Explorer, Reply, explorer

pytest.importorskip("datasette")

REQUESTS = hostile()
#: Seconds and bytes that any request may take, whatever it asks.
MOST_SECONDS = 2.0
MOST_MEMORY = 512 * 2**20


class Watch:
    """The most memory that the server and its workers held."""

    def __init__(self, served: Explorer) -> None:
        self.served = served
        self.most = 0
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._look, daemon=True)

    def _look(self) -> None:
        while not self._ended.wait(0.03):
            self.most = max(self.most, self.served.memory())

    def __enter__(self) -> Watch:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()


class Strict(HTMLParser):
    """Refuses a page that holds a script, a style or a handler of its own."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Look at one element."""
        given = dict(attrs)
        assert tag not in ("style", "img", "iframe", "object", "embed", "base"), tag
        assert not [name for name in given if name == "style" or name.startswith("on")], given
        if tag == "script":
            assert re.fullmatch(r"/assets/explorer-[0-9a-f]{16}\.js", given.get("src") or "")
        for name in ("href", "src", "action"):
            assert not re.match(r"\s*(javascript|data|vbscript):|//", given.get(name) or "", re.IGNORECASE)

    def handle_data(self, data: str) -> None:
        """Look at text: a script has none."""
        assert self.lasttag != "script" or not data.strip()


def _hashes() -> dict[str, str]:
    files = [database_path(), database_path().with_suffix(".sqlite")]
    return {f.name: hashlib.sha256(f.read_bytes()).hexdigest() for f in files}


@pytest.fixture(scope="module")
def served() -> Iterator[Explorer]:
    before = _hashes()
    with explorer() as running, Watch(running) as watch:
        for path in ("/joint?conductors=3x12", "/audit", "/jointable/box"):
            running.ask(path)
        yield running
        assert running.process.poll() is None
        assert running.ask("/joint.json?conductors=3x12").status == 200
        assert "Traceback" not in "".join(running.log), "".join(running.log)[-3000:]
    assert 0 < watch.most < MOST_MEMORY, f"{watch.most / 2**20:.0f} MiB"
    assert _hashes() == before


def test_the_server_ends_every_answer_within_its_promise() -> None:
    """The limits that end a request, a worker and a query, whatever the machine lets them wait."""
    assert REQUEST_SECONDS < MOST_SECONDS
    assert ANSWER_SECONDS < REQUEST_SECONDS
    assert SQL_MILLISECONDS / 1000 < REQUEST_SECONDS


def test_there_are_at_least_two_hundred() -> None:
    assert len({(r.method, r.path, r.body, tuple(r.headers.items())) for r in REQUESTS}) >= 200


def _ready(served: Explorer) -> None:
    """Wait until no worker is starting again: the request before may have ended one."""
    for path, status in (("/joint.json?conductors=2x99", 400), ("/jointable.json?sql=select+1", 200)):
        assert served.ask_until(lambda r, wanted=status: r.status == wanted, path).status == status, path


@pytest.mark.parametrize("request_", REQUESTS, ids=lambda r: r.name)
def test_a_hostile_request_has_a_clear_answer(served: Explorer, request_: Hostile) -> None:
    _ready(served)
    answer = served.ask(request_.path, request_.method, request_.body, request_.headers)
    assert answer.status in request_.status, answer.body[:600]
    assert answer.seconds < MOST_SECONDS, f"{answer.seconds:.2f} s"
    _is_clean(answer, request_)


def _is_clean(answer: Reply, request_: Hostile) -> None:
    """Nothing of the inside, and nothing of the request unescaped."""
    kind = answer.headers.get("content-type", "")
    if kind.startswith("text/html"):
        Strict().feed(answer.text)
    if answer.status >= 400:
        assert not re.search(rb"Traceback|/site-packages/|root:x:0|File \"", answer.body)
        if request_.path.partition("?")[0].endswith(".json") and len(request_.method) < 10:
            assert kind == "application/json; charset=utf-8"
    is_file = kind.startswith(("text/csv", "text/plain")) and request_.method == "GET"
    if is_file and answer.status == 200:
        assert answer.body.strip(), "an empty file says that there are no rows"
    location = answer.headers.get("location", "")
    assert not location.startswith("//")
    assert "evil.example" not in location


def test_sql_can_be_switched_off() -> None:
    with explorer("--no-sql") as running:
        assert running.ask("/jointable?sql=select+1").status == 403
        assert running.ask("/jointable.json?sql=select+1").status == 403
        assert running.ask("/jointable/box?_where=1=1").status == 403
        assert running.ask("/jointable/boxes_for_volume").status == 200
        page = running.ask("/jointable")
        assert page.status == 200
        assert 'name="sql"' not in page.text


def test_bombs_do_not_keep_the_pages_waiting(served: Explorer) -> None:
    bomb = "/jointable.json?sql=with+recursive+c(x)+as+(select+1+union+all+select+x%2B1+from+c)+select+count(*)+from+c"
    statuses: list[int] = []
    threads = [
        threading.Thread(target=lambda n=n: statuses.append(served.ask(f"{bomb}+--{n}").status))
        for n in range(12)
    ]
    for thread in threads:
        thread.start()
    time.sleep(0.2)
    pages = [served.ask(f"/jointable/allowance?_size={n}") for n in range(5, 10)]
    for thread in threads:
        thread.join()
    assert [p.status for p in pages] == [200] * 5
    assert max(p.seconds for p in pages) < 1
    assert set(statuses) <= {400, 503}
    assert len(statuses) == 12


def test_overload_is_turned_away_within_a_second(served: Explorer) -> None:
    """More questions than one worker can answer: the rest hear so at once."""
    found: list[Reply] = []

    def ask(number: int) -> None:
        found.append(
            served.ask(
                f"/joint.json?conductors={number % 5 + 2}x12+%2B+1x{10 + 2 * (number % 6)}&voltage={number + 1}"
            )
        )

    threads = [threading.Thread(target=ask, args=(n,)) for n in range(400)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(found) == 400
    assert {r.status for r in found} <= {200, 503}
    turned = [r for r in found if r.status == 503]
    assert turned
    assert all(r.headers["retry-after"] == "1" for r in turned)
    assert max(r.seconds for r in turned) < REQUEST_SECONDS
    again = served.ask_until(lambda r: r.status == 200, "/joint.json?conductors=4x12&voltage=120")
    assert again.status == 200
