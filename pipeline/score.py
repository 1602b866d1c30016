"""`python -m pipeline.score`: how many single errors the verification catches, by table and kind.

One raw cell (or row, or column) at a time goes wrong on purpose; the checks run in this process on
the changed rows. What survives is listed by name. Second keying is counted beside, never within:
it detects change, not error.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import math
import random
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from pipeline.mutations import KINDS, WEIGHTS, Mutation, mutate
from pipeline.read import read_raw
from pipeline.schema import ROOT, load_raw_schemas
from pipeline.verifier import Verdict, Verifier

__all__ = ["Tally", "headline", "main", "raw_hash", "run", "wilson"]

TARGET = Path(__file__).resolve().parent / "precomputed" / "error_score.csv"
#: Files that hold no printed values.
APART = ("sources", "corrections")
#: Tables with fewer tries than this are pooled in the report.
POOLED = 100


@dataclass(slots=True)
class Tally:
    """Errors of one kind in one file."""

    tried: int = 0
    caught: int = 0
    caught_with_second_keying: int = 0
    less_safe: int = 0
    survivors: list[str] = field(default_factory=list)

    def add(self, error: Mutation, verdict: Verdict) -> None:
        """Count one error."""
        self.tried += 1
        self.caught += verdict.caught
        self.caught_with_second_keying += verdict.caught or verdict.second_keying
        if not verdict.caught:
            self.less_safe += verdict.less_safe
            self.survivors.append(error.name + (" (less safe)" if verdict.less_safe else ""))

    def merge(self, other: Tally) -> None:
        """Add the counts of another tally."""
        self.tried += other.tried
        self.caught += other.caught
        self.caught_with_second_keying += other.caught_with_second_keying
        self.less_safe += other.less_safe
        self.survivors += other.survivors


Tallies = dict[tuple[str, str], Tally]


def run(count: int, seed: int, stems: Iterable[str] | None = None) -> Tallies:
    """Inject errors in this process.

    Args:
        count: How many errors.
        seed: The seed of chance.
        stems: Only these raw files.

    Returns:
        A tally for each raw file and kind.
    """
    schemas = load_raw_schemas()
    verifier = Verifier(read_raw(ROOT / "raw", schemas))
    chance = random.Random(seed)
    files = sorted(s for s in (stems or schemas) if s not in APART and s in verifier.printed)
    weights = [_size(verifier, stem) for stem in files]
    kinds = list(KINDS)
    tallies: Tallies = {}
    done = 0
    while done < count:
        stem, kind = chance.choices(files, weights)[0], chance.choice(kinds)
        error = mutate(kind, stem, verifier.printed[stem], schemas[stem], chance)
        if error is None:
            done += 1  # counted so that a file without such a cell cannot stall the run
            continue
        verdict = verifier.judge(error)
        if verdict.changes_nothing:
            continue
        tallies.setdefault((stem, kind), Tally()).add(error, verdict)
        done += 1
    return tallies


def _size(verifier: Verifier, stem: str) -> float:
    """Files are drawn by the square root of their size, so that small ones are tried too."""
    rows = verifier.printed[stem]
    return math.sqrt(len(rows) * len(rows[0].cells))


def wilson(caught: int, tried: int, z: float = 1.959964) -> tuple[float, float]:
    """The 95 % interval of a share (Wilson 1927, score interval).

    >>> tuple(round(end, 4) for end in wilson(99, 100))
    (0.9455, 0.9982)
    """
    p, n = caught / tried, tried
    middle = p + z * z / (2 * n)
    half = z * math.sqrt(p * (1 - p) / n + z * z / (4 * n * n))
    scale = 1 + z * z / n
    return max(0.0, (middle - half) / scale), min(1.0, (middle + half) / scale)


def headline(tallies: Tallies) -> float:
    """Share of digit slips caught, each kind weighted as people make it."""
    total = 0.0
    for kind, weight in WEIGHTS.items():
        tried = sum(t.tried for (_, k), t in tallies.items() if k == kind)
        caught = sum(t.caught for (_, k), t in tallies.items() if k == kind)
        total += weight / 100 * (caught / tried if tried else 0.0)
    return total


def raw_hash(folder: Path = ROOT / "raw") -> str:
    """Hash of everything in raw/, which tells whether a committed score is of this data."""
    digest = hashlib.sha256()
    for path in sorted(folder.glob("*.csv")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes())
    return digest.hexdigest()


def _pooled(tallies: Tallies) -> Tallies:
    """Rows of the table: each file and kind, small ones together, and all of a kind."""
    out: Tallies = {}
    for (stem, kind), tally in sorted(tallies.items()):
        out.setdefault((stem, kind), Tally()).merge(tally)
        out.setdefault(("*", kind), Tally()).merge(tally)
    return out


def table(tallies: Tallies) -> str:
    """The published table `error_score` as CSV."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(
        [
            "raw_file",
            "kind",
            "tried",
            "caught",
            "caught_with_second_keying",
            "share",
            "share_low",
            "share_high",
            "less_safe",
            "survivors",
        ]
    )
    for (stem, kind), t in sorted(_pooled(tallies).items()):
        low, high = wilson(t.caught, t.tried)
        names = "; ".join(sorted(t.survivors)[:20]) if stem != "*" else ""
        writer.writerow(
            [
                stem,
                kind,
                t.tried,
                t.caught,
                t.caught_with_second_keying,
                f"{t.caught / t.tried:.6f}",
                f"{low:.6f}",
                f"{high:.6f}",
                t.less_safe,
                names,
            ]
        )
    return text.getvalue()


def _part(job: tuple[int, int]) -> Tallies:
    return run(*job)


def main(arguments: list[str] | None = None) -> int:
    """Run the error injection on both cores and write the table."""
    parser = argparse.ArgumentParser(prog="python -m pipeline.score", description=__doc__)
    parser.add_argument("--n", type=int, default=20_000, help="errors to inject")
    parser.add_argument("--seed", type=int, default=1969, help="seed of chance")
    parser.add_argument("--dry-run", action="store_true", help="print only")
    options = parser.parse_args(arguments)
    parts = 2
    tallies: Tallies = {}
    with ProcessPoolExecutor(parts) as pool:
        jobs = [(options.n // parts, options.seed + i) for i in range(parts)]
        for found in pool.map(_part, jobs):
            for place, tally in found.items():
                tallies.setdefault(place, Tally()).merge(tally)
    _report(tallies)
    if not options.dry_run:
        TARGET.parent.mkdir(exist_ok=True)
        TARGET.write_text(table(tallies), "utf-8")
        TARGET.with_suffix(".hash").write_text(raw_hash() + "\n", "utf-8")
    return 0


def _report(tallies: Tallies) -> None:
    pooled = _pooled(tallies)
    for kind in KINDS:
        t = pooled.get(("*", kind))
        if t:
            print(
                f"{kind:24} {t.caught:6} of {t.tried:6}  {t.caught / t.tried:8.4%}  less safe {t.less_safe}"
            )
    print(f"headline (weighted digit slips): {headline(tallies):.4%}")
    for (_stem, kind), t in sorted(tallies.items()):
        for name in sorted(t.survivors)[:5]:
            print(f"  survives: {kind}: {name}")


if __name__ == "__main__":
    sys.exit(main())
