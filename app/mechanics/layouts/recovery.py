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
from app.mechanics.screw_joints import moment_levers, pull_out_n, pull_rows
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
    ladder: Ladder, planes: tuple[Sides, Sides], right: bool, combine: tuple[Array, Array], picked: slice
) -> SideMaps:
    """The maps of some layouts of one side.

    `combine` (c, a) says for each plane what the a weights in z make of the c load columns.
    """
    fronts = tuple(sides.right if right else sides.left for sides in planes)
    nodes = tuple(front.maps(weights, picked) for front, weights in zip(fronts, combine, strict=True))
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


def _by_heads(maps: SideMaps, n: int) -> IntArray:
    """Number of the variant of plate member n in every layout of the side; shape (layouts,)."""
    out = np.zeros(maps.size, dtype=np.intp)
    for k, hole in enumerate(maps.ladder.heads(n)):
        out += maps.bit(hole) << k
    return out


def member_forces(maps: SideMaps, n: int, plane: int) -> Array:
    """End forces at node j of plate member n, in its own axes, as a map of z; shape (layouts, 3, z)."""
    ladder = maps.ladder
    plate, (i, j) = ladder.plate, ladder.ends[n]
    stretch = maps.nodes[plane][j] - plate.arm[plane, n] @ maps.nodes[plane][i]
    if plane == 0:
        for line, shape in enumerate(ladder.shapes[:, n]):
            at = maps.direct.get(("bent", line))
            if at is not None and shape.any():
                stretch[:, :, at] -= shape
    stiff = np.stack([plate.turn[plane, n] @ members.stiffness[plane, n] for members in ladder.variants(n)])
    return np.asarray(stiff[_by_heads(maps, n)] @ stretch)


def peak_stress(maps: SideMaps, z: tuple[Array, Array | None]) -> Array:
    """Highest stress in the side's part of the plate, as `plate_stress` has it; shape (layouts, partners).

    `z` holds, for each plane, what the maps are applied to; shape (layouts, z, partners). None: no load there.
    """
    best = np.zeros((maps.size, z[0].shape[2]))
    for n in own_members(maps):
        _member_peak(maps, n, z, best)
    return np.sqrt(best)


def _member_peak(maps: SideMaps, n: int, z: tuple[Array, Array | None], best: Array) -> None:
    """Raise `best`, the highest stress squared, to that of plate member n."""
    plate, spec = maps.ladder.plate, maps.ladder.group.construct.plate
    length = math.hypot(plate.s_j[n] - plate.s_i[n], plate.arm[0, n, 0, 2])
    half = spec.hole_length_mm / 2.0
    reach = np.array([length, length - half * plate.hole_i[n], half * plate.hole_j[n], 0.0])
    net = np.array([plate.hole_i[n] > 0, False, False, plate.hole_j[n] > 0])
    full, at_hole = (
        stress_factors(section(spec), spec.width_mm, spec.thickness_mm)
        for section in (full_plate_section, net_plate_section)
    )
    factor = np.where(net[:, None], at_hole, full)
    force = member_forces(maps, n, 0)
    bent = (force[:, 2:3] + reach[:, None] * force[:, 1:2]) * factor[:, 1, None]
    along = np.abs(np.concatenate([force[:, :1], bent], axis=1) @ z[0])
    across = None
    if z[1] is not None:
        force = member_forces(maps, n, 1)
        bent = (force[:, 2:3] - reach[:, None] * force[:, 0:1]) * factor[:, 2, None]
        across = np.abs(np.concatenate([force[:, 1:2], bent], axis=1) @ z[1])
    pressed = {value: along[:, 0] * value for value in set(factor[:, 0].tolist())}
    twisted = {} if across is None else {v: 3.0 * (across[:, 0] * v) ** 2 for v in set(factor[:, 3].tolist())}
    for section in range(4):
        stress = along[:, 1 + section] + pressed[float(factor[section, 0])]
        if across is not None:
            stress += across[:, 1 + section]
        stress *= stress
        if across is not None:
            stress += twisted[float(factor[section, 3])]
        np.maximum(best, stress, out=best)


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
    ladder = maps.ladder
    joints, construct = ladder.joints, ladder.group.construct
    pulls, levers = pull_rows(joints), moment_levers(joints)
    shape = (maps.size, z[0].shape[2])
    found = ScrewMaxima(np.zeros(shape), np.zeros(shape))
    for n in own_screws(maps):
        screw = joints.screws[n]
        hole = screw.hole_number - 1
        there = np.flatnonzero(maps.bit(hole)) if hole in ladder.group.free else np.arange(maps.size)
        held = capacity(construct, screw, float(joints.geometry.cortex[n]))
        along = _joint_map(maps, n, 0, there)
        if held is not None:
            pull = _applied(pulls[n] @ along, z[0], there)
            if not screw.kind.startswith("locking"):
                pull = np.maximum(pull, screw.clamp_force_n)
                if screw.id in lag_pull:
                    pull = np.maximum(pull, lag_pull[screw.id][there])
            found.pull_out[there] = np.maximum(found.pull_out[there], np.abs(pull) / held)
        if screw.kind.startswith("locking"):
            moment = _applied_rows(levers[0][n] @ along, z[0], there)
            if z[1] is None:
                most = np.abs(moment).max(axis=1)
            else:
                moment *= moment
                other = _applied_rows(levers[1][n] @ _joint_map(maps, n, 1, there), z[1], there)
                other *= other
                moment += other
                most = np.sqrt(moment.max(axis=1))
            bending = most * (32.0 / (math.pi * screw.core_mm**3) / screw.yield_mpa)
            found.bending[there] = np.maximum(found.bending[there], bending)
    return found


def _applied(rows: Array, z: Array, there: IntArray) -> Array:
    return np.asarray((rows[:, None, :] @ _of(z, there))[:, 0])


def _applied_rows(rows: Array, z: Array, there: IntArray) -> Array:
    return np.asarray(rows @ _of(z, there))


def _of(z: Array, there: IntArray) -> Array:
    return z if len(there) == len(z) else z[there]


def _joint_map(maps: SideMaps, n: int, plane: int, there: IntArray) -> Array:
    """Displacements of a joint's three nodes, less the eccentric shift, as a map of z; (len(there), 9, z)."""
    screw = maps.ladder.joints.screws[n]
    nodes = maps.ladder.screw_nodes(n)
    some = maps.nodes[plane][nodes[0]]
    zero = np.zeros((len(there), *some.shape[1:]))
    out = np.concatenate([zero if node is None else maps.nodes[plane][node][there] for node in nodes], axis=1)
    if plane == 0:
        for row, fragment in ((3, screw.near_fragment or 0), (6, screw.far_fragment or 0)):
            at = maps.direct.get(("shift", fragment))
            if at is not None:
                out[:, row, at] -= 1.0
    return out


def capacity(construct: Construct, screw: Screw, wall: float) -> float | None:
    """Pull-out force of the cortices that a screw in a hole grips (N); None where it grips none."""
    far = screw.far_fragment is not None and screw.kind != "locking-1"
    near = screw.near_fragment is not None and screw.kind != "lag"
    if not near + far:
        return None
    strength = construct.bone.shear_strength_mpa
    return pull_out_n(screw.thread_mm, screw.core_mm, screw.pitch_mm, wall * (near + far), strength)
