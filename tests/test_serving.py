"""The cache set-up of docs/serving.md, run as it stands with the system's nginx on loopback."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from tests.explorer_support import ROOT, Explorer, explorer

pytest.importorskip("datasette")

NGINX = shutil.which("nginx") or shutil.which("nginx", path="/usr/sbin")


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture(scope="module")
def behind(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Explorer, Explorer]]:
    """The explorer, and the same behind the cache; only the two ports of the file are changed."""
    if NGINX is None:
        pytest.skip("no nginx here: apt-get install nginx-light")
    folder: Path = tmp_path_factory.mktemp("nginx")
    with explorer() as bare:
        port = _free_port()
        text = (ROOT / "docs" / "serving-nginx.conf").read_text("utf-8")
        assert text.count("127.0.0.1:8001;") == text.count("127.0.0.1:8080;") == 1
        text = text.replace("127.0.0.1:8001;", f"{bare.address.removeprefix('http://')};")
        text = text.replace("127.0.0.1:8080;", f"127.0.0.1:{port};")
        config = folder / "nginx.conf"
        config.write_text(text, "utf-8")
        # Started by root, nginx would work as another user, who may not write here.
        user = ["-g", "user root;"] if os.geteuid() == 0 else []
        process = subprocess.Popen(
            [NGINX, "-p", str(folder), "-c", str(config), *user], stderr=subprocess.PIPE, text=True
        )
        cached = Explorer(process, f"http://127.0.0.1:{port}")
        for _ in range(100):
            try:
                socket.create_connection(("127.0.0.1", port), 0.2).close()
                break
            except OSError:
                assert process.poll() is None, process.stderr.read() if process.stderr else ""
                time.sleep(0.05)
        yield bare, cached
        process.terminate()
        process.wait(10)


@pytest.mark.parametrize(
    "path", ["/joint.json?conductors=3x12", "/joint?conductors=3x12", "/jointable/box.json", "/"]
)
def test_an_answer_is_kept_and_is_the_same(behind: tuple[Explorer, Explorer], path: str) -> None:
    bare, cached = behind
    host = {"host": "jointable.example"}
    first, second = cached.ask(path, headers=host), cached.ask(path, headers=host)
    assert [first.headers["x-cache"], second.headers["x-cache"]] == ["MISS", "HIT"]
    own = bare.ask(path, headers=host)
    assert own.body == first.body == second.body
    assert own.headers["etag"] == second.headers["etag"]
    assert own.headers["cache-control"] == second.headers["cache-control"] == "public, max-age=300"
    again = cached.ask(path, headers={**host, "if-none-match": second.headers["etag"]})
    assert again.status == 304


def test_what_never_changes_is_kept_for_ever(behind: tuple[Explorer, Explorer]) -> None:
    bare, cached = behind
    page = bare.ask("/").text
    style = page.split('rel="stylesheet" href="')[1].split('"')[0]
    reply = cached.ask(style)
    assert reply.headers["cache-control"] == "public, max-age=31536000, immutable"
    assert cached.ask(style).headers["x-cache"] == "HIT"


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("GET", "/stock?schedule=box,item,size,quantity,joint%0AA,conductor,12,3,L", None),
        ("POST", "/stock.json", b"schedule=box,item,size,quantity,joint%0AA,conductor,12,3,L"),
        ("GET", "/joint.json?conductors=3x13.5", None),
        ("GET", "/nothing", None),
    ],
)
def test_what_is_private_or_wrong_is_not_kept(
    behind: tuple[Explorer, Explorer], method: str, path: str, body: bytes | None
) -> None:
    _, cached = behind
    kind = {"content-type": "application/x-www-form-urlencoded"} if body else {}
    for _ in range(2):
        reply = cached.ask(path, method, body, kind)
        assert reply.headers["cache-control"] == "no-store"
        assert reply.headers.get("x-cache", "MISS") != "HIT"


def test_two_hosts_do_not_share_an_answer(behind: tuple[Explorer, Explorer]) -> None:
    _, cached = behind
    path = "/jointable/check_cell.json?_size=3"
    for host in ("one.example", "two.example"):
        assert f"http://{host}/" in cached.ask(path, headers={"host": host}).text


def test_a_cookie_changes_nothing(behind: tuple[Explorer, Explorer]) -> None:
    _, cached = behind
    plain = cached.ask("/range.json?size=16")
    other = cached.ask("/range.json?size=16", headers={"cookie": "a=b", "authorization": "Bearer x"})
    assert other.headers["x-cache"] == "HIT"
    assert other.body == plain.body


def test_the_cache_answers_while_the_explorer_restarts(behind: tuple[Explorer, Explorer]) -> None:
    """Last, as it ends the explorer: what was asked before is still answered."""
    bare, cached = behind
    assert cached.ask("/joint.json?conductors=2x12").status == 200
    bare.process.terminate()
    bare.process.wait(10)
    assert replace(cached).ask("/joint.json?conductors=2x12").status == 200
