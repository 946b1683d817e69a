"""All that a plate is bent: arcs by plane geometry, lengths and angles by shapely and numpy, alike from either end."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from shapely.geometry import LineString, Point

from app.assess import Knowledge, load_knowledge
from app.case.models import Bone, Case, Construct, Fracture, FractureLine, Hole, Plate
from app.catalogue.models import Arc, Bow, Direction, ProfileRow
from app.geometry import Layout, check_case, contour_of, lay_out
from app.geometry.contouring import Underside, underside
from tests.rules.test_properties import MIRRORED_BONES, mirrored
from tests.strategies import cases

KNOWLEDGE = load_knowledge()
MIRRORED = replace(KNOWLEDGE, catalogue=replace(KNOWLEDGE.catalogue, bones=MIRRORED_BONES))
TUBE = (ProfileRow(0, 20, 24, 4), ProfileRow(0.5, 20, 24, 4), ProfileRow(1, 20, 24, 4))


def laid(construct: Construct, knowledge: Knowledge = KNOWLEDGE) -> Layout:
    return lay_out(construct, "normal", knowledge.catalogue, knowledge.allowances)


def on_tube(radius: float | None = None, across: float | None = None, **plate: float) -> Layout:
    """Nine holes at a pitch of 18 mm behind, a transverse fracture under the middle one; bows of these radii."""
    humerus = KNOWLEDGE.catalogue.bones["humerus"]
    tops: tuple[tuple[Direction, float | None], ...] = (("anterior", radius), ("medial", across))
    bows = tuple(Bow(apex, (Arc(0, 1, mm),), humerus.figures["bows"]) for apex, mm in tops if mm is not None)
    bone = replace(humerus, profile=TUBE, length_mm=310, bows=bows)
    catalogue = replace(KNOWLEDGE.catalogue, bones={**KNOWLEDGE.catalogue.bones, "humerus": bone})
    construct = Construct(
        bone=Bone(name="humerus"),
        fracture=Fracture(lines=(FractureLine(position_mm=plate.pop("line", 155), obliquity_deg=0),)),
        principle="compression",
        plate=Plate(series="large-narrow-4.5", surface="posterior", holes=9, centre_mm=155, **plate),
        holes=(Hole(role="empty"),) * 9,
    )
    return laid(construct, replace(KNOWLEDGE, catalogue=catalogue))


def length_between(line: Underside, one: int, other: int) -> float:
    """Along the line, as shapely measures it."""
    path = LineString(line.points)
    return path.project(Point(line.holes[other])) - path.project(Point(line.holes[one]))


def turns(points: tuple[tuple[float, float], ...]) -> "np.typing.NDArray[np.float64]":
    """The directions of the pieces of a line, degrees."""
    steps = np.diff(np.array(points), axis=0)
    return np.degrees(np.unwrap(np.arctan2(steps[:, 1], steps[:, 0])))


@pytest.mark.parametrize("radius", [400.0, 885.0, 2000.0])
def test_on_an_arc(radius: float) -> None:
    """Plane geometry: a tangent turns by pitch ÷ R from hole to hole, and a chord l stands off by l²/(8R)."""
    contour = contour_of(on_tube(radius, across=radius))
    assert [bend.angle_deg for bend in contour.bends] == pytest.approx([math.degrees(18 / radius)] * 8, rel=0.01)
    assert contour.turn_deg == contour.bent_deg == pytest.approx(math.degrees(8 * 18 / radius), rel=0.01)
    assert contour.stands_off_mm == pytest.approx(164**2 / (8 * radius), rel=0.01)
    assert contour.across.bow_mm == pytest.approx(164**2 / (8 * radius), rel=0.01)


@pytest.mark.parametrize("radius", [400.0, 885.0])
def test_the_line_to_bend_against_lies_on_its_circle(radius: float) -> None:
    """The holes' middles lie as far from the circle's centre as each other, and rise from the middle by its sagitta."""
    holes = np.array(underside(on_tube(radius)).holes)
    middle = holes[:, 0].mean(), holes[len(holes) // 2, 1] + radius
    away = np.hypot(holes[:, 0] - middle[0], holes[:, 1] - middle[1])
    assert away == pytest.approx([radius] * 9, abs=0.15)
    assert holes[0, 1] - holes[4, 1] == pytest.approx(radius * (1 - math.cos(72 / radius)), rel=0.02)


def test_the_prebend_lifts_its_middle_and_turns_the_other_way() -> None:
    """A kink of p/l1 + p/l2 lifts the plate p over the line through its ends (triangle of small angles)."""
    layout = on_tube(line=150.0, prebend_mm=1.5)
    (bend,) = contour_of(layout).prebends
    assert (bend.s_mm, bend.holes) == (150.0, (5,))
    assert bend.angle_deg == pytest.approx(-math.degrees(1.5 / 77 + 1.5 / 87))
    bent = LineString(underside(layout, prebent=True).points)
    start, end = Point(bent.coords[0]), Point(bent.coords[-1])
    peak = max((Point(at) for at in bent.coords), key=LineString([start, end]).distance)
    assert LineString([start, end]).distance(peak) == pytest.approx(1.5, rel=0.001)
    assert bent.project(peak) == pytest.approx(77)
    assert contour_of(layout).bent_deg == pytest.approx(0, abs=1e-9)
    assert turns(underside(layout).points) == pytest.approx(0, abs=1e-9)


def test_a_prebend_between_two_holes_and_one_whose_line_is_beyond_the_plate() -> None:
    (between,) = contour_of(on_tube(line=146.0, prebend_mm=1)).prebends
    assert between.holes == (4, 5)
    (beyond,) = contour_of(on_tube(line=60.0, prebend_mm=1)).prebends
    assert (beyond.s_mm, beyond.holes) == (155, (5,))  # under the plate's middle, as the order of insertion has it


def test_holes_are_never_bent_through() -> None:
    contour = contour_of(on_tube(885.0))
    assert [end - start for start, end in contour.shut] == pytest.approx([11.0] * 9)
    corners = [(one.s_mm + other.s_mm) / 2 for one, other in zip(on_tube().holes, on_tube().holes[1:], strict=False)]
    assert all(not start < s < end for start, end in contour.shut for s in corners)


@settings(max_examples=100, deadline=None)
@given(cases())
def test_the_line_is_as_long_as_the_plate_and_turns_as_listed(case: Case) -> None:
    layout = laid(case.constructs[0])
    line, holes = underside(layout), layout.holes
    assert LineString(line.points).length == pytest.approx(layout.plate_length_mm)
    assert length_between(line, 0, -1) == pytest.approx(holes[-1].s_mm - holes[0].s_mm)
    leans = turns(line.points)
    corners = {point: n for n, point in enumerate(line.points)}
    found = [leans[corners[at]] - leans[corners[at] - 1] for at in line.corners]
    assert found == pytest.approx([bend.angle_deg for bend in layout.bends], abs=1e-6)
    assert [line.holes[0][1], line.holes[-1][1]] == pytest.approx([0, 0], abs=1e-9)


@settings(max_examples=100, deadline=None)
@given(cases())
def test_turned_end_for_end_it_is_bent_the_same(case: Case) -> None:
    turned = mirrored(case)
    assume(not check_case(turned, MIRRORED.catalogue))
    here, there = laid(case.constructs[0]), laid(turned.constructs[0], MIRRORED)
    one, other = contour_of(here), contour_of(there)
    assert [bend.angle_deg for bend in one.bends] == pytest.approx(
        [bend.angle_deg for bend in reversed(other.bends)], abs=1e-6
    )
    assert [bend.angle_deg for bend in one.prebends] == pytest.approx(
        [bend.angle_deg for bend in reversed(other.prebends)], abs=1e-6
    )
    assert one.across.bow_mm == pytest.approx(other.across.bow_mm, abs=1e-6)
    assert one.across.overrun_mm == pytest.approx(other.across.overrun_mm, abs=1e-6)
    for prebent in (False, True):
        points, back = (np.array(underside(layout, prebent=prebent).holes) for layout in (here, there))
        assert points == pytest.approx(back[::-1] * np.array([-1, 1]), abs=1e-6)
