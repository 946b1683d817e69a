"""The beam members along the shaft: bone and plate from station to station, within the fragments' chains."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from app.mechanics.layout import Layout
from app.mechanics.members import (
    IntArray,
    JointBlocks,
    Pieces,
    bone_pieces,
    join_pieces,
    joint_blocks,
    plate_pieces,
    rigid_arms,
    stepped_stiffness,
)
from app.mechanics.model import Construct, Plate, Screw
from app.mechanics.screw_joints import plate_height
from app.mechanics.sections import Array, bone_section

BONE_PIECES = 4
_MIDDLES = np.arange(BONE_PIECES) + 0.5
_AT_NODE_MM = 1e-9
_MOST_OPEN = 0.95  # of a plate member's length
_ROUND_MM = 1e-6  # a hole longer than wide by less than this is round
_EYE = np.eye(3)


SPRING_SHARE = 0.8  # of the yield strength that a pre-bend may use up; assumed, the rest is left to the load


@dataclass(frozen=True, slots=True)
class Members:
    """All members of one kind (bone or plate), n of them.

    Attributes:
        chain: fragment that the member belongs to; −1 − k for one at fracture line k; shape (n,).
        slot_i: station slot of the proximal end, or the number of its node at the line; shape (n,).
        slot_j: station slot of the distal end, or the number of its node at the line; shape (n,).
        s_i: position of the proximal end (mm); shape (n,).
        s_j: position of the distal end (mm); shape (n,).
        hole_i: 1 where the proximal end is a hole centre, else 0; shape (n,).
        hole_j: 1 where the distal end is a hole centre, else 0; shape (n,).
        stiffness: end stiffness at node j in shaft axes (N, mm, radians); shape (2, n, 3, 3).
        arm: rigid arm from node i to node j; shape (2, n, 3, 3).
        blocks: stiffness blocks between the two nodes.
        turn: rotation from shaft axes to member axes; shape (2, n, 3, 3).
        open_i: how much of half a hole's length is open at the proximal end, as a share of it; shape (n,).
        open_j: the same at the distal end; shape (n,).
        kink: where node j of the unloaded member lies against node i because of the pre-bend, in shaft axes (u, v, θz;
            mm, radians); shape (n, 3).
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
    open_i: Array
    open_j: Array
    kink: Array


def shaft_members(construct: Construct, layout: Layout, stations: int) -> tuple[Members, Members]:
    """Bone members from station to station and plate members from hole to hole, computed together.

    `stations` is the number of inner stations of the longest chain; a shorter chain uses the last slots.
    """
    bone, plate = _bone_table(layout, stations), _plate_table(construct, layout, stations)
    run_bone, run = bone[:, 4] - bone[:, 3], plate[:, 4] - plate[:, 3]
    heights = plate_height(construct, plate[:, 3:5])
    rise = heights[:, 1] - heights[:, 0]
    flat, count = np.zeros(len(bone)), len(bone)
    opened = open_shares(construct, plate)
    along = plate_pieces(construct.plate, np.hypot(run, rise), *opened)
    stiffness = stepped_stiffness(join_pieces(_bone_pieces(construct, bone[:, 3], run_bone), along))
    turn = _rotation(run, rise)
    stiffness[:, count:] = turn.swapaxes(-1, -2) @ stiffness[:, count:] @ turn
    arms = rigid_arms(np.concatenate([run_bone, run]), np.concatenate([flat, rise]))
    blocks = joint_blocks(stiffness, arms)
    straight = np.broadcast_to(_EYE, (2, count, 3, 3))
    kink = _kinks(construct, plate, rise)
    none = np.zeros(count)
    at_bone = _part(blocks, slice(count))
    at_plate = _part(blocks, slice(count, None))
    return (
        Members(
            *_ends(bone), stiffness[:, :count], arms[:, :count], at_bone, straight, none, none, np.zeros((count, 3))
        ),
        Members(*_ends(plate), stiffness[:, count:], arms[:, count:], at_plate, turn, *opened, kink),
    )


def plate_states(
    construct: Construct, layout: Layout, stations: int, states: Sequence[tuple[Screw, ...]]
) -> tuple[Members, ...]:
    """The plate members as `shaft_members` has them with each of these sets of screws: only what is open differs."""
    table = _plate_table(construct, layout, stations)
    run, heights = table[:, 4] - table[:, 3], plate_height(construct, table[:, 3:5])
    rise = heights[:, 1] - heights[:, 0]
    opened = [open_shares(replace(construct, screws=screws), table) for screws in states]
    lengths, (at_i, at_j) = np.tile(np.hypot(run, rise), len(states)), np.hstack([np.array(one) for one in opened])
    straight = stepped_stiffness(plate_pieces(construct.plate, lengths, at_i, at_j))
    turn, arms, kink = _rotation(run, rise), rigid_arms(run, rise), _kinks(construct, table, rise)
    out = []
    for number, shares in enumerate(opened):
        own = straight[:, number * len(run) : (number + 1) * len(run)]
        stiffness = turn.swapaxes(-1, -2) @ own @ turn
        out.append(Members(*_ends(table), stiffness, arms, joint_blocks(stiffness, arms), turn, *shares, kink))
    return tuple(out)


def _part(blocks: JointBlocks, part: slice) -> JointBlocks:
    return JointBlocks(blocks.ii[:, part], blocks.ij[:, part], blocks.jj[:, part])


def _bone_table(layout: Layout, stations: int) -> Array:
    """Rows of chain, slot i, slot j, s_i, s_j, and whether either end is a hole (never)."""
    rows = []
    for c, chain in enumerate(layout.chains):
        s = [chain.start_mm, *chain.bone_mm, chain.end_mm]
        first = stations - len(chain.holes)
        rows += [(c, 0 if k == 0 else first + k, first + k + 1, s[k], s[k + 1], 0, 0) for k in range(len(s) - 1)]
    return np.array(rows, dtype=np.float64)


def _bone_pieces(construct: Construct, start: Array, length: Array) -> Pieces:
    piece = length[:, None] / BONE_PIECES
    bone = construct.bone
    section = bone_section(bone, start[:, None] + piece * _MIDDLES)
    lengths = piece + np.zeros(BONE_PIECES)
    return bone_pieces(section, lengths, bone.modulus_mpa, bone.shear_modulus_mpa, construct.shear_flexible)


def _plate_table(construct: Construct, layout: Layout, stations: int) -> Array:
    """Rows as for the bone; slot 0 and the last slot are the plate nodes at the lines before and after the fragment."""
    holes, rows, last = construct.plate.hole_s_mm, [], len(layout.chains) - 1
    for c, chain in enumerate(layout.chains):
        first = stations - len(chain.holes)
        nodes = [(first + k + 1, holes[h], 1) for k, h in enumerate(chain.holes)]
        if c > 0:
            nodes.insert(0, (0, layout.lines[c - 1].plate_mm[-1], len(layout.lines[c - 1].holes) > 0))
        if c < last:
            nodes.append((stations + 1, layout.lines[c].plate_mm[0], len(layout.lines[c].holes) > 0))
        rows += [(c, a[0], b[0], a[1], b[1], a[2], b[2]) for a, b in pairwise(nodes)]
    for k, line in enumerate(layout.lines):
        s = line.plate_mm
        rows += [(-1 - k, n, n + 1, s[n], s[n + 1], 1, 1) for n in range(len(s) - 1)]
    return np.array(rows, dtype=np.float64)


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


def _ends(table: Array) -> tuple[IntArray, IntArray, IntArray, Array, Array, Array, Array]:
    """Chain, slots, positions and holes of the members' two ends, as `Members` has them."""
    chain, slot_i, slot_j = table[:, :3].T.astype(np.intp)
    s_i, s_j, hole_i, hole_j = table[:, 3:].T
    return chain, slot_i, slot_j, s_i, s_j, hole_i, hole_j


def open_shares(construct: Construct, table: Array) -> tuple[Array, Array]:
    """How much of half a hole's length is open at each end of the plate members, as shares of it; each of shape (n,).

    A locked head fills the round part of its hole, width d: all of a round one; of a slot of length l, l − d is left
    open. Beside what is open the plate is two strips. Those beside a slot reach half their width further into the plate
    at each end; a round hole narrows the plate only at its middle, which about makes up for that. Read from own solid
    finite elements of plates with round holes and slots (see the tests).
    """
    spec = construct.plate
    slot = spec.hole_length_mm - spec.hole_width_mm
    reach = (spec.width_mm - spec.hole_width_mm) / 2.0 if slot > _ROUND_MM else 0.0
    free = (spec.hole_length_mm + reach) / spec.hole_length_mm
    filled = (slot + reach) / spec.hole_length_mm if slot > _ROUND_MM else 0.0
    heads = np.array([spec.hole_s_mm[s.hole_number - 1] for s in construct.screws if s.kind.startswith("locking")])
    shares = []
    for at, is_hole in ((table[:, 3], table[:, 5]), (table[:, 4], table[:, 6])):
        locked = (at[:, None] == heads).any(axis=1)
        shares.append(is_hole * np.where(locked, filled, free))
    # between holes that lie close, at least a little full section is left
    room = _MOST_OPEN * (table[:, 4] - table[:, 3]) / (spec.hole_length_mm / 2.0)
    fit = np.minimum(1.0, room / np.maximum(shares[0] + shares[1], 1e-9))
    return shares[0] * fit, shares[1] * fit


def _kinks(construct: Construct, table: Array, rise: Array) -> Array:
    """The pre-bent plate as a kink in the members that meet at each fracture line; shape (n, 3), see `Members`."""
    turns = np.array([kink_turn(construct, k) for k in range(len(construct.fracture_lines))])
    return np.tensordot(turns, kink_shapes(construct, table[:, 3], table[:, 4], rise), axes=1)


def kink_turn(construct: Construct, line: int) -> float:
    """The kink −φ (radians) of the unloaded plate at a fracture line: φ = b·(1/a + 1/c), 0 without a pre-bend.

    Here b is the pre-bend, a and c are the distances to the end holes (mm). Several fracture lines share the kink. The
    plate is hollow towards the bone. Held flat over the span L between the screws beside the line, a plate of thickness
    t yields near φ = 2·σ_y·L/(E·t): what is bent further stays bent and presses nothing, so the kink ends at a share of
    that.
    """
    holes, at = construct.plate.hole_s_mm, construct.fracture_lines[line].s_mm
    before, after = at - holes[0], holes[-1] - at
    if construct.prebend_mm == 0.0 or before <= 0.0 or after <= 0.0:
        return 0.0
    bent = construct.prebend_mm * (1.0 / before + 1.0 / after) / len(construct.fracture_lines)
    held = [construct.plate.hole_s_mm[screw.hole_number - 1] for screw in construct.screws if screw.kind != "lag"]
    low = max((s for s in held if s < at), default=holes[0])
    high = min((s for s in held if s > at), default=holes[-1])
    return -min(bent, float(elastic_kink(construct.plate, np.array(high - low))))


def kink_shapes(construct: Construct, s_i: Array, s_j: Array, rise: Array) -> Array:
    """Where a kink of one radian at each fracture line puts node j of the members against node i; (lines, n, 3).

    It sits in the plate member that spans the line, where the line crosses the axis, or by halves in the two that meet
    there: the same seen from either end. A turn φ at the distance l before node j moves that node by φ·l across the
    shaft, and by −φ·h along it, where it lies h above the kink. Positions `s_i` and `s_j` and the `rise` of the members
    are in mm, each of shape (n,).
    """
    shapes = np.zeros((len(construct.fracture_lines), len(s_i), 3))
    for shape, line in zip(shapes, construct.fracture_lines, strict=True):
        touched = np.flatnonzero((s_i <= line.s_mm + _AT_NODE_MM) & (s_j >= line.s_mm - _AT_NODE_MM))
        for n in touched:
            share = (s_j[n] - min(max(line.s_mm, s_i[n]), s_j[n])) / (s_j[n] - s_i[n])
            lever, height = share * (s_j[n] - s_i[n]), share * rise[n]
            shape[n] = np.array([-height, lever, 1.0]) / len(touched)
    return shapes


def elastic_kink(plate: Plate, span_mm: Array) -> Array:
    """Largest bend (radians) that a plate held over `span_mm` springs back from without yielding."""
    return 2.0 * SPRING_SHARE * plate.yield_mpa * span_mm / (plate.modulus_mpa * plate.thickness_mm)
