"""The error-injection score: what counts, what is caught, and that nothing true is called wrong."""

from __future__ import annotations

import csv
import io
import random
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from pipeline import score, score_record
from pipeline.failures import BuildError
from pipeline.mutations import APART, KINDS, WEIGHTS, Mutation, Place, Slips
from pipeline.read import parse_csv
from pipeline.readings import RawRow
from pipeline.schema import load_raw_schemas, load_schemas
from pipeline.textfiles import wrong_cells
from pipeline.verifier import Verifier

ROOT = Path(__file__).resolve().parent.parent
SCHEMAS = load_raw_schemas()


@pytest.fixture(scope="module")
def verifier() -> Verifier:
    return score._bench()[0]


@pytest.fixture(scope="module")
def slips() -> Slips:
    return score._bench()[1]


@pytest.fixture(scope="module")
def sample() -> score.Tallies:
    return score.run(score.SAMPLE, score.SAMPLE_SEED)


def test_a_sample_does_not_fall_below_the_recorded_score(sample: score.Tallies) -> None:
    recorded = score.sampled()
    caught = {kind: tally.caught for kind, tally in score.by_kind(sample).items()}
    before = recorded["sample_caught"]
    assert isinstance(before, dict)
    assert set(caught) == set(before) == set(KINDS)
    if recorded["raw"] == score.raw_hash():
        assert all(caught[kind] >= before[kind] for kind in KINDS)
    else:
        # Other data draws other errors; the share may not fall by more than chance does.
        assert sum(caught.values()) >= sum(before.values()) - 8, score.is_old()


def test_the_aims_are_met_on_the_sample(sample: score.Tallies) -> None:
    assert score.headline(sample) >= 0.99
    assert sum(tally.less_safe for tally in sample.values()) == 0
    for kind, tally in score.by_kind(sample).items():
        low, high = score.wilson(tally.caught, tally.tried)
        assert high >= 0.95, kind
        assert 0 <= low <= tally.caught / tally.tried <= high <= 1


def test_a_check_that_fails_on_the_truth_stops_the_score(
    verifier: Verifier, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It would seem to catch every error of its files."""
    assert verifier.failures() == []
    monkeypatch.delitem(verifier.tables, "connector_class")
    assert "usual-mix-taken" in {f.check_id for f in verifier.failures()}
    monkeypatch.setattr(score, "Verifier", lambda printed: verifier)
    with pytest.raises(BuildError, match="usual-mix-taken"):
        score._bench.__wrapped__()


def test_equal_seeds_give_equal_errors(sample: score.Tallies) -> None:
    assert score.table(score.run(160, 5)) == score.table(score.run(160, 5)) != score.table(score.run(160, 6))


def test_the_published_table_is_of_the_recorded_run() -> None:
    rows = list(csv.DictReader(io.StringIO(score.TARGET.read_text("utf-8"))))
    fields = load_schemas()["error_score"].names
    assert tuple(rows[0]) == fields
    every = {r["kind"]: r for r in rows if r["raw_file"] == score.ALL}
    assert set(every) == {*KINDS, score.HEADLINE}
    weighted = (
        sum(Decimal(every[k]["caught"]) / Decimal(every[k]["tried"]) * w for k, w in WEIGHTS.items()) / 100
    )
    assert abs(weighted - Decimal(every[score.HEADLINE]["share"])) < Decimal("0.000001")
    assert weighted >= Decimal("0.995")
    for row in rows:
        assert row["raw_file"] in (score.ALL, score.POOL) or int(row["tried"]) >= score.POOLED
        assert Decimal(row["share"]) >= Decimal("0.95"), row
        assert Decimal(row["share_low"]) <= Decimal(row["share"]) <= Decimal(row["share_high"])
        assert int(row["caught"]) <= int(row["caught_with_second_keying"]) <= int(row["tried"])
        assert int(row["less_safe"]) == 0
        named = row["survivors"].split("; ") if row["survivors"] else []
        assert bool(named) == (row["caught"] != row["tried"] and row["raw_file"] != score.ALL)
    for kind in KINDS:
        parts = [int(r["tried"]) for r in rows if r["kind"] == kind and r["raw_file"] != score.ALL]
        assert sum(parts) == int(every[kind]["tried"])


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_each_kind_changes_what_it_says(kind: str, slips: Slips) -> None:
    chance = random.Random(1)
    for _ in range(40):
        error = slips.draw(kind, chance)
        true = slips.files[error.stem]
        if kind == "row dropped":
            assert len(error.rows) == len(true) - 1
        elif kind == "row doubled":
            assert len(error.rows) == len(true) + 1
        else:
            changed = [
                (was, now) for was, now in zip(true, error.rows, strict=True) if was.cells != now.cells
            ]
            assert changed
            if kind not in ("rows slipped", "columns swapped"):
                assert len(changed) == 1
                was, now = changed[0]
                assert [c for c in was.cells if was[c] != now[c]] == [error.place.column]
        assert str(error.line) in error.name


CHANGED: dict[str, Callable[[str, str], bool]] = {
    "digit replaced": lambda a, b: len(a) == len(b) and sum(x != y for x, y in zip(a, b, strict=True)) == 1,
    "digits swapped": lambda a, b: sorted(a) == sorted(b) and a != b,
    "digit left out": lambda a, b: len(b) == len(a) - 1,
    "digit added": lambda a, b: len(b) == len(a) + 1,
    "decimal shifted": lambda a, b: Decimal(b) in (Decimal(a) * 10, Decimal(a) / 10),
    "last digit off by one": lambda a, b: abs(Decimal(a) - Decimal(b)).normalize().as_tuple().digits == (1,),
    "zero for missing": lambda a, b: (a, b) == ("", "0"),
}


@pytest.mark.parametrize("kind", sorted(CHANGED))
def test_a_slip_is_of_its_kind(kind: str, slips: Slips) -> None:
    chance = random.Random(2)
    assert all(CHANGED[kind](e.old, e.new) for e in (slips.draw(kind, chance) for _ in range(200)))


def test_every_data_cell_can_go_wrong(slips: Slips) -> None:
    cells = {
        (p.stem, p.index, p.column)
        for kind in ("digit replaced", "category swapped")
        for p in slips.places(kind)
    }
    cells |= {(p.stem, p.index, p.column) for p in slips.places("edition swapped")}
    # A word that every row of its column has cannot be taken for another.
    alone = {
        (p.stem, p.index, p.column)
        for p in slips.cells(bool)
        if len({r[p.column] for r in slips.files[p.stem]} - {""}) == 1
    }
    assert {(p.stem, p.index, p.column) for p in slips.cells(bool)} <= cells | alone
    assert set(slips.files) == set(SCHEMAS) - set(APART)


def test_a_source_swap_counts_only_where_it_is_published(verifier: Verifier, slips: Slips) -> None:
    for kind in ("source swapped", "edition swapped"):
        error = slips.draw(kind, random.Random(3))
        row = slips.files[error.stem][error.place.index]
        same = replace(error, rows=[*slips.files[error.stem]])
        same.rows[error.place.index] = replace(row, cells=dict(row.cells))
        assert not verifier.judge(same).counts


def test_a_survivor_that_allows_more_is_told(verifier: Verifier) -> None:
    """With the checks of its table left out, a smaller allowance is less safe and a larger one is not."""
    stem = "nec_314_16_b_2023"
    blind = Verifier(verifier.printed)
    blind.checks = {}
    for text, less_safe in (("1.49", True), ("1.51", False)):
        rows = [*verifier.printed[stem]]
        rows[0] = replace(rows[0], cells={**rows[0].cells, "volume_in3": text})
        error = Mutation(
            "last digit off by one", Place(stem, 0, "volume_in3"), rows[0].line, rows, "1.50", text
        )
        verdict = blind.judge(error)
        assert not verdict.caught
        assert verdict.less_safe is less_safe
        assert verifier.judge(error).caught


def _rewritten(stem: str, folder: Path, way: str, chance: random.Random) -> list[RawRow]:
    """The rows of a file written in another way that says the same, read again."""
    with (ROOT / "raw" / f"{stem}.csv").open(encoding="utf-8", newline="") as lines:
        header, *rows = list(csv.reader(lines))
    if way == "row order":
        chance.shuffle(rows)
    quoting = csv.QUOTE_ALL if way == "quoting" else csv.QUOTE_MINIMAL
    ends = "\r\n" if way == "line ends" else "\n"
    path = folder / f"{stem}.csv"
    with path.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out, quoting=quoting, lineterminator=ends).writerows([header, *rows])
    assert not wrong_cells(path, SCHEMAS[stem])
    return parse_csv(path, SCHEMAS[stem])


def test_no_alarm_on_rewrites_that_keep_every_value(verifier: Verifier, tmp_path: Path) -> None:
    chance = random.Random(200)
    stems = sorted(set(SCHEMAS) - {"sources", "corrections"})
    for number in range(200):
        way = ("quoting", "row order", "line ends")[number % 3]
        stem = stems[number // 3 % len(stems)]
        rows = _rewritten(stem, tmp_path, way, chance)
        error = Mutation(way, Place(stem, 0, ""), 1, rows, "", "")
        verdict = verifier.judge(error)
        assert not verdict.caught, f"{stem}, {way}: {verdict.by}"
        assert not verdict.second_keying
        assert verifier.changes_nothing(error)


def test_a_score_of_other_data_is_old(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(score_record, "raw_hash", lambda folder=None: "other")
    assert "make score" in score.is_old()


def test_too_few_errors_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        score.main(["--n", "3"])
    assert stopped.value.code == 2
    assert "at least 16" in capsys.readouterr().err
