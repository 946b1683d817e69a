"""Plate stress and screw forces of all pairs of layouts, linear in a few figures of each pair.

On one side of the line everything is linear in z: the weights of the load columns, the forces at the faces, and the
unknowns of the front. Each layout of a side has its own small matrix, which all its partners share. Units are N, mm,
MPa and radians.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from app.mechanics.layouts.front import Front, Node
from app.mechanics.layouts.ladder import Column, Ladder
from app.mechanics.layouts.pairs import Sides
from app.mechanics.members import BoolArray, IntArray
from app.mechanics.model import Construct, Screw
from app.mechanics.plate_stress import stress_factors
from app.mechanics.screw_joints import pull_out_n
from app.mechanics.sections import Array, full_plate_section, net_plate_section


@dataclass(frozen=True, slots=True)
class SideMaps:
    """One side of the line in both planes.

    Attributes:
        ladder: the group.
        fronts: the side's front in both planes.
        nodes: displacements of the side's nodes in each plane as maps of z; each of shape (layouts, 3, z).
        direct: what else in z moves something, by load column: its place in z, in-plane.
        picked: which layouts of the fronts these are.
    """

    ladder: Ladder
    fronts: tuple[Front, Front]
    nodes: tuple[dict[Node, Array], dict[Node, Array]]
    direct: dict[Column, int]
    picked: slice

    @property
    def size(self) -> int:
        """Number of layouts."""
        return len(next(iter(self.nodes[0].values())))

    def bit(self, hole: int) -> BoolArray:
        """In which layouts a hole is filled; shape (layouts,)."""
        return self.fronts[0].bit(hole)[self.picked]


def side_maps(
    ladder: Ladder,
    planes: tuple[Sides, Sides],
    right: bool,
    combine: tuple[Array, Array],
    picked: slice,
    moved: tuple[Array, Array] | None = None,
) -> SideMaps:
    """The maps of some layouts of one side.

    `combine` (c, a) says for each plane what the a weights in z make of the c load columns. Where it is known how far
    the front has `moved`, as `Front.maps` has it, z is the weights alone.
    """
    fronts = tuple(sides.right if right else sides.left for sides in planes)
    known = moved or (None, None)
    nodes = tuple(front.maps(weights, picked, own) for front, weights, own in zip(fronts, combine, known, strict=True))
    direct: dict[Column, int] = {}
    for k, column in enumerate(planes[0].columns):
        if column[0] in ("shift", "bent"):
            used = np.flatnonzero(combine[0][k])
            if len(used):
                direct[column] = int(used[0])
    return SideMaps(ladder, fronts, nodes, direct, picked)  # type: ignore[arg-type]


def own_members(maps: SideMaps) -> list[int]:
    """Plate members of the side."""
    members = range(len(maps.ladder.plate.chain))
    return [n for n in members if maps.nodes[0].keys() >= set(maps.ladder.ends[n])]


def _by_heads(maps: SideMaps, members: list[int]) -> IntArray:
    """Which of the ladder's plates each member is of in every layout of the side; shape (members, layouts)."""
    out = np.zeros((len(members), maps.size), dtype=np.intp)
    for row, n in enumerate(members):
        for hole in maps.ladder.heads[n]:
            out[row] |= maps.bit(hole) << (hole % 2)
    return out


def member_forces(maps: SideMaps, members: list[int], plane: int) -> Array:
    """End forces at node j of plate members, in their own axes, as maps of z; shape (members, layouts, 3, z)."""
    ladder, nodes = maps.ladder, maps.nodes[plane]
    i, j = (np.array([nodes[ladder.ends[n][end]] for n in members]) for end in (0, 1))
    stretch = j - ladder.plate.arm[plane, members][:, None] @ i
    if plane == 0:
        for line, shapes in enumerate(ladder.shapes):
            at = maps.direct.get(("bent", line))
            if at is not None:
                stretch[..., at] -= shapes[members][:, None]
    stiff = np.array([plate.turn[plane, members] @ plate.stiffness[plane, members] for plate in ladder.plates])
    return np.asarray(stiff[_by_heads(maps, members), np.arange(len(members))[:, None]] @ stretch)


@dataclass(frozen=True, slots=True)
class _Sections:
    """Four sections of each of m plate members of a side, as `plate_stress` has them.

    Attributes:
        factor: stress per force and moment (N, M_z, M_y, T); shape (members, 4, 4).
        along: normal force and then what bending in-plane makes at the sections, as maps of z; (m, layouts, 5, z).
        across: the same for torque and bending out-of-plane; None where nothing acts there.
    """

    factor: Array
    along: Array
    across: Array | None


def _sections(maps: SideMaps, members: list[int], acts_across: bool) -> _Sections:
    plate, spec = maps.ladder.plate, maps.ladder.group.construct.plate
    length = np.hypot(plate.s_j - plate.s_i, plate.arm[0, :, 0, 2])[members]
    hole_i, hole_j = plate.hole_i[members], plate.hole_j[members]
    half, none = spec.hole_length_mm / 2.0, np.zeros(len(members))
    reach = np.array([length, length - half * hole_i, half * hole_j, none]).T
    net = np.array([hole_i, none, none, hole_j]).T > 0.0
    full, at_hole = (
        stress_factors(section(spec), spec.width_mm, spec.thickness_mm)
        for section in (full_plate_section, net_plate_section)
    )
    factor = np.where(net[..., None], at_hole, full)
    reach = reach[:, None, :, None]
    force = member_forces(maps, members, 0)
    bent = (force[:, :, 2:3] + reach * force[:, :, 1:2]) * factor[:, None, :, 1, None]
    along = np.concatenate([force[:, :, :1], bent], axis=2)
    if not acts_across:
        return _Sections(factor, along, None)
    force = member_forces(maps, members, 1)
    bent = (force[:, :, 2:3] - reach * force[:, :, 0:1]) * factor[:, None, :, 2, None]
    return _Sections(factor, along, np.concatenate([force[:, :, 1:2], bent], axis=2))


def peak_stress(maps: SideMaps, z: tuple[Array, Array | None]) -> Array:
    """Highest stress in the side's part of the plate, as `plate_stress` has it; shape (layouts, partners).

    `z` holds, for each plane, what the maps are applied to; shape (layouts, z, partners). None: no load there.
    """
    members, partners = own_members(maps), z[0].shape[2]
    best = np.zeros((maps.size, partners))
    if members:
        sections, step = _sections(maps, members, z[1] is not None), len(members) if partners == 1 else 1
        for first in range(0, len(members), step):
            _raise_to(best, sections, slice(first, first + step), z)
    return np.sqrt(best)


def _raise_to(best: Array, sections: _Sections, some: slice, z: tuple[Array, Array | None]) -> None:
    """Raise `best`, the highest stress squared, to that of some plate members."""
    factor, across = sections.factor[some], None
    along = np.abs(sections.along[some] @ z[0])
    if sections.across is not None and z[1] is not None:
        across = np.abs(sections.across[some] @ z[1])
    kinds: dict[bytes, tuple[Array, Array | None]] = {}
    for section in range(4):
        of = factor[
            :, section, 0
        ].tobytes()  # sections alike, as those between holes are, are pressed and twisted alike
        if of not in kinds:
            pressed, twist = along[:, :, 0] * factor[:, section, 0, None, None], factor[:, section, 3, None, None]
            kinds[of] = pressed, None if across is None else 3.0 * (across[:, :, 0] * twist) ** 2
        pressed, twisted = kinds[of]
        stress = along[:, :, 1 + section] + pressed
        if across is not None:
            stress += across[:, :, 1 + section]
        stress *= stress
        if twisted is not None:
            stress += twisted
        np.maximum(best, stress.max(axis=0) if len(stress) > 1 else stress[0], out=best)


def own_screws(maps: SideMaps) -> list[int]:
    """Joints of the side; one between nodes of the front alone is told by both, alike."""
    joints = range(len(maps.ladder.joints.screws))
    return [n for n in joints if maps.nodes[0].keys() >= set(maps.ladder.screw_nodes(n)) - {None}]


@dataclass(frozen=True, slots=True)
class ScrewMaxima:
    """Highest shares of capacity over all screws, each of shape (layouts, partners); 0 where no screw has one."""

    pull_out: Array
    bending: Array


def screw_maxima(maps: SideMaps, z: tuple[Array, Array | None], lag_pull: dict[str, Array]) -> ScrewMaxima:
    """Highest pull-out and bending share among the side's screws, as `forces.screw_answers` has them.

    `z` is as in `peak_stress`; `lag_pull` is the tension of the lag screws (N) by name, shape (layouts, partners).
    """
    ladder, own = maps.ladder, own_screws(maps)
    joints, construct = ladder.joints, ladder.group.construct
    shape = (maps.size, z[0].shape[2])
    found = ScrewMaxima(np.zeros(shape), np.zeros(shape))
    if not own:
        return found
    along, levers = _joint_maps(maps, own, 0), ladder.levers[:, own, None]
    pulls, bends = ladder.pulls[own, None, None] @ along, levers[0] @ along
    aside = None if z[1] is None else levers[1] @ _joint_maps(maps, own, 1)
    for row, n in enumerate(own):
        screw = joints.screws[n]
        hole = screw.hole_number - 1
        there = np.flatnonzero(maps.bit(hole)) if hole in ladder.group.free else np.arange(maps.size)
        held = capacity(construct, screw, float(joints.geometry.cortex[n]))
        if held is not None:
            pull = _applied(pulls[row], z[0], there)[:, 0]
            if not screw.kind.startswith("locking"):
                pull = np.maximum(pull, screw.clamp_force_n)
                if screw.id in lag_pull:
                    pull = np.maximum(pull, lag_pull[screw.id][there])
            found.pull_out[there] = np.maximum(found.pull_out[there], np.abs(pull) / held)
        if screw.kind.startswith("locking"):
            moment = _applied(bends[row], z[0], there)
            if aside is None or z[1] is None:
                most = np.abs(moment).max(axis=1)
            else:
                moment *= moment
                other = _applied(aside[row], z[1], there)
                other *= other
                moment += other
                most = np.sqrt(moment.max(axis=1))
            bending = most * (32.0 / (math.pi * screw.core_mm**3) / screw.yield_mpa)
            found.bending[there] = np.maximum(found.bending[there], bending)
    return found


def _applied(rows: Array, z: Array, there: IntArray) -> Array:
    return np.asarray(rows @ z if len(there) == len(z) else rows[there] @ z[there])


def _joint_maps(maps: SideMaps, own: list[int], plane: int) -> Array:
    """Displacements of the joints' three nodes, less the eccentric shift, as maps of z; (joints, layouts, 9, z)."""
    nodes = maps.nodes[plane]
    zero = np.zeros_like(next(iter(nodes.values())))
    out = np.empty((len(own), maps.size, 9, zero.shape[2]))
    for row, n in enumerate(own):
        for k, node in enumerate(maps.ladder.screw_nodes(n)):
            out[row, :, 3 * k : 3 * k + 3] = zero if node is None else nodes[node]
        screw = maps.ladder.joints.screws[n]
        for place, fragment in ((3, screw.near_fragment or 0), (6, screw.far_fragment or 0)):
            at = maps.direct.get(("shift", fragment))
            if plane == 0 and at is not None:
                out[row, :, place, at] -= 1.0
    return out


def capacity(construct: Construct, screw: Screw, wall: float) -> float | None:
    """Pull-out force of the cortices that a screw in a hole grips (N); None where it grips none."""
    far = screw.far_fragment is not None and screw.kind != "locking-1"
    near = screw.near_fragment is not None and screw.kind != "lag"
    if not near + far:
        return None
    strength = construct.bone.shear_strength_mpa
    return pull_out_n(screw.thread_mm, screw.core_mm, screw.pitch_mm, wall * (near + far), strength)
