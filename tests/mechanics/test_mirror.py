"""Turned end for end, a construct gives the same figures: a symmetry of mechanics, so every figure must keep it."""

import math
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings

from app.case.models import BoneQuality, Case, Construct
from app.geometry import Allowances, lay_out
from app.mechanics import MechanicsResult
from app.mechanics.of_layout import mechanics_of, preset_loading
from app.samples import load_samples
from app.suggest import suggestions
from tests.rules.test_chain import spoilt
from tests.rules.test_properties import KNOWLEDGE, MIRRORED_BONES, mirrored_construct
from tests.strategies import cases
from tests.test_suggest import EVERY, fractured

HERE = KNOWLEDGE.catalogue
THERE = replace(HERE, bones=MIRRORED_BONES)
SAMPLES = [
    pytest.param(construct, sample.case.bone_quality, id=f"{sample.case.title[:24]} {construct.bone.name}")
    for sample in load_samples()
    for construct in sample.case.constructs
]
# Bands of the search: the eccentric shift ends where a limit is met, found to 1e-9 of the way.
CLOSE, LEAST = 1e-7, 1e-8


def solved(construct: Construct, quality: BoneQuality, *, turned: bool) -> MechanicsResult:
    catalogue = THERE if turned else HERE
    drawn = mirrored_construct(construct) if turned else construct
    layout = lay_out(drawn, quality, catalogue, Allowances())
    return mechanics_of(layout, catalogue, preset_loading(construct.bone.name))


def told(result: MechanicsResult, holes: int, *, turned: bool) -> Iterator[tuple[str, float | None]]:
    """Every figure by its name; lines, fragments and holes by their number from the end that was proximal."""
    if result.unstable is not None or result.plate is None:
        yield "unstable", None
        return
    yield "axial", result.axial_stiffness_n_per_mm
    yield "plate in tension", result.bending_stiffness_plate_tension_nm_per_deg
    yield "plate in compression", result.bending_stiffness_plate_compression_nm_per_deg
    yield "lateral", result.lateral_stiffness_nm_per_deg
    yield "torsion", result.torsional_stiffness_nm_per_deg
    yield "peak", result.plate.peak_mpa
    yield "fatigue", result.plate.fatigue_ratio
    for number, line in enumerate(result.lines[::-1] if turned else result.lines):
        yield f"near {number}", line.motion.near_mm
        yield f"far {number}", line.motion.far_mm
        yield f"shear {number}", line.motion.shear_mm
        yield f"preload {number}", line.interface.preload_n
        yield f"margin {number}", line.interface.margin
    for number, ratio in enumerate(result.slip_ratios[::-1] if turned else result.slip_ratios):
        yield f"slip {number}", ratio
    for screw in result.screws:
        name = f"h{holes + 1 - int(screw.id[1:])}" if turned and screw.id[0] == "h" else screw.id
        yield f"pull {name}", screw.pull_n
        yield f"bending {name}", screw.bending_ratio
        yield f"friction {name}", screw.friction_ratio


def differences(construct: Construct, quality: BoneQuality = "normal") -> list[tuple[str, float | None, float | None]]:
    holes = construct.plate.holes
    here = dict(told(solved(construct, quality, turned=False), holes, turned=False))
    there = dict(told(solved(construct, quality, turned=True), holes, turned=True))
    assert here.keys() == there.keys()
    pairs = [(name, here[name], there[name]) for name in here]
    return [pair for pair in pairs if not alike(pair[1], pair[2])]


def alike(one: float | None, other: float | None) -> bool:
    if one is None or other is None:
        return one is other
    return math.isclose(one, other, rel_tol=CLOSE, abs_tol=LEAST)


@pytest.mark.parametrize(("construct", "quality"), SAMPLES)
def test_every_sample(construct: Construct, quality: BoneQuality) -> None:
    assert differences(construct, quality) == []


@pytest.mark.parametrize(("bone", "pattern"), EVERY)
def test_every_suggestion(bone: str, pattern: str) -> None:
    for one in suggestions(fractured(bone, pattern), 0, KNOWLEDGE):
        assert differences(one.edit.value) == []


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(spoilt())
def test_random_constructs_near_sound_ones(case: Case) -> None:
    for construct in case.constructs:
        assert differences(construct, case.bone_quality) == []


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(cases())
def test_random_constructs_of_any_kind(case: Case) -> None:
    for construct in case.constructs:
        assert differences(construct) == []
