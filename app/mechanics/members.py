"""Beam members and springs, each as two points joined by a 3 × 3 stiffness matrix, for both planes at once.

The in-plane unknowns of a node are (u, v, θz), the out-of-plane ones (w, θx, θy), in mm and radians. The first axis of
an array is the plane (0: in-plane, 1: out-of-plane). The deformation of a joint is e = A_j·d_j − A_i·d_i with the
energy ½·eᵀ·K·e, where d are the unknowns of the two nodes. The A are rigid arms from a node to the joint, so offsets
are exact.
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
    """Motion of a point at (dx, y) from a node, per unit of the node's unknowns; shape (2, …, 3, 3).

    `dx_mm` and `y_mm` have one shape (…). For small rotations the point moves by u − θz·y and v + θz·dx in-plane, and
    by w + θx·y − θy·dx out-of-plane.
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
    """Stiffness blocks of joints between a node i and a node j: `ii`, `ij` and `jj`, each of shape (2, …, 3, 3).

    Units are N/mm, N and N·mm (per radian), according to the unknowns they join.
    """

    ii: Array
    ij: Array
    jj: Array


def joint_blocks(stiffness: Array, arm_i: Array, arm_j: Array | None = None) -> JointBlocks:
    """Blocks AᵢᵀKAᵢ, −AᵢᵀKAⱼ and AⱼᵀKAⱼ of joints with the stiffness K.

    `stiffness`, `arm_i` and `arm_j` have the shape (2, …, 3, 3). Without `arm_j` the joint sits at node j.
    """
    at_i = arm_i.swapaxes(-1, -2) @ stiffness
    ii = at_i @ arm_i
    if arm_j is None:
        return JointBlocks(ii, -at_i, stiffness)
    return JointBlocks(ii, -at_i @ arm_j, arm_j.swapaxes(-1, -2) @ stiffness @ arm_j)


@dataclass(frozen=True, slots=True)
class Pieces:
    """Prismatic pieces of n beam members with q pieces each, as lengths and compliances; all of shape (n, q).

    Attributes:
        length: length of the piece (mm).
        axial: 1/EA (1/N).
        bend_z: 1/EI_z, in-plane bending (1/(N·mm²)).
        bend_y: 1/EI_y, out-of-plane bending (1/(N·mm²)).
        twist: 1/GJ (1/(N·mm²)).
        shear: 1/GA_s (1/N); 0 leaves shear deformation out.
    """

    length: Array
    axial: Array
    bend_z: Array
    bend_y: Array
    twist: Array
    shear: Array


def join_pieces(first: Pieces, second: Pieces) -> Pieces:
    """Two sets of members with the same number of pieces each, as one set."""
    return Pieces(
        np.concatenate([first.length, second.length]),
        np.concatenate([first.axial, second.axial]),
        np.concatenate([first.bend_z, second.bend_z]),
        np.concatenate([first.bend_y, second.bend_y]),
        np.concatenate([first.twist, second.twist]),
        np.concatenate([first.shear, second.shear]),
    )


def stepped_stiffness(pieces: Pieces) -> Array:
    """End stiffness of stepped beams along s, shape (2, n, 3, 3): inverse flexibility of a cantilever fixed at node i.

    The flexibility follows from the unit-load theorem over prismatic pieces: f_uu = Σ l/EA, f_vv = Σ (∫ξ²dξ/EI +
    l/GA_s), f_vθ = Σ ∫ξdξ/EI, f_θθ = Σ l/EI, and l/GJ in torsion, with ξ the distance from node j (Gere & Timoshenko,
    Mechanics of Materials, deflections of beams; from memory). Pieces without length are allowed. Units are N, mm and
    radians.
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
    """Pieces of bone members from their sections; `length` (mm) and the section arrays have the shape (n, q).

    `modulus` and `shear_modulus` are in MPa; `shear_flexible` False leaves shear deformation out.
    """
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
    """Pieces of plate members, shape (n, 4): half a hole, the full section in two equal parts, and half a hole.

    `length` (n,) is in mm. `hole_i` and `hole_j` (n,) say how much of half a hole's length is open at that end, as a
    share of it: 0 where it lies between holes.
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
