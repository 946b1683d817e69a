"""Outside check: closed forms of the strength-of-materials handbooks, named beside each test."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from app.mechanics import Construct, Friction, LoadCase, Plate, analyse
from app.mechanics.members import Pieces, joint_blocks, rigid_arms, stepped_stiffness
from app.mechanics.screw_joints import pull_out_n, thread_shape_factor
from app.mechanics.sections import four_point_stiffness, hollow_ellipse, rectangle_torsion
from tests.mechanics.constructs import plate, screw, tube


def prismatic(length: float, ei: float, shear: float = 0.0, ea: float = 1e6) -> np.ndarray:
    one = np.ones((1, 1))
    return stepped_stiffness(Pieces(length * one, one / ea, one / ei, one / ei, one / ei, shear * one))


@pytest.mark.parametrize("shear_stiffness", [math.inf, 4.0e4])
def test_cantilever_tip(shear_stiffness: float) -> None:
    """Tip load P: deflection PL³/3EI + PL/GA_s, rotation PL²/2EI.

    (Gere & Timoshenko, Mechanics of Materials; Timoshenko 1921).
    """
    length, ei, load = 80.0, 3.0e6, 25.0
    tip = np.linalg.solve(prismatic(length, ei, 1.0 / shear_stiffness)[0, 0], [0.0, load, 0.0])
    assert tip[1] == pytest.approx(load * length**3 / (3.0 * ei) + load * length / shear_stiffness, rel=1e-12)
    assert tip[2] == pytest.approx(load * length**2 / (2.0 * ei), rel=1e-12)


def test_stepped_cantilever_tip() -> None:
    """Two halves, root twice as stiff: δ = P L³/(24 EI)·(1 + 7/2) (moment-area method, Gere & Timoshenko)."""
    half, ei, load = 30.0, 2.0e6, 10.0
    flex = np.array([[1.0 / (2.0 * ei), 1.0 / ei]])
    stiffness = stepped_stiffness(Pieces(np.array([[half, half]]), flex, flex, flex, flex, 0.0 * flex))
    tip = np.linalg.solve(stiffness[0, 0], [0.0, load, 0.0])
    assert tip[1] == pytest.approx(load * (2.0 * half) ** 3 / (24.0 * ei) * 4.5, rel=1e-12)


def test_tube_section() -> None:
    """Tube: A = π(D²−d²)/4, I = π(D⁴−d⁴)/64, J = 2I; thin tube shear area A/2 as Cowper's κ →.

    (2+2ν)/(4+3ν) (Roark; Cowper 1966).
    """
    one = np.array([1.0])
    outer, wall, inner = 27.0, 6.0, 15.0
    found = hollow_ellipse(outer * one, outer * one, wall * one, 0.3)
    assert found.area[0] == pytest.approx(math.pi * (outer**2 - inner**2) / 4.0)
    assert found.i_z[0] == found.i_y[0] == pytest.approx(math.pi * (outer**4 - inner**4) / 64.0)
    assert found.torsion[0] == pytest.approx(math.pi * (outer**4 - inner**4) / 32.0)
    thin = hollow_ellipse(outer * one, outer * one, 1e-3 * one, 0.3)
    assert thin.shear_area[0] / thin.area[0] == pytest.approx(2.6 / 4.9, rel=1e-3)
    solid = hollow_ellipse(20.0 * one, 30.0 * one, 50.0 * one, 0.3)
    assert solid.torsion[0] == pytest.approx(math.pi * 15.0**3 * 10.0**3 / (15.0**2 + 10.0**2))
    assert solid.i_z[0] == pytest.approx(math.pi * 15.0 * 10.0**3 / 4.0)


def test_rectangle_torsion() -> None:
    """J/bt³ = 0.1406.

    (square), 0.229 (2:1), 0.312 (10:1): table of Timoshenko & Goodier, Theory of Elasticity (from memory).
    """
    for ratio, coefficient in ((1.0, 0.1406), (2.0, 0.229), (10.0, 0.312)):
        assert rectangle_torsion(ratio * 3.0, 3.0) / (ratio * 3.0 * 27.0) == pytest.approx(coefficient, rel=0.006)


def bare_bone() -> Construct:
    """An intact tube with a plate and screws too soft to matter."""
    soft = replace(plate(4), modulus_mpa=1e-4, shear_modulus_mpa=1e-4)
    screws = tuple(replace(screw(n, 0, 0), modulus_mpa=1e-4) for n in (1, 4))
    return Construct(tube(), soft, screws, (), Friction(0.3, 0.4), LoadCase(axial_n=500.0))


def test_bone_alone_is_a_tube() -> None:
    """EA/L, EI/L and GJ/L of a tube (Gere & Timoshenko, axial loading, pure bending, torsion)."""
    result, bone = analyse(bare_bone()), tube()
    length, e = 400.0, bone.modulus_mpa
    area, inertia = math.pi * (27.0**2 - 15.0**2) / 4.0, math.pi * (27.0**4 - 15.0**4) / 64.0
    per_degree = math.pi / 180.0 / 1000.0
    assert result.axial_stiffness_n_per_mm == pytest.approx(e * area / length, rel=1e-6)
    assert result.bending_stiffness_plate_tension_nm_per_deg == pytest.approx(
        e * inertia / length * per_degree, rel=1e-6
    )
    assert result.bending_stiffness_plate_compression_nm_per_deg == pytest.approx(
        e * inertia / length * per_degree, rel=1e-6
    )
    assert result.lateral_stiffness_nm_per_deg == pytest.approx(e * inertia / length * per_degree, rel=1e-6)
    torsion = bone.shear_modulus_mpa * 2.0 * inertia / length * per_degree
    assert result.torsional_stiffness_nm_per_deg == pytest.approx(torsion, rel=1e-6)


def composite(holes: int) -> float:
    bar = replace(plate(holes, standoff=0.0), hole_width_mm=1e-6)
    screws = tuple(screw(n + 1, 0, 0, "clamped", clamp_force_n=1000.0) for n in range(holes))
    result = analyse(Construct(tube(), bar, screws, (), Friction(0.3, 0.4), LoadCase()))
    stiffness = result.bending_stiffness_plate_tension_nm_per_deg
    assert stiffness is not None
    return math.radians(1.0) / stiffness / 1000.0


def test_composite_section_of_bone_and_plate() -> None:
    """Two bonded beams: EI = E₁I₁ + E₂I₂ + d²·E₁A₁·E₂A₂/(E₁A₁ + E₂A₂) (transformed section, Gere & Timoshenko).

    Four more pitches of bonded length replace four of bare bone; the difference leaves the ends out.
    """
    bone, bar, pitch = tube(), plate(10), 18.0
    area, inertia = math.pi * (27.0**2 - 15.0**2) / 4.0, math.pi * (27.0**4 - 15.0**4) / 64.0
    a, b = bone.modulus_mpa * area, bar.modulus_mpa * 14.0 * 4.5
    bare = bone.modulus_mpa * inertia
    joined = bare + bar.modulus_mpa * 14.0 * 4.5**3 / 12.0 + (13.5 + 2.25) ** 2 * a * b / (a + b)
    turned = composite(14) - composite(10)
    assert turned == pytest.approx(4.0 * pitch * (1.0 / joined - 1.0 / bare), rel=2e-3)


def four_point_bar(ei: float, h: float, k: float) -> float:
    """Load per deflection at the load points of a simply supported bar, from the member stiffness."""
    stiffness, spans = np.zeros((12, 12)), (h, k, h)
    for n, span in enumerate(spans):
        blocks = joint_blocks(prismatic(span, ei), rigid_arms(np.array([span]), np.zeros(1)))
        i, j = slice(3 * n, 3 * n + 3), slice(3 * n + 3, 3 * n + 6)
        stiffness[i, i] += blocks.ii[0, 0]
        stiffness[i, j] += blocks.ij[0, 0]
        stiffness[j, i] += blocks.ij[0, 0].T
        stiffness[j, j] += blocks.jj[0, 0]
    free = [2, 3, 4, 5, 6, 7, 8, 9, 11]
    load = np.zeros(12)
    load[[4, 7]] = 0.5
    moved = np.linalg.solve(stiffness[np.ix_(free, free)], load[free])
    return float(1.0 / moved[free.index(4)])


def test_four_point_bending_of_a_bar() -> None:
    """Bar 10 × 3 mm, E 193 GPa, h 25, k 20 mm: I 22.5 mm⁴, EI 4.3425 N·m², K 757.96 N/mm.

    EI = (2h+3k)·K·h²/12: form of ASTM F382 (from memory); the worked figures follow from beam theory.
    """
    plate_bar = Plate(10.0, 3.0, 1.0, 1.0, (0.0, 50.0), 0.0, 193_000.0, 74_000.0, 690.0, 380.0, 860.0)
    inertia = plate_bar.width_mm * plate_bar.thickness_mm**3 / 12.0
    assert inertia == 22.5
    load_per_deflection = four_point_bar(plate_bar.modulus_mpa * inertia, 25.0, 20.0)
    assert load_per_deflection == pytest.approx(757.96, abs=0.02)
    assert four_point_stiffness(load_per_deflection, 25.0, 20.0) / 1e6 == pytest.approx(4.3425, abs=1e-4)


PULL_OUT = (
    # thread, core, pitch, TSF, F/(S·L), N at S 1.5 L 20, at S 4.2 L 20, at S 51.6 L 6
    (1.5, 1.1, 0.50, 0.7309, 3.444, 103.3, 289.3, 1066),
    (2.0, 1.3, 0.60, 0.8368, 5.258, 157.7, 441.6, 1628),
    (2.7, 1.9, 1.00, 0.7309, 6.200, 186.0, 520.8, 1920),
    (3.5, 2.4, 1.25, 0.7540, 8.291, 248.7, 696.4, 2567),
    (4.0, 2.9, 1.50, 0.7117, 8.943, 268.3, 751.2, 2769),
    (4.5, 3.0, 1.75, 0.7474, 10.567, 317.0, 887.6, 3271),
    (5.0, 3.5, 1.75, 0.7474, 11.741, 352.2, 986.2, 3635),
    (4.0, 1.9, 1.75, 0.8464, 10.636, 319.1, 893.4, 3293),
    (6.5, 3.0, 2.75, 0.8674, 17.713, 531.4, 1487.9, 5484),
)


@pytest.mark.parametrize("row", PULL_OUT, ids=lambda row: f"{row[0]}-{row[1]}")
def test_pull_out_table(row: tuple[float, ...]) -> None:
    """Worked table of Chapman's formula.

    (J Biomech Eng 1996;118:391) for bone screw sizes of ISO 5835 (sizes from memory).
    """
    thread, core, pitch, shape, per_length, *forces = row
    assert thread_shape_factor(thread, core, pitch) == pytest.approx(shape, abs=6e-5)
    assert pull_out_n(thread, core, pitch, 1.0, 1.0) == pytest.approx(per_length, abs=6e-4)
    for (strength, engaged), force, digits in zip(
        ((1.5, 20.0), (4.2, 20.0), (51.6, 6.0)), forces, (0.06, 0.06, 0.6), strict=True
    ):
        assert pull_out_n(thread, core, pitch, engaged, strength) == pytest.approx(force, abs=digits)
