"""How each screw ties the plate to the bone, and which forces it carries.

A locking screw is a round beam fixed in the mid-plane of the plate, which runs to the middle of the near cortex and of
the far cortex. Each cortex holds it by a spring of modulus × cortex thickness (N/mm, along and across the screw) and by
one of modulus × thickness³/12 (N·mm/rad) against turning. A clamped screw presses the plate on the bone: the patch of
bone under the hole, one cortex deep, is the joint. The nodes of the screw itself are eliminated (static condensation),
for all joints of a construct at once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.mechanics.layout import Layout
from app.mechanics.members import BoolArray, JointBlocks, joint_blocks, rigid_arms, screw_stiffness
from app.mechanics.model import Construct, Screw
from app.mechanics.sections import Array, bone_at, bone_depth

_P, _NEAR, _FAR, _N, _F = (slice(3 * k, 3 * k + 3) for k in range(5))
_ENDS = ((_P, _N), (_N, _F), (_NEAR, _N), (_FAR, _F))


def thread_shape_factor(thread_mm: float, core_mm: float, pitch_mm: float) -> float:
    """Thread shape factor TSF = 0.5 + 0.57735·d/p of Chapman's pull-out formula, dimensionless.

    The thread depth is d = (D − core)/2 with the thread diameter D, p is the pitch (all in mm), and 0.57735 = tan 30°.
    Source: Chapman JR et al., J Biomech Eng 1996;118:391-398 (formula from memory, abstract read).
    """
    return 0.5 + 0.57735 * (thread_mm - core_mm) / 2.0 / pitch_mm


def pull_out_n(
    thread_mm: float, core_mm: float, pitch_mm: float, engaged_mm: float, shear_strength_mpa: float
) -> float:
    """Predicted pull-out force F = S·(L·π·D)·TSF (N).

    D is the thread diameter `thread_mm`, L the engaged length `engaged_mm` (mm), S the shear strength of the bone
    `shear_strength_mpa` (MPa), and TSF the thread shape factor. Source: Chapman JR et al., J Biomech Eng
    1996;118:391-398 (formula from memory, abstract read).
    """
    shape = thread_shape_factor(thread_mm, core_mm, pitch_mm)
    return shear_strength_mpa * engaged_mm * np.pi * thread_mm * shape


@dataclass(frozen=True, slots=True)
class ScrewGeometry:
    """Where the joints of n screws lie; every array has the shape (n,) and is in mm.

    Attributes:
        y_plate: height y of the mid-plane of the plate.
        y_near: height y of the middle of the near cortex.
        y_far: height y of the middle of the far cortex.
        y_surface: height y of the bone surface under the plate.
        dx_near: offset along s of the screw from the bone node that its near side is tied to.
        dx_far: offset along s of the screw from the bone node that its far side is tied to.
        cortex: thickness of the cortex.
    """

    y_plate: Array
    y_near: Array
    y_far: Array
    y_surface: Array
    dx_near: Array
    dx_far: Array
    cortex: Array


@dataclass(frozen=True, slots=True)
class ScrewJoints:
    """Condensed joints of the n screws that hold bone, over (plate node, near bone node, far bone node).

    Attributes:
        screws: the screws, in the order of the arrays.
        geometry: where the joints lie.
        stiffness: stiffness over the nine unknowns of the three nodes in each plane; shape (2, n, 9, 9).
        recovery: gives back the unknowns of the screw's own two cortex nodes, as −recovery·d; shape (2, n, 6, 9).
        links: parts of a locking screw (shaft to near cortex, shaft on to far cortex, near cortex, far cortex); shape
            (2, 4, n, 3, 3).
        arms: rigid arms of those parts at their first node; shape (2, 4, n, 3, 3).
        patch: springs of the pressed patches of the other screws, shape (2, n, 3, 3); None where all screws lock.
    """

    screws: tuple[Screw, ...]
    geometry: ScrewGeometry
    stiffness: Array
    recovery: Array
    links: Array
    arms: Array
    patch: Array | None


def plate_height(construct: Construct, s_mm: Array) -> Array:
    """Height of the plate's mid-plane over the bone axis at `s_mm` (mm): depth/2 + stand-off + thickness/2."""
    plate = construct.plate
    return bone_depth(construct.bone, s_mm) / 2.0 + plate.standoff_mm + plate.thickness_mm / 2.0


def _bone_node(layout: Layout, hole: int, s_mm: float, fragment: int | None) -> float:
    if fragment is None:
        return s_mm
    chain = layout.chains[fragment]
    if hole in chain.holes:
        return chain.bone_mm[chain.holes.index(hole)]
    line = next(k for k, nodes in enumerate(layout.lines) if hole in nodes.holes)
    return layout.chains[line].end_mm if fragment <= line else layout.chains[line + 1].start_mm


def _far_held(screw: Screw) -> int | None:
    """Fragment that the far side of the joint is tied to; None where it is tied to none.

    Only a bicortical locking screw reaches the far side, or a clamped one whose near cortex is not held.
    """
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
    height = at.depth / 2.0 + construct.plate.standoff_mm + construct.plate.thickness_mm / 2.0
    return ScrewGeometry(height, middle, -middle, at.depth / 2.0, s - np.array(near), s - np.array(far), wall)


def cortex_springs(modulus_mpa: float, cortex: Array) -> Array:
    """Springs of one cortex, shape (2, n, 3, 3): E·t (N/mm) against displacement, E·t³/12 (N·mm/rad) against turning.

    E is `modulus_mpa` (MPa), t the thickness `cortex` (mm), shape (n,).
    """
    out = np.zeros((2, len(cortex), 3, 3))
    slide, turn = modulus_mpa * cortex, modulus_mpa * cortex**3 / 12.0
    out[0, :, 0, 0] = out[0, :, 1, 1] = out[1, :, 0, 0] = slide
    out[0, :, 2, 2] = out[1, :, 1, 1] = out[1, :, 2, 2] = turn
    return out


def patch_springs(construct: Construct, cortex: Array) -> Array:
    """Springs of the pressed patch of bone, plate width b × hole length l and one cortex t deep; shape (2, n, 3, 3).

    E·b·l/t acts across the surface and G·b·l/t along it (N/mm); the same, spread over the patch (·l²/12, ·b²/12), acts
    against turning (N·mm/rad). `cortex` is t (mm), shape (n,).
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
    full[..., j, i] += blocks.ij.swapaxes(-1, -2)
    full[..., j, j] += blocks.jj


def build_screw_joints(construct: Construct, layout: Layout) -> ScrewJoints:
    """Joints of every screw that holds some bone, condensed to the plate node and the two bone nodes."""
    screws = tuple(s for s in construct.screws if s.near_fragment is not None or s.far_fragment is not None)
    at = screw_geometry(construct, layout, screws)
    shaft, reach = _locking_parts(screws)
    links, arms = _links(construct, screws, at, shaft)
    parts = joint_blocks(links, arms)
    own, tied = _own_nodes(parts, reach)
    recovery = np.linalg.solve(own, tied).astype(np.float64, copy=False)
    stiffness: Array = -tied.swapaxes(-1, -2) @ recovery
    for part, k in ((_P, 0), (_NEAR, 2), (_FAR, 3)):
        stiffness[..., part, part] += parts.ii[:, k]
    patch = None
    if not reach[0].all():
        patch = patch_springs(construct, at.cortex) * ~reach[0][:, None, None]
        _add_patches(stiffness, patch, at, np.array([s.near_fragment is not None for s in screws]))
    return ScrewJoints(screws, at, stiffness, recovery, links, arms, patch)


def _own_nodes(parts: JointBlocks, reach: BoolArray) -> tuple[Array, Array]:
    """Stiffness of the two cortex nodes (2, n, 6, 6), and their coupling to plate, near and far bone node (2, n, 6, 9).

    A node that the shaft does not reach gets a unit diagonal.
    """
    count = reach.shape[1]
    own, tied = np.zeros((2, count, 6, 6)), np.zeros((2, count, 6, 9))
    across = parts.ij.swapaxes(-1, -2)
    own[..., :3, :3] = parts.jj[:, 0] + parts.ii[:, 1] + parts.jj[:, 2]
    own[..., 3:, 3:] = parts.jj[:, 1] + parts.jj[:, 3]
    own[..., :3, 3:], own[..., 3:, :3] = parts.ij[:, 1], across[:, 1]
    tied[..., :3, _P], tied[..., :3, _NEAR], tied[..., 3:, _FAR] = across[:, 0], across[:, 2], across[:, 3]
    diagonal = np.arange(6)
    own[:, :, diagonal, diagonal] += np.repeat(~reach, 3, axis=0).T
    return own, tied


def _locking_parts(screws: tuple[Screw, ...]) -> tuple[BoolArray, BoolArray]:
    """Which of the four links each screw has (4, n), and to which cortex its shaft runs (2, n)."""
    rows = [
        (locking, far, locking and s.near_fragment is not None, far and s.far_fragment is not None)
        for s in screws
        for locking, far in ((s.kind.startswith("locking"), s.kind == "locking-2"),)
    ]
    links = np.array(rows, dtype=bool).reshape(-1, 4).T
    return links, links[:2]


def _links(construct: Construct, screws: tuple[Screw, ...], at: ScrewGeometry, has: BoolArray) -> tuple[Array, Array]:
    metal = np.array([(s.modulus_mpa, s.core_mm) for s in screws]).reshape(-1, 2).T
    level = np.array([at.y_plate, at.y_near, at.y_far])
    drop = level[:2] - level[1:]
    links = np.empty((2, 4, len(screws), 3, 3))
    links[:, :2] = screw_stiffness(drop, metal[0], metal[1])
    links[:, 2:] = cortex_springs(construct.bone.modulus_mpa, at.cortex)[:, None]
    links *= has[:, :, None, None]
    nothing = np.zeros_like(drop)
    dx = np.array([*nothing, at.dx_near, at.dx_far])
    return links, rigid_arms(dx, np.concatenate([-drop, level[1:]]))


def _add_patches(full: Array, patch: Array, at: ScrewGeometry, near: BoolArray) -> None:
    """Clamped joints sit on the near fragment, or on the far one where the near cortex is not held."""
    plate_arm = rigid_arms(np.zeros_like(at.cortex), at.y_surface - at.y_plate)
    for bone, dx, chosen in ((_NEAR, at.dx_near, near), (_FAR, at.dx_far, ~near)):
        if chosen.any():
            blocks = joint_blocks(patch * chosen[:, None, None], plate_arm, rigid_arms(dx, at.y_surface))
            _add(full, blocks, _P, bone)


@dataclass(frozen=True, slots=True)
class ScrewForces:
    """Forces of n screws in one state; every array has the shape (n,).

    `pull` is the force along the screw (N), pulling out positive; `shear_s` and `shear_z` the shear force at a clamped
    joint along the shaft and across it (N), with their sign; `moment` the largest bending moment along the shaft of a
    locking screw (N·mm).
    """

    pull: Array
    shear_s: Array
    shear_z: Array
    moment: Array


def screw_forces(joints: ScrewJoints, nodes: Array) -> ScrewForces:
    """Screw forces from the displacements `nodes` of the joint nodes (plate, near bone, far bone); shape (2, n, 9)."""
    own = -(joints.recovery @ nodes[..., None])[..., 0]
    every = np.concatenate([nodes, own], axis=-1)
    i = np.array([every[..., a] for a, _ in _ENDS]).swapaxes(0, 1)
    j = np.array([every[..., b] for _, b in _ENDS]).swapaxes(0, 1)
    at_j = _move(joints.links, j - _move(joints.arms, i))
    at_i = _move(joints.arms[:, :2].swapaxes(-1, -2), at_j[:, :2])
    bends = [np.hypot(end[0, :, :, 2], end[1, :, :, 1]) for end in (at_i, at_j[:, :2])]
    pull, shear = at_j[0, 2:, :, 1].sum(axis=0), np.zeros((2, len(joints.screws)))
    if joints.patch is not None:
        tie = _patch_force(joints, joints.patch, *(nodes[..., part] for part in (_P, _NEAR, _FAR)))
        pull, shear = pull + tie[0, :, 1], tie[:, :, 0]
    return ScrewForces(pull, shear[0], shear[1], np.maximum(*bends).max(axis=0))


def _move(arm: Array, node: Array) -> Array:
    return np.asarray((arm @ node[..., None])[..., 0])


def _patch_force(joints: ScrewJoints, patch: Array, plate: Array, near: Array, far: Array) -> Array:
    at = joints.geometry
    on_near = np.array([s.near_fragment is not None for s in joints.screws])[:, None]
    bone = np.where(
        on_near, _move(rigid_arms(at.dx_near, at.y_surface), near), _move(rigid_arms(at.dx_far, at.y_surface), far)
    )
    slip = _move(rigid_arms(np.zeros_like(at.cortex), at.y_surface - at.y_plate), plate) - bone
    return _move(patch, slip)
