"""Fracture planes that turn about the shaft, and screws that lie in such a plane, against a computation in space.

The plane is written down once more here, in (s, y, z) with numpy: its normal is the cross product of two directions
that lie in it, angles are by dot products, and where a screw meets the bone is solved on the ellipse itself.
"""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.case.models import Bone, Construct, Fracture, FractureLine, Hole, LagScrew, Plate
from app.geometry import Allowances, Layout, lay_out
from tests.strategies import CATALOGUE

STEEP = st.floats(-70, 70)
TURN = st.floats(-90, 90)
ROUND = st.floats(-180, 180)
TILT = st.floats(-60, 60)
LENGTH = CATALOGUE.bones["humerus"].length_mm


def layout(line: FractureLine, lags: tuple[LagScrew, ...] = (), holes: tuple[Hole, ...] = (Hole(),) * 8) -> Layout:
    made = Construct(
        bone=Bone(name="humerus"),
        fracture=Fracture(lines=(line,)),
        principle="protection",
        plate=Plate(series="large-narrow-4.5", holes=len(holes), centre_mm=150),
        holes=holes,
        lag_screws=lags,
    )
    return lay_out(made, "normal", CATALOGUE, Allowances())


def spanning(obliquity: float, turn: float) -> tuple[np.ndarray, np.ndarray]:
    """Two directions in the plane: square to the shaft and level, and down the slope that leans by the obliquity."""
    turned = math.radians(turn)
    uphill = np.array([0.0, math.cos(turned), -math.sin(turned)])
    level = np.array([0.0, math.sin(turned), math.cos(turned)])
    down = np.array([-math.sin(math.radians(obliquity)), *(math.cos(math.radians(obliquity)) * uphill[1:])])
    return level, down


def normal(obliquity: float, turn: float) -> np.ndarray:
    found = np.cross(*spanning(obliquity, turn))
    return found / np.linalg.norm(found)


def height_off(line: FractureLine, point: np.ndarray) -> float:
    """Distance of a point from the plane, mm."""
    return float(normal(line.obliquity_deg, line.turn_deg) @ (point - np.array([line.position_mm, 0.0, 0.0])))


@given(STEEP, TURN)
def test_the_profile_shows_the_apparent_obliquity(obliquity: float, turn: float) -> None:
    found = layout(FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn)).fracture.lines[0]
    cut = np.cross(normal(obliquity, turn), [0.0, 0.0, 1.0])  # the plane's line in the profile, z = 0
    apparent = -math.degrees(math.atan2(cut[0], cut[1])) if cut[1] > 0 else -math.degrees(math.atan2(-cut[0], -cut[1]))
    assert found.obliquity_deg == pytest.approx(apparent, abs=1e-9)
    assert found.steepness_deg == pytest.approx(abs(obliquity), abs=1e-9)


@given(STEEP, TURN, st.floats(-0.999, 0.999), st.sampled_from([1, -1]))
def test_its_traces_on_both_cortices_lie_in_the_plane(obliquity: float, turn: float, share: float, side: int) -> None:
    line = FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn)
    laid = layout(line)
    found, shape = laid.fracture.lines[0], laid.shape
    z = share * shape.width(150) / 2
    y = found.rim(z, side)
    assert (2 * y / shape.depth(150)) ** 2 + (2 * z / shape.width(150)) ** 2 == pytest.approx(1)
    assert height_off(line, np.array([found.proximal_face(y, z), y, z])) == pytest.approx(0, abs=1e-9)


@given(STEEP, TURN)
def test_how_far_it_runs_along_the_shaft(obliquity: float, turn: float) -> None:
    laid = layout(FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn))
    line = laid.fracture.lines[0]
    around = np.linspace(0, 2 * math.pi, 20_001)
    y, z = laid.shape.depth(150) / 2 * np.cos(around), laid.shape.width(150) / 2 * np.sin(around)
    rim = [line.proximal_face(*point) for point in zip(y.tolist(), z.tolist(), strict=True)]
    assert line.run_mm == pytest.approx(max(rim) - min(rim), rel=1e-6, abs=1e-9)


@given(STEEP, TURN, ROUND, TILT)
def test_a_lag_screw_s_angle_is_that_in_space(obliquity: float, turn: float, direction: float, tilt: float) -> None:
    line = FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn)
    lag = LagScrew(position_mm=150, tilt_deg=tilt, turn_deg=direction)
    screw = next(one for one in layout(line, (lag,)).screws if one.hole is None)
    head, tip = (np.array(screw.at(point)) for point in (screw.head, screw.tip))
    axis = (tip - head) / np.linalg.norm(tip - head)
    inward = np.array([0.0, -math.cos(math.radians(direction)), math.sin(math.radians(direction))])
    assert axis[0] == pytest.approx(math.sin(math.radians(tilt)), abs=1e-9)
    assert axis[1:] == pytest.approx(math.cos(math.radians(tilt)) * inward[1:], abs=1e-9)
    assert screw.angle_to_normal_deg is not None
    plane = normal(obliquity, turn)
    off = math.degrees(math.atan2(float(np.linalg.norm(np.cross(axis, plane))), abs(float(axis @ plane))))
    assert screw.angle_to_normal_deg == pytest.approx(off, abs=5e-6 if off < 0.01 or off > 89.99 else 1e-9)


@given(ROUND, st.floats(-45, 45), st.floats(130, 170))
def test_it_enters_and_leaves_on_the_surface_of_the_bone(direction: float, tilt: float, place: float) -> None:
    lag = LagScrew(position_mm=place, tilt_deg=tilt, turn_deg=direction)
    laid = layout(FractureLine(position_mm=150), (lag,))
    screw = next(one for one in laid.screws if one.hole is None)
    for point in (screw.passages[0].entry, screw.passages[-1].exit):
        s, y, z = screw.at(point)
        on_it = (2 * y / laid.shape.depth(s)) ** 2 + (2 * z / laid.shape.width(s)) ** 2
        assert on_it == pytest.approx(1, abs=2e-3)  # a tapered bone's far surface is found in a few steps


@given(STEEP, TURN, ROUND, TILT)
def test_owners_are_those_of_the_points_in_space(obliquity: float, turn: float, direction: float, tilt: float) -> None:
    line = FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn)
    screw = layout(line, (LagScrew(position_mm=146, tilt_deg=tilt, turn_deg=direction),)).screws[0]
    wrong = []
    for passage in screw.passages:
        offs = [height_off(line, np.array(screw.at(point))) for point in (passage.entry, passage.exit)]
        beyond = [off * math.copysign(1, normal(obliquity, turn)[0]) for off in offs]
        clear = min(abs(off) for off in beyond) > 1e-3 and beyond[0] * beyond[1] > 0
        if clear and passage.owner != ("distal" if beyond[0] > 0 else "proximal"):
            wrong.append(passage)
    assert wrong == []


def test_turned_by_ninety_the_profile_shows_a_transverse_line() -> None:
    laid = layout(FractureLine(position_mm=150, obliquity_deg=45, turn_deg=90), holes=(Hole(role="lag"),) * 8)
    line = laid.fracture.lines[0]
    assert (line.obliquity_deg, line.slope) == (0.0, 0.0)
    assert line.across == pytest.approx(1)
    # no screw through the plate, in z = 0, stands square to it: 45° off at best, straight along the line's normal
    assert min(screw.angle_to_normal_deg or 0 for screw in laid.screws) >= 45


@given(STEEP, TURN)
def test_a_turn_by_half_a_circle_is_the_other_lean(obliquity: float, turn: float) -> None:
    one, other = (
        layout(FractureLine(position_mm=150, obliquity_deg=a, turn_deg=t)).fracture.lines[0]
        for a, t in ((obliquity, 90.0), (-obliquity, -90.0))
    )
    assert one == other


@given(STEEP, TURN)
def test_a_hole_is_over_the_fracture_where_its_own_screw_would_meet_it(obliquity: float, turn: float) -> None:
    """Screws through the plate lie in z = 0: what the plane does beside them is no matter of theirs."""
    laid = layout(FractureLine(position_mm=150, obliquity_deg=obliquity, turn_deg=turn))
    half = laid.shape.depth(150) / 2
    wrong = []
    for hole in laid.holes:
        meets = [150 - y * math.tan(math.radians(obliquity)) * math.cos(math.radians(turn)) for y in (half, -half)]
        near = min(meets) - laid.clearance_mm, max(meets) + laid.clearance_mm
        told_apart = all(abs(hole.s_mm - edge) > 1e-6 for edge in near)
        if told_apart and (hole.line == 0) != (near[0] < hole.s_mm < near[1]):
            wrong.append(hole)
    assert wrong == []
