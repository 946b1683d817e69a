"""The nodes and parts of a group of layouts: bone and plate as the two rails of a ladder, the screws as its rungs.

Nodes: ("P",) and ("D",) are the bone ends, ("b", c, k) and ("p", c, k) the bone and the plate node of station k of
fragment c, ("l", k) and ("r", k) the faces of fracture line k, ("n", k, q) its plate nodes. Planes are numbered as
everywhere: 0 in-plane, 1 out-of-plane.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

import numpy as np

from app.mechanics.layout import Layout
from app.mechanics.layouts.front import Node, Part
from app.mechanics.layouts.groups import Group
from app.mechanics.screw_joints import ScrewJoints, build_screw_joints, moment_levers, pull_rows
from app.mechanics.sections import Array
from app.mechanics.shaft_members import Members, kink_shapes, plate_states, shaft_members

Column = tuple[str | int, ...]
PROXIMAL: Node = ("P",)
DISTAL: Node = ("D",)
_PATTERNS = ((False, False), (True, False), (False, True), (True, True))  # heads in even holes, in odd ones
_FIXED: tuple[dict[Node, tuple[int, ...]], ...] = ({PROXIMAL: (0, 1), DISTAL: (1,)}, {PROXIMAL: (0, 1), DISTAL: (0,)})


def fixed(plane: int) -> dict[Node, tuple[int, ...]]:
    """Unknowns that ball joints at the bone ends hold."""
    return _FIXED[plane]


@dataclass(frozen=True, slots=True)
class Ladder:
    """A group as parts.

    Attributes:
        group: the group.
        ends: the two nodes of every plate member.
        bone: the bone members.
        plates: the plate members with no locking head in the free holes, in the even, in the odd, and in all of them;
            the first alone where none locks.
        joints: the joints of all screws that hold bone.
        heads: for every plate member the free holes at its ends that a locking head would fill, in order.
        shapes: what a kink of one radian at each line makes of the plate members; shape (lines, members, 3).
        pulls: see `pull_rows`; shape (joints, 9).
        levers: see `moment_levers`.
    """

    group: Group
    ends: tuple[tuple[Node, Node], ...]
    bone: Members
    plates: tuple[Members, ...]
    joints: ScrewJoints
    heads: tuple[tuple[int, ...], ...]
    shapes: Array
    pulls: Array
    levers: Array

    @property
    def plate(self) -> Members:
        """The plate members, of which only the stiffness depends on the layout."""
        return self.plates[0]

    def variants(self, n: int) -> list[int]:
        """Which of the `plates` member n is of in every state of its heads, as the variants of a part are numbered."""
        heads = self.heads[n]
        states = ([h % 2 for k, h in enumerate(heads) if number >> k & 1] for number in range(1 << len(heads)))
        return [(0 in on) + 2 * (1 in on) for on in states]

    def screw_nodes(self, n: int) -> tuple[Node, Node | None, Node | None]:
        """The plate node and the bone nodes at the near and the far side that joint n ties."""
        screw, layout = self.joints.screws[n], self.group.layout
        hole = screw.hole_number - 1
        for c, chain in enumerate(layout.chains):
            if hole in chain.holes:
                k = chain.holes.index(hole)
                return ("p", c, k), ("b", c, k), ("b", c, k)
        line = next(k for k, nodes in enumerate(layout.lines) if hole in nodes.holes)
        near, far = (
            None if f is None else (("l", line) if f <= line else ("r", line))
            for f in (screw.near_fragment, screw.far_fragment)
        )
        return ("n", line, layout.lines[line].holes.index(hole)), near, far


def _plate_node(layout: Layout, chain: int, slot: int) -> Node:
    if chain < 0:
        return ("n", -1 - chain, slot)
    if slot == 0:
        return ("n", chain - 1, len(layout.lines[chain - 1].plate_mm) - 1)
    stations = max(len(c.holes) for c in layout.chains)
    if slot == stations + 1:
        return ("n", chain, 0)
    return ("p", chain, slot - (stations - len(layout.chains[chain].holes)) - 1)


def _bone_node(layout: Layout, chain: int, slot: int) -> Node:
    stations, last = max(len(c.holes) for c in layout.chains), len(layout.chains) - 1
    if slot == 0:
        return PROXIMAL if chain == 0 else ("r", chain - 1)
    if slot == stations + 1:
        return DISTAL if chain == last else ("l", chain)
    return ("b", chain, slot - (stations - len(layout.chains[chain].holes)) - 1)


def _hole(layout: Layout, node: Node) -> int:
    """The hole over a plate node; −1 where there is none."""
    kind, where, k = node
    if kind == "p":
        return layout.chains[int(where)].holes[int(k)]
    holes = layout.lines[int(where)].holes
    return holes[int(k)] if holes else -1


def build_ladder(group: Group) -> Ladder:
    """The parts of a group."""
    construct, layout = group.construct, group.layout
    stations = max(len(chain.holes) for chain in layout.chains)
    locks = {hole for hole in group.free if group.screws[hole].kind.startswith("locking")}
    patterns = _PATTERNS if locks else _PATTERNS[:1]
    kept = [
        tuple(s for h, s in group.screws.items() if h in group.filled or (odd if h % 2 else even))
        for even, odd in patterns
    ]
    bone, plate = shaft_members(construct, layout, stations)
    plates = plate_states(construct, layout, stations, kept)
    shapes = kink_shapes(construct, plate.s_i, plate.s_j, -plate.arm[0, :, 0, 2])
    slots = zip(plate.chain.tolist(), plate.slot_i.tolist(), plate.slot_j.tolist(), strict=True)
    ends = tuple((_plate_node(layout, c, i), _plate_node(layout, c, j)) for c, i, j in slots)
    over = [[_hole(layout, node) for node in both] for both in ends]
    heads = tuple(tuple(hole for hole in both if hole in locks) for both in over)
    joints = build_screw_joints(construct, layout)
    return Ladder(group, ends, bone, plates, joints, heads, shapes, pull_rows(joints), moment_levers(joints))


def parts(ladder: Ladder, plane: int, columns: tuple[Column, ...]) -> list[Part]:
    """All parts of a group in one plane, with the loads that they bring to the load columns."""
    return [*_bones(ladder, plane), *_plates(ladder, plane, columns), *_screws(ladder, plane, columns), *_idle(ladder)]


def _idle(ladder: Ladder) -> Iterator[Part]:
    """Free holes whose screw holds no bone: nothing that stiffens, but a layout of its own."""
    joined = {screw.hole_number - 1 for screw in ladder.joints.screws}
    for c, chain in enumerate(ladder.group.layout.chains):
        for k, hole in enumerate(chain.holes):
            if hole in ladder.group.free and hole not in joined:
                yield Part((("p", c, k),), (hole,), np.zeros((2, 3, 3)))


def _pairs(members: Members, plane: int) -> Array:
    """Stiffness of every member over its two nodes; shape (members, 6, 6)."""
    ii, ij, jj = (block[plane] for block in (members.blocks.ii, members.blocks.ij, members.blocks.jj))
    out = np.empty((len(ii), 6, 6))
    out[:, :3, :3], out[:, :3, 3:], out[:, 3:, :3], out[:, 3:, 3:] = ii, ij, ij.swapaxes(1, 2), jj
    return out


def _bones(ladder: Ladder, plane: int) -> Iterator[Part]:
    bone, layout, pairs = ladder.bone, ladder.group.layout, _pairs(ladder.bone, plane)
    for n, (c, i, j) in enumerate(zip(bone.chain.tolist(), bone.slot_i.tolist(), bone.slot_j.tolist(), strict=True)):
        yield Part((_bone_node(layout, c, i), _bone_node(layout, c, j)), (), pairs[n : n + 1])


def _plates(ladder: Ladder, plane: int, columns: tuple[Column, ...]) -> Iterator[Part]:
    pairs = np.array([_pairs(members, plane) for members in ladder.plates])
    kinks = [(columns.index(("bent", k)), shape) for k, shape in enumerate(ladder.shapes) if ("bent", k) in columns]
    for n, heads in enumerate(ladder.heads):
        stiffness = pairs[ladder.variants(n), n]
        load = None
        if plane == 0 and kinks and ladder.shapes[:, n].any():
            load = np.zeros((len(stiffness), 6, len(columns)))
            for at, shape in kinks:
                load[:, :, at] = stiffness[:, :, 3:] @ shape[n]
        yield Part(ladder.ends[n], heads, stiffness, load)


@cache
def _fold(places: tuple[int | None, ...]) -> Array:
    """The nine displacements of a joint's three nodes from those of the nodes they are; shape (9, 3·nodes)."""
    fold = np.zeros((9, 3 * len(set(places) - {None})))
    for k, place in enumerate(places):
        if place is not None:
            fold[3 * k : 3 * k + 3, 3 * place : 3 * place + 3] = np.eye(3)
    return fold


def _screws(ladder: Ladder, plane: int, columns: tuple[Column, ...]) -> Iterator[Part]:
    shifts = {column[1]: k for k, column in enumerate(columns) if column[0] == "shift"}
    for n, screw in enumerate(ladder.joints.screws):
        three = ladder.screw_nodes(n)
        nodes = tuple(dict.fromkeys(node for node in three if node is not None))
        fold = _fold(tuple(None if node is None else nodes.index(node) for node in three))
        own = ladder.joints.stiffness[plane, n]
        stiffness, load = fold.T @ own @ fold, None
        if plane == 0 and shifts:
            load = np.zeros((3 * len(nodes), len(columns)))
            for row, fragment in ((3, screw.near_fragment or 0), (6, screw.far_fragment or 0)):
                if fragment in shifts:
                    load[:, shifts[fragment]] += fold.T @ own[:, row]
        hole = screw.hole_number - 1
        if hole in ladder.group.free:
            pushed = None if load is None else np.stack([0.0 * load, load])
            yield Part(nodes, (hole,), np.stack([0.0 * stiffness, stiffness]), pushed)
        else:
            yield Part(nodes, (), stiffness[None], None if load is None else load[None])


def end_loads(lines: int, columns: tuple[Column, ...]) -> dict[Node, Array]:
    """Forces of the load columns on bone ends and faces.

    In-plane ("axial",) presses on the distal end, and ("bending",) bends at both, plate side in tension; out-of-plane
    ("torque",) turns the distal end, and ("lateral",) bends at both. ("turn", 0) and ("turn", 1) are moments at the
    proximal and the distal end, which hold them. ("face", k, d) moves the distal face of line k against the proximal
    one in the direction d, or, for d = 3, turns the proximal face alone.
    """
    names: list[Node] = [PROXIMAL, DISTAL, *(("l", k) for k in range(lines)), *(("r", k) for k in range(lines))]
    out = {name: np.zeros((3, len(columns))) for name in names}
    for c, (name, *rest) in enumerate(columns):
        if name == "axial":
            out[DISTAL][0, c] = -1.0
        elif name == "torque":
            out[DISTAL][1, c] = 1.0
        elif name in ("bending", "lateral"):
            sign = 1.0 if name == "bending" else -1.0
            out[PROXIMAL][2, c], out[DISTAL][2, c] = sign, -sign
        elif name == "turn":
            out[DISTAL if rest[0] else PROXIMAL][2, c] = 1.0
        elif name == "face":
            k, d = int(rest[0]), int(rest[1])
            if d == 3:
                out[("l", k)][2, c] = 1.0
            else:
                out[("r", k)][d, c], out[("l", k)][d, c] = 1.0, -1.0
    return out
