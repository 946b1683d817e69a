"""The construct as two frames (in-plane and out-of-plane), assembled by fragment and joined at the fracture lines."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.mechanics.chain import CondensedFragment, FragmentBlocks, condense_fragment
from app.mechanics.layout import Layout, lay_out
from app.mechanics.members import (
    IntArray,
    JointBlocks,
    bone_pieces,
    joint_blocks,
    plate_pieces,
    rigid_arms,
    stepped_stiffness,
)
from app.mechanics.model import Construct
from app.mechanics.screw_joints import ScrewJoints, build_screw_joints, plate_height
from app.mechanics.sections import Array, bone_section

BONE_PIECES = 4
ECCENTRIC, PREBEND = 0, 1
_BONE, _PLATE = slice(0, 3), slice(3, 6)


@dataclass(frozen=True, slots=True)
class Members:
    """Members of one kind: the fragment chain they belong to (−1 − k: at line k), the station slots they join, ends (mm).

    `stiffness` and `arm` in shaft axes, `turn` from shaft to member axes, `kink` the unloaded bend θ_j − θ_i (radians).
    """

    chain: IntArray
    slot_i: IntArray
    slot_j: IntArray
    s_i: Array
    s_j: Array
    hole_i: Array
    hole_j: Array
    stiffness: Array
    arm: Array
    blocks: JointBlocks
    turn: Array
    kink: Array


@dataclass(frozen=True, slots=True)
class TopNodes:
    """Numbers of the nodes kept: bone ends, both faces and the plate nodes of each line; the last number is a spare."""

    proximal: int
    distal: int
    left: tuple[int, ...]
    right: tuple[int, ...]
    plate: tuple[tuple[int, ...], ...]
    count: int


@dataclass(frozen=True, slots=True)
class Frame:
    """A condensed construct: `stiffness` (2, m, m) over the kept nodes, `load` (2, m, 2) of eccentric shift and pre-bend."""

    construct: Construct
    layout: Layout
    top: TopNodes
    bone: Members
    plate: Members
    joints: ScrewJoints
    blocks: FragmentBlocks
    condensed: CondensedFragment
    ends: IntArray
    stiffness: Array
    load: Array


def number_top(layout: Layout) -> TopNodes:
    """Number the kept nodes from proximal to distal."""
    left, right, plate, number = [], [], [], 1
    for line in layout.lines:
        left.append(number)
        right.append(number + 1)
        plate.append(tuple(range(number + 2, number + 2 + len(line.plate_mm))))
        number += 2 + len(line.plate_mm)
    return TopNodes(0, number, tuple(left), tuple(right), tuple(plate), number + 2)


def _bone_members(construct: Construct, layout: Layout, stations: int) -> Members:
    rows = []
    for c, chain in enumerate(layout.chains):
        s = [chain.start_mm, *chain.bone_mm, chain.end_mm]
        first = stations - len(chain.holes)
        rows += [(c, 0 if k == 0 else first + k, first + k + 1, s[k], s[k + 1], 0, 0) for k in range(len(s) - 1)]
    table = np.array(rows, dtype=np.float64)
    s_i, s_j = table[:, 3], table[:, 4]
    length = s_j - s_i
    middles = s_i[:, None] + length[:, None] * ((np.arange(BONE_PIECES) + 0.5) / BONE_PIECES)
    pieces = bone_pieces(
        bone_section(construct.bone, middles),
        np.repeat(length[:, None] / BONE_PIECES, BONE_PIECES, axis=1),
        construct.bone.modulus_mpa,
        construct.bone.shear_modulus_mpa,
        construct.shear_flexible,
    )
    flat = np.zeros_like(length)
    return _members(table, stepped_stiffness(pieces), rigid_arms(length, flat), np.broadcast_to(np.eye(3), (2, len(length), 3, 3)), flat)


def _plate_members(construct: Construct, layout: Layout, stations: int) -> Members:
    holes, rows, last = construct.plate.hole_s_mm, [], len(layout.chains) - 1
    for c, chain in enumerate(layout.chains):
        first = stations - len(chain.holes)
        nodes = [(first + k + 1, holes[h], 1) for k, h in enumerate(chain.holes)]
        if c > 0:
            nodes.insert(0, (0, layout.lines[c - 1].plate_mm[-1], len(layout.lines[c - 1].holes) > 0))
        if c < last:
            nodes.append((stations + 1, layout.lines[c].plate_mm[0], len(layout.lines[c].holes) > 0))
        rows += [(c, a[0], b[0], a[1], b[1], a[2], b[2]) for a, b in zip(nodes, nodes[1:], strict=False)]
    for k, line in enumerate(layout.lines):
        s = line.plate_mm
        rows += [(-1 - k, n, n + 1, s[n], s[n + 1], 1, 1) for n in range(len(s) - 1)]
    table = np.array(rows, dtype=np.float64)
    heights = plate_height(construct, table[:, 3:5])
    rise = heights[:, 1] - heights[:, 0]
    run = table[:, 4] - table[:, 3]
    local = stepped_stiffness(plate_pieces(construct.plate, np.hypot(run, rise), table[:, 5], table[:, 6]))
    turn = _rotation(run, rise)
    kink = _kinks(construct, table, stations)
    return _members(table, np.swapaxes(turn, -1, -2) @ local @ turn, rigid_arms(run, rise), turn, kink)


def _rotation(run: Array, rise: Array) -> Array:
    """Turn shaft axes into member axes (2, n, 3, 3): (u, v) in-plane, (θx, θy) out-of-plane."""
    length = np.hypot(run, rise)
    cos, sin = run / length, rise / length
    out = np.zeros((2, len(run), 3, 3))
    out[0, :, 2, 2] = out[1, :, 0, 0] = 1.0
    for plane, a, b in ((0, 0, 1), (1, 1, 2)):
        out[plane, :, a, a] = out[plane, :, b, b] = cos
        out[plane, :, a, b] = sin
        out[plane, :, b, a] = -sin
    return out


def _members(table: Array, stiffness: Array, arm: Array, turn: Array, kink: Array) -> Members:
    chain, slot_i, slot_j = (table[:, k].astype(np.intp) for k in range(3))
    blocks = joint_blocks(stiffness, arm)
    s_i, s_j, hole_i, hole_j = table[:, 3:].T
    return Members(chain, slot_i, slot_j, s_i, s_j, hole_i, hole_j, stiffness, arm, blocks, turn, kink)


def _add_members(blocks: FragmentBlocks, members: Members, part: slice) -> None:
    inner = members.chain >= 0
    c, i, j = members.chain[inner], members.slot_i[inner], members.slot_j[inner]
    ii, ij, jj = (b[:, inner] for b in (members.blocks.ii, members.blocks.ij, members.blocks.jj))
    blocks.diagonal[:, c, i, part, part] += ii
    blocks.diagonal[:, c, j, part, part] += jj
    first = i == 0
    blocks.to_next[:, c[~first], i[~first], part, part] += ij[:, ~first]
    blocks.to_start[:, c[first], j[first], part, part] += np.swapaxes(ij[:, first], -1, -2)


def fragment_blocks(
    construct: Construct, layout: Layout, bone: Members, plate: Members, joints: ScrewJoints
) -> FragmentBlocks:
    """Stations of all fragments as one batch (2 planes, fragments, stations + 2, …)."""
    chains, stations = len(layout.chains), max(len(chain.holes) for chain in layout.chains)
    shape = (2, chains, stations + 2, 6)
    blocks = FragmentBlocks(np.zeros((*shape, 6)), np.zeros((*shape, 6)), np.zeros((*shape, 6)), np.zeros((*shape, 2)))
    for c, chain in enumerate(layout.chains):
        blocks.diagonal[:, c, 1 : stations - len(chain.holes) + 1] = np.eye(6)
    _add_members(blocks, bone, _BONE)
    _add_members(blocks, plate, _PLATE)
    _add_screws(construct, layout, blocks, joints, stations)
    _add_prebend(blocks, plate)
    return blocks


def screw_places(layout: Layout, joints: ScrewJoints, stations: int) -> list[tuple[int, int]]:
    """For each screw its (fragment, station slot), or (−1, hole index) where it stands at a fracture line."""
    places = {}
    for c, chain in enumerate(layout.chains):
        for k, hole in enumerate(chain.holes):
            places[hole] = (c, stations - len(chain.holes) + k + 1)
    return [places.get(s.hole_number - 1, (-1, s.hole_number - 1)) for s in joints.screws]


def _shift_load(construct: Construct, joints: ScrewJoints) -> Array:
    """Forces (n, 9) that move each fragment by its eccentric shift against the plate, in-plane."""
    shift = fragment_shifts(construct)
    free = np.zeros((len(joints.screws), 9, 1))
    for n, screw in enumerate(joints.screws):
        free[n, 3, 0] = shift[screw.near_fragment or 0]
        free[n, 6, 0] = shift[screw.far_fragment or 0]
    return np.asarray((joints.stiffness[0] @ free)[..., 0])


def fragment_shifts(construct: Construct) -> list[float]:
    """Sum of the eccentric shifts of each fragment's screws (mm, +s); a second one adds once the first is eased."""
    shift = [0.0] * construct.fragment_count
    for screw in construct.screws:
        held = screw.near_fragment if screw.near_fragment is not None else screw.far_fragment
        if held is not None:
            shift[held] += screw.shift_mm
    return shift


def _add_screws(
    construct: Construct, layout: Layout, blocks: FragmentBlocks, joints: ScrewJoints, stations: int
) -> None:
    places = np.array(screw_places(layout, joints, stations), dtype=np.intp).reshape(-1, 2)
    inner = places[:, 0] >= 0
    c, slot = places[inner, 0], places[inner, 1]
    fold = np.zeros((9, 6))
    fold[0:3, 3:6] = fold[3:6, 0:3] = fold[6:9, 0:3] = np.eye(3)
    blocks.diagonal[:, c, slot] += fold.T @ joints.stiffness[:, inner] @ fold
    if any(fragment_shifts(construct)):
        blocks.load[0, c, slot, :, ECCENTRIC] += _shift_load(construct, joints)[inner] @ fold


def _kinks(construct: Construct, table: Array, stations: int) -> Array:
    """The pre-bent plate as a kink φ = b·(1/a + 1/c) at the fracture, a and c the distances to the end holes.

    Several lines share it. It sits in the plate member that ends at the line; the plate is hollow towards the bone.
    """
    kink = np.zeros(len(table))
    holes, lines = construct.plate.hole_s_mm, construct.fracture_lines
    if construct.prebend_mm == 0.0:
        return kink
    for n in np.flatnonzero((table[:, 0] >= 0) & (table[:, 0] < len(lines)) & (table[:, 2] == stations + 1)):
        line = lines[int(table[n, 0])]
        before, after = line.s_mm - holes[0], holes[-1] - line.s_mm
        if before > 0.0 and after > 0.0:
            kink[n] = -construct.prebend_mm * (1.0 / before + 1.0 / after) / len(lines)
    return kink


def _add_prebend(blocks: FragmentBlocks, plate: Members) -> None:
    for n in np.flatnonzero(plate.kink):
        c, i, j = plate.chain[n], plate.slot_i[n], plate.slot_j[n]
        blocks.load[0, c, i, _PLATE, PREBEND] += plate.blocks.ij[0, n, :, 2] * plate.kink[n]
        blocks.load[0, c, j, _PLATE, PREBEND] += plate.blocks.jj[0, n, :, 2] * plate.kink[n]


def dofs(nodes: tuple[int, ...]) -> IntArray:
    """Rows of the kept unknowns of `nodes`, three each."""
    return np.array([3 * n + k for n in nodes for k in range(3)])


def _fragment_ends(top: TopNodes, chains: int) -> IntArray:
    spare, rows = top.count - 1, []
    for c in range(chains):
        start = (top.proximal, spare) if c == 0 else (top.right[c - 1], top.plate[c - 1][-1])
        end = (top.distal, spare) if c == chains - 1 else (top.left[c], top.plate[c][0])
        rows.append(dofs((*start, *end)))
    return np.array(rows)


def line_screw_nodes(layout: Layout, top: TopNodes, joints: ScrewJoints) -> list[tuple[int, IntArray]]:
    """For each screw standing at a fracture line: its number and the nine kept rows it joins."""
    found = []
    for n, screw in enumerate(joints.screws):
        for k, line in enumerate(layout.lines):
            if screw.hole_number - 1 in line.holes:
                near, far = (_face(top, k, f) for f in (screw.near_fragment, screw.far_fragment))
                plate = top.plate[k][line.holes.index(screw.hole_number - 1)]
                found.append((n, dofs((plate, near, far))))
    return found


def _face(top: TopNodes, line: int, fragment: int | None) -> int:
    if fragment is None:
        return top.count - 1
    return top.left[line] if fragment <= line else top.right[line]


def build_frame(construct: Construct) -> Frame:
    """Assemble and condense a construct that `stability.instability` found held."""
    layout = lay_out(construct)
    stations = max(len(chain.holes) for chain in layout.chains)
    bone = _bone_members(construct, layout, stations)
    plate = _plate_members(construct, layout, stations)
    joints = build_screw_joints(construct, layout)
    blocks = fragment_blocks(construct, layout, bone, plate, joints)
    condensed = condense_fragment(blocks)
    top = number_top(layout)
    ends = _fragment_ends(top, len(layout.chains))
    stiffness, load = join_fragments(condensed, top, ends)
    _add_line_parts(construct, layout, top, plate, joints, stiffness, load)
    return Frame(construct, layout, top, bone, plate, joints, blocks, condensed, ends, stiffness, load)


def join_fragments(condensed: CondensedFragment, top: TopNodes, ends: IntArray) -> tuple[Array, Array]:
    """Add condensed fragments (2, fragments, 12, 12) into the kept unknowns: stiffness (2, m, m), load (2, m, 2)."""
    size = 3 * top.count
    stiffness, load = np.zeros((2, size, size)), np.zeros((2, size, 2))
    for c, rows in enumerate(ends):
        stiffness[:, rows[:, None], rows] += condensed.stiffness[:, c]
        load[:, rows] += condensed.load[:, c]
    return stiffness, load


def _add_line_parts(
    construct: Construct,
    layout: Layout,
    top: TopNodes,
    plate: Members,
    joints: ScrewJoints,
    stiffness: Array,
    load: Array,
) -> None:
    for n in np.flatnonzero(plate.chain < 0):
        line = top.plate[-1 - plate.chain[n]]
        i, j = (dofs((line[slot[n]],)) for slot in (plate.slot_i, plate.slot_j))
        stiffness[:, i[:, None], i] += plate.blocks.ii[:, n]
        stiffness[:, i[:, None], j] += plate.blocks.ij[:, n]
        stiffness[:, j[:, None], i] += np.swapaxes(plate.blocks.ij[:, n], -1, -2)
        stiffness[:, j[:, None], j] += plate.blocks.jj[:, n]
    crossing = line_screw_nodes(layout, top, joints)
    shift = _shift_load(construct, joints) if crossing and any(fragment_shifts(construct)) else None
    for n, rows in crossing:
        for plane in (0, 1):
            np.add.at(stiffness[plane], (rows[:, None], rows), joints.stiffness[plane, n])
        if shift is not None:
            np.add.at(load[0, :, ECCENTRIC], rows, shift[n])
