"""The numbers of conductors that NFPA 70 Table 314.16(A) prints, against the fill of each box.

Source: NFPA 70-2020 and NFPA 70-2023, Table 314.16(A), 24 boxes and 7 sizes, as transcribed in raw/. The
printed number must pass and one more must fail. One cell of the print to 2020 (4 x 1-1/4 round, 8 AWG)
gives one conductor more than its volume holds; the fill goes by the volume.
"""

from __future__ import annotations

import pytest

import jointable

DEPARTURES = {("nec-2014", "4 x 1-1/4 round", "8 AWG"), ("nec-2017", "4 x 1-1/4 round", "8 AWG")} | {
    ("nec-2020", "4 x 1-1/4 round", "8 AWG")
}


def _boxes(reference: jointable.Reference, edition: str) -> list[tuple[str, str, int]]:
    rows = reference.rows("SELECT box, size, count FROM box_count WHERE edition = ? ORDER BY ALL", [edition])
    return [(box, size, count - ((edition, box, size) in DEPARTURES)) for box, size, count in rows]


@pytest.mark.parametrize("edition", ["nec-2014", "nec-2017", "nec-2020", "nec-2023"])
def test_printed_number_passes_and_one_more_fails(reference: jointable.Reference, edition: str) -> None:
    cells = _boxes(reference, edition)
    assert len(cells) == 168
    items = [
        {"box": f"{box} / {size} / {count + more}", "item": item, "size": what, "quantity": quantity}
        for box, size, count in cells
        for more in (0, 1)
        for item, what, quantity in (("box", box, 1), ("conductor", size, count + more))
    ]
    results = {r.box: r.passes for r in reference.fill(items, edition=edition)}
    assert len(results) == 336
    for box, size, count in cells:
        assert results[f"{box} / {size} / {count}"] is True, (box, size, count)
        assert results[f"{box} / {size} / {count + 1}"] is False, (box, size, count + 1)


@pytest.mark.parametrize("edition", ["nec-2020", "nec-2023"])
def test_remaining_of_an_empty_box_is_the_printed_number(
    reference: jointable.Reference, edition: str
) -> None:
    cells = _boxes(reference, edition)
    items = [{"box": box, "item": "box", "size": box} for box in dict.fromkeys(box for box, _, _ in cells)]
    found = {
        (r.box, line["size"]): line["count"]
        for r in reference.fill(items, edition=edition)
        for line in r.to_dict()["remaining"]
    }
    assert {(box, size): count for box, size, count in cells}.items() <= found.items()
