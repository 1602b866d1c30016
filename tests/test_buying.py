"""Buying: whole packs for the least money, exactly; cost against room; a user's price file. All prices are invented."""

from __future__ import annotations

import itertools
import random
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

import jointable
from jointable.cli import main
from jointable.errors import InputError
from jointable.prices import Pack, Shelf, load_prices

HEADER = "class,pack_size,pack_price,note\n"
JOINTS = [("a", 12, 3, 30), ("b", 14, 2, 50), ("c", 10, 3, 8), ("d", 18, 2, 12)]
ROWS = [
    row
    for name, size, count, boxes in JOINTS
    for row in (
        {"box": name, "item": "box", "size": "4 x 1-1/2 square", "boxes": boxes},
        {"box": name, "item": "conductor", "size": size, "quantity": count, "joint": "n"},
    )
]


def prices(folder: Path, *rows: str) -> Path:
    path = folder / "prices.csv"
    path.write_text(HEADER + "".join(f"{r}\n" for r in rows), "utf-8")
    return path


def every_way(packs: list[Pack], quantity: int) -> tuple[Decimal, int]:
    """Least cost and, of these, fewest pieces, by trying all numbers of all packs."""
    most = [range(-(-quantity // p.size) + 1) for p in packs]
    ways = (
        (sum((p.price * n for p, n in zip(packs, counts, strict=True)), Decimal(0)),
         sum(p.size * n for p, n in zip(packs, counts, strict=True)))
        for counts in itertools.product(*most)
    )  # fmt: skip
    return min(way for way in ways if way[1] >= quantity)


@pytest.mark.parametrize("seed", range(25))
def test_packs_against_trying_everything(seed: int) -> None:
    dice = random.Random(seed)
    sizes = dice.sample(range(1, 13), dice.randint(1, 3))
    packs = [Pack(s, Decimal(dice.randint(0, 40)) / 4, n) for n, s in enumerate(sizes)]
    shelf = Shelf(packs)
    for quantity in dice.sample(range(80), 8):
        found = shelf.cheapest(quantity)
        assert (found.cost, found.pieces) == every_way(packs, quantity), (packs, quantity)


def test_large_quantities_are_bought_in_the_best_pack() -> None:
    found = Shelf([Pack(7, Decimal(7), 1), Pack(100, Decimal(50), 2)]).cheapest(1_000_003)
    assert [(p.size, n) for p, n in found.packs] == [(7, 1), (100, 10_000)]
    assert found.cost == 500_007


def test_a_stock_with_prices(reference: jointable.Reference, tmp_path: Path) -> None:
    path = prices(
        tmp_path, "twist-on 2.5,25,5,", "twist-on 6.3,25,4,", "twist-on 10,50,9,a tub", "twist-on 16,100,15,",
        "twist-on 16 wide,100,14,",
    )  # fmt: skip
    plain = reference.stock(ROWS, spare_percent=10)
    answer = reference.stock(ROWS, spare_percent=10, prices=path)
    buying = answer.pop("buying")
    assert answer == plain  # prices change nothing else
    assert [(c["class"], c["quantity"]) for c in answer["classes"]] == [("twist-on 16 wide", 110)]
    (bought,) = buying["purchases"]
    assert bought["packs"] == [{"pack_size": 100, "packs": 2, "pack_price": Decimal(14), "row": 6}]
    assert (bought["cost"], bought["pieces"], bought["cost_per_joint"]) == (28, 200, Decimal("0.28"))
    assert buying["cost"] == 28
    assert buying["unpriced"] == []
    costs, rooms = [p["cost"] for p in buying["curve"]], [p["room_cm3"] for p in buying["curve"]]
    assert len(costs) >= 3
    assert costs == sorted(set(costs))
    assert rooms == sorted(set(rooms), reverse=True)
    # Room alone decides the last point: each joint in the class of least room that has a price.
    assert rooms[-1] == answer["curve"][-1]["room_cm3"]
    assert costs[-1] == 5 + 3 * 4 + 9 + 15


def test_no_way_of_the_curve_is_beaten_by_another_choice_of_classes(
    reference: jointable.Reference, tmp_path: Path
) -> None:
    """Every way to give each kind of joint a class, tried: none costs less and takes less room."""
    path = prices(
        tmp_path, "twist-on 2.5,25,5,", "twist-on 6.3,25,4,", "twist-on 10,50,9,", "twist-on 16 wide,100,14,"
    )
    packs = load_prices(path, reference)
    options = {}
    for name, size, count, boxes in JOINTS:
        choices = reference.connectors(f"{count}x{size}", family="twist-on").choices
        options[name] = [(c.name, c.room_cm3, boxes) for c in choices if c.name in packs]
    best: list[tuple[Decimal, Decimal]] = []
    for way in itertools.product(*options.values()):
        joints: dict[str, int] = {}
        for name, _, boxes in way:
            joints[str(name)] = joints.get(str(name), 0) + boxes
        cost = sum((Shelf(packs[n]).cheapest(c).cost for n, c in joints.items()), Decimal(0))
        best.append((cost, sum((room * boxes for _, room, boxes in way if room), Decimal(0))))
    curve = reference.stock([r for r in ROWS if r["box"] in options], prices=path)["buying"]["curve"]
    assert len(curve) >= 2
    for point in curve:
        assert not any(c <= point["cost"] and r < point["room_cm3"] for c, r in best), point
        assert not any(c < point["cost"] and r <= point["room_cm3"] for c, r in best), point


def test_what_has_no_price_is_said(reference: jointable.Reference, tmp_path: Path) -> None:
    buying = reference.stock(ROWS, prices=prices(tmp_path, "twist-on 10,50,9,"))["buying"]
    assert buying["unpriced"] == ["twist-on 16 wide"]
    assert buying["purchases"] == []
    assert buying["joints_without_a_priced_class"] == 8 + 12
    assert [p["names"] for p in buying["curve"]] == [["twist-on 10"]]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("twist-on 15,10,1,", "prices.csv:2: class: 'twist-on 15': no such class; did you mean 'twist-on 1"),
        (",10,1,", "prices.csv:2: class: the cell is empty"),
        ("twist-on 10,,1,", "prices.csv:2: pack_size: the cell is empty"),
        ("twist-on 10,0,1,", "prices.csv:2: pack_size: '0': no number of pieces"),
        ("twist-on 10,2.5,1,", "pack_size: '2.5': no number of pieces"),
        ('twist-on 10,"1,000",1,', "pack_size: '1,000': no number of pieces"),
        ("twist-on 10,10,-1,", "prices.csv:2: pack_price: '-1': no price"),
        ("twist-on 10,10,$5,", "pack_price: '$5': no price"),
        ("twist-on 10,10,1e3,", "pack_price: '1e3': no price"),
        ("twist-on 10,10,1.2.3,", "pack_price: '1.2.3': no price"),
        ("twist-on 10,10", "prices.csv:2: the row has 2 cells and the header 4"),
        (
            "twist-on 10,10,1,\ntwist-on 10,10,2,",
            "prices.csv:3: pack_size: '10': packs of 10 stand in row 2 already",
        ),
    ],
)
def test_a_bad_price_file_is_one_line(
    reference: jointable.Reference, tmp_path: Path, row: str, told: str
) -> None:
    with pytest.raises(InputError) as caught:
        load_prices(prices(tmp_path, row), reference)
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "the file is empty"),
        (HEADER, "no rows below the header"),
        ("class,pack_size\ntwist-on 10,10\n", "pack_price: the column is missing"),
        ("class,pack_size,pack_prize\n", "did you mean 'pack_price'"),
        ("class,class\n", "the column stands twice"),
    ],
)
def test_a_bad_header_is_one_line(
    reference: jointable.Reference, tmp_path: Path, text: str, told: str
) -> None:
    path = tmp_path / "prices.csv"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError, match=told):
        load_prices(path, reference)


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    schedule = tmp_path / "boxes.csv"
    schedule.write_text("box,item,size,quantity,joint\nA,conductor,12,3,n\nB,conductor,14,2,n\n", "utf-8")
    path = prices(tmp_path, "twist-on 10,25,5.5,")
    assert main(["stock", str(schedule), "--prices", str(path)]) == 0
    told = capsys.readouterr().out
    assert "twist-on 10" in told
    assert "1 x 25" in told
    assert "2.75" in told
    missing: list[Any] = ["stock", str(schedule), "--prices", str(tmp_path / "none.csv")]
    assert main(missing) == 2
    assert "a CSV file of prices" in capsys.readouterr().err


LISTED = "connector,least,greatest,location,temperature_c,material_mark,note\nmine,2x12,4x12,,,,\nother,5x14,6x14,,,,\n"


def _listed(tmp_path: Path, rows: str) -> tuple[Path, Path]:
    own, paid = tmp_path / "own.csv", tmp_path / "paid.csv"
    own.write_text(LISTED, "utf-8")
    paid.write_text(rows, "utf-8")
    return own, paid


@pytest.mark.parametrize(
    "rows", ["class,listing,pack_size,pack_price\n,mine,10,3\n", "class,pack_size,pack_price\nmine,10,3\n"]
)
def test_a_listing_with_a_price_is_bought(reference: jointable.Reference, tmp_path: Path, rows: str) -> None:
    own, paid = _listed(tmp_path, rows)
    joints = [
        {"box": "a", "item": "conductor", "size": 12, "quantity": 4, "joint": "hot"},
        {"box": "a", "item": "conductor", "size": 10, "quantity": 2, "joint": "feed"},
    ]
    told = reference.stock(joints, prices=paid, listings=own)
    bought = told["buying"]["purchases"]
    # Only the four twelves are printed on its package; the tens keep their class, which has no price.
    assert [(p["class"], p["joints"], p["pieces"]) for p in bought] == [("mine", 1, 10)]
    assert bought[0]["in_place_of"] in [c["class"] for c in told["classes"]]
    assert told["buying"]["unpriced"]
    assert told["classes"] == reference.stock(joints)["classes"]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (",nobody,10,1", "paid.csv:2: listing: 'nobody': no such listing"),
        (",Mine,10,1", "did you mean 'mine'?"),
        ("twist-on 10,mine,10,1", "paid.csv:2: class: 'twist-on 10': a class and a listing"),
        (",,10,1", "paid.csv:2: class: the cell is empty"),
    ],
)
def test_a_price_of_a_wrong_listing_is_one_line(
    reference: jointable.Reference, tmp_path: Path, row: str, told: str
) -> None:
    _, paid = _listed(tmp_path, f"class,listing,pack_size,pack_price\n{row}\n")
    with pytest.raises(InputError) as caught:
        load_prices(paid, reference, ("mine", "other"))
    assert told in str(caught.value)
    assert "\n" not in str(caught.value)
