"""Members and springs as "two points joined by a 3 × 3 stiffness", for both planes at once.

In-plane unknowns of a node are (u, v, θz), out-of-plane ones (w, θx, θy): mm and radians. Arrays carry the plane
first (0 in,
1 out). Every joint is a deformation e = A_j·d_j − A_i·d_i with energy ½·eᵀ·K·e; A are rigid arms, so offsets are exact.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from app.mechanics.model import Plate
from app.mechanics.sections import Array, Section, full_plate_section, net_plate_section

IntArray = NDArray[np.intp]
BoolArray = NDArray[np.bool_]
_EYE = np.eye(3)


def rigid_arms(dx_mm: Array, y_mm: Array) -> Array:
    """Motion of a point at (dx, y) from a node, per unit of the node's unknowns: shape (2, …, 3, 3).

    Small rotations: u − θz·y, v + θz·dx; w + θx·y − θy·dx.
    """
    arms = np.empty((2, *dx_mm.shape, 3, 3))
    arms[:] = _EYE
    arms[0, ..., 0, 2] = -y_mm
    arms[0, ..., 1, 2] = dx_mm
    arms[1, ..., 0, 1] = y_mm
    arms[1, ..., 0, 2] = -dx_mm
    return arms


@dataclass(frozen=True, slots=True)
class JointBlocks:
    """Stiffness blocks of joints between nodes i and j: each (2, …, 3, 3)."""

    ii: Array
    ij: Array
    jj: Array


def joint_blocks(stiffness: Array, arm_i: Array, arm_j: Array | None = None) -> JointBlocks:
    """Blocks AᵢᵀKAᵢ, −AᵢᵀKAⱼ, AⱼᵀKAⱼ of joints with `stiffness` (2, …, 3, 3); no `arm_j`: the joint sits at node j."""
    at_i = arm_i.swapaxes(-1, -2) @ stiffness
    ii = at_i @ arm_i
    if arm_j is None:
        return JointBlocks(ii, -at_i, stiffness)
    return JointBlocks(ii, -at_i @ arm_j, arm_j.swapaxes(-1, -2) @ stiffness @ arm_j)


@dataclass(frozen=True, slots=True)
class Pieces:
    """Prismatic pieces of n members of q pieces each, as compliances per length; all (n, q).

    `length` mm; `axial` 1/EA; `bend_z` 1/EI_z; `bend_y` 1/EI_y; `twist` 1/GJ; `shear` 1/GA_s (0: no shear deformation).
    """

    length: Array
    axial: Array
    bend_z: Array
    bend_y: Array
    twist: Array
    shear: Array


def join_pieces(first: Pieces, second: Pieces) -> Pieces:
    """Two sets of members, of as many pieces each, as one set."""
    return Pieces(
        np.concatenate([first.length, second.length]),
        np.concatenate([first.axial, second.axial]),
        np.concatenate([first.bend_z, second.bend_z]),
        np.concatenate([first.bend_y, second.bend_y]),
        np.concatenate([first.twist, second.twist]),
        np.concatenate([first.shear, second.shear]),
    )


def stepped_stiffness(pieces: Pieces) -> Array:
    """End stiffness (2, n, 3, 3) of stepped beams along s: inverse of the flexibility of a cantilever fixed at node i.

    Unit-load theorem over prismatic pieces: f_uu = Σ l/EA, f_vv = Σ ∫ξ²/EI + l/GA_s, f_vθ = Σ ∫ξ/EI, f_θθ = Σ l/EI,
    with ξ the
    distance from node j (Gere & Timoshenko, Mechanics of Materials, deflections of beams; from memory).
    """
    nearest = np.cumsum(pieces.length[:, ::-1], axis=1)[:, ::-1]
    far, near = nearest, nearest - pieces.length
    first, second = (far**2 - near**2) / 2.0, (far**3 - near**3) / 3.0
    out = np.zeros((2, len(nearest), 3, 3))
    out[0, :, 0, 0] = 1.0 / (pieces.length * pieces.axial).sum(axis=1)
    out[1, :, 1, 1] = 1.0 / (pieces.length * pieces.twist).sum(axis=1)
    shear = (pieces.length * pieces.shear).sum(axis=1)
    moments = np.array([pieces.length, first, second])
    _bending(out[0], pieces.bend_z, moments, shear, (1, 2), 1.0)
    _bending(out[1], pieces.bend_y, moments, shear, (0, 2), -1.0)
    return out


def _bending(out: Array, flex: Array, moments: Array, shear: Array, at: tuple[int, int], sign: float) -> None:
    zeroth, first, second = (flex * moments).sum(axis=-1)
    second = second + shear
    determinant = zeroth * second - first**2
    deflect, turn = at
    out[:, deflect, deflect] = zeroth / determinant
    out[:, turn, turn] = second / determinant
    out[:, deflect, turn] = out[:, turn, deflect] = -sign * first / determinant


def bone_pieces(section: Section, length: Array, modulus: float, shear_modulus: float, shear_flexible: bool) -> Pieces:
    """Pieces of bone members from their sections; `length` and the section arrays are (n, q)."""
    shear = 1.0 / (shear_modulus * section.shear_area) if shear_flexible else np.zeros_like(length)
    return Pieces(
        length=length,
        axial=1.0 / (modulus * section.area),
        bend_z=1.0 / (modulus * section.i_z),
        bend_y=1.0 / (modulus * section.i_y),
        twist=1.0 / (shear_modulus * section.torsion),
        shear=shear,
    )


def plate_pieces(plate: Plate, length: Array, hole_i: Array, hole_j: Array) -> Pieces:
    """Pieces (n, 4) of plate members: half a hole, the full section in two equal parts, half a hole.

    `hole_i` and `hole_j` are 1 where the end is a hole centre and 0 where it lies between holes.
    """
    half = plate.hole_length_mm / 2.0
    solid = (length - (hole_i + hole_j) * half) / 2.0
    lengths = np.array([hole_i * half, solid, solid, hole_j * half]).T
    full, net = full_plate_section(plate), net_plate_section(plate)
    e, g = plate.modulus_mpa, plate.shear_modulus_mpa
    row = np.ones((len(length), 1))
    return Pieces(
        length=lengths,
        axial=row / (e * np.array([net.area, full.area, full.area, net.area])),
        bend_z=row / (e * np.array([net.i_z, full.i_z, full.i_z, net.i_z])),
        bend_y=row / (e * np.array([net.i_y, full.i_y, full.i_y, net.i_y])),
        twist=row / (g * np.array([net.torsion, full.torsion, full.torsion, net.torsion])),
        shear=np.zeros((len(length), 4)),
    )


def screw_stiffness(length: Array, modulus: Array, core_mm: Array) -> Array:
    """End stiffness (2, …, 3, 3) of round screw shafts running along −y; G = E/2.6 (ν = 0.3, metals).

    Cantilever formulas EA/l, 12EI/l³, 6EI/l², 4EI/l, GJ/l with A = πd²/4, I = πd⁴/64, J = 2I.
    """
    area, inertia = np.pi * core_mm**2 / 4.0, np.pi * core_mm**4 / 64.0
    per_length = modulus * inertia / length
    out = np.zeros((2, *length.shape, 3, 3))
    out[0, ..., 1, 1] = modulus * area / length
    out[1, ..., 2, 2] = per_length * 2.0 / 2.6
    out[0, ..., 0, 0] = out[1, ..., 0, 0] = 12.0 * per_length / length**2
    out[0, ..., 2, 2] = out[1, ..., 1, 1] = 4.0 * per_length
    both = 6.0 * per_length / length
    out[0, ..., 0, 2] = out[0, ..., 2, 0] = -both
    out[1, ..., 0, 1] = out[1, ..., 1, 0] = both
    return out
