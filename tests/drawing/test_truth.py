"""What is drawn is what geometry says: places, lengths and angles are measured in the drawing itself."""

import math
import re
from xml.etree.ElementTree import Element

import pytest

from app.case.models import Construct
from app.drawing import draw_sketch
from app.drawing.dims import flanking
from app.drawing.screws import end_mm
from app.drawing.sketch import scene_of
from app.geometry import bridging_spans
from tests.drawing.constructs import SOME, SVG, assessed, by_id, construct, parsed

EACH = pytest.mark.parametrize("drawn", SOME.values(), ids=SOME.keys())


def points(data: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", data)]


def shape(group: Element, class_: str) -> str:
    found = [e.attrib["d"] for e in group.iter() if class_ in (e.get("class") or "").split()]
    assert found, class_
    return found[0]


@EACH
def test_a_hole_is_drawn_at_its_s(drawn: Construct) -> None:
    one = assessed(drawn)
    root = parsed(draw_sketch(one))
    for place in one.layout.holes:
        hole = by_id(root, f"hole-{place.number}")
        use = next(e for e in hole.iter(f"{SVG}use") if e.get("href") == "#hole-shape")
        at = use.get("x") or re.findall(r"translate\((-?[\d.]+),", use.attrib["transform"])[0]
        assert float(at) == pytest.approx(place.s_mm, abs=0.01)
        number = next(e for e in hole.iter(f"{SVG}text") if e.get("class") == "number")
        assert number.text == str(place.number)
        assert float(number.attrib["x"]) == pytest.approx(place.s_mm, abs=0.01)


def test_an_eccentric_head_is_shifted_from_the_fracture_by_the_travel() -> None:
    one = assessed(construct(roles={2: "eccentric", 7: "eccentric"}))
    root = parsed(draw_sketch(one))
    for number, side in ((2, -1), (7, 1)):
        data = shape(by_id(root, f"hole-{number}"), "eccentric")
        left = points(data)[0][0]
        radius = float(re.findall(r"a([\d.]+),", data)[0])
        centre = one.layout.holes[number - 1].s_mm
        assert left + radius - centre == pytest.approx(side * one.layout.series.travel_mm, abs=0.02)


@EACH
def test_a_screw_in_the_profile_is_as_long_as_the_one_in_stock(drawn: Construct) -> None:
    one = assessed(drawn)
    root = parsed(draw_sketch(one))
    scene = scene_of(one, None, True)
    for screw in one.layout.screws:
        outline = points(shape(by_id(root, f"screw-{screw.id}"), screw.role))
        head = (screw.head[0], scene.frame.up(screw.head[1]))
        tilt = math.radians(screw.lean_deg)
        along = [(x - head[0]) * math.sin(tilt) + (y - head[1]) * math.cos(tilt) for x, y in outline]
        across = [(x - head[0]) * math.cos(tilt) - (y - head[1]) * math.sin(tilt) for x, y in outline]
        seat = one.layout.series.seat_mm / math.cos(math.radians(screw.tilt_deg)) if screw.hole else 0.0
        assert max(along) + seat == pytest.approx(screw.stock_length_mm or screw.length_mm, abs=0.02)
        assert max(along) == pytest.approx(end_mm(scene, screw), abs=0.02)
        assert max(across) == pytest.approx(screw.spec.head_mm / 2, abs=0.02)
        inside = [n for t, n in zip(along, across, strict=True) if t > 0.3 * screw.spec.head_mm]
        widest = screw.spec.thread_mm if screw.cortices_held else screw.spec.core_mm
        assert 2 * max(inside) == pytest.approx(widest, abs=0.02)


def test_a_lag_screw_has_thread_only_beyond_its_gliding_hole() -> None:
    one = assessed(SOME["oblique, lag through the plate"])
    screw = one.layout.screw("h4")
    gliding, holding = screw.passages
    root = parsed(draw_sketch(one))
    group = by_id(root, "screw-h4")
    head = (screw.head[0], scene_of(one, None, True).frame.up(screw.head[1]))
    tilt = math.radians(screw.tilt_deg)

    def widths(data: str, start: float, end: float) -> list[float]:
        rows = [(x - head[0], y - head[1]) for x, y in points(data)]
        return [
            abs(x * math.cos(tilt) - y * math.sin(tilt))
            for x, y in rows
            if start - 0.02 < x * math.sin(tilt) + y * math.cos(tilt) < end + 0.02
        ]

    near = [math.dist(screw.head, point) for point in (gliding.entry, gliding.exit)]
    far = [math.dist(screw.head, point) for point in (holding.entry, holding.exit)]
    assert max(widths(shape(group, "drilled"), *near)) * 2 >= screw.spec.thread_mm
    # The screw itself stays at its core in the gliding hole and reaches its thread in the other cortex.
    assert max(widths(shape(group, "lag"), near[0] + 0.5, near[1]), default=0) * 2 <= screw.spec.core_mm + 0.02
    assert max(widths(shape(group, "lag"), *far)) * 2 == pytest.approx(screw.spec.thread_mm, abs=0.02)


@pytest.mark.parametrize("lean", [-60, -35, 35, 60])
def test_the_angle_shown_is_that_of_the_drawn_corner(lean: float) -> None:
    one = assessed(construct(lines=((0, lean, 0),)))
    root = parsed(draw_sketch(one))
    (x1, y1), (x2, y2) = points(shape(by_id(root, "line-0"), "fracture"))[:2]
    shown = next(e.text for e in root.iter(f"{SVG}text") if e.get("class") == "halo-canal")
    towards = (-1, 0) if lean > 0 else (1, 0)
    length = math.hypot(x2 - x1, y2 - y1)
    interior = math.degrees(math.acos(((x2 - x1) * towards[0] + (y2 - y1) * towards[1]) / length))
    assert interior > 90
    assert float((shown or "").rstrip("°")) == pytest.approx(interior, abs=0.6)
    obtuse = [fragment.name for fragment in one.layout.fracture.fragments if fragment.obtuse_at_plate]
    assert obtuse == ["proximal" if lean > 0 else "distal"]


@pytest.mark.parametrize("lean", [-29, 0, 29])
def test_no_obtuse_corner_is_marked_on_an_almost_transverse_line(lean: float) -> None:
    root = parsed(draw_sketch(assessed(construct(lines=((0, lean, 0),)))))
    assert not [e for e in root.iter() if e.get("class") in {"arc", "halo-canal"}]


@EACH
def test_bridging_spans_are_drawn_between_the_screws_that_geometry_measures(drawn: Construct) -> None:
    one = assessed(drawn)
    spans = [None if pair is None else pair[1].s_mm - pair[0].s_mm for pair in flanking(scene_of(one, None, True))]
    assert spans == pytest.approx(list(bridging_spans(one.layout)))
    texts = [e.text for e in parsed(draw_sketch(one)).iter(f"{SVG}text")]
    for span in spans:
        if span is not None:
            assert f"bridging span {span:.0f} mm" in texts
    assert any((text or "").startswith(f"plate {one.layout.plate_length_mm:.0f} mm") for text in texts)


def test_the_bone_is_as_deep_as_it_is() -> None:
    one = assessed(construct("femur", "large-broad-4.5", 10, lines=((0, 0, 0),)))
    root = parsed(draw_sketch(one))
    scene = scene_of(one, None, True)
    outline = points(shape(by_id(root, "fragment-proximal"), "canal"))
    depth = one.layout.shape.depth
    for x, y in outline:
        assert 2 * abs(y - scene.frame.profile_axis) == pytest.approx(depth(x), abs=0.05)


def test_debris_lies_in_its_zone_and_nowhere_else() -> None:
    one = assessed(SOME["bridged zone"])
    line = one.layout.fracture.lines[0]
    root = parsed(draw_sketch(one))
    for x, _ in points(shape(by_id(root, "line-0"), "shard")):
        assert line.extent_mm[0] - 1 < x < line.extent_mm[1] + 1
    bare = parsed(draw_sketch(assessed(construct())))
    assert not [e for e in bare.iter() if e.get("class") == "shard"]


def test_the_same_construct_gives_the_same_drawing() -> None:
    one = assessed(SOME["bridged zone"])
    assert draw_sketch(one) == draw_sketch(one)
