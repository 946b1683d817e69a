"""A spiral is drawn where it winds: both views are read back into places in space, and those asked of the helix.

The helix is written down once more here: ``s - s0`` is proportional to the angle about the axis, and to no more than
half a turn either way from its middle. Its plane's amplitude is twice its rise for each radian (Fourier).
"""

import math
from xml.etree.ElementTree import Element

import pytest

from app.case.models import FractureLine, Winding
from app.drawing import draw_sketch
from app.drawing.sketch import scene_of
from app.drawing.traces import trace, turns
from app.geometry.spiral import Helix
from app.sheet.figure import sign_rows
from tests.drawing.constructs import assessed, construct, parsed

COURSES = pytest.mark.parametrize(
    ("obliquity", "turn", "hand"),
    [(60.0, 0.0, "right"), (60.0, 0.0, "left"), (-55.0, 40.0, "right"), (62.0, 90.0, "left"), (50.0, -75.0, "right")],
)


def spiral(obliquity: float, turn: float, hand: Winding | None, gap_mm: float = 0.0):
    line = FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn, spiral=hand)
    bare = construct("humerus", "large-narrow-4.5", gap_mm=gap_mm)
    return assessed(bare.model_copy(update={"fracture": bare.fracture.model_copy(update={"lines": (line,)})}))


def expected(obliquity: float, turn: float, hand: str, depth: float, breadth: float):
    """Middle angle and rise, from the plane's extreme: the plane is highest a quarter of a turn from the middle."""
    lean, turned = math.tan(math.radians(obliquity)), math.radians(turn)
    angles = [math.tau * k / 100_000 for k in range(100_000)]

    def plane(a: float) -> float:
        return -lean * (math.cos(turned) * depth / 2 * math.cos(a) - math.sin(turned) * breadth / 2 * math.sin(a))

    highest = max(angles, key=plane)
    way = 1 if hand == "right" else -1
    return highest - way * math.pi / 2, way * plane(highest) / 2


def off_helix(angle: float, s: float, middle: float, rise: float) -> float:
    """How far ``s`` is from the helix at that angle, or, on the seam opposite its middle, from the seam's stretch."""
    turn = (angle - middle + math.pi) % math.tau - math.pi
    if math.pi - abs(turn) < 2e-3:
        return max(0.0, abs(s - 150) - abs(rise) * math.pi)
    return abs(s - 150 - rise * turn)


@COURSES
def test_both_views_show_the_helix(obliquity: float, turn: float, hand: Winding) -> None:
    one = spiral(obliquity, turn, hand)
    scene = scene_of(one, None, True)
    frame, line = scene.frame, one.layout.fracture.lines[0]
    helix = Helix.of(line)
    assert helix is not None
    middle, rise = expected(obliquity, turn, hand, line.depth_mm, line.breadth_mm)
    for side in (1, -1):
        for s, y in trace(frame, line, side):
            across = max(-1.0, min(1.0, (y - frame.face_axis) / (frame.shape.width(s) / 2)))
            angle = math.asin(across) if side > 0 else math.pi - math.asin(across)
            assert off_helix(angle, s, middle, rise) < 0.02
        for s, y in turns(frame, helix, side):
            up = max(-1.0, min(1.0, (frame.profile_axis - y) / (frame.shape.depth(s) / 2)))
            assert off_helix(side * math.acos(up), s, middle, rise) < 0.02
    ends = [s for side in (1, -1) for s, _ in trace(frame, line, side)]
    assert max(ends) - min(ends) == pytest.approx(math.tau * abs(rise), rel=1e-6)


def words_of(root: Element) -> str:
    return " ".join(root.itertext())


@COURSES
def test_with_a_gap_each_face_winds(obliquity: float, turn: float, hand: Winding) -> None:
    one = spiral(obliquity, turn, hand, gap_mm=4.0)
    frame, line = scene_of(one, None, True).frame, one.layout.fracture.lines[0]
    for side in (1, -1):
        first, last = trace(frame, line, side), trace(frame, line, side, distal=True)
        assert [b[0] - a[0] for a, b in zip(first, last, strict=True)] == pytest.approx([4.0] * len(first))


def test_a_flat_line_and_a_spiral_are_told_apart_in_both_views() -> None:
    """Only the fracture's own strokes differ, and there are more of them: the section's plane stays."""
    flat, winds = (parsed(draw_sketch(spiral(60, 0, hand))) for hand in (None, "right"))
    strokes = [[e for e in root.iter() if "fracture" in (e.get("class") or "").split()] for root in (flat, winds)]
    assert len(strokes[1]) == len(strokes[0]) + 2
    assert words_of(flat) == words_of(winds)


def test_the_plan_says_what_a_spiral_is_drawn_as_where_there_is_one() -> None:
    told = [" ".join(row["words"] for row in sign_rows(spiral(60, 0, hand))) for hand in (None, "right")]
    assert "spiral" not in told[0]
    assert "the plane nearest to it" in told[1]
