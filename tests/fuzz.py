"""`python -m tests.fuzz 1000000 [SEED]`: many inputs drawn at random, faster than by hypothesis; no traceback.

Eight of ten are joints and sizes, the rest schedules and listings. Anything but an answer or one line ends the run
with the input.
"""

from __future__ import annotations

import random
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import jointable
from jointable.listings import COLUMNS as LISTING_COLUMNS
from jointable.listings import load_listings
from jointable.notation import parse_size
from jointable.schedule import COLUMNS, read_schedule

__all__ = ["PIECES", "run"]

#: Pieces that reach further into the readers than letters drawn at random.
PIECES = (
    "3", "x", "×", "12", "#12", "4/0", "250 kcmil", "2.5mm2", "2.5 mm²", "+", "|", " ", "solid", "stranded", "flexible",
    "copper", "aluminum", "THHN", "-1", "0", "1e9", "99999999999999999999", "½", "٣", "\x00", "\u202e", "é", ",", '"',
)  # fmt: skip
CELLS = (
    *PIECES, "box", "cable", "conductor", "device", "12/2", "nan", "inf", "4 x 1-1/2 square", "", "'; --", "../../x",
    "<script>", "raceway", "clamp", "grounding", "left", "angle", "0.5", "18 in3",
)  # fmt: skip


SIZES = ("12", "14 AWG", "#10", "4/0", "2.5mm2", "0.75 mm²", "250 kcmil", "13", "41", "0.0 mm2")
WORDS = (
    "",
    "",
    "",
    " solid",
    " stranded",
    " flexible",
    " copper",
    " al",
    " THHN",
    " stranded solid",
    " blue",
)


def _text(chance: random.Random) -> str:
    draw = chance.random()
    if draw < 0.25:
        letters = (chance.choice((chance.randrange(128), chance.randrange(0x3000))) for _ in range(30))
        return "".join(map(chr, letters))[: chance.randrange(30)]
    if draw < 0.5:
        return "".join(chance.choice(PIECES) for _ in range(chance.randrange(12)))
    terms = (f"{chance.randrange(9)}x{_size(chance)}" for _ in range(chance.randrange(1, 4)))
    return chance.choice((" + ", "+", "|")).join(terms)


def _size(chance: random.Random) -> str:
    text = chance.choice(SIZES) + chance.choice(WORDS)
    at = chance.randrange(len(text))
    return text if chance.random() < 0.8 else text[:at] + chance.choice(PIECES) + text[at + 1 :]


def _cell(chance: random.Random) -> str:
    text = chance.choice(CELLS)
    return '"' + text.replace('"', '""') + '"' if set(text) & set(',"') else text


def _table(chance: random.Random, columns: tuple[str, ...]) -> bytes:
    """A CSV file: mostly well formed, sometimes any bytes at all."""
    if chance.random() < 0.1:
        return chance.randbytes(chance.randrange(200))
    if columns[0] == "connector" and chance.random() < 0.5:
        least, greatest = f"2x{_size(chance)}", f"{chance.randrange(2, 6)}x{_size(chance)}"
        greatest = chance.choice((least, greatest))
        return f"connector,least,greatest\nred,{least},{greatest}\n".encode()
    header = (
        list(columns) if chance.random() < 0.7 else chance.sample(columns, chance.randrange(1, len(columns)))
    )
    width = len(header) + chance.choice((0, 0, 0, 0, 1, -1))
    rows = [",".join(_cell(chance) for _ in range(width)) for _ in range(chance.randrange(5))]
    return chance.choice(("\n", "\r\n")).join([",".join(header), *rows]).encode()


def run(count: int, seed: int) -> Counter[str]:
    """Read so many inputs; how many of each kind were answered and how many refused.

    Raises:
        AssertionError: Something was neither; the message holds the input.
    """
    chance, told = random.Random(seed), Counter[str]()
    with jointable.open() as reference, tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "file.csv"

        def of_file(columns: tuple[str, ...], read: Callable[[], object]) -> None:
            path.write_bytes(_table(chance, columns))
            read()

        first = ("box", "item", "size", "quantity")
        schedule = (*first, *(c for c in COLUMNS if c not in first))
        last = [""]

        def of_text(text: str, read: Callable[[str], object]) -> None:
            last[0] = text
            read(text)

        kinds: list[tuple[str, Callable[[], object]]] = [
            *[("joint", lambda: of_text(_text(chance), jointable.Joint.parse))] * 12,
            *[("size", lambda: of_text(_size(chance), parse_size))] * 4,
            *[("schedule", lambda: of_file(schedule, lambda: read_schedule(path, in_memory=True).records()))]
            * 3,
            ("listings", lambda: of_file(LISTING_COLUMNS, lambda: load_listings(path, reference))),
        ]
        for number in range(count):
            name, ask = kinds[number % len(kinds)]
            try:
                ask()
                told[f"{name} read"] += 1
            except jointable.InputError as error:
                if len(str(error).splitlines()) != 1:
                    raise AssertionError(f"{name}: not one line: {error!s}") from error
                told[f"{name} refused"] += 1
            except Exception as error:
                given = path.read_bytes() if name in ("schedule", "listings") else last[0]
                raise AssertionError(f"{name}: {given!r}: {type(error).__name__}: {error}") from error
    return told


if __name__ == "__main__":
    started = time.perf_counter()
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else int(time.time())
    for kind, found in sorted(run(int(sys.argv[1]), seed).items()):
        print(f"{kind:20} {found:9,}")
    print(f"seed {seed}, {time.perf_counter() - started:.0f} s, no traceback")
