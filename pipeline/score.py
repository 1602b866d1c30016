"""`python -m pipeline.score`: how many single errors the verification catches, by raw file and kind.

One raw cell (or row, or column) at a time goes wrong on purpose; the checks run in this process on the
changed rows. Every survivor is listed by name. Second keying is counted beside, never within: it detects
change, not error.
"""

from __future__ import annotations

import argparse
import csv
import io
import json
import math
import random
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

from jointable.files import write_text
from pipeline.failures import BuildError
from pipeline.mutations import KINDS, WEIGHTS, Mutation, Slips
from pipeline.read import RawText, parse_csv
from pipeline.schema import ROOT, load_raw_schemas
from pipeline.score_record import TARGET, is_old, raw_hash, sampled
from pipeline.verifier import Verdict, Verifier

__all__ = ["Tallies", "Tally", "headline", "is_old", "main", "raw_hash", "run", "sampled", "table", "wilson"]

#: A file and kind with fewer tries than this is pooled with others of the kind.
POOLED = 100
#: The sample that the tests repeat.
SAMPLE, SAMPLE_SEED = 1_500, 31416
ALL, POOL, HEADLINE = "*", "pooled", "digit slips, weighted"

COLUMNS = (
    "raw_file", "kind", "tried", "caught", "caught_with_second_keying", "share", "share_low", "share_high",
    "less_safe", "survivors",
)  # fmt: skip


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


#: (raw file, kind) -> its tally
Tallies = dict[tuple[str, str], Tally]


def read_printed(folder: Path = ROOT / "raw") -> RawText:
    """Every raw file as printed; the build has held them against their schemas."""
    return {stem: parse_csv(folder / f"{stem}.csv", schema) for stem, schema in load_raw_schemas().items()}


@cache
def _bench() -> tuple[Verifier, Slips]:
    printed = read_printed()
    verifier = Verifier(printed)
    failures = verifier.failures()
    if failures:
        # A check that fails on the true rows would seem to catch every error in them.
        raise BuildError(failures)
    return verifier, Slips(printed, load_raw_schemas())


def run(count: int, seed: int) -> Tallies:
    """Inject errors in this process, as many of each kind.

    Args:
        count: How many errors.
        seed: The seed of chance; equal seeds give equal errors.

    Returns:
        A tally for each raw file and kind. Source and edition swaps that change nothing published are
        drawn again.
    """
    verifier, slips = _bench()
    chance = random.Random(seed)
    kinds = list(KINDS)
    tallies: Tallies = {}
    for number in range(count):
        kind = kinds[number % len(kinds)]
        error = slips.draw(kind, chance)
        verdict = verifier.judge(error)
        while not verdict.counts:
            error = slips.draw(kind, chance)
            verdict = verifier.judge(error)
        tallies.setdefault((error.stem, kind), Tally()).add(error, verdict)
    return tallies


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


def by_kind(tallies: Tallies) -> dict[str, Tally]:
    """All files of a kind together."""
    out: dict[str, Tally] = {}
    for (_, kind), tally in tallies.items():
        out.setdefault(kind, Tally()).merge(tally)
    return out


def headline(tallies: Tallies) -> float:
    """Share of digit slips caught, each kind weighted as people make it."""
    kinds = by_kind(tallies)
    return sum(weight * kinds[kind].caught / kinds[kind].tried for kind, weight in WEIGHTS.items()) / 100


def table(tallies: Tallies) -> str:
    """The published table `error_score` as CSV: each file and kind, small ones pooled, and all of a kind."""
    rows: Tallies = {}
    for (stem, kind), tally in sorted(tallies.items()):
        rows.setdefault((stem if tally.tried >= POOLED else POOL, kind), Tally()).merge(tally)
        rows.setdefault((ALL, kind), Tally()).merge(tally)
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    writer.writerow(_headline_row(by_kind(tallies)))
    for (stem, kind), t in sorted(rows.items()):
        low, high = wilson(t.caught, t.tried)
        names = "; ".join(sorted(set(t.survivors))) if stem != ALL else ""
        shares = (f"{share:.6f}" for share in (t.caught / t.tried, low, high))
        writer.writerow(
            [stem, kind, t.tried, t.caught, t.caught_with_second_keying, *shares, t.less_safe, names]
        )
    return text.getvalue()


def _headline_row(kinds: dict[str, Tally]) -> list[object]:
    """The weighted share; its interval takes the ends of the four kinds together, which is too wide rather
    than too narrow."""
    slips = [(weight / 100, kinds[kind]) for kind, weight in WEIGHTS.items()]
    share, low, high = (
        sum(w * value(t) for w, t in slips)
        for value in (
            lambda t: t.caught / t.tried,
            lambda t: wilson(t.caught, t.tried)[0],
            lambda t: wilson(t.caught, t.tried)[1],
        )
    )
    counts = [
        sum(getattr(t, name) for _, t in slips) for name in ("tried", "caught", "caught_with_second_keying")
    ]
    less_safe = sum(t.less_safe for _, t in slips)
    return [ALL, HEADLINE, *counts, *(f"{s:.6f}" for s in (share, low, high)), less_safe, ""]


def _part(job: tuple[int, int]) -> Tallies:
    return run(*job)


def main(arguments: list[str] | None = None) -> int:
    """Run the error injection on both cores and write the table."""
    parser = argparse.ArgumentParser(prog="python -m pipeline.score", description=__doc__)
    parser.add_argument("--n", type=int, default=20_000, help="errors to inject")
    parser.add_argument("--seed", type=int, default=1969, help="seed of chance")
    parser.add_argument("--dry-run", action="store_true", help="print only")
    options = parser.parse_args(arguments)
    if options.n < len(KINDS):
        parser.error(f"--n: {options.n}: at least {len(KINDS)}, one of each kind")
    jobs = [((options.n + 1) // 2, options.seed), (options.n // 2, options.seed + 1)]
    if not options.dry_run:
        jobs.append((SAMPLE, SAMPLE_SEED))
    with ProcessPoolExecutor(2) as pool:
        parts = list(pool.map(_part, jobs))
    tallies: Tallies = {}
    for found in parts[:2]:
        for place, tally in found.items():
            tallies.setdefault(place, Tally()).merge(tally)
    _report(tallies)
    if not options.dry_run:
        caught = {kind: tally.caught for kind, tally in sorted(by_kind(parts[2]).items())}
        beside = {"raw": raw_hash(), "n": options.n, "seed": options.seed, "sample_caught": caught}
        write_text(TARGET, table(tallies))
        write_text(TARGET.with_suffix(".json"), json.dumps(beside, indent=2) + "\n")
    return 0


def _report(tallies: Tallies) -> None:
    for kind, t in by_kind(tallies).items():
        share = f"{t.caught:6} of {t.tried:6}  {t.caught / t.tried:8.4%}"
        print(
            f"{kind:24} {share}  with second keying {t.caught_with_second_keying:6}  less safe {t.less_safe}"
        )
    print(f"{HEADLINE}: {headline(tallies):.4%}")
    for (_, kind), t in sorted(tallies.items()):
        for name in sorted(set(t.survivors)):
            print(f"  survives: {kind}: {name}")


if __name__ == "__main__":
    sys.exit(main())
