"""The database file opens, and its macros answer, in the oldest and a middle client that it is written for."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
DATABASE = ROOT / "published" / "jointable.duckdb"

ASK = """
import duckdb, sys
con = duckdb.connect(sys.argv[1], read_only=True)
assert con.execute("SELECT count(*) FROM allowance").fetchone()[0] > 0
con.execute("CREATE TEMP TABLE items AS SELECT * FROM (VALUES ('a', 'box', '4 x 1-1/2 square', 1), "
            "('a', 'conductor', '12', 6), ('a', 'device', '12', 1)) t(box, item, size, quantity)")
print(duckdb.__version__, con.execute("SELECT required_in3, passes FROM box_fill('items', 'nec-2023')").fetchone())
"""


@pytest.mark.parametrize("version", ["1.2", "1.4"])
def test_old_client_opens_it_and_fills_a_box(version: str) -> None:
    """Six 12 AWG and a yoke on 12 AWG: 8 x 2.25 in3 (NFPA 70-2023, 314.16(B))."""
    python = ROOT / f".venv-duckdb-{version}" / "bin" / "python"
    if not python.is_file():
        pytest.skip(f"no client {version}; `make test` sets it up")
    done = subprocess.run(
        [python, "-c", ASK, str(DATABASE)], capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(version)
    assert "Decimal('18.0000000000'), True" in done.stdout
