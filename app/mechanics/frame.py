"""The construct as two frames (in-plane and out-of-plane), condensed by fragment and joined at the fracture lines.

The kept unknowns are three per kept node, m in each plane: (u, v, θz) in-plane and (w, θx, θy) out-of-plane, in mm and
radians. The first axis of an array is the plane (0: in-plane, 1: out-of-plane).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from app.mechanics.chain import CondensedFragment, FragmentBlocks, condense_fragment
from app.mechanics.layout import Layout, lay_out
from app.mechanics.members import IntArray
from app.mechanics.model import Construct
from app.mechanics.screw_joints import ScrewJoints, build_screw_joints
from app.mechanics.sections import Array
from app.mechanics.shaft_members import Members, shaft_members

ECCENTRIC, PREBEND = 0, 1
_BONE, _PLATE = slice(0, 3), slice(3, 6)


@dataclass(frozen=True, slots=True)
class TopNodes:
    """Numbers of the kept nodes.

    Attributes:
        proximal: the proximal bone end.
        distal: the distal bone end.
        left: the proximal face of each fracture line.
        right: the distal face of each fracture line.
        plate: the plate nodes of each fracture line.
        count: number of kept nodes; the last one is a spare, which stands for nodes that do not exist and is held
            fixed.
    """

    proximal: int
    distal: int
    left: tuple[int, ...]
    right: tuple[int, ...]
    plate: tuple[tuple[int, ...], ...]
    count: int


@dataclass(frozen=True, slots=True)
class Frame:
    """A condensed construct.

    Attributes:
        construct: the construct.
        layout: its nodes.
        top: numbers of the kept nodes.
        bone: the bone members.
        plate: the plate members.
        joints: the joints of the n screws that hold bone.
        places: fragment and station slot of each screw, or −1 and the hole index at a fracture line; shape (n, 2).
        blocks: the stations of all fragments before condensation.
        condensed: the fragments reduced to their ends.
        ends: rows of the kept unknowns of each fragment's two ends; shape (fragments, 12).
        stiffness: stiffness over the kept unknowns; shape (2, m, m).
        load: load of the full eccentric shift and of the full pre-bend; shape (2, m, 2).
    """

    construct: Construct
    layout: Layout
    top: TopNodes
    bone: Members
    plate: Members
    joints: ScrewJoints
    places: IntArray
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


def _add_members(blocks: FragmentBlocks, members: Members, part: slice) -> None:
    """Add the members of one kind to the blocks.

    Each station is the far end of one member and the near end of one other, so plain index assignment is enough.
    """
    inner = members.chain >= 0
    c, i, j = members.chain, members.slot_i, members.slot_j
    ii, ij, jj = members.blocks.ii, members.blocks.ij, members.blocks.jj
    if not inner.all():
        c, i, j, ii, ij, jj = c[inner], i[inner], j[inner], ii[:, inner], ij[:, inner], jj[:, inner]
    blocks.diagonal[:, c, j, part, part] = jj
    blocks.diagonal[:, c, i, part, part] += ii
    blocks.to_next[:, c, i, part, part] = ij
    first = i == 0
    blocks.to_start[:, c[first], j[first], part, part] = ij[:, first].swapaxes(-1, -2)


def fragment_blocks(
    construct: Construct, layout: Layout, shaft: tuple[Members, Members], joints: ScrewJoints, places: IntArray
) -> FragmentBlocks:
    """The stations of all fragments as one batch, with the leading axes (2 planes, fragments)."""
    chains, stations = len(layout.chains), max(len(chain.holes) for chain in layout.chains)
    shape = (2, chains, stations + 2, 6)
    blocks = FragmentBlocks(np.zeros((*shape, 6)), np.zeros((*shape, 6)), np.zeros((*shape, 6)), np.zeros((*shape, 2)))
    for c, chain in enumerate(layout.chains):
        blocks.diagonal[:, c, 1 : stations - len(chain.holes) + 1] = np.eye(6)
    _add_members(blocks, shaft[0], _BONE)
    _add_members(blocks, shaft[1], _PLATE)
    _add_screws(construct, blocks, joints, places)
    _add_prebend(blocks, shaft[1])
    return blocks


def screw_places(layout: Layout, joints: ScrewJoints, stations: int) -> IntArray:
    """For each screw its fragment and station slot, or −1 and its hole index at a fracture line; shape (n, 2)."""
    places = {}
    for c, chain in enumerate(layout.chains):
        for k, hole in enumerate(chain.holes):
            places[hole] = (c, stations - len(chain.holes) + k + 1)
    rows = [places.get(s.hole_number - 1, (-1, s.hole_number - 1)) for s in joints.screws]
    return np.array(rows, dtype=np.intp).reshape(-1, 2)


def _shift_load(construct: Construct, joints: ScrewJoints) -> Array:
    """In-plane forces, shape (n, 9), that move each fragment by its eccentric shift against the plate."""
    shift = fragment_shifts(construct)
    free = np.zeros((len(joints.screws), 9, 1))
    for n, screw in enumerate(joints.screws):
        free[n, 3, 0] = shift[screw.near_fragment or 0]
        free[n, 6, 0] = shift[screw.far_fragment or 0]
    return np.asarray((joints.stiffness[0] @ free)[..., 0])


def fragment_shifts(construct: Construct) -> list[float]:
    """Sum of the eccentric shifts of each fragment's screws (mm, along +s).

    A second eccentric screw adds its shift in full, since the first one is loosened for it.
    """
    shift = [0.0] * construct.fragment_count
    for screw in construct.screws:
        held = screw.near_fragment if screw.near_fragment is not None else screw.far_fragment
        if held is not None:
            shift[held] += screw.shift_mm
    return shift


def _add_screws(construct: Construct, blocks: FragmentBlocks, joints: ScrewJoints, places: IntArray) -> None:
    inner = places[:, 0] >= 0
    c, slot = places[inner, 0], places[inner, 1]
    fold = np.zeros((9, 6))
    fold[0:3, 3:6] = fold[3:6, 0:3] = fold[6:9, 0:3] = np.eye(3)
    blocks.diagonal[:, c, slot] += fold.T @ joints.stiffness[:, inner] @ fold
    if any(fragment_shifts(construct)):
        blocks.load[0, c, slot, :, ECCENTRIC] += _shift_load(construct, joints)[inner] @ fold


def _add_prebend(blocks: FragmentBlocks, plate: Members) -> None:
    for n in np.flatnonzero(plate.kink[:, 2]):
        c, i, j = plate.chain[n], plate.slot_i[n], plate.slot_j[n]
        if c >= 0:  # one at a line is added where its nodes are kept
            blocks.load[0, c, i, _PLATE, PREBEND] += plate.blocks.ij[0, n] @ plate.kink[n]
            blocks.load[0, c, j, _PLATE, PREBEND] += plate.blocks.jj[0, n] @ plate.kink[n]


def dofs(nodes: tuple[int, ...]) -> IntArray:
    """Rows of the kept unknowns of `nodes`, three each; shape (3·nodes,)."""
    return np.array([3 * n + k for n in nodes for k in range(3)])


def _fragment_ends(top: TopNodes, chains: int) -> IntArray:
    spare, rows = top.count - 1, []
    for c in range(chains):
        start = (top.proximal, spare) if c == 0 else (top.right[c - 1], top.plate[c - 1][-1])
        end = (top.distal, spare) if c == chains - 1 else (top.left[c], top.plate[c][0])
        rows.append(dofs((*start, *end)))
    return np.array(rows)


def line_screw_nodes(layout: Layout, top: TopNodes, joints: ScrewJoints) -> list[tuple[int, IntArray]]:
    """For each screw at a fracture line its number and the rows of the nine kept unknowns that it joins."""
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
    """Assemble and condense a construct in which `stability.instability` found every fragment held.

    Raises:
        CrossedLinesError: a screw holds bone beyond two fracture lines.
    """
    layout = lay_out(construct)
    stations = max(len(chain.holes) for chain in layout.chains)
    bone, plate = shaft_members(construct, layout, stations)
    joints = build_screw_joints(construct, layout)
    places = screw_places(layout, joints, stations)
    blocks = fragment_blocks(construct, layout, (bone, plate), joints, places)
    condensed = condense_fragment(blocks)
    top = number_top(layout)
    ends = _fragment_ends(top, len(layout.chains))
    stiffness, load = join_fragments(condensed, top, ends)
    _add_line_parts(construct, layout, top, plate, joints, stiffness, load)
    return Frame(construct, layout, top, bone, plate, joints, places, blocks, condensed, ends, stiffness, load)


def join_fragments(condensed: CondensedFragment, top: TopNodes, ends: IntArray) -> tuple[Array, Array]:
    """Add the condensed fragments into the kept unknowns: stiffness (2, m, m) and load (2, m, 2).

    The condensed stiffness has the shape (2, fragments, 12, 12).
    """
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
    for n in np.flatnonzero(plate.chain < 0).tolist():
        line = top.plate[-1 - plate.chain[n]]
        i, j = (dofs((line[slot[n]],)) for slot in (plate.slot_i, plate.slot_j))
        stiffness[:, i[:, None], i] += plate.blocks.ii[:, n]
        stiffness[:, i[:, None], j] += plate.blocks.ij[:, n]
        stiffness[:, j[:, None], i] += plate.blocks.ij[:, n].swapaxes(-1, -2)
        stiffness[:, j[:, None], j] += plate.blocks.jj[:, n]
        load[0, i, PREBEND] += plate.blocks.ij[0, n] @ plate.kink[n]
        load[0, j, PREBEND] += plate.blocks.jj[0, n] @ plate.kink[n]
    crossing = line_screw_nodes(layout, top, joints)
    shift = _shift_load(construct, joints) if crossing and any(fragment_shifts(construct)) else None
    for n, rows in crossing:
        for plane in (0, 1):
            np.add.at(stiffness[plane], (rows[:, None], rows), joints.stiffness[plane, n])
        if shift is not None:
            np.add.at(load[0, :, ECCENTRIC], rows, shift[n])
