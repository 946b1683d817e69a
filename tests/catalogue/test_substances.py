"""Metals, bone and bone quality against standards and papers."""

import pytest

from app.case.models import BoneQuality
from app.catalogue import default_catalogue

CATALOGUE = default_catalogue()


def test_steel_modulus() -> None:
    # PMC4669019 table 1: 193 to 200 GPa.
    assert 193_000 <= CATALOGUE.materials["steel-316l"].modulus_mpa <= 200_000


def test_titanium_grade_4() -> None:
    # ASTM B381 F-4: yield at least 483, ultimate at least 550 MPa; data sheet: 15.0 million psi.
    metal = CATALOGUE.materials["titanium-4"]
    assert (metal.yield_mpa, metal.ultimate_mpa) == (483, 550)
    assert metal.modulus_mpa == pytest.approx(15.0e6 * 0.00689476, rel=0.01)


@pytest.mark.parametrize("metal", CATALOGUE.materials.values(), ids=lambda metal: metal.key)
def test_metal_strengths_are_in_order(metal) -> None:  # type: ignore[no-untyped-def]
    # Textbook: fatigue strength below yield, yield below ultimate; fatigue stated fully reversed.
    assert metal.fatigue_mpa < metal.yield_mpa < metal.ultimate_mpa
    assert metal.fatigue_load_ratio == -1


def test_shear_modulus() -> None:
    # G = E / (2 (1 + nu)); 316L about 74 to 77 GPa (handbook value from memory, to be checked).
    assert 74_000 <= CATALOGUE.materials["steel-316l"].shear_modulus_mpa <= 77_500


def test_cortical_bone() -> None:
    # Between composite bone, 16.7 GPa (s12891-020-03465-1), and ultrasound of the tibia, 20.9 GPa (Hoffmeister).
    assert 16_700 <= CATALOGUE.bone_modulus_mpa <= 20_900
    # Turner 2001, Calcif Tissue Int 69:373.
    assert CATALOGUE.bone_shear_strength_mpa == 51.6


def test_qualities_are_those_of_the_case_file() -> None:
    assert tuple(CATALOGUE.qualities) == BoneQuality.__args__  # type: ignore[attr-defined]
    normal, reduced, poor = CATALOGUE.qualities.values()
    assert (normal.cortex_factor, normal.modulus_factor) == (1, 1)
    assert poor.cortex_factor < reduced.cortex_factor < 1
    # Published spine models take off more of the modulus: 0.39 (PMC12452785). A shaft thins first (Feik 1997).
    assert 0.39 < poor.modulus_factor < reduced.modulus_factor < 1
    assert poor.cortex_factor < poor.modulus_factor


def test_poor_wall_follows_from_the_growth_of_the_canal() -> None:
    # Feik 1997: medullary area of the femur x2 in men and x3 in women from the twenties to the nineties.
    middle = next(row for row in CATALOGUE.bones["femur"].profile if row.fraction == 0.5)
    canal = middle.depth_mm - 2 * middle.cortex_mm
    men, women = ((middle.depth_mm - canal * growth**0.5) / (2 * middle.cortex_mm) for growth in (2, 3))
    assert women < CATALOGUE.qualities["poor"].cortex_factor < men
