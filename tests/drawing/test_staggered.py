"""Staggered holes in the face view: openings and heads where the holes lie, each still one target."""

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

import pytest

from app.assess import ConstructAssessment, assess, load_knowledge
from app.case.edits import apply, parse_edit
from app.drawing import draw_plate_icon, draw_sketch
from app.samples import load_samples

KNOWLEDGE = load_knowledge()
(SAMPLE,) = [sample.case for sample in load_samples() if sample.case.constructs[0].plate.series == "large-broad-4.5"]
SVG = "{http://www.w3.org/2000/svg}"
STAGGER = KNOWLEDGE.catalogue.series["large-broad-4.5"].stagger_mm


def drawn(one: ConstructAssessment) -> ET.Element:
    return ET.fromstring(draw_sketch(one))


def assessed(role: str) -> ConstructAssessment:
    case = SAMPLE
    for hole in range(case.constructs[0].plate.holes):
        case = apply(case, parse_edit({"op": "set_role", "target": 0, "hole": hole, "role": role}))
    return assess(case, KNOWLEDGE).constructs[0]


def openings(root: ET.Element) -> Iterator[float]:
    """The height of each hole's opening."""
    for use in root.iter(f"{SVG}use"):
        if use.get("href", "").endswith("hole-shape"):
            moved = re.match(r"translate\([^,]+,([^)]+)\)", use.get("transform", ""))
            yield float(moved[1] if moved else use.get("y", "nan"))


def middles(root: ET.Element, class_: str) -> list[float]:
    """The middle height of each head in the face view: a disc is written from its left edge, at its own height."""
    face = next(part for part in root.iter(f"{SVG}g") if part.get("id") == "face")
    heads = [one for hole in face if "hole" in hole.get("class", "") for one in hole if one.get("class") == class_]
    return [float(re.match(r"M[^,]+,([-\d.]+)a", one.get("d", ""))[1]) for one in heads]  # type: ignore[index]


@pytest.mark.parametrize("role", ["neutral", "eccentric"])
def test_openings_and_heads_lie_to_either_side_in_turn(role: str) -> None:
    root = drawn(assessed(role))
    heights = list(openings(root))
    assert len(heights) == SAMPLE.constructs[0].plate.holes
    axis = sum(heights) / len(heights)
    assert [round(y - axis, 2) for y in heights] == [-STAGGER, STAGGER] * (len(heights) // 2)
    assert middles(root, role) == pytest.approx(heights, abs=0.011)


def test_each_hole_is_as_large_a_target_as_before() -> None:
    """The whole height from its number to its letter answers, wherever the hole lies between."""
    root = drawn(assessed("neutral"))
    for hole in (one for one in root.iter(f"{SVG}g") if one.get("data-hole") and "hole-" in one.get("id", "")):
        hit = next(one for one in hole if one.get("class") == "hit")
        _, y, _, height = (float(n) for n in re.findall(r"-?[\d.]+", hit.get("d", ""))[:4])
        head = next(one for one in hole if one.get("class") == "neutral")
        at = float(re.match(r"M[^,]+,([-\d.]+)a", head.get("d", ""))[1])  # type: ignore[index]
        assert y < at - 4
        assert at + 4 < y + height


def test_a_plates_icon_shows_it() -> None:
    series = KNOWLEDGE.catalogue.series
    icons = {key: draw_plate_icon(series[key], 8, 200) for key in ("large-broad-4.5", "large-narrow-4.5")}
    tops = {
        key: {max(float(y) for _, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", rim)) for rim in rims.split("M")[1:]}
        for key, svg in icons.items()
        for rims in [re.findall(r'd="([^"]+)"', svg)[1]]
    }
    assert len(tops["large-narrow-4.5"]) == 1
    low, high = sorted(tops["large-broad-4.5"])
    assert high - low == pytest.approx(2 * STAGGER)
