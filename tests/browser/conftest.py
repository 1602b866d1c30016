"""A headless Chromium of the system, and a running explorer; without either, these tests are skipped."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from importlib import resources
from typing import Any

import pytest

from tests.explorer_support import Explorer, explorer

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

#: Phone and desk, in CSS pixels.
WIDTHS = {"phone": (360, 740), "desk": (1280, 900)}
#: What the browser itself logs of an answer that the test looks at.
TOLD = re.compile(r"the server responded with a status of (4\d\d|503)")
#: How often a page is loaded again while the server is busy.
LOADS = 15


@pytest.fixture(scope="session")
def served() -> Iterator[Explorer]:
    """The explorer, for all browser tests."""
    pytest.importorskip("datasette")
    with explorer() as running:
        yield running


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """One browser for all tests."""
    playwright = pytest.importorskip("playwright.sync_api")
    if CHROMIUM is None:
        pytest.skip("no Chromium here: apt-get install chromium")
    with playwright.sync_playwright() as started:
        running = started.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        yield running
        running.close()


@pytest.fixture
def opened(browser: Any, served: Explorer) -> Iterator[Callable[..., Any]]:
    """Opens an address at a width; the page must log no error and ask nothing of anybody else."""
    contexts: list[Any] = []
    problems: list[str] = []

    def open_page(
        path: str, width: str = "desk", scheme: str = "light", javascript: bool = True, wanted: int = 200
    ) -> Any:
        wide, high = WIDTHS[width]
        context = browser.new_context(
            viewport={"width": wide, "height": high}, color_scheme=scheme, java_script_enabled=javascript
        )
        contexts.append(context)
        page = context.new_page()
        page.on(
            "console",
            lambda m: problems.append(m.text) if m.type == "error" and not TOLD.search(m.text) else None,
        )
        page.on("pageerror", lambda e: problems.append(str(e)))
        page.on("request", lambda r: None if r.url.startswith(served.address) else problems.append(r.url))
        answer = page.goto(served.address + path)
        for _ in range(LOADS):
            # A worker that restarts, or a busy machine, says 503: a person loads the page again.
            if answer.status != 503 or wanted == 503:
                break
            page.wait_for_timeout(1000)
            answer = page.goto(served.address + path)
        assert answer.status == wanted
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not problems


@pytest.fixture(scope="session")
def axe() -> str:
    """The source of axe-core, from the package that brings it."""
    pytest.importorskip("axe_playwright_python")
    return (resources.files("axe_playwright_python") / "axe.min.js").read_text("utf-8")
