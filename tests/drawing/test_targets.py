"""Room for fingers: WCAG 2.2, success criterion 2.5.8, asks for targets of 24 by 24 CSS pixels."""

import itertools
import math
import re
from xml.etree.ElementTree import Element

import pytest

from app.drawing import draw_sketch
from tests.drawing.constructs import CATALOGUE, USUAL, assessed, by_id, construct, every_role, handles, longest, parsed

DRAWN_PX = 720
TARGET_PX = 24
LEAST_TEXT_PX = 11


def scale(root: Element) -> float:
    return DRAWN_PX / float((root.get("viewBox") or "").split()[2])


def size(hit: Element) -> tuple[float, float]:
    """Width and height of a box (``h`` and ``v`` steps), a disc (``a`` radius) or an outline, mm."""
    data = hit.attrib["d"]
    if "h" in data:
        return float(re.findall(r"h(-?[\d.]+)", data)[0]), float(re.findall(r"v(-?[\d.]+)", data)[0])
    if "a" in data:
        radius = float(re.findall(r"a([\d.]+),", data)[0])
        return 2 * radius, 2 * radius
    points = [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", data)]
    sides = sorted(math.dist(a, b) for a, b in itertools.pairwise(points))
    return sides[0], sides[-1]


def hits(handle: Element) -> list[Element]:
    return [element for element in handle.iter() if element.get("class") == "hit" and element.get("pointer-events")]


@pytest.mark.parametrize(("bone", "series"), USUAL, ids=lambda value: str(value))
@pytest.mark.parametrize("most", [True, False], ids=["longest", "shortest"])
def test_every_target_is_large_enough(bone: str, series: str, most: bool) -> None:
    count = longest(bone, series) if most else CATALOGUE.series[series].holes_made[0]
    drawn = construct(bone, series, count, every_role(series, count), lags=((3, 30),))
    root = parsed(draw_sketch(assessed(drawn)))
    per_mm = scale(root)
    # the plate answers on a margin about itself, half of it on each side
    margin = float(hits(by_id(root, "plate"))[0].attrib["stroke-width"])
    assert (margin + CATALOGUE.series[series].thickness_mm) * per_mm >= TARGET_PX
    for handle in [one for one in handles(root) if one.get("id") != "plate"]:
        found = hits(handle)
        assert found, handle.get("id")
        if any(hit.get("pointer-events") == "stroke" for hit in found):
            found = [hit for hit in found if hit.get("pointer-events") == "all"]
        assert any(min(size(hit)) * per_mm >= TARGET_PX for hit in found), handle.get("id")


@pytest.mark.parametrize(("bone", "series"), USUAL, ids=lambda value: str(value))
def test_text_is_large_enough(bone: str, series: str) -> None:
    root = parsed(draw_sketch(assessed(construct(bone, series, longest(bone, series)))))
    assert float(root.attrib["font-size"]) * scale(root) >= LEAST_TEXT_PX
    assert not [element for element in root.iter() if element is not root and element.get("font-size")]


def test_targets_of_neighbouring_holes_do_not_overlap() -> None:
    root = parsed(draw_sketch(assessed(construct(holes=8))))
    spans = []
    for n in range(1, 9):
        data = hits(by_id(root, f"hole-{n}"))[0].attrib["d"]
        start = float(re.findall(r"M(-?[\d.]+)", data)[0])
        spans.append((start, start + size(hits(by_id(root, f"hole-{n}"))[0])[0]))
    for (_, end), (start, _) in itertools.pairwise(spans):
        assert end <= start + 0.02
