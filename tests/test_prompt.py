"""At the prompt: help with examples, suggestions, completion, colours, narrow and plain terminals."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
COMMANDS = ("joint", "range", "chart", "fill", "stock", "trace", "sql", "changes", "explore")


def _run(*arguments: str, given: str = "", **environment: str) -> subprocess.CompletedProcess[bytes]:
    kept = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "COLUMNS", "PYTHONIOENCODING")}
    return subprocess.run(
        [sys.executable, "-m", "jointable", *arguments],
        cwd=ROOT,
        env={**kept, "PYTHONPATH": str(ROOT), **environment},
        input=given.encode(),
        capture_output=True,
        check=False,
        timeout=120,
    )


@pytest.mark.parametrize("command", COMMANDS)
def test_help_shows_an_example_that_is_a_command(command: str) -> None:
    done = _run(command, "--help")
    assert done.returncode == 0
    assert f"Example: jointable {command} " in done.stdout.decode()


def test_help_lists_every_command_with_examples() -> None:
    text = _run("--help").stdout.decode()
    for command in COMMANDS:
        assert re.search(rf"^\s+{command}\s", text, re.MULTILINE)
    assert 'jointable joint "3x12 + 1x14 stranded"' in text
    assert "--install-completion" in text


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_completion_can_be_had(shell: str) -> None:
    done = _run("--show-completion", shell, _TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION="1")
    assert done.returncode == 0, done.stderr
    assert b"_JOINTABLE_COMPLETE" in done.stdout


def test_completion_completes() -> None:
    done = _run(
        _JOINTABLE_COMPLETE="complete_bash", _TYPER_COMPLETE_ARGS="jointable tr", COMP_WORDS="jointable tr", COMP_CWORD="1"
    )  # fmt: skip
    assert done.stdout.decode().split() == ["trace"]


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("joint", "3x12 strnded"), "did you mean stranded?"),
        (("joint", "3x13.5"), "did you mean 13.5 mm2?"),
        (("joint", "3x12", "--family", "twiston"), "did you mean twist-on?"),
        (("joint", "3x12", "--location", "wett"), "did you mean wet?"),
        (("joint", "3x12", "--locaton", "wet"), "--location"),
        (("jont", "3x12"), "Did you mean 'joint'?"),
        (("trace", "bx", "a", "b"), "did you mean box?"),
        (("fill", "--demo", "--edition", "nec2023"), "did you mean nec-2023?"),
        (("range", "15"), "one of 1, 1.6, 2.5, 4, 6.3, 10, 16, 25, 35"),
    ],
)
def test_one_line_with_a_suggestion(arguments: tuple[str, ...], said: str) -> None:
    done = _run(*arguments)
    assert done.returncode == 2
    assert done.stdout == b""
    (line,) = done.stderr.decode().splitlines()
    assert said in line


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("a,condctor,12,1", "schedule.csv:3: item: 'condctor': no such item; did you mean 'conductor'?"),
        ("a,conductor,13x,1", "schedule.csv:3: size: '13x'"),
    ],
)
def test_misspelt_items_and_sizes_of_a_schedule(row: str, said: str, tmp_path: Path) -> None:
    path = tmp_path / "schedule.csv"
    path.write_text(f"box,item,size,quantity\na,box,4 x 1-1/2 square,1\n{row}\n", "utf-8")
    done = _run("fill", str(path))
    assert done.returncode == 2
    assert said in done.stderr.decode()
    assert b"Traceback" not in done.stderr


def test_a_misspelt_box_is_suggested(tmp_path: Path) -> None:
    path = tmp_path / "schedule.csv"
    path.write_text("box,item,size,quantity\na,box,4 x 1-1/2 sqare,1\n", "utf-8")
    assert b"did you mean '4 x 1-1/2 square'?" in _run("fill", str(path)).stderr


def test_no_colour_where_it_is_not_wanted() -> None:
    plain = _run("joint", "3x12")
    assert b"\x1b[" not in plain.stdout  # not a terminal
    forced = _run("joint", "3x12", FORCE_COLOR="1", TERM="xterm-256color", NO_COLOR="1")
    assert not re.search(rb"\x1b\[[0-9;]*3[0-7]m", forced.stdout)


@pytest.mark.parametrize("columns", [25, 40, 80, 200])
@pytest.mark.parametrize(
    "arguments", [("fill", "--demo"), ("joint", "3x12"), ("stock", "-"), ("range", "16")]
)
def test_figures_and_verdicts_survive_any_width(columns: int, arguments: tuple[str, ...]) -> None:
    given = "box,item,size,quantity,joint\na,box,4 x 1-1/2 square,1,\na,conductor,12,3,1\n"
    text = _run(*arguments, given=given, COLUMNS=str(columns)).stdout.decode()
    assert max(map(len, text.splitlines())) <= columns
    wanted = {"fill": ("12.5", "NO"), "joint": ("1.432",), "stock": ("twist-on",), "range": ("16",)}
    for figure in wanted[arguments[0]]:
        assert re.search(rf"(?<![\d.]){re.escape(figure)}(?![\d.])", text), text


PLAIN = [{"PYTHONIOENCODING": "ascii"}, {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}]


@pytest.mark.parametrize("environment", PLAIN)
@pytest.mark.parametrize(
    "arguments",
    [("joint", "3x2.5mm²"), ("fill", "--demo"), ("range", "16"), ("joint", "3×13.5"), ("--help",)],
)
def test_plain_ascii(environment: dict[str, str], arguments: tuple[str, ...]) -> None:
    done = _run(*arguments, **environment)
    assert b"Traceback" not in done.stderr
    (done.stdout + done.stderr).decode("ascii")
    if arguments[0] in ("fill", "range"):
        assert b"mm2" in done.stdout or b"in3" in done.stdout
    assert b"?" not in done.stdout


def test_json_is_utf8_or_escaped_nothing_lost() -> None:
    import json

    for environment in PLAIN:
        done = _run("joint", "3x2.5mm²", "--json", **environment)
        assert json.loads(done.stdout.decode("ascii"))["joint"]["text"] == "3x2.5 mm2"
