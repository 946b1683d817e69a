"""The frame beside solid finite elements of seven bridged constructs (`solids.py` says what they are).

The bands are what a frame of beams is asked for, not what it happens to give. A miss stays here as a miss, with its
figure and the cause as far as it is known; it fails the tests once it is mended, so that it is taken out.
"""

import math
from collections.abc import Callable

import pytest
from _pytest.mark.structures import ParameterSet

from app.mechanics import LoadCase, MechanicsResult
from tests.mechanics.solids import Solid, framed, solids

AXIAL, BENDING, TORSION = LoadCase(axial_n=1.0), LoadCase(bending_nmm=1000.0), LoadCase(torsion_nmm=1000.0)
SCREWS = "screws (hole,N,M,V per N axial; N,M,V per Nmm bending; Mx per Nmm torsion)"

NEAR_SLOTS = (
    "0.83 to 0.84: mid-gap lies 3.5 mm from the slots on either side, whose edges still concentrate the stress there; "
    "ours is nominal, of the full section"
)
AT_A_HOLE = "{}: a hole lies over mid-gap; ours is nominal, of the net section, without a notch factor for its edge"
SCREW_MOMENT = (
    "{}: the screw takes more of the moment as bending than in the solids, and less as a couple of pulls, most so in a "
    "slot. A shaft turns a little where it is built in, as a disc on a half-space does; with that (0.25·E·d³ N·mm/rad) "
    "pulls come to 0.91-0.96 and bending to 1.04-1.21, but torsion, too low already, to 0.77-0.87: left out until "
    "torsion is better understood"
)
MISSES = {
    ("stress", "G"): NEAR_SLOTS,
    ("stress", "H"): NEAR_SLOTS,
    ("stress", "I"): AT_A_HOLE.format("0.82"),
    ("stress", "J"): AT_A_HOLE.format("0.74"),
    ("pull", "E"): SCREW_MOMENT.format("0.897"),
    ("pull", "G"): SCREW_MOMENT.format("0.868"),
    ("pull", "H"): SCREW_MOMENT.format("0.868"),
    ("screw bending", "G"): SCREW_MOMENT.format("1.35"),
    ("screw bending", "H"): SCREW_MOMENT.format("1.36"),
}


def every(figure: str) -> list[ParameterSet]:
    """All constructs, the known misses of this figure marked."""
    cases = []
    for solid in solids():
        letter = solid.name.split()[0]
        cause = MISSES.get((figure, letter))
        marks = [pytest.mark.xfail(strict=True, raises=AssertionError, reason=cause)] if cause else []
        cases.append(pytest.param(solid, id=letter, marks=marks))
    return cases


def test_all_seven_are_there() -> None:
    assert [solid.name.split()[0] for solid in solids()] == ["A", "B", "E", "G", "H", "I", "J"]


def axial(result: MechanicsResult) -> float:
    return result.axial_stiffness_n_per_mm or 0.0


def bending(result: MechanicsResult) -> float:
    return result.bending_stiffness_plate_tension_nm_per_deg or 0.0


def torsional(result: MechanicsResult) -> float:
    return result.torsional_stiffness_nm_per_deg or 0.0


@pytest.mark.parametrize("solid", every("stiffness"))
@pytest.mark.parametrize(
    ("load", "read", "figure", "low", "high"),
    [
        pytest.param(AXIAL, axial, "axial N/mm", 0.88, 1.15, id="axial"),
        pytest.param(BENDING, bending, "bend Nm/deg", 0.88, 1.15, id="bending"),
        pytest.param(TORSION, torsional, "tors Nm/deg", 0.80, 1.10, id="torsion"),
    ],
)
def test_stiffness(
    solid: Solid, load: LoadCase, read: Callable[[MechanicsResult], float], figure: str, low: float, high: float
) -> None:
    assert low <= read(framed(solid, load)) / solid.figures[figure] <= high


@pytest.mark.parametrize("solid", every("far cortex"))
def test_motion_of_the_far_cortex(solid: Solid) -> None:
    per_kn = 1000.0 * framed(solid, AXIAL).lines[0].motion.far_mm
    assert 0.85 <= per_kn / solid.figures["far mm/kN"] <= 1.2


@pytest.mark.parametrize("solid", every("stress"))
def test_plate_stress_at_mid_gap(solid: Solid) -> None:
    """Of the sections that the model gives, the one next to mid-gap."""
    plate, middle = framed(solid, AXIAL).plate, solid.inputs["L"] / 2.0
    assert plate is not None
    stress, _ = max(
        zip(plate.stress_mpa, plate.s_mm, strict=True), key=lambda one: (-round(abs(one[1] - middle), 6), one[0])
    )
    assert 0.9 <= stress / solid.figures["smax mid axial"] <= 1.1


@pytest.mark.parametrize("solid", every("pull"))
def test_pull_of_the_screws_next_to_the_gap(solid: Solid) -> None:
    answers = framed(solid, AXIAL).screws
    half = len(answers) // 2
    for answer in answers[half - 1 : half + 1]:
        assert 0.9 <= answer.pull_n / solid.figures[SCREWS][0][1] <= 1.15


@pytest.mark.parametrize("solid", every("screw bending"))
def test_bending_of_the_screws_next_to_the_gap(solid: Solid) -> None:
    """At the plate's underside: the solids' moment half-way to the bone, and their shear over the other half.

    Asked: not less, which would flatter a screw, and not above by more than 0.3.
    """
    _, _, moment, shear, *_ = solid.figures[SCREWS][0]
    theirs = abs(moment) + abs(shear) * solid.inputs["standoff"] / 2.0
    answers = framed(solid, AXIAL).screws
    half = len(answers) // 2
    for answer in answers[half - 1 : half + 1]:
        assert answer.bending_ratio is not None
        ours = answer.bending_ratio * 690.0 * math.pi * solid.inputs["core"] ** 3 / 32.0
        assert 1.0 <= ours / theirs <= 1.3
