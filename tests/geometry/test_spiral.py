"""Spiral lines, against numpy: the helix in space, the plane nearest to it, distances on the unrolled surface."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.case.models import Bone, Construct, Fracture, FractureLine, Hole, LagScrew, Plate, Wedge, Winding
from app.geometry import Allowances, Layout, lay_out
from app.geometry.fracture import room_between
from app.geometry.spiral import Helix
from tests.strategies import CATALOGUE

STEEP = st.floats(-70, 70).filter(lambda a: abs(a) > 1)
TURN = st.floats(-90, 90)
HAND = st.sampled_from(["left", "right"])
ANGLE = st.floats(-math.pi, math.pi)
FULL = 2 * math.pi


def laid(line: FractureLine, lags: tuple[LagScrew, ...] = (), **more: object) -> Layout:
    made = Construct(
        bone=Bone(name="humerus"),
        fracture=Fracture.model_validate({"lines": (line,), **more}),
        lag_screws=lags,
        principle="protection",
        plate=Plate(series="large-narrow-4.5", holes=8, centre_mm=150),
        holes=(Hole(role="neutral"),) * 8,
    )
    return lay_out(made, "normal", CATALOGUE, Allowances())


def helix_of(obliquity: float, turn: float, hand: Winding, gap: float = 0.0) -> Helix:
    layout = laid(FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn, spiral=hand), gap_mm=gap)
    found = Helix.of(layout.fracture.lines[0])
    assert found is not None
    return found


def once_round(helix: Helix, steps: int = 20_000) -> np.ndarray:
    """(s, y, z) of places evenly spaced in angle from one end to the other, without the seam's."""
    turn = (np.arange(steps) + 0.5) / steps * FULL - math.pi
    angle = helix.middle + turn
    s = helix.position_mm + helix.rise_mm * turn
    return np.column_stack((s, helix.half_depth_mm * np.cos(angle), helix.half_breadth_mm * np.sin(angle)))


@given(STEEP, TURN, HAND)
def test_its_plane_is_the_one_nearest_to_it(obliquity: float, turn: float, hand: Winding) -> None:
    """Ordinary least squares (numpy.linalg.lstsq) of s over y and z gives back the obliquity and the turn."""
    s, y, z = once_round(helix_of(obliquity, turn, hand)).T
    (start, along, across), *_ = np.linalg.lstsq(np.column_stack((np.ones_like(y), y, z)), s, rcond=None)
    steep, turned = math.tan(math.radians(obliquity)), math.radians(turn)
    assert start == pytest.approx(150, abs=1e-6)
    assert along == pytest.approx(-steep * math.cos(turned), rel=1e-6, abs=1e-6)
    assert across == pytest.approx(steep * math.sin(turned), rel=1e-6, abs=1e-6)


def test_a_line_is_kept_off_a_spiral_and_not_only_off_its_plane() -> None:
    """Its ends reach half of π/2 times its plane's run; a neighbour between the plane's end and that would meet it."""
    spiral = FractureLine(position_mm=120, obliquity_deg=60, spiral="right")
    reach = laid(spiral).fracture.extent_mm[1]
    for at, room in ((reach - 1, False), (reach + 1, True)):
        lines = spiral, FractureLine(position_mm=at)
        whole = laid(spiral, lines=lines)
        assert (room_between(*whole.fracture.lines) > 0) is room


@given(STEEP, TURN, HAND, st.floats(-180, 180), st.floats(120, 180))
def test_a_lag_screw_round_the_bone_tells_its_distance_from_the_same_helix(
    obliquity: float, turn: float, hand: Winding, round_: float, at: float
) -> None:
    line = FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn, spiral=hand)
    helix = helix_of(obliquity, turn, hand)
    made = laid(line, lags=(LagScrew(position_mm=at, turn_deg=round_),))
    (screw,) = [one for one in made.screws if one.hole is None]
    places = [screw.at(point) for point in (screw.passages[0].entry, screw.tip)]
    angles = [(s, math.atan2(z / helix.half_breadth_mm, y / helix.half_depth_mm)) for s, y, z in places]
    assert screw.clear_of_fracture_mm <= min(sampled(helix, s, angle) for s, angle in angles) + 0.02


@given(STEEP, TURN, HAND)
def test_it_winds_as_the_thread_of_such_a_screw(obliquity: float, turn: float, hand: Winding) -> None:
    """A curve winds to the right where its torsion is positive, that is the triple product of its derivatives."""
    places = once_round(helix_of(obliquity, turn, hand), 2000)
    first = np.gradient(places, axis=0)
    second = np.gradient(first, axis=0)
    third = np.gradient(second, axis=0)
    torsion = np.einsum("ij,ij->i", np.cross(first, second), third)[10:-10]  # s, y, z are right-handed axes
    assert (torsion > 0).all() if hand == "right" else (torsion < 0).all()


@given(STEEP, TURN, HAND)
def test_how_far_it_runs_along_the_shaft(obliquity: float, turn: float, hand: Winding) -> None:
    line = FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn, spiral=hand)
    layout = laid(line)
    along = [s for _, s in helix_of(obliquity, turn, hand).course(0.0, FULL, 40)]
    low, high = layout.fracture.extent_mm
    assert (low, high) == pytest.approx((min(along), max(along)), abs=1e-9)
    plane = laid(line.model_copy(update={"spiral": None})).fracture
    assert high - low == pytest.approx(plane.length_mm * math.pi / 2)


@given(STEEP, TURN, HAND, ANGLE, st.sampled_from([math.pi, -math.pi]))
def test_its_course_keeps_to_the_helix_and_follows_the_seam_once(
    obliquity: float, turn: float, hand: Winding, start: float, sweep: float
) -> None:
    """Two courses, one this way round and one that way, make up the whole line: helix and seam."""
    helix = helix_of(obliquity, turn, hand)
    rise, seams = abs(helix.rise_mm), 0.0
    for way in (sweep, -sweep):
        course = helix.course(start, way, 12)
        assert course[0][0] == pytest.approx(start)
        assert course[-1][0] == pytest.approx(start + way)
        for (angle, s), (other, t) in pairwise(course):
            if abs(other - angle) < 1e-9:
                seams += abs(t - s)
            else:
                assert abs(t - s) == pytest.approx(rise * abs(other - angle), rel=1e-6, abs=1e-6)
    assert seams == pytest.approx(FULL * rise)


def sampled(helix: Helix, s: float, angle: float) -> float:
    """The least distance to many points of line and seam, on the surface unrolled with the radius at that angle."""
    radius = math.hypot(helix.half_depth_mm * math.sin(angle), helix.half_breadth_mm * math.cos(angle))
    here = (angle - helix.middle + math.pi) % FULL - math.pi
    turn = np.linspace(-math.pi, math.pi, 20_001)
    ends = np.linspace(-1, 1, 20_001) * (abs(helix.rise_mm) * math.pi + helix.width_mm / 2)
    found = np.hypot(radius * (math.pi - abs(here)), s - helix.position_mm - ends).min()
    for around in (-FULL, 0.0, FULL):
        for face in (-1, 1):
            along = helix.position_mm + helix.rise_mm * turn + face * helix.width_mm / 2
            found = min(found, np.hypot(radius * (turn - here - around), along - s).min())
    return float(found)


@given(STEEP, TURN, HAND, st.floats(100, 200), ANGLE, st.just(0.0) | st.floats(0.5, 4))
def test_how_far_a_place_on_the_surface_lies_from_it(
    obliquity: float, turn: float, hand: Winding, s: float, angle: float, gap: float
) -> None:
    helix = helix_of(obliquity, turn, hand, gap)
    found = helix.clear_mm(s, angle)
    if found > 0:
        assert found == pytest.approx(sampled(helix, s, angle), abs=0.02)
    else:
        here = (angle - helix.middle + math.pi) % FULL - math.pi
        off = abs(s - helix.position_mm - helix.rise_mm * here)
        assert off <= gap / 2 + 1e-9 or math.pi - abs(here) < 1e-9


@given(STEEP, TURN, HAND, st.floats(100, 200), ANGLE)
def test_in_a_mirror_it_winds_the_other_way(
    obliquity: float, turn: float, hand: Winding, s: float, angle: float
) -> None:
    other: Winding = "left" if hand == "right" else "right"
    here = helix_of(obliquity, turn, hand).clear_mm(s, angle)
    assert helix_of(-obliquity, turn, other).clear_mm(300 - s, angle) == pytest.approx(here, abs=1e-6)
    assert helix_of(obliquity, -turn, other).clear_mm(s, -angle) == pytest.approx(here, abs=1e-6)
    assert helix_of(-obliquity, -turn, hand).clear_mm(300 - s, -angle) == pytest.approx(here, abs=1e-6)


def test_a_transverse_line_and_one_with_a_wedge_are_planes() -> None:
    for line, more in (
        (FractureLine(position_mm=150, spiral="right"), {}),
        (
            FractureLine(position_mm=150, obliquity_deg=40, spiral="right"),
            {"wedge": Wedge(side="far", length_mm=20)},
        ),
    ):
        (found,) = laid(line, **more).fracture.lines
        assert found.spiral is None
        flat = laid(line.model_copy(update={"spiral": None}), **more)
        assert laid(line, **more).fracture == flat.fracture
        assert laid(line, **more).screws == flat.screws


def test_a_crack_along_the_shaft_under_the_plate_leaves_its_screws_no_room() -> None:
    """Turned a quarter, a line that winds to the left has its seam under the plate, and to the right opposite."""
    near, far = (
        laid(FractureLine(position_mm=150, obliquity_deg=60, turn_deg=90, spiral=hand)) for hand in ("left", "right")
    )
    middle = [screw for screw in near.screws if abs(screw.s_mm - 150) < 25]
    assert [screw.clear_of_fracture_mm for screw in middle] == pytest.approx([0.0] * len(middle), abs=1e-9)
    assert len(middle) >= 2
    outer = {screw.id for screw in near.screws if abs(screw.s_mm - 150) > 60}
    assert outer
    assert all(screw.clear_of_fracture_mm > 10 for screw in (*near.screws, *far.screws) if screw.id in outer)
