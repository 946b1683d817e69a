"""How each screw ties the plate to the bone, and what it carries.

A locking screw is a round beam fixed in the plate's mid-plane, running to the middle of the near and far cortex; each cortex holds it
by a spring of modulus × cortex thickness (N/mm, along and across the screw) and one of modulus × thickness³/12 (N·mm/rad).
A clamped screw presses the plate on the bone: the patch of bone under the hole, one cortex deep, is the joint. All
joints of a construct are built and condensed together.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.mechanics.layout import Layout
from app.mechanics.members import JointBlocks, joint_blocks, rigid_arms, screw_stiffness
from app.mechanics.model import Construct, Screw
from app.mechanics.sections import Array, bone_at

_P, _NEAR, _FAR, _N, _F = (slice(3 * k, 3 * k + 3) for k in range(5))


def thread_shape_factor(thread_mm: float, core_mm: float, pitch_mm: float) -> float:
    """TSF = 0.5 + 0.57735·d/p with thread depth d = (D − core)/2; 0.57735 = tan 30°.

    Chapman JR et al., J Biomech Eng 1996;118:391-398 (formula from memory, abstract read).
    """
    return 0.5 + 0.57735 * (thread_mm - core_mm) / 2.0 / pitch_mm


def pull_out_n(thread_mm: float, core_mm: float, pitch_mm: float, engaged_mm: float, shear_strength_mpa: float) -> float:
    """Predicted pull-out force F = S·(L·π·D)·TSF in N, from thread diameter D, engaged length L and shear strength S.

    Chapman JR et al., J Biomech Eng 1996;118:391-398 (formula from memory, abstract read).
    """
    shape = thread_shape_factor(thread_mm, core_mm, pitch_mm)
    return shear_strength_mpa * engaged_mm * np.pi * thread_mm * shape


@dataclass(frozen=True, slots=True)
class ScrewGeometry:
    """Positions of all screws' joints (n each, mm): y of plate, near and far cortex, and offsets along s from the bone node."""

    y_plate: Array
    y_near: Array
    y_far: Array
    y_surface: Array
    dx_near: Array
    dx_far: Array
    cortex: Array


@dataclass(frozen=True, slots=True)
class ScrewJoints:
    """Condensed joints of the holding screws over (plate, near bone node, far bone node): stiffness (2, n, 9, 9).

    `recovery` (2, n, 6, 9) gives the screw's own cortex nodes back; the rest is kept to read the forces.
    """

    screws: tuple[Screw, ...]
    geometry: ScrewGeometry
    stiffness: Array
    recovery: Array
    locking: Array
    holds: Array
    cortex_spring: Array
    patch: Array
    beams: tuple[Array, Array]


def plate_height(construct: Construct, s_mm: Array) -> Array:
    """Height of the plate's mid-plane over the bone axis: depth/2 + stand-off + thickness/2 (mm)."""
    plate = construct.plate
    return bone_at(construct.bone, s_mm).depth / 2.0 + plate.standoff_mm + plate.thickness_mm / 2.0


def _bone_node(layout: Layout, hole: int, s_mm: float, fragment: int | None) -> float:
    if fragment is None:
        return s_mm
    chain = layout.chains[fragment]
    if hole in chain.holes:
        return chain.bone_mm[chain.holes.index(hole)]
    line = next(k for k, nodes in enumerate(layout.lines) if hole in nodes.holes)
    return layout.chains[line].end_mm if fragment <= line else layout.chains[line + 1].start_mm


def _far_held(screw: Screw) -> int | None:
    """Fragment that the joint's far side is tied to: only two-cortex locking screws reach it, or a clamp with no near bone."""
    reaches = screw.kind == "locking-2" or (screw.kind in ("clamped", "lag") and screw.near_fragment is None)
    return screw.far_fragment if reaches else None


def screw_geometry(construct: Construct, layout: Layout, screws: tuple[Screw, ...]) -> ScrewGeometry:
    """Where the joints of `screws` lie."""
    holes = [screw.hole_number - 1 for screw in screws]
    s = np.array([construct.plate.hole_s_mm[hole] for hole in holes])
    at = bone_at(construct.bone, s)
    wall = np.minimum(at.cortex, at.depth / 2.0)
    near = [_bone_node(layout, h, x, screw.near_fragment) for h, x, screw in zip(holes, s, screws, strict=True)]
    far = [_bone_node(layout, h, x, _far_held(screw)) for h, x, screw in zip(holes, s, screws, strict=True)]
    middle = (at.depth - wall) / 2.0
    height = plate_height(construct, s)
    return ScrewGeometry(height, middle, -middle, at.depth / 2.0, s - np.array(near), s - np.array(far), wall)


def cortex_springs(modulus_mpa: float, cortex: Array) -> Array:
    """Springs of one cortex (2, n, 3, 3): modulus × thickness, and modulus × thickness³/12 for turning."""
    out = np.zeros((2, len(cortex), 3, 3))
    slide, turn = modulus_mpa * cortex, modulus_mpa * cortex**3 / 12.0
    out[0, :, 0, 0] = out[0, :, 1, 1] = out[1, :, 0, 0] = slide
    out[0, :, 2, 2] = out[1, :, 1, 1] = out[1, :, 2, 2] = turn
    return out


def patch_springs(construct: Construct, cortex: Array) -> Array:
    """Springs of the pressed patch (2, n, 3, 3): plate width × hole length of bone, one cortex deep.

    E·b·l/t across the surface, G·b·l/t along it, and the same spread over the patch (·l²/12, ·b²/12) against turning.
    """
    b, length = construct.plate.width_mm, construct.plate.hole_length_mm
    across = construct.bone.modulus_mpa * b * length / cortex
    along = construct.bone.shear_modulus_mpa * b * length / cortex
    out = np.zeros((2, len(cortex), 3, 3))
    out[0, :, 0, 0] = out[1, :, 0, 0] = along
    out[0, :, 1, 1] = across
    out[0, :, 2, 2] = across * length**2 / 12.0
    out[1, :, 1, 1] = across * b**2 / 12.0
    out[1, :, 2, 2] = along * (length**2 + b**2) / 12.0
    return out


def _add(full: Array, blocks: JointBlocks, i: slice, j: slice) -> None:
    full[..., i, i] += blocks.ii
    full[..., i, j] += blocks.ij
    full[..., j, i] += np.swapaxes(blocks.ij, -1, -2)
    full[..., j, j] += blocks.jj


def build_screw_joints(construct: Construct, layout: Layout) -> ScrewJoints:
    """Joints of every screw that holds some bone, condensed to plate and bone nodes."""
    screws = tuple(s for s in construct.screws if s.near_fragment is not None or s.far_fragment is not None)
    at = screw_geometry(construct, layout, screws)
    locking = np.array([s.kind.startswith("locking") for s in screws])
    near = np.array([s.near_fragment is not None for s in screws])
    far = np.array([s.far_fragment is not None and s.kind == "locking-2" for s in screws])
    passes_far = np.array([s.kind == "locking-2" for s in screws])
    modulus, core = np.array([s.modulus_mpa for s in screws]), np.array([s.core_mm for s in screws])
    to_near = screw_stiffness(at.y_plate - at.y_near, modulus, core) * locking[:, None, None]
    to_far = screw_stiffness(at.y_near - at.y_far, modulus, core) * passes_far[:, None, None]
    cortex = cortex_springs(construct.bone.modulus_mpa, at.cortex)
    clamped = not locking.all()
    patch = patch_springs(construct, at.cortex) * ~locking[:, None, None]
    nothing = np.zeros_like(at.cortex)
    full = np.zeros((2, len(screws), 15, 15))
    _add(full, joint_blocks(to_near, rigid_arms(nothing, at.y_near - at.y_plate)), _P, _N)
    _add(full, joint_blocks(to_far, rigid_arms(nothing, at.y_far - at.y_near)), _N, _F)
    holds = np.stack([near & locking, far])
    for held, bone, node, dx, y in ((0, _NEAR, _N, at.dx_near, at.y_near), (1, _FAR, _F, at.dx_far, at.y_far)):
        _add(full, joint_blocks(cortex * holds[held][:, None, None], rigid_arms(dx, y)), bone, node)
    if clamped:
        _add_patches(full, patch, at, near)
    spare = np.repeat(np.stack([~locking, ~passes_far], axis=1), 3, axis=1).astype(float)
    diagonal = np.arange(9, 15)
    full[:, :, diagonal, diagonal] += spare
    recovery = np.linalg.solve(full[..., 9:, 9:], full[..., 9:, :9])
    stiffness = full[..., :9, :9] - full[..., :9, 9:] @ recovery
    return ScrewJoints(screws, at, stiffness, recovery, locking, holds, cortex, patch, (to_near, to_far))


def _add_patches(full: Array, patch: Array, at: ScrewGeometry, near: Array) -> None:
    """Clamped joints sit on the near fragment, or on the far one where the near cortex is not held."""
    plate_arm = rigid_arms(np.zeros_like(at.cortex), at.y_surface - at.y_plate)
    for bone, dx, chosen in ((_NEAR, at.dx_near, near), (_FAR, at.dx_far, ~near)):
        blocks = joint_blocks(patch * chosen[:, None, None], plate_arm, rigid_arms(dx, at.y_surface))
        _add(full, blocks, _P, bone)


@dataclass(frozen=True, slots=True)
class ScrewForces:
    """Forces of all screws in one state (n each): pull along the screw (N, pulling out positive), shear at a clamped joint (N),
    bending moment of the shaft (N·mm, largest along it)."""

    pull: Array
    shear: Array
    moment: Array


def screw_forces(joints: ScrewJoints, nodes: Array) -> ScrewForces:
    """Read the forces from the displacements of the joint nodes `nodes` (2, n, 9): plate, near bone, far bone."""
    at = joints.geometry
    own = -(joints.recovery @ nodes[..., None])[..., 0]
    plate, near, far, n, f = nodes[..., _P], nodes[..., _NEAR], nodes[..., _FAR], own[..., :3], own[..., 3:]
    pull = np.zeros(len(joints.screws))
    for held, bone, node, dx, y in ((0, near, n, at.dx_near, at.y_near), (1, far, f, at.dx_far, at.y_far)):
        stretch = node - _move(rigid_arms(dx, y), bone)
        pull = pull + joints.holds[held] * joints.cortex_spring[0, :, 1, 1] * stretch[0, :, 1]
    shear = np.zeros(len(joints.screws))
    if not joints.locking.all():
        tie = _patch_force(joints, plate, near, far)
        shear = np.hypot(tie[0, :, 0], tie[1, :, 0])
        pull = pull + tie[0, :, 1]
    return ScrewForces(pull, shear, _largest_moment(joints, plate, n, f))


def _move(arm: Array, node: Array) -> Array:
    return np.asarray((arm @ node[..., None])[..., 0])


def _patch_force(joints: ScrewJoints, plate: Array, near: Array, far: Array) -> Array:
    at = joints.geometry
    on_near = np.array([s.near_fragment is not None for s in joints.screws])[:, None]
    bone = np.where(
        on_near, _move(rigid_arms(at.dx_near, at.y_surface), near), _move(rigid_arms(at.dx_far, at.y_surface), far)
    )
    slip = _move(rigid_arms(np.zeros_like(at.cortex), at.y_surface - at.y_plate), plate) - bone
    return _move(joints.patch, slip)


def _largest_moment(joints: ScrewJoints, plate: Array, n: Array, f: Array) -> Array:
    at, (to_near, to_far) = joints.geometry, joints.beams
    largest = np.zeros(len(joints.screws))
    for stiffness, i, j, dy in ((to_near, plate, n, at.y_near - at.y_plate), (to_far, n, f, at.y_far - at.y_near)):
        arm = rigid_arms(np.zeros_like(dy), dy)
        at_j = _move(stiffness, j - _move(arm, i))
        at_i = _move(np.swapaxes(arm, -1, -2), at_j)
        for end in (at_i, at_j):
            largest = np.maximum(largest, np.hypot(end[0, :, 2], end[1, :, 1]))
    return largest
