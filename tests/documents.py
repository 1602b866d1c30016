"""Code blocks of the documents, and how each kind of block is run.

What a block is, is said after its opening fence:

- `sh`: each command line is run; `make TARGET` only has to name a target, and what sets up a machine is listed
  in `NOT_RUN`. A comment `# exit 1` says how the command ends.
- `python`: run, blocks of one page in one namespace; with `>>>` the outputs are compared.
- `sql`: each statement is run on the published file by the plain client.
- `csv NAME`, `toml NAME`: a file that the blocks after it find in their folder.
- `text output`: what the block before it prints, compared.
- `js`: run by node where `npm ci --prefix tests/node` has been done, else shown only, as `r` and `text` are.
"""

from __future__ import annotations

import doctest
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import duckdb
from markdown_it import MarkdownIt

__all__ = ["Block", "blocks", "pages", "run_page", "run_python", "shell"]

ROOT = Path(__file__).resolve().parent.parent

#: Commands that set up a machine or carry on a checkout: shown, not run by the tests.
NOT_RUN = ("git ", "cd ", "pip install ", "python3 -m venv ", "npm ", "apt", "ln ", "export ")

#: Shown, not run: no interpreter for them is set up by `make`.
SHOWN = ("", "text", "r", "json", "html", "yaml", "nginx")
NODE = ROOT / "tests" / "node" / "node_modules"

_TARGET = re.compile(r"^([a-z][a-z-]*):", re.MULTILINE)


@dataclass(frozen=True)
class Block:
    """A fenced block: where it stands, its language, the words after that, its text."""

    page: Path
    line: int
    language: str
    info: str
    text: str

    @property
    def place(self) -> str:
        """Where it stands, for a message."""
        return f"{self.page.relative_to(ROOT)}:{self.line}"


def pages() -> list[Path]:
    """Every document whose blocks are run."""
    return [*sorted(ROOT.glob("*.md")), *sorted((ROOT / "docs").rglob("*.md"))]


def blocks(page: Path) -> Iterator[Block]:
    """The fenced blocks of a page in order."""
    for token in MarkdownIt().parse(page.read_text("utf-8")):
        if token.type == "fence":
            language, _, info = token.info.strip().partition(" ")
            yield Block(page, (token.map or [0])[0] + 1, language, info.strip(), token.content)


def run_page(page: Path, folder: Path, command: Path, database: Path) -> int:
    """Run all blocks of a page in a folder.

    Args:
        page: The document.
        folder: An empty folder to run in; it is the working folder already.
        command: The folder of the `jointable` command.
        database: The published database, for the plain client.

    Returns:
        How many blocks were run.
    """
    namespace: dict[str, Any] = {"__name__": "__docs__"}
    (folder / "published").symlink_to(database.parent)
    printed, ran = "", 0
    for block in blocks(page):
        if block.language in ("csv", "toml") and block.info:
            (folder / block.info).write_text(block.text, "utf-8")
        elif block.language == "sh":
            printed = shell(block, folder, command, ROOT)
            ran += 1
        elif block.language == "python":
            run_python(block, namespace)
            ran += 1
        elif block.language == "sql":
            _run_sql(block, database)
            ran += 1
        elif block.language == "js":
            ran += _run_js(block, folder)
        elif block.language == "text" and block.info == "output":
            assert _trimmed(printed) == _trimmed(block.text), f"{block.place}: prints\n{printed}"
        else:
            assert block.language in SHOWN or block.language.startswith("{"), (
                f"{block.place}: nobody runs {block.language!r}"
            )
    return ran


def _trimmed(text: str) -> list[str]:
    return [line.rstrip() for line in text.strip().splitlines()]


def shell(block: Block, folder: Path, command: Path, tree: Path | None = None) -> str:
    """Run the command lines of a block; what they print.

    Args:
        block: The block.
        folder: The working folder.
        command: The folder of the `jointable` command.
        tree: A checkout to import from, or None for the installed package.
    """
    printed = ""
    for line in block.text.replace("\\\n", " ").splitlines():
        text, _, comment = line.partition("  #")
        if not text.strip() or text.startswith("#"):
            continue
        printed += _command(block, text.strip(), comment, folder, command, tree)
    return printed


def _command(block: Block, text: str, comment: str, folder: Path, command: Path, tree: Path | None) -> str:
    if text == "make" or text.startswith("make "):
        known = {*_TARGET.findall((ROOT / "Makefile").read_text("utf-8"))}
        assert set(text.split()[1:]) <= known, f"{block.place}: no such target: {text}"
        return ""
    if text.startswith(NOT_RUN) or "explore" in text.split():
        return ""
    if (module := re.match(r"(?:\.venv/bin/)?python3? -m ((?:pipeline|tests)[.\w]*)", text)) is not None:
        place = ROOT / module[1].replace(".", "/")
        assert place.is_dir() or place.with_suffix(".py").is_file(), f"{block.place}: no such module: {text}"
        return ""
    text = text.replace(".venv/bin/", "")
    assert text.startswith(("jointable ", "cat ", "printf ")), f"{block.place}: nobody runs {text!r}"
    environment = {**os.environ, "PATH": f"{command}:{os.environ['PATH']}", "COLUMNS": "100", "NO_COLOR": "1"}
    environment.pop("PYTHONPATH", None)
    if tree is not None:
        environment["PYTHONPATH"] = str(tree)
    done = subprocess.run(
        ["/bin/sh", "-c", text], cwd=folder, env=environment, capture_output=True, text=True, check=False
    )
    said = re.search(r"exit (\d)", comment)
    wanted = int(said[1]) if said else 0
    assert done.returncode == wanted, (
        f"{block.place}: {text}: ended {done.returncode}\n{done.stdout}{done.stderr}"
    )
    return done.stdout


def run_python(block: Block, namespace: dict[str, Any]) -> None:
    """Run a block of Python; with prompts, compare what it prints."""
    if not block.text.lstrip().startswith(">>>"):
        exec(compile("\n" * block.line + block.text, str(block.page), "exec"), namespace)
        return
    test = doctest.DocTestParser().get_doctest(
        block.text, namespace, block.place, str(block.page), block.line
    )
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS | doctest.NORMALIZE_WHITESPACE, verbose=False)
    runner.run(test, out=said.append, clear_globs=False)
    namespace.update(test.globs)
    assert not runner.failures, "".join(said)


def _run_js(block: Block, folder: Path) -> int:
    """Run a block by node; 0 where node or its packages are not there."""
    node = shutil.which("node")
    if node is None or not NODE.is_dir():
        return 0
    if not (folder / "node_modules").exists():
        (folder / "node_modules").symlink_to(NODE)
    (folder / "block.mjs").write_text(block.text, "utf-8")
    done = subprocess.run([node, "block.mjs"], cwd=folder, capture_output=True, text=True, check=False)
    assert done.returncode == 0, f"{block.place}: {done.stderr}"
    assert done.stdout.strip(), f"{block.place}: prints nothing"
    return 1


def _run_sql(block: Block, database: Path) -> None:
    with duckdb.connect(str(database), read_only=True) as connection:
        for statement in connection.extract_statements(block.text):
            try:
                connection.execute(statement).fetchall()
            except duckdb.Error as error:
                raise AssertionError(f"{block.place}: {error}") from None
