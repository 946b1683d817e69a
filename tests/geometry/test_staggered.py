"""Staggered holes of a broad plate: where they lie, and how long a screw beside the middle line is."""

import math
from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from shapely.affinity import scale
from shapely.geometry import LineString, Point

from app.assess import Knowledge, load_knowledge
from app.case.models import Bone, Case, Construct, Fracture, FractureLine, Hole, Plate
from app.catalogue.models import ProfileRow
from app.geometry import Layout, check_case, hole_sides, lay_out
from tests.rules.test_properties import MIRRORED_BONES, mirrored
from tests.strategies import cases

KNOWLEDGE = load_knowledge()
BROAD = KNOWLEDGE.catalogue.series["large-broad-4.5"]
MIRRORED = replace(KNOWLEDGE, catalogue=replace(KNOWLEDGE.catalogue, bones=MIRRORED_BONES))


def laid(construct: Construct, stagger: float | None = None, knowledge: Knowledge = KNOWLEDGE) -> Layout:
    catalogue = knowledge.catalogue
    if stagger is not None:
        key = construct.plate.series
        own = replace(catalogue.series[key], stagger_mm=stagger)
        catalogue = replace(catalogue, series={**catalogue.series, key: own})
    return lay_out(construct, "normal", catalogue, knowledge.allowances)


def femur(role: str, tilt: float = 0.0) -> Construct:
    return Construct(
        bone=Bone(name="femur"),
        fracture=Fracture(lines=(FractureLine(position_mm=216, obliquity_deg=0),)),
        principle="bridging",
        plate=Plate(series=BROAD.key, holes=12, centre_mm=216),
        holes=(Hole.model_validate({"role": role, "tilt_deg": tilt}),) * 12,
    )


@pytest.mark.parametrize("count", BROAD.holes_made)
def test_holes_lie_to_either_side_in_turn(count: int) -> None:
    """Common practice, no source: the holes of a broad plate are staggered about its middle line."""
    sides = hole_sides(BROAD, count)
    assert [abs(side) for side in sides] == [BROAD.stagger_mm] * count
    assert all(one == -other for one, other in pairwise(sides))
    assert hole_sides(replace(BROAD, stagger_mm=0.0), count) == (0.0,) * count


@pytest.mark.parametrize("count", BROAD.holes_made)
def test_turned_on_the_bone_a_plate_is_itself_or_its_mirror_image(count: int) -> None:
    """Half a turn in its own plane: hole i comes where hole n + 1 - i was, and z changes its sign."""
    sides = hole_sides(BROAD, count)
    turned = tuple(-side for side in reversed(sides))
    assert turned == (sides if count % 2 == 0 else tuple(-side for side in sides))


def tube(depth: float, width: float) -> Knowledge:
    """A femur as deep and wide from end to end."""
    rows = tuple(ProfileRow(fraction, depth, width, 4.0) for fraction in (0, 0.5, 1))
    bones = KNOWLEDGE.catalogue.bones
    bone = replace(bones["femur"], profile=rows)
    return replace(KNOWLEDGE, catalogue=replace(KNOWLEDGE.catalogue, bones={**bones, "femur": bone}))


@settings(max_examples=60, deadline=None)
@given(st.floats(0, 5), st.floats(20, 34), st.floats(20, 34))
def test_a_bicortical_screw_is_as_long_as_the_chord_of_an_ellipse(stagger: float, depth: float, width: float) -> None:
    """shapely: an ellipse of the bone's depth and width, cut by a line beside its middle, the plate flat on its top."""
    here = laid(femur("locking-2"), stagger, tube(depth, width))
    section = scale(Point(0, 0).buffer(1, quad_segs=512), depth / 2, width / 2)  # x is y of the bone, y its z
    chord = section.intersection(LineString([(-depth, stagger), (depth, stagger)]))
    far = min(x for x, _ in chord.coords)
    lengths = [screw.length_mm for screw in here.screws]
    assert lengths == pytest.approx([BROAD.seat_mm + depth / 2 - far] * 12, abs=0.01)


def test_a_unicortical_screw_reaches_the_canal_beside_the_middle_line_too() -> None:
    """The canal is an ellipse too, by the wall of 4 mm smaller all round."""
    beside, middle = (laid(femur("locking-1"), stagger, tube(28, 26)) for stagger in (3.0, 0.0))
    deeper = 10 - 10 * math.sqrt(1 - (3.0 / 9) ** 2)
    found = [one.length_mm - other.length_mm for one, other in zip(beside.screws, middle.screws, strict=True)]
    assert found == pytest.approx([deeper] * 12)


def test_what_two_millimetres_change_is_small() -> None:
    """What the rules and the mechanics leave out: a few tenths of a millimetre of depth."""
    staggered, straight = laid(femur("locking-2")), laid(femur("locking-2"), 0.0)
    shorter = [b.length_mm - a.length_mm for a, b in zip(staggered.screws, straight.screws, strict=True)]
    assert min(shorter) > 0
    assert max(shorter) < 0.2
    for one, other in zip(staggered.screws, straight.screws, strict=True):
        assert (one.passages, one.home, one.clear_of_fracture_mm) == (
            other.passages,
            other.home,
            other.clear_of_fracture_mm,
        )


@settings(max_examples=60, deadline=None)
@given(cases(), st.floats(0, 4))
def test_turned_end_for_end_every_screw_is_as_long(case: Case, stagger: float) -> None:
    turned = mirrored(case)
    assume(not check_case(turned, MIRRORED.catalogue))
    here = laid(case.constructs[0], stagger)
    there = laid(turned.constructs[0], stagger, MIRRORED)
    count = len(here.holes)
    one = {screw.hole: screw.length_mm for screw in here.screws if screw.hole is not None}
    other = {count + 1 - screw.hole: screw.length_mm for screw in there.screws if screw.hole is not None}
    assert one == pytest.approx(other, abs=1e-6)
