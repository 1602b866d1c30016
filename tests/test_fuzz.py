"""What people type and what lies in files: an answer or one clear line, never anything else.

The number of tries is small here; `JOINTABLE_FUZZ=1000000` in the environment makes it a million.
"""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

import jointable
from jointable.listings import load_listings
from jointable.schedule import COLUMNS, read_schedule
from tests.fuzz import PIECES, run

TRIES = int(os.environ.get("JOINTABLE_FUZZ", "2000"))


def _settings(tries: int) -> settings:
    quiet = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
    # The same inputs in every run, so that a change is to blame for a failure; a long run draws its own.
    fixed = "JOINTABLE_FUZZ" not in os.environ
    return settings(
        max_examples=tries, deadline=None, database=None, derandomize=fixed, suppress_health_check=quiet
    )


SETTINGS = _settings(TRIES)
#: A question to the database takes a hundred times longer than reading.
ASKED = _settings(max(50, TRIES // 20))

CELLS = st.one_of(
    st.sampled_from(
        (
            *PIECES,
            "box",
            "cable",
            "conductor",
            "device",
            "12/2",
            "nan",
            "inf",
            "4 x 1-1/2 square",
            "",
            "'; --",
            "../../x",
            "<script>",
        )
    ),
    st.text(max_size=12),
)


def _one_line(error: jointable.InputError, file: str = "") -> None:
    text = str(error)
    assert text
    assert file in text
    assert len(text.splitlines()) == 1


@SETTINGS
@given(st.one_of(st.text(max_size=60), st.lists(st.sampled_from(PIECES), max_size=12).map("".join)))
@example("")
@example("1x" + "9" * 5000)
@example("2x12 + " * 200)
def test_any_text_is_a_joint_or_one_line(text: str) -> None:
    try:
        joint = jointable.Joint.parse(text)
    except jointable.InputError as error:
        _one_line(error)
        return
    assert 1 <= joint.count <= 24
    assert jointable.Joint.parse(str(joint)).conductors == joint.conductors


def _line(cells: list[str]) -> str:
    return ",".join('"' + c.replace('"', '""') + '"' if set(c) & set(',"\n\r') else c for c in cells)


@st.composite
def tables(draw: st.DrawFn, columns: tuple[str, ...]) -> bytes:
    """A CSV file of a kind: mostly well formed, sometimes any bytes at all.

    What the cells hold is drawn one by one; where each stands by one number, which is ten times faster.
    """
    if draw(st.integers(0, 9)) == 0:
        return draw(st.binary(max_size=200))
    place = random.Random(draw(st.integers(0, 2**32)))
    whole = st.just(place.sample(columns, len(columns)))
    header = draw(st.one_of(whole, st.lists(st.sampled_from(columns), max_size=6)))
    width = max(0, len(header) + draw(st.sampled_from((0, 0, 0, 0, 1, -1))))
    held = draw(st.lists(CELLS, min_size=1, max_size=20))
    rows = [[place.choice(held) for _ in range(width)] for _ in range(draw(st.integers(0, 5)))]
    text = draw(st.sampled_from(("\n", "\r\n"))).join([_line(list(header)), *map(_line, rows)])
    return text.encode("utf-8", "surrogatepass")


FIRST = ("box", "item", "size", "quantity")
SCHEDULES = tables((*FIRST, *(c for c in COLUMNS if c not in FIRST)))


@SETTINGS
@given(data=SCHEDULES)
def test_any_file_is_a_schedule_or_one_line(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "boxes.csv"
    path.write_bytes(data)
    try:
        read_schedule(path, in_memory=True).records()
    except jointable.InputError as error:
        _one_line(error)


@ASKED
@given(data=SCHEDULES)
def test_any_file_is_answered_or_one_line(
    data: bytes, tmp_path: Path, reference: jointable.Reference
) -> None:
    path = tmp_path / "boxes.csv"
    path.write_bytes(data)
    try:
        reference.fill(str(path))
    except jointable.InputError as error:
        _one_line(error, "boxes.csv")


@SETTINGS
@given(data=tables(("connector", "least", "greatest", "location", "temperature_c", "material_mark", "note")))
def test_any_file_is_listings_or_one_line(
    data: bytes, tmp_path: Path, reference: jointable.Reference
) -> None:
    path = tmp_path / "mine.csv"
    path.write_bytes(data)
    try:
        load_listings(path, reference)
    except jointable.InputError as error:
        _one_line(error, "mine.csv")


@pytest.mark.parametrize("data", [b"\xff\xfe\x00", b"a" * 2_000_000, b"\n" * 1000, b'box,item\n"open'])
def test_odd_files(data: bytes, tmp_path: Path) -> None:
    path = tmp_path / "boxes.csv"
    path.write_bytes(data)
    with pytest.raises(jointable.InputError) as caught:
        read_schedule(path, in_memory=True).records()
    _one_line(caught.value)


def test_many_inputs_at_random() -> None:
    told = run(max(5_000, TRIES), seed=7)
    assert {kind.split()[0] for kind in told} == {"joint", "size", "schedule", "listings"}
    assert min(told[f"{kind} read"] for kind in ("joint", "size", "schedule", "listings")) > 10
    assert min(told[f"{kind} refused"] for kind in ("joint", "size", "schedule", "listings")) > 10
