"""How each screw ties the plate to the bone, and which forces it carries.

The head of a locking screw is rigid in its plate. From the plate's underside on, the screw is a round beam that runs
through the near cortex, the canal and the far cortex. In each cortex it is a beam on an elastic foundation of
k = κ·E N/mm² (E: modulus of the bone), as much along the screw, where the thread holds, as across it, and the bone
holds it against turning about its own axis; the foundation is lumped at the ends of equal parts of the cortex, the
screw's own nodes. A clamped screw presses the plate on the bone: the patch of bone under the hole, one cortex deep, is
the joint.

The forces p between a locking screw and the bone follow from the flexibility method, for all joints of a construct at
once: (F + 1/k)·p = g, where F is the flexibility of the shaft built into its head and g how far the nodes, carried
along by the head, would stand from the bone. Nothing is taken from anything nearly as great, so that a shaft of no
length (no stand-off, or a canal that is closed) costs no digits.

Source of the foundation: Hetényi, Beams on Elastic Foundation (theory, from memory); κ between 0.2 and 1 is assumed, 1
as for bone that is bonded to the screw, which own solid finite elements of bridged plates had (see the tests).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.mechanics.layout import Layout
from app.mechanics.members import BoolArray, JointBlocks, joint_blocks, rigid_arms
from app.mechanics.model import Construct, Screw
from app.mechanics.sections import Array, bone_at, bone_depth

CORTEX_PARTS = 4  # of one cortex; twice as many change stiffness by less than a hundredth
_P, _NEAR, _FAR = (slice(3 * k, 3 * k + 3) for k in range(3))
_NODES = 2 * (CORTEX_PARTS + 1)  # of a screw: in the near cortex from outside in, in the far one from inside out
_INNER = CORTEX_PARTS + 1  # the first node in the far cortex


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
    """Where the joints of n screws lie; every array has the shape (n,) unless said otherwise, and is in mm.

    Attributes:
        y_plate: height y of the mid-plane of the plate.
        y_under: height y of the plate's underside, where the shaft of a locking screw begins.
        y_nodes: heights y of a locking screw's own nodes, from the outside of the near cortex to that of the far one;
            shape (nodes, n).
        y_surface: height y of the bone surface under the plate.
        dx_near: offset along s of the screw from the bone node that its near side is tied to.
        dx_far: offset along s of the screw from the bone node that its far side is tied to.
        cortex: thickness of the cortex.
    """

    y_plate: Array
    y_under: Array
    y_nodes: Array
    y_surface: Array
    dx_near: Array
    dx_far: Array
    cortex: Array

    @property
    def reach(self) -> Array:
        """How far a locking screw's own nodes lie from the plate's underside, where its shaft begins; (nodes, n)."""
        return np.asarray(self.y_under - self.y_nodes)


@dataclass(frozen=True, slots=True)
class ScrewJoints:
    """Condensed joints of the n screws that hold bone, over (plate node, near bone node, far bone node).

    Attributes:
        screws: the screws, in the order of the arrays.
        geometry: where the joints lie.
        stiffness: stiffness over the nine unknowns of the three nodes in each plane; shape (2, n, 9, 9).
        springs: foundation at a locking screw's own nodes: one for all directions (N/mm) and one against turning about
            the screw's axis (N·mm/rad); 0 where it holds no bone; shape (2, n, nodes).
        hold: what the screw puts on the bone there, per unknown of the three nodes: forces along s, along the screw
            (pulling out positive) and along z, and the torque about its axis; shape (4, n, nodes, 9).
        patch: springs of the pressed patches of the other screws, shape (2, n, 3, 3); None where all screws lock.
    """

    screws: tuple[Screw, ...]
    geometry: ScrewGeometry
    stiffness: Array
    springs: Array
    hold: Array
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
    surface = at.depth / 2.0
    under = surface + construct.plate.standoff_mm
    in_wall = np.linspace(0.0, 1.0, CORTEX_PARTS + 1)[:, None] * wall
    nodes = np.concatenate([surface - in_wall, wall - surface - in_wall])
    middle = under + construct.plate.thickness_mm / 2.0
    return ScrewGeometry(middle, under, nodes, surface, s - np.array(near), s - np.array(far), wall)


def foundation(construct: Construct, cortex: Array, core_mm: Array) -> Array:
    """Springs of the bone at the nodes in one cortex, for all directions (N/mm) and against turning (N·mm/rad).

    κ·E·l across the screw and along it, and κ·4πG·r²·l about its axis, where l is the length of cortex that a node
    stands for: t/parts, and half of that at both ends. E and G are those of the bone, t the thickness `cortex` and 2r
    the core diameter `core_mm` (mm), both of shape (n,). The shape is (2, n, nodes in one cortex). A round bar turned
    by φ in an elastic body that it is bonded to takes the torque 4πG·r²·φ per length (the rings around it turn by
    φ·r²/ρ² at the radius ρ; theory of elasticity).
    """
    share = np.ones(CORTEX_PARTS + 1)
    share[[0, -1]] = 0.5
    length = construct.foundation * cortex[:, None] * share / CORTEX_PARTS
    turning = np.pi * construct.bone.shear_modulus_mpa * core_mm[:, None] ** 2
    return np.stack([construct.bone.modulus_mpa * length, turning * length])


def shaft_flexibility(reach: Array, modulus: Array, core_mm: Array) -> Array:
    """Flexibility of round shafts, built in at one end, between points on them: across, along and about; (3, n, k, k).

    With x the lesser and X the greater of two distances from the built-in end, x²·(3X − x)/(6EI), x/EA (mm/N) and x/GJ
    (1/(N·mm)) (Gere & Timoshenko, Mechanics of Materials; from memory); I = πd⁴/64, A = πd²/4, J = 2I, and G = E/2.6
    (ν = 0.3, metals). `reach` (n, k) holds the distances (mm); `modulus` is E (MPa), `core_mm` is d, both
    of shape (n,).
    """
    one, other = reach[:, :, None], reach[:, None, :]
    least, most = np.minimum(one, other), np.maximum(one, other)
    bending = (modulus * np.pi * core_mm**4 / 64.0)[:, None, None]
    area = (modulus * np.pi * core_mm**2 / 4.0)[:, None, None]
    return np.stack([least**2 * (3.0 * most - least) / (6.0 * bending), least / area, least * 2.6 / (2.0 * bending)])


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
    modulus, core = np.array([(s.modulus_mpa, s.core_mm) for s in screws]).reshape(-1, 2).T
    springs = np.tile(foundation(construct, at.cortex, core), 2) * _gripped(screws)
    apart = _apart(at)
    across, along, about = _held(springs[[0, 0, 1]], shaft_flexibility(at.reach.T, modulus, core))
    hold = np.stack([across, along, across, about]) @ apart
    each = apart.swapaxes(-1, -2) @ hold
    stiffness: Array = np.stack([each[0] + each[1], each[2] + each[3]])
    locking = np.array([s.kind.startswith("locking") for s in screws], dtype=bool)
    patch = None
    if not locking.all():
        patch = patch_springs(construct, at.cortex) * ~locking[:, None, None]
        _add_patches(stiffness, patch, at, np.array([s.near_fragment is not None for s in screws]))
    return ScrewJoints(screws, at, stiffness, springs, hold, patch)


def _gripped(screws: tuple[Screw, ...]) -> BoolArray:
    """At which of its own nodes a locking screw holds bone; shape (n, nodes)."""
    cortices = [
        (
            s.kind.startswith("locking") and s.near_fragment is not None,
            s.kind == "locking-2" and s.far_fragment is not None,
        )
        for s in screws
    ]
    return np.repeat(np.array(cortices, dtype=bool).reshape(-1, 2), _INNER, axis=1)


def _held(springs: Array, flexible: Array) -> Array:
    """Forces between screw and bone per displacement between them without the shaft's own: (F + 1/k)⁻¹; (…, k, k).

    As √k·(1 + √k·F·√k)⁻¹·√k, which is exact without a spring, too. `springs` has the shape (…, k).
    """
    root = np.sqrt(springs)
    inside = root[..., :, None] * flexible * root[..., None, :] + np.eye(springs.shape[-1])
    return np.asarray(root[..., :, None] * np.linalg.inv(inside) * root[..., None, :])


def _apart(at: ScrewGeometry) -> Array:
    """How far a screw's own nodes, carried along by its head, stand from the bone; shape (4, n, nodes, 9).

    Along s, along the screw and along z (mm), and turned about the screw (radians), per unknown of the plate node and
    of the near and the far bone node.
    """
    heights, count = at.y_nodes.T, len(at.y_plate)
    dx = np.repeat(np.array([at.dx_near, at.dx_far]).T, _INNER, axis=1)
    out = np.zeros((4, count, _NODES, 9))
    head = rigid_arms(np.zeros_like(heights), heights - at.y_plate[:, None])
    bone = rigid_arms(dx, heights)
    for k, (plane, row) in enumerate(((0, 0), (0, 1), (1, 0), (1, 2))):
        out[k, ..., _P] = head[plane, ..., row, :]
        out[k, :, :_INNER, _NEAR] = -bone[plane, :, :_INNER, row]
        out[k, :, _INNER:, _FAR] = -bone[plane, :, _INNER:, row]
    return out


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
    moment = np.hypot(*(moment_levers(joints) @ nodes[..., None])[..., 0]).max(axis=1, initial=0.0)
    pull = (joints.hold[1] @ nodes[0, ..., None]).sum(axis=(1, 2))
    tie = patch_forces(joints, nodes)
    return ScrewForces(pull + tie[0, :, 1], tie[0, :, 0], tie[1, :, 0], moment)


def moment_levers(joints: ScrewJoints) -> Array:
    """Bending moments along a locking screw's shaft per displacement of its joint nodes, in each plane; (2, n, …, 9).

    The shaft bends most at its nodes, or where it leaves its head at the plate's underside; its tip bears no moment.
    """
    reach = joints.geometry.reach.T
    levers = np.maximum(reach[:, None, :] - np.pad(reach[:, :-1], ((0, 0), (1, 0)))[:, :, None], 0.0)
    return np.stack([levers @ joints.hold[0], levers @ joints.hold[2]])


def pull_rows(joints: ScrewJoints) -> Array:
    """Force along each screw per in-plane displacement of its joint nodes, pulling out positive; shape (n, 9)."""
    rows, unit = joints.hold[1].sum(axis=1), np.zeros((2, len(joints.screws), 9))
    for k in range(9):
        unit[0, :, k] = 1.0
        rows[:, k] += patch_forces(joints, unit)[0, :, 1]
        unit[0, :, k] = 0.0
    return np.asarray(rows)


def patch_forces(joints: ScrewJoints, nodes: Array) -> Array:
    """Forces of the pressed patches of clamped joints from the displacements of their nodes; shape (2, n, 3).

    In-plane along s (N), across the surface (N) and the moment (N·mm), out-of-plane along z and the two moments; zero
    at locking screws. `nodes` is as in `screw_forces`.
    """
    if joints.patch is None:
        return np.zeros((2, len(joints.screws), 3))
    return _patch_force(joints, joints.patch, *(nodes[..., part] for part in (_P, _NEAR, _FAR)))


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
