"""A screw that is not tilted stands square to the plate where it lies, and leans with it where the bone flares."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.case.models import Bone, Construct, Fracture, FractureLine, Hole, Plate
from app.catalogue.models import ProfileRow
from app.geometry import Allowances, Layout, lay_out
from tests.geometry.test_layout import with_profile
from tests.strategies import CATALOGUE

LENGTH = CATALOGUE.bones["tibia"].length_mm
ENDS = st.tuples(st.floats(16, 40), st.floats(16, 40))


def on_a_cone(proximal_mm: float, distal_mm: float, role: str, tilt_deg: float = 0.0) -> Layout:
    """A bone whose depth changes evenly from one end to the other, with every hole filled alike."""
    shares = (0.0, 0.25, 0.5, 0.75, 1.0)
    rows = tuple(ProfileRow(x, proximal_mm + x * (distal_mm - proximal_mm), 24.0, 3.0) for x in shares)
    made = Construct(
        bone=Bone(name="tibia"),
        fracture=Fracture(lines=(FractureLine(position_mm=LENGTH / 2 + 9),)),
        principle="bridging",
        plate=Plate(series="large-narrow-4.5", holes=8, centre_mm=LENGTH / 2),
        holes=(Hole(role=role, tilt_deg=tilt_deg),) * 8,
    )
    return lay_out(made, "normal", with_profile(CATALOGUE, "tibia", rows), Allowances())


@pytest.mark.parametrize("role", ["neutral", "locking-2", "locking-1"])
@given(ends=ENDS)
def test_its_axis_is_the_plate_s_normal(role: str, ends: tuple[float, float]) -> None:
    laid = on_a_cone(*ends, role)
    surface = np.array([LENGTH, (ends[1] - ends[0]) / 2])  # along the plate, over the whole bone
    for screw in laid.screws:
        axis = np.array(screw.tip) - np.array(screw.head)
        assert axis @ surface / (np.linalg.norm(axis) * np.linalg.norm(surface)) == pytest.approx(0, abs=1e-6)
        assert screw.tilt_deg == 0


@given(ends=ENDS)
def test_its_length_is_that_of_the_chord(ends: tuple[float, float]) -> None:
    """From (s, h + m·s) square to the surface, the far one is t = 2·(h + m·s) ÷ (cos λ − m·sin λ) away, tan λ = m."""
    laid = on_a_cone(*ends, "locking-2")
    rise = (ends[1] - ends[0]) / 2 / LENGTH
    lean = math.atan(rise)
    for screw in laid.screws:
        chord = 2 * (ends[0] / 2 + rise * screw.s_mm) / (math.cos(lean) - rise * math.sin(lean))
        assert screw.length_mm == pytest.approx(laid.series.seat_mm + chord, rel=1e-6)


def test_a_set_tilt_is_measured_against_the_shaft() -> None:
    tilted = on_a_cone(40, 20, "neutral", 10.0)
    assert {round(screw.lean_deg, 9) for screw in tilted.screws} == {10.0}
    locked = on_a_cone(40, 20, "locking-2", 10.0)  # its thread does not let it tilt
    assert {screw.tilt_deg for screw in locked.screws} == {0.0}
    assert all(screw.lean_deg == pytest.approx(-math.degrees(math.atan(10 / LENGTH))) for screw in locked.screws)
