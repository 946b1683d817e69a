"""How a plate is bent to the bone: arcs and cones by plane geometry, and the same from either end."""

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import cumulative_trapezoid
from scipy.optimize import linprog

from app.case.models import SURFACES, Bone, BoneName, Surface
from app.catalogue.models import Arc, ProfileRow
from app.geometry.bends import across_width, bends, straight_gap
from app.geometry.plate import HolePlace
from app.geometry.profile import BoneShape, bone_shape
from tests.strategies import CATALOGUE

LENGTH = 300.0


def shape(*rows: tuple[float, float]) -> BoneShape:
    """A bone 300 mm long with these depths (mm) at fractions of its length, 20 mm wide."""
    profile = tuple(ProfileRow(fraction, depth, 20.0, 2.0) for fraction, depth in rows)
    spec = replace(CATALOGUE.bones["humerus"], profile=profile, length_mm=LENGTH)
    return bone_shape(Bone(name="humerus"), spec, CATALOGUE.qualities["normal"], "posterior")


TUBE = shape((0, 20), (0.5, 20), (1, 20))
CONE = shape((0, 20), (0.5, 30), (1, 40))


def holes(*places: float) -> tuple[HolePlace, ...]:
    return tuple(HolePlace(n, s, None, 0) for n, s in enumerate(places, 1))


@pytest.mark.parametrize("radius", [300.0, 885.0, 2000.0, -300.0, -885.0])
def test_on_an_arc_the_angle_between_holes_is_their_distance_over_its_radius(radius: float) -> None:
    """Plane geometry: the tangent of a circle turns by arc length ÷ radius; a chord l stands off by l²/(8R).

    So does a tangent that touches in the middle, where the arc turns the other way.
    """
    arc = (Arc(0, 1, radius),)
    found = bends(TUBE, holes(100, 113, 126, 144), arc)
    assert [bend.angle_deg for bend in found] == pytest.approx(
        [math.degrees(d / radius) for d in (13, 13, 18)], rel=0.01
    )
    assert sum(bend.angle_deg for bend in found) == pytest.approx(math.degrees(44 / radius), rel=0.01)
    assert straight_gap(TUBE, (80, 180), arc) == pytest.approx(100**2 / (8 * abs(radius)), rel=1e-3)


def test_arcs_that_follow_each_other_turn_the_plate_one_after_the_other() -> None:
    """A straight stretch, then arcs of 15 mm one way and 30 mm the other: the angles add up, whatever the places."""
    arcs = (Arc(0.4, 0.45, 100.0), Arc(0.45, 0.55, -150.0))
    found = [bend.angle_deg for bend in bends(TUBE, holes(60, 110, 140, 170, 200), arcs)]
    assert found[0] == pytest.approx(0, abs=1e-9)
    assert found[1] == pytest.approx(math.degrees(15 / 100 - 5 / 150))
    assert found[2:] == pytest.approx([math.degrees(-25 / 150), 0], abs=1e-9)


def test_a_cone_needs_no_bending_and_a_step_up_to_it_does() -> None:
    assert [bend.angle_deg for bend in bends(CONE, holes(60, 90, 150, 220), ())] == pytest.approx([0, 0, 0], abs=1e-6)
    assert straight_gap(CONE, (40, 260), ()) == pytest.approx(0, abs=1e-9)
    flared = shape((0, 20), (0.5, 20), (1, 60))
    assert bends(flared, holes(120, 250), ())[0].angle_deg > 5
    assert straight_gap(flared, (100, 280), ()) > 2


RADII = st.floats(60, 2000) | st.floats(-2000, -60)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from([(bone, surface) for bone in sorted(SURFACES) for surface in SURFACES[bone]]),
    st.floats(0.2, 0.8),
    st.floats(20, 150),
    st.lists(RADII, max_size=2),
)
def test_a_straight_plate_lies_on_the_surface_as_well_as_it_can(
    place: tuple[BoneName, Surface], middle: float, length: float, radii: list[float]
) -> None:
    """scipy's linear programming: of all straight lines above the surface, the one whose greatest gap is least.

    The bow is its curvature summed up twice.
    """
    name, surface = place
    spec = CATALOGUE.bones[name]
    bone = bone_shape(Bone(name=name), spec, CATALOGUE.qualities["normal"], surface)
    at = middle * spec.length_mm
    low, high = max(0.0, at - length / 2), min(spec.length_mm, at + length / 2)
    arcs = tuple(Arc(*ends, radius) for ends, radius in zip(((0.1, 0.5), (0.5, 0.9)), radii, strict=False))
    fine = np.linspace(low, high, 4001)
    turn = np.zeros_like(fine)
    for arc in arcs:
        turn += np.where((arc.start * bone.length_mm < fine) & (fine < arc.end * bone.length_mm), 1 / arc.radius_mm, 0)
    raised = cumulative_trapezoid(cumulative_trapezoid(turn, fine, initial=0), fine, initial=0)
    places = fine[::10]
    heights = np.array([bone.near(float(s)) for s in places]) + raised[::10]
    # a + b·s ≥ y and a + b·s − y ≤ t; t is to be least
    over = np.column_stack([-np.ones_like(places), -places, np.zeros_like(places)])
    under = np.column_stack([np.ones_like(places), places, -np.ones_like(places)])
    found = linprog(
        [0, 0, 1],
        A_ub=np.vstack([over, under]),
        b_ub=np.concatenate([-heights, heights]),
        bounds=[(None, None), (None, None), (0, None)],
    )
    assert straight_gap(bone, (low, high), arcs) == pytest.approx(
        found.fun, rel=0.03, abs=0.06
    )  # ours looks every 2 mm


def test_a_bow_across_the_width_leaves_the_edge_by_its_rise() -> None:
    """On one arc the least-squares line runs 1/3 of the rise below its top (areas of a parabola)."""
    wide, radius, length = 20.0, 500.0, 200.0
    rise = length**2 / (8 * radius)
    found = across_width(TUBE, (50, 250), wide, (Arc(0, 1, radius),))
    assert found.bow_mm == pytest.approx(rise, rel=0.01)
    assert found.overrun_mm == pytest.approx(rise * 2 / 3, rel=0.05)
    # by more than 1/12 of the rise where the parabola 1/3 - x² is, x in half lengths: |x| < 1/2 and |x| > sqrt(5/12)
    part = across_width(TUBE, (50, 250), wide - rise / 6, (Arc(0, 1, radius),))
    ends = [end for one in part.overhangs for end in (one.start_mm, one.end_mm)]
    far = 100 * math.sqrt(5 / 12)
    assert ends == pytest.approx([50, 150 - far, 100, 200, 150 + far, 250], abs=2)  # looked at every 2 mm
    narrow = across_width(TUBE, (50, 250), wide - 2 * rise, (Arc(0, 1, radius),))
    assert (narrow.overrun_mm, narrow.overhangs, narrow.bow_mm) == (0, (), found.bow_mm)
    assert across_width(TUBE, (50, 250), wide, ()).bow_mm == 0


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0.02, 0.98), min_size=4, max_size=4, unique=True), st.floats(20, 400), st.floats(40, 200))
def test_a_bow_across_the_width_is_the_same_from_either_end(places: list[float], radius: float, length: float) -> None:
    a, b, c, d = sorted(places)
    arcs = (Arc(a, b, radius), Arc(c, d, -2 * radius))
    turned = tuple(Arc(1 - arc.end, 1 - arc.start, arc.radius_mm) for arc in reversed(arcs))
    start, end = 20.0, 20.0 + length
    here = across_width(TUBE, (start, end), 15, arcs)
    there = across_width(TUBE, (LENGTH - end, LENGTH - start), 15, turned)
    assert here.overrun_mm == pytest.approx(there.overrun_mm, abs=1e-6)
    assert here.bow_mm == pytest.approx(there.bow_mm, abs=1e-6)
