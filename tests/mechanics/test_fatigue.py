"""Fatigue: Goodman's line by hand, the factor of a hole's edge against solid elements, and what must follow."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from app.mechanics import LoadCase, PlateStress, analyse
from app.mechanics.plate_stress import hole_factor
from app.mechanics.validation.solids import Solid, construct_of, solids
from tests.mechanics.constructs import bridged, compressed, plate


def stressed(**load: float) -> PlateStress:
    found = analyse(bridged(2, 3, load=LoadCase(**load))).plate
    assert found is not None
    return found


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_bent_bridge_uses_goodmans_sum(sign: float) -> None:
    """By hand (handbook form, from memory): σ = M/(w·t²/6) on the net section, from 0 to σ and back.

    K·(σ/2)/S_e + (σ/2)/S_u with K = 1.3 + 0.3·(9/5.5 − 1), S_e = 380 and S_u = 860 MPa; R = 0. On whichever side of the
    plate is in tension, so the same either way.
    """
    sigma = 5000.0 / (8.5 * 4.5**2 / 6.0)
    factor = 1.3 + 0.3 * (9.0 / 5.5 - 1.0)
    found = stressed(bending_nmm=sign * 5000.0)
    assert found.swing_mpa == pytest.approx(sigma, rel=1e-9)
    assert found.fatigue_ratio == pytest.approx(factor * sigma / 2.0 / 380.0 + sigma / 2.0 / 860.0, rel=1e-9)
    assert found.load_ratio == pytest.approx(0.0, abs=1e-12)


def test_torsion_swings_shear_and_has_no_mean() -> None:
    """Von Mises: √3·τ/2 of a pure torque, wherever the plate bends least with it; never less than that."""
    found = stressed(torsion_nmm=2000.0)
    assert found.fatigue_ratio > 0.0
    twice = stressed(torsion_nmm=4000.0)
    assert twice.fatigue_ratio == pytest.approx(2.0 * found.fatigue_ratio, rel=1e-9)
    assert stressed(torsion_nmm=-2000.0).fatigue_ratio == pytest.approx(found.fatigue_ratio, rel=1e-9)


@pytest.mark.parametrize("solid", [one for one in solids() if one.name[0] in "BGHIJ"], ids=lambda one: one.name[0])
def test_the_edge_of_a_hole_against_solid_elements(solid: Solid) -> None:
    """Highest von Mises stress in the plate under a uniform moment ÷ nominal stress of the net section.

    Solids whose peak lies at the edge of a hole or slot: B, I and J round, G and H twice as long as wide.
    """
    given, spec = solid.inputs, construct_of(solid, LoadCase()).plate
    nominal = 1.0 / ((given["b"] - given["hw"]) * given["t"] ** 2 / 6.0)
    assert hole_factor(spec) == pytest.approx(solid.figures["vm max plate bend"] / nominal, rel=0.1)


def test_what_tightening_left_counts_as_mean_and_not_as_swing() -> None:
    """A flattened pre-bend stresses the plate at rest: the same load then has a higher R and uses more."""
    load = LoadCase(bending_nmm=2000.0)
    weak = [replace(s, compression_limit_n=100.0) if s.shift_mm else s for s in compressed().screws]
    plates = [analyse(compressed(prebend=bend, screws=weak, load=load)).plate for bend in (0.0, 1.0)]
    assert plates[0] is not None
    assert plates[1] is not None
    assert plates[1].load_ratio > plates[0].load_ratio
    assert plates[1].peak_mpa > 2.0 * plates[0].peak_mpa
    rest = analyse(compressed(prebend=1.0, screws=weak, load=LoadCase())).plate
    assert rest is not None
    assert (rest.swing_mpa, rest.load_ratio) == (pytest.approx(0.0, abs=1e-6), pytest.approx(1.0, abs=1e-6))
    assert 0.0 < rest.fatigue_ratio < rest.peak_mpa / 860.0 * 1.001


def test_more_load_never_uses_less_and_a_thicker_plate_never_more() -> None:
    used = [stressed(bending_nmm=moment, axial_n=moment / 10.0).fatigue_ratio for moment in np.linspace(0.0, 6e3, 13)]
    assert used == sorted(used)
    thick = [
        analyse(bridged(2, 3, load=LoadCase(bending_nmm=4e3), the_plate=plate(thickness=t))).plate
        for t in (3.0, 4.0, 5.0)
    ]
    found = [one.fatigue_ratio for one in thick if one is not None]
    assert found == sorted(found, reverse=True)
    assert len(found) == 3
