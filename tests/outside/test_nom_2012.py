"""A second print of Table 314.16(A): NOM-001-SEDE-2012, Table 314-16(a) (DOF 29 November 2012).

The Mexican law prints the table on the model of the 2011 code, in centimetres. Its cells are typed here
again for three rows, apart from raw/.
"""

from __future__ import annotations

import pytest

from pipeline.conform import Conformed

#: box -> cubic centimetres and numbers for 18, 16, 14, 12, 10, 8, 6 AWG
ROWS = {
    "4 x 1-1/2 round": (254, (10, 8, 7, 6, 6, 5, 3)),
    "4 x 2-1/8 x 1-7/8 device": (213, (8, 7, 6, 5, 5, 4, 2)),
    "FD multiple 2-3/8": (395, (16, 13, 12, 10, 9, 8, 4)),
}
SIZES = ("18 AWG", "16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG", "6 AWG")


@pytest.mark.parametrize("edition", ["nec-2014", "nec-2020", "nec-2023"])
def test_published_rows_agree(conformed: Conformed, edition: str) -> None:
    for box, (volume, counts) in ROWS.items():
        assert conformed.tables["box"][(edition, box)]["volume_cm3"] == f"{volume}.0000"
        found = tuple(
            int(str(conformed.tables["box_count"][(edition, box, size)]["count"])) for size in SIZES
        )
        assert found == counts
