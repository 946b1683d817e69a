"""The nodes and parts of a group of layouts: bone and plate as the two rails of a ladder, the screws as its rungs.

Nodes: ("P",) and ("D",) are the bone ends, ("b", c, k) and ("p", c, k) the bone and the plate node of station k of
fragment c, ("l", k) and ("r", k) the faces of fracture line k, ("n", k, q) its plate nodes. Planes are numbered as
everywhere: 0 in-plane, 1 out-of-plane.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from app.mechanics.layout import Layout
from app.mechanics.layouts.front import Node, Part
from app.mechanics.layouts.groups import Group
from app.mechanics.screw_joints import ScrewJoints, build_screw_joints
from app.mechanics.sections import Array
from app.mechanics.shaft_members import Members, kink_shapes, shaft_members

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
        plates: the plate members with no locking head in the free holes, in the even, in the odd, and in all of them.
        joints: the joints of all screws that hold bone.
        shapes: what a kink of one radian at each line makes of the plate members; shape (lines, members, 3).
    """

    group: Group
    ends: tuple[tuple[Node, Node], ...]
    bone: Members
    plates: tuple[Members, ...]
    joints: ScrewJoints
    shapes: Array

    @property
    def plate(self) -> Members:
        """The plate members, of which only the stiffness depends on the layout."""
        return self.plates[0]

    def hole(self, node: Node) -> int | None:
        """The hole over a plate node; None where there is none."""
        kind, where, k = node
        layout = self.group.layout
        if kind == "p":
            return layout.chains[int(where)].holes[int(k)]
        holes = layout.lines[int(where)].holes
        return holes[int(k)] if holes else None

    def heads(self, n: int) -> tuple[int, ...]:
        """Free holes at the ends of plate member n that a locking head would fill, in order."""
        screws, free = self.group.screws, self.group.free
        ends = (self.hole(node) for node in self.ends[n])
        return tuple(h for h in ends if h is not None and h in free and screws[h].kind.startswith("locking"))

    def variants(self, n: int) -> tuple[Members, ...]:
        """The plate members in every state of the heads of member n, as the variants of a part are numbered."""
        heads = self.heads(n)
        out = []
        for number in range(1 << len(heads)):
            on = [h % 2 for k, h in enumerate(heads) if number >> k & 1]
            out.append(self.plates[(0 in on) + 2 * (1 in on)])
        return tuple(out)

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


def build_ladder(group: Group) -> Ladder:
    """The parts of a group."""
    construct, layout = group.construct, group.layout
    stations = max(len(chain.holes) for chain in layout.chains)
    plates: list[Members] = []
    bone = None
    heads = any(group.screws[hole].kind.startswith("locking") for hole in group.free)
    for even, odd in _PATTERNS if heads else _PATTERNS[:1] * len(_PATTERNS):
        if plates and not heads:
            plates.append(plates[0])
            continue
        kept = tuple(s for h, s in group.screws.items() if h in group.filled or (odd if h % 2 else even))
        bone, plate = shaft_members(replace(construct, screws=kept), layout, stations)
        plates.append(plate)
    assert bone is not None
    plate = plates[0]
    shapes = kink_shapes(construct, plate.s_i, plate.s_j, -plate.arm[0, :, 0, 2])
    slots = zip(plate.chain.tolist(), plate.slot_i.tolist(), plate.slot_j.tolist(), strict=True)
    ends = tuple((_plate_node(layout, c, i), _plate_node(layout, c, j)) for c, i, j in slots)
    return Ladder(group, ends, bone, tuple(plates), build_screw_joints(construct, layout), shapes)


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


def _pair(members: Members, plane: int, n: int) -> Array:
    ii, ij, jj = (block[plane, n] for block in (members.blocks.ii, members.blocks.ij, members.blocks.jj))
    out = np.empty((6, 6))
    out[:3, :3], out[:3, 3:], out[3:, :3], out[3:, 3:] = ii, ij, ij.T, jj
    return out


def _bones(ladder: Ladder, plane: int) -> Iterator[Part]:
    bone, layout = ladder.bone, ladder.group.layout
    for n, (c, i, j) in enumerate(zip(bone.chain.tolist(), bone.slot_i.tolist(), bone.slot_j.tolist(), strict=True)):
        yield Part((_bone_node(layout, c, i), _bone_node(layout, c, j)), (), _pair(bone, plane, n)[None])


def _plates(ladder: Ladder, plane: int, columns: tuple[Column, ...]) -> Iterator[Part]:
    for n in range(len(ladder.plate.chain)):
        variants = ladder.variants(n)
        stiffness = np.stack([_pair(members, plane, n) for members in variants])
        load = None
        if plane == 0 and ladder.shapes[:, n].any():
            load = np.zeros((len(variants), 6, len(columns)))
            for line, shape in enumerate(ladder.shapes[:, n]):
                if ("bent", line) in columns:
                    load[:, :, columns.index(("bent", line))] = stiffness[:, :, 3:] @ shape
        yield Part(ladder.ends[n], ladder.heads(n), stiffness, load)


def _screws(ladder: Ladder, plane: int, columns: tuple[Column, ...]) -> Iterator[Part]:
    for n, screw in enumerate(ladder.joints.screws):
        three = ladder.screw_nodes(n)
        nodes = tuple(dict.fromkeys(node for node in three if node is not None))
        fold = np.zeros((9, 3 * len(nodes)))
        for k, node in enumerate(three):
            if node is not None:
                at = 3 * nodes.index(node)
                fold[3 * k : 3 * k + 3, at : at + 3] = np.eye(3)
        own = ladder.joints.stiffness[plane, n]
        stiffness, load = fold.T @ own @ fold, np.zeros((3 * len(nodes), len(columns)))
        if plane == 0:
            for row, fragment in ((3, screw.near_fragment or 0), (6, screw.far_fragment or 0)):
                if ("shift", fragment) in columns:
                    load[:, columns.index(("shift", fragment))] += fold.T @ own[:, row]
        hole = screw.hole_number - 1
        if hole in ladder.group.free:
            yield Part(nodes, (hole,), np.stack([0.0 * stiffness, stiffness]), np.stack([0.0 * load, load]))
        else:
            yield Part(nodes, (), stiffness[None], load[None])


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
