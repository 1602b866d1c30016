"""Drawings: sound SVG, to scale, said in words, without colours, scripts or styles that a page refuses."""

from __future__ import annotations

import math
import re
from typing import Any
from xml.etree import ElementTree

import pytest

import jointable
from jointable.drawing import bore_mm, bundle_svg, joint_svg, ranges_svg
from jointable.geometry import bare_diameter_mm, enclosing_circle

SVG = "{http://www.w3.org/2000/svg}"


def conductor(count: int, size: str, construction: str = "solid", end: int | None = None) -> dict[str, Any]:
    out: dict[str, Any] = {
        "count": count,
        "size": size,
        "construction": construction,
        "diameter_mm": bare_diameter_mm(size, construction),
    }
    return out | ({"end": end} if end else {})


def answer(*conductors: dict[str, Any], choices: tuple[dict[str, Any], ...] = ()) -> dict[str, Any]:
    text = " + ".join(f"{c['count']}x{c['size']}" for c in conductors)
    joint = {"text": text, "conductors": list(conductors), "total_mm2": 9.926318628, "bundle_mm": 4.423}
    return {"joint": joint, "choices": list(choices)}


TEN = {
    "class": "twist-on 10", "family": "twist-on", "size": 10, "total_min_mm2": 2.5, "total_max_mm2": 10,
    "admitted": True,
}  # fmt: skip
FOUR = TEN | {"class": "twist-on 4", "size": 4, "total_min_mm2": 1, "total_max_mm2": 4, "admitted": False}
SIX = TEN | {
    "class": "twist-on 6.3",
    "size": 6.3,
    "total_min_mm2": 1.575,
    "total_max_mm2": 6.3,
    "admitted": False,
}
CLAMP = TEN | {"class": "screw clamp 4 x3", "total_min_mm2": None, "total_max_mm2": None}


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def words(root: ElementTree.Element) -> str:
    return " ".join("".join(e.itertext()) for e in root.iter() if e.tag.removeprefix(SVG) in ("text", "desc"))


def test_circles_are_to_scale() -> None:
    mix = answer(conductor(2, "12 AWG"), conductor(1, "18 AWG"), conductor(1, "14 AWG"))
    root = parsed(bundle_svg(mix))
    radii = sorted((float(c.get("r", "")) for c in root.iter(f"{SVG}circle")), reverse=True)
    diameters = sorted((float(bare_diameter_mm(f"{n} AWG")) for n in (12, 12, 14, 18)), reverse=True)
    found = enclosing_circle(diameters)
    scale = radii[0] / found.diameter
    assert len(radii) == 5
    for drawn, diameter in zip(radii[1:], diameters, strict=True):
        assert math.isclose(drawn, diameter * scale, abs_tol=0.01)


def test_drawings_say_in_words_what_they_show() -> None:
    root = parsed(joint_svg(answer(conductor(3, "12 AWG"), choices=(TEN,)), [TEN, FOUR, SIX]))
    assert root.get("role") == "img"
    named = {e.get("id"): e for e in root if e.tag in (f"{SVG}title", f"{SVG}desc")}
    assert list(named) == root.get("aria-labelledby", "").split(" ")
    description = "".join(root.find(f"{SVG}desc").itertext())  # type: ignore[union-attr]
    for said in (
        "3 × 12 AWG solid, 2.05 mm", "bare bundle 4.423 mm across", "bore of twist-on 10 about 4.4 mm, an estimate",
        "The joint has 9.93 mm² in all", "twist-on 10: takes 2.5 to 10 mm²", "twist-on 6.3: refused, 1.57 to 6.3 mm²",
    ):  # fmt: skip
        assert said in description
    assert "twist-on 4" not in description, "a class far from the joint is left out"


def test_a_hidden_conductor_is_named_and_dashed() -> None:
    root = parsed(bundle_svg(answer(conductor(2, "10 AWG"), conductor(1, "24 AWG"))))
    assert "24 AWG (dashed edge) hidden by the others: lay the thin one outside" in words(root)
    dashed = [c for c in root.iter(f"{SVG}circle") if c.get("stroke-dasharray") == "5 3"]
    assert len(dashed) == 1


def test_a_bundle_that_the_bore_of_the_model_does_not_hold_is_drawn_without_it() -> None:
    tight = TEN | {"class": "twist-on 6.3", "size": 6.3}
    root = parsed(bundle_svg(answer(conductor(2, "12 AWG"), choices=(tight,))))
    assert "this bundle opens it wider" in words(root)
    assert not [c for c in root.iter(f"{SVG}circle") if c.get("stroke-width") == "2"]
    held = parsed(bundle_svg(answer(conductor(2, "14 AWG"), choices=(TEN,))))
    assert len([c for c in held.iter(f"{SVG}circle") if c.get("stroke-width") == "2"]) == 1


def test_the_bore_is_that_of_the_envelope_model() -> None:
    """Three alike that fill the class: (1 + 2/sqrt 3) sqrt(4 (size/3) / pi)."""
    assert math.isclose(bore_mm(16), (1 + 2 / math.sqrt(3)) * math.sqrt(4 * 16 / 3 / math.pi))


def test_ends_of_a_butt_joint_are_drawn_apart_to_one_scale() -> None:
    root = parsed(
        bundle_svg(answer(conductor(2, "14 AWG", end=1), conductor(1, "12 AWG", end=2), choices=(TEN,)))
    )
    by_middle: dict[float, list[float]] = {}
    for c in root.iter(f"{SVG}circle"):
        by_middle.setdefault(float(c.get("cx", "")) // 332, []).append(float(c.get("r", "")))
    assert sorted(map(len, by_middle.values())) == [2, 3]
    ratio = min(by_middle[1.0]) / min(by_middle[0.0])
    assert math.isclose(ratio, float(bare_diameter_mm("12 AWG") / bare_diameter_mm("14 AWG")), rel_tol=1e-3)
    assert "bore" not in words(root)


def test_bars_lie_on_a_logarithmic_axis_with_the_joint_marked() -> None:
    root = parsed(ranges_svg(answer(conductor(3, "12 AWG")), [TEN, SIX, CLAMP]))
    bars = [(float(r.get("x", "")), float(r.get("width", ""))) for r in root.iter(f"{SVG}rect")]
    assert len(bars) == 2, "a clamp has no range of totals"
    assert math.isclose(bars[0][1], bars[1][1], rel_tol=1e-2), "equal ratios are equally long"
    mark = next(p for p in root.iter(f"{SVG}path") if p.get("stroke-width") == "2")
    at = float(re.match(r"M([\d.]+)", mark.get("d", ""))[1])  # type: ignore[index]
    assert bars[0][0] < at < bars[0][0] + bars[0][1]
    assert at > bars[1][0] + bars[1][1]
    assert bars[1][1] > 0


def test_without_a_range_it_says_so() -> None:
    svg = ranges_svg(answer(conductor(8, "12 AWG"), choices=(CLAMP,)))
    assert "no class has a range of total area near this joint" in words(parsed(svg))


@pytest.mark.parametrize("draw", [bundle_svg, ranges_svg, joint_svg])
def test_no_colour_and_nothing_that_a_strict_page_refuses(draw: Any) -> None:
    svg = draw(
        answer(conductor(3, "12 AWG"), conductor(1, "12 AWG", "stranded"), choices=(TEN,)), standalone=False
    )
    root = parsed(svg)
    for element in root.iter():
        assert element.tag.removeprefix(SVG) not in ("style", "script", "image", "a", "foreignObject")
        assert "style" not in element.attrib
        for name in ("fill", "stroke"):
            assert element.get(name, "none") in ("none", "currentColor")
    assert "http" not in svg.replace("http://www.w3.org/2000/svg", "")


def test_a_file_of_its_own_has_a_style_for_light_and_dark() -> None:
    svg = joint_svg(answer(conductor(3, "12 AWG")))
    assert "prefers-color-scheme:dark" in svg
    parsed(svg)


def test_text_is_escaped() -> None:
    mix = answer(conductor(2, "12 AWG"), choices=(TEN | {"class": "<b>&"},))
    mix["joint"]["text"] = '<script>"&'
    assert "<script>" not in joint_svg(mix)
    parsed(joint_svg(mix))


def test_two_drawings_on_a_page_have_ids_of_their_own() -> None:
    drawings = [bundle_svg(answer(conductor(n, "12 AWG"))) for n in (2, 3)]
    ids = [name for svg in drawings for name in re.findall(r' id="([^"]+)"', svg)]
    assert len(ids) == len(set(ids)) == 4


def test_constructions_are_told_apart_by_their_strands() -> None:
    counts = {
        made: len(list(parsed(bundle_svg(answer(conductor(1, "12 AWG", made)))).iter(f"{SVG}circle")))
        for made in ("solid", "stranded", "flexible")
    }
    assert counts == {"solid": 2, "stranded": 9, "flexible": 21}


@pytest.mark.parametrize("text", ["3x12 + 1x14 stranded", "2x14 | 1x12", "8x12", "1x12", "2x10 + 1x24"])
def test_every_answer_can_be_drawn(reference: jointable.Reference, text: str) -> None:
    found = reference.connectors(text)
    parsed(found.svg())
    parsed(bundle_svg(found.to_dict()))
