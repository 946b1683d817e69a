"""A fracture plane as its two views show it, against the plane's own equation, s = s0 − tan a·(y·cos t − z·sin t)."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.case.edits import LeanFracture, SetTurn, apply
from app.case.faults import InvalidCase
from app.case.models import Case
from app.case.planes import apparent_leans, plane_of, steepest_lean
from app.samples import load_samples

STEEP = st.floats(-75, 75)
TURN = st.floats(-90, 90)
ROUNDED_DEG = 0.02  # the case keeps hundredths of a degree


def shown(obliquity: float, turn: float) -> tuple[float, float]:
    """By differences: how far the plane moves along the shaft per mm of y, and per mm of z."""
    a, t = math.radians(obliquity), math.radians(turn)

    def s(y: float, z: float) -> float:
        return -math.tan(a) * (y * math.cos(t) - z * math.sin(t))

    return -math.degrees(math.atan(s(1, 0) - s(0, 0))), math.degrees(math.atan(s(0, 1) - s(0, 0)))


@given(STEEP, TURN)
def test_what_the_views_show(obliquity: float, turn: float) -> None:
    assert apparent_leans(obliquity, turn) == pytest.approx(shown(obliquity, turn), abs=1e-9)


@given(STEEP, STEEP)
def test_two_views_make_one_plane(profile: float, face: float) -> None:
    obliquity, turn = plane_of(profile, face)
    assert -90 <= turn <= 90
    steepness = math.degrees(math.atan(math.hypot(*(math.tan(math.radians(seen)) for seen in (profile, face)))))
    assert abs(obliquity) == pytest.approx(steepness, abs=ROUNDED_DEG)
    # near 90° a hundredth of a turn is much of the little that the other view shows
    assume(min(abs(profile), abs(face)) > 1 or face == 0 or profile == 0)
    assert shown(obliquity, turn) == pytest.approx((profile, face), abs=0.1)


@given(STEEP)
def test_the_steepest_lean_keeps_the_limit(other: float) -> None:
    obliquity, _ = plane_of(steepest_lean(other, 75), other)
    assert abs(obliquity) <= 75 + ROUNDED_DEG


CASE = load_samples()[0].case


def line(case: Case) -> tuple[float, float]:
    found = case.constructs[0].fracture.lines[0]
    return found.obliquity_deg, found.turn_deg


@given(st.floats(-60, 60).map(round), st.floats(-60, 60).map(round))
def test_leaning_it_in_one_view_leaves_the_other(profile: int, face: int) -> None:
    turned = apply(CASE, LeanFracture(target=0, view="face", angle_deg=face))
    before, _ = apparent_leans(*line(CASE))
    assert apparent_leans(*line(turned)) == pytest.approx((before, face), abs=0.1)
    leant = apply(turned, LeanFracture(target=0, view="profile", angle_deg=profile))
    assert apparent_leans(*line(leant)) == pytest.approx((profile, face), abs=0.1)
    back = apply(leant, LeanFracture(target=0, view="face", angle_deg=0))
    assert line(back)[1] == 0
    assert line(back)[0] == pytest.approx(profile, abs=0.1)


def test_more_than_the_limit_is_refused() -> None:
    steep = apply(CASE, LeanFracture(target=0, view="profile", angle_deg=74))
    with pytest.raises(InvalidCase, match="obliquity"):
        apply(steep, LeanFracture(target=0, view="face", angle_deg=74))
    with pytest.raises(InvalidCase, match="turn"):
        apply(CASE, SetTurn(target=0, turn_deg=91))
