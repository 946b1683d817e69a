"""Section properties of bone and plate in closed form.

Units are mm, mm² and mm⁴. `z` is the axis of in-plane bending (plate side in tension), `y` that of lateral bending.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from app.mechanics.model import BoneProfile, Plate

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Section:
    """Properties of one or many cross-sections; all arrays have one shape.

    Attributes:
        area: area A (mm²).
        i_z: second moment of area I_z, in-plane bending (mm⁴).
        i_y: second moment of area I_y, lateral bending (mm⁴).
        torsion: torsion constant J (mm⁴).
        shear_area: shear area A_s (mm²).
    """

    area: Array
    i_z: Array
    i_y: Array
    torsion: Array
    shear_area: Array


def hollow_ellipse(depth_mm: Array, width_mm: Array, cortex_mm: Array, poisson: float) -> Section:
    """Hollow ellipse with the outer axes `depth_mm` (y) and `width_mm` (z) and a wall `cortex_mm` along both axes.

    A = π(ab − a'b') and I_z = π(ab³ − a'b'³)/4 with b the half depth, I_y likewise with a the half width, the inner
    ellipse primed (Gere & Timoshenko, Mechanics of Materials, plane areas; from memory). J = πa³b³/(a²+b²) less the
    same of the inner ellipse: exact for a round tube and for similar ellipses (Roark, torsion table; from memory), an
    approximation otherwise. The shear area is A·κ with Cowper's coefficient of the hollow circle (J Appl Mech
    1966;33:335; from memory), κ = 6(1+ν)(1+m²)² / ((7+6ν)(1+m²)² + (20+12ν)m²), with m the mean ratio of inner to outer
    radius. The sizes are in mm and of one shape.
    """
    b, a = depth_mm / 2.0, width_mm / 2.0
    bi, ai = np.maximum(b - cortex_mm, 0.0), np.maximum(a - cortex_mm, 0.0)
    outer, inner = a * b, ai * bi
    area = np.pi * (outer - inner)
    inner_sum = ai**2 + bi**2
    torsion = np.pi * (outer**3 / (a**2 + b**2) - inner**3 / np.where(inner_sum > 0.0, inner_sum, 1.0))
    m2 = inner / outer
    round_ = (1.0 + m2) ** 2
    kappa = 6.0 * (1.0 + poisson) * round_ / ((7.0 + 6.0 * poisson) * round_ + (20.0 + 12.0 * poisson) * m2)
    return Section(
        area=area,
        i_z=np.pi / 4.0 * (outer * b**2 - inner * bi**2),
        i_y=np.pi / 4.0 * (outer * a**2 - inner * ai**2),
        torsion=torsion,
        shear_area=kappa * area,
    )


def ellipse_area(depth_mm: float, width_mm: float, cortex_mm: float) -> float:
    """Area (mm²) of one hollow ellipse, as in `hollow_ellipse`."""
    inner = max(depth_mm - 2.0 * cortex_mm, 0.0) * max(width_mm - 2.0 * cortex_mm, 0.0)
    return math.pi / 4.0 * (depth_mm * width_mm - inner)


@dataclass(frozen=True, slots=True)
class BoneAt:
    """Outer depth, outer width and wall of the bone at given positions (mm); the arrays have one shape."""

    depth: Array
    width: Array
    cortex: Array


@lru_cache(maxsize=16)
def _samples(bone: BoneProfile) -> tuple[Array, Array, Array, Array]:
    """Positions, depths, widths and walls as arrays; kept, since one bone is asked for many times in a solution."""
    return np.array(bone.s_mm), np.array(bone.depth_mm), np.array(bone.width_mm), np.array(bone.cortex_mm)


def bone_at(bone: BoneProfile, s_mm: Array) -> BoneAt:
    """Sizes of the bone at the positions `s_mm` (any shape): linear between the samples, constant past the ends."""
    at, depth, width, cortex = _samples(bone)
    return BoneAt(np.interp(s_mm, at, depth), np.interp(s_mm, at, width), np.interp(s_mm, at, cortex))


def bone_depth(bone: BoneProfile, s_mm: Array) -> Array:
    """Outer depth of the bone (mm) at the positions `s_mm` (any shape)."""
    at, depth, _, _ = _samples(bone)
    return np.interp(s_mm, at, depth)


def bone_section(bone: BoneProfile, s_mm: Array) -> Section:
    """Hollow elliptical section of the bone at the positions `s_mm` (any shape).

    Poisson's ratio is E/(2G) − 1, kept within 0…0.5.
    """
    at = bone_at(bone, s_mm)
    poisson = min(max(bone.modulus_mpa / (2.0 * bone.shear_modulus_mpa) - 1.0, 0.0), 0.5)
    return hollow_ellipse(at.depth, at.width, at.cortex, poisson)


def rectangle_torsion(long_mm: float, short_mm: float) -> float:
    """Torsion constant (mm⁴) of a rectangle b × t with b ≥ t: J = b·t³·(1/3 − 0.21·(t/b)·(1 − t⁴/(12b⁴))).

    Source: Roark's Formulas for Stress and Strain, torsion table (from memory); within 0.5 % of the exact series.
    """
    b, t = max(long_mm, short_mm), min(long_mm, short_mm)
    return b * t**3 * (1.0 / 3.0 - 0.21 * t / b * (1.0 - t**4 / (12.0 * b**4)))


STRIP_REACH = 2.3  # how far the strips beside a hole reach into the plate, both ends together, in strip widths


@dataclass(frozen=True, slots=True)
class PlateSection:
    """Properties of a plate section.

    Attributes:
        area: area A (mm²).
        i_z: second moment of area I_z, in-plane bending (mm⁴).
        i_y: second moment of area I_y, lateral bending (mm⁴).
        torsion: torsion constant J (mm⁴).
        torsion_modulus: W = T/τ (mm³): of a narrow rectangle J/t; of two strips the whole torque over the shear stress
            that their share of it makes.
    """

    area: float
    i_z: float
    i_y: float
    torsion: float
    torsion_modulus: float


def full_plate_section(plate: Plate) -> PlateSection:
    """Section between the holes, a rectangle of width b and thickness t: A = bt, I_z = bt³/12, I_y = tb³/12."""
    b, t = plate.width_mm, plate.thickness_mm
    torsion = rectangle_torsion(b, t)
    return PlateSection(b * t, b * t**3 / 12.0, t * b**3 / 12.0, torsion, torsion / t)


def net_plate_section(plate: Plate) -> PlateSection:
    """Section at a hole of width d: two strips of w × t beside it, with w = (b − d)/2.

    Twisted, each strip also bends out of the plate, as their middles, e = (b + d)/4 from the axis, are carried apart:
    the plate beyond the hole turns their ends by φ against each other, so that each is a beam built in at both ends
    whose ends are moved by e·φ. Over the span s that takes 12·EI·e·φ/s³ at the arm e from each of the two, which over
    the hole's length h counts as J = 24·(E/G)·I·e²·h/s³, with I = w·t³/12. The strips reach into the plate beyond the
    hole: s = h + 2.3·w, where 2.3 is read from own solid finite elements of plates with round holes and slots (see the
    tests).
    """
    b, t, d, h = plate.width_mm, plate.thickness_mm, plate.hole_width_mm, plate.hole_length_mm
    strip = (b - d) / 2.0
    own = 2.0 * rectangle_torsion(strip, t)
    arm, span = (b + d) / 4.0, h + STRIP_REACH * strip
    ratio = plate.modulus_mpa / plate.shear_modulus_mpa
    bent = 24.0 * ratio * (strip * t**3 / 12.0) * arm**2 * h / span**3
    torsion = own + bent
    # only the strips' own share of the torque makes shear stress; the rest bends them
    return PlateSection(
        2.0 * strip * t, 2.0 * strip * t**3 / 12.0, t * (b**3 - d**3) / 12.0, torsion, torsion / min(strip, t)
    )


def four_point_stiffness(load_per_deflection: float, outer_to_inner: float, inner_span: float) -> float:
    """Equivalent bending stiffness EI = (2h + 3k)·K·h²/12 of a bar in four-point bending.

    K is the load ÷ deflection at the load points, h the distance from outer to inner roller and k the inner span, in
    any consistent units (N/mm and mm give N·mm²). The form is that of ASTM F382 (from memory); it follows from beam
    theory.
    """
    return (2.0 * outer_to_inner + 3.0 * inner_span) * load_per_deflection * outer_to_inner**2 / 12.0
