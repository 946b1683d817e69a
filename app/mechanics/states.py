"""The construct under load: open-line responses, the preloaded state, and states with load on top."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from app.mechanics.contact import Interface, InterfaceState, OpenConstruct, press
from app.mechanics.frame import Frame, TopNodes, fragment_shifts
from app.mechanics.members import BoolArray
from app.mechanics.model import Supports
from app.mechanics.sections import Array, bone_at, bone_section

AXIAL, BENDING, SHIFT, BENT = range(4)
BALL_ENDS = Supports("ball", "ball")
_LIMIT_ROUNDS = 40


def _solve_free(stiffness: Array, load: Array, fixed: list[int]) -> Array:
    loose = np.ones(len(stiffness), dtype=bool)
    loose[fixed] = False
    free = loose.nonzero()[0]
    out = np.zeros_like(load)
    out[free] = np.linalg.solve(stiffness[free[:, None], free], load[free])
    return out


def _fixed_in_plane(top: TopNodes, supports: Supports) -> list[int]:
    """Rows fixed in-plane: u and v at the proximal end, v at the distal end, and θz where held; the spare node."""
    p, d, spare = 3 * top.proximal, 3 * top.distal, 3 * top.count - 3
    held = [p + 2] * (supports.proximal == "held") + [d + 2] * (supports.distal == "held")
    return [p, p + 1, d + 1, *held, spare, spare + 1, spare + 2]


def _fixed_out_of_plane(top: TopNodes, supports: Supports) -> list[int]:
    """Rows fixed out-of-plane: w and θx at the proximal end, w at the distal end, and θy where held; the spare node."""
    p, d, spare = 3 * top.proximal, 3 * top.distal, 3 * top.count - 3
    held = [p + 2] * (supports.proximal == "held") + [d + 2] * (supports.distal == "held")
    return [p, p + 1, d, *held, spare, spare + 1, spare + 2]


def open_constructs(frame: Frame, interface: Interface) -> tuple[OpenConstruct, OpenConstruct]:
    """Open-line responses with ball joints, and with the chosen supports (one object where they are the same).

    Bending always turns the ends freely.
    """
    top = frame.top
    load = np.zeros((3 * top.count, 4 + len(interface.rows)))
    load[3 * top.distal, AXIAL] = -1.0
    load[3 * top.proximal + 2, BENDING], load[3 * top.distal + 2, BENDING] = 1.0, -1.0
    load[:, 2:4] = frame.load[0]
    load[:, 4:] = interface.rows.T
    ball = _solve_free(frame.stiffness[0], load, _fixed_in_plane(top, BALL_ENDS))
    with_balls = _read(ball, interface)
    if frame.construct.supports == BALL_ENDS:
        return with_balls, with_balls
    chosen = _solve_free(frame.stiffness[0], load, _fixed_in_plane(top, frame.construct.supports))
    chosen[:, BENDING] = ball[:, BENDING]
    return with_balls, _read(chosen, interface)


def _read(columns: Array, interface: Interface) -> OpenConstruct:
    at_interface = interface.rows @ columns
    return OpenConstruct(columns, at_interface[:, :4], at_interface[:, 4:])


@dataclass(frozen=True, slots=True)
class State:
    """One in-plane state: weights of axial load, bending, shift, pre-bend.

    (4,), the interface, and displacements (m,).
    """

    weights: Array
    interface: InterfaceState
    displacement: Array


@dataclass(frozen=True, slots=True)
class Preloaded:
    """The construct before any load.

    `offset` (k,): unstretched value of lags; `joined` (k,): springs that act both ways.
    """

    state: State
    offset: Array
    joined: BoolArray


def _state(system: OpenConstruct, weights: Array, found: InterfaceState) -> State:
    return State(weights, found, system.columns @ np.concatenate([weights, found.force]))


def preloaded(frame: Frame, interface: Interface, system: OpenConstruct) -> Preloaded:
    """Tighten: eccentric screws against a pre-bent plate first (up to the compression they can make), then the lags.

    Faces slide freely while they are tightened (the part of a force along the fracture is lost); from then on pressed
    faces stick where friction or a lag holds them.
    """
    count = len(interface.rows)
    nothing = np.zeros(count, dtype=bool)
    share = _shift_share(frame, interface, system)
    weights = np.array([0.0, 0.0, share, 1.0 if frame.plate.kink.any() else 0.0])
    force, lag = np.zeros(count), slice(4 * interface.lines, None)
    force[lag] = [-screw.force_n for screw in interface.lags]
    free = system.drive @ weights + system.compliance @ force
    found = press(interface, system.compliance, free, nothing, np.zeros(count))
    found = InterfaceState(found.force + force, found.pressing)
    state = _state(system, weights, found)
    offset, joined = np.zeros(count), np.zeros(count, dtype=bool)
    elongation = interface.rows[lag] @ state.displacement
    offset[lag] = -force[lag] / interface.stiffness[lag] - elongation
    joined[lag] = True
    for k in range(interface.lines):
        slides = slice(4 * k + 2, 4 * k + 4)
        joined[slides] = found.pressing[4 * k : 4 * k + 2] if interface.sticks[k] else False
        offset[slides] = -interface.rows[slides] @ state.displacement
    return Preloaded(state, offset, joined)


def _shift_share(frame: Frame, interface: Interface, system: OpenConstruct) -> float:
    """Part of the eccentric shift that the screws can make before their compression limit is reached (0…1)."""
    if not any(fragment_shifts(frame.construct)):
        return 0.0
    limit = sum(s.compression_limit_n for s in frame.construct.screws if s.shift_mm != 0.0)
    bent = 1.0 if frame.plate.kink.any() else 0.0
    nothing = np.zeros(len(interface.rows), dtype=bool)

    def compression(share: float) -> Array:
        free = system.drive @ np.array([0.0, 0.0, share, bent])
        force = press(interface, system.compliance, free, nothing, np.zeros(len(free))).force
        return np.array([force[4 * k] + force[4 * k + 1] for k in range(interface.lines)])

    bent_only = compression(0.0)

    def excess(share: float) -> float:
        return float(np.max(compression(share) - bent_only, initial=0.0)) - limit

    high = excess(1.0)
    if high <= 0.0:
        return 1.0
    return _root(excess, -limit, high) if limit > 0.0 else 0.0


def _root(function: Callable[[float], float], low_value: float, high_value: float) -> float:
    """Root in 0…1 by false position with halving (Illinois): a piecewise linear function ends in a few rounds."""
    low, high = 0.0, 1.0
    middle = high
    for _ in range(_LIMIT_ROUNDS):
        middle = low + (high - low) * -low_value / (high_value - low_value)
        value = function(middle)
        if abs(value) <= 1e-9 * (high_value - low_value):
            break
        if value > 0.0:
            high, high_value, low_value = middle, value, low_value / 2.0
        else:
            low, low_value, high_value = middle, value, high_value / 2.0
    return middle


def loaded(interface: Interface, system: OpenConstruct, before: Preloaded, axial_n: float, bending_nmm: float) -> State:
    """The state with axial load.

    (compression positive) and bending (plate side in tension positive) on the preloaded one.
    """
    weights = before.state.weights + np.array([axial_n, bending_nmm, 0.0, 0.0])
    free = system.drive @ weights
    return _state(system, weights, press(interface, system.compliance, free, before.joined, before.offset))


def opening_factor(
    interface: Interface, system: OpenConstruct, before: Preloaded, load: Array, line: int
) -> float | None:
    """Multiple of `load`.

    (axial N, bending N·mm) at which a preloaded face of `line` first loses its pressure; None: never.
    """
    pressing = before.state.interface.pressing
    faces = [i for i in (4 * line, 4 * line + 1) if pressing[i]]
    if not faces or not load.any():
        return None
    active = np.flatnonzero(pressing | before.joined)
    matrix = system.compliance[active[:, None], active] + np.diag(1.0 / interface.stiffness[active])
    change = np.zeros(len(interface.rows))
    change[active] = np.linalg.solve(matrix, -(system.drive[active, :2] @ load))
    factors = [before.state.interface.force[i] / -change[i] for i in faces if change[i] < -1e-12]
    return min(factors, default=None)


def out_of_plane(frame: Frame, interface: Interface, before: Preloaded) -> tuple[Array, Array]:
    """Displacements (m, 2) per unit torsion and per unit lateral bending: with ball ends, and with the chosen supports.

    Faces join out-of-plane only where preload alone presses a cortex: there friction holds it sideways (where
    the line sticks) and the pressed layer resists lateral turning. Elsewhere the line counts as open: a lower bound,
    since a load that closes a lateral edge would add to it.
    """
    top, stiffness = frame.top, frame.stiffness[1].copy()
    for k in range(interface.lines):
        _join_faces(frame, interface, before, k, stiffness)
    load = np.zeros((3 * top.count, 2))
    load[3 * top.distal + 1, 0] = 1.0
    load[3 * top.proximal + 2, 1], load[3 * top.distal + 2, 1] = -1.0, 1.0
    ball = _solve_free(stiffness, load, _fixed_out_of_plane(top, BALL_ENDS))
    if frame.construct.supports == BALL_ENDS:
        return ball, ball
    chosen = _solve_free(stiffness, load, _fixed_out_of_plane(top, frame.construct.supports))
    chosen[:, 1] = ball[:, 1]
    return ball, chosen


def _join_faces(frame: Frame, interface: Interface, before: Preloaded, k: int, stiffness: Array) -> None:
    construct, line = frame.construct, frame.construct.fracture_lines[k]
    pressing = before.state.interface.pressing[4 * k : 4 * k + 2]
    if not pressing.any():
        return
    at = np.array([line.s_mm])
    half, section = float(bone_at(construct.bone, at).depth[0]) / 2.0, bone_section(construct.bone, at)
    slope = np.tan(np.radians(line.obliquity_deg))
    left, right = 3 * frame.top.left[k], 3 * frame.top.right[k]
    left_rows, right_rows = slice(left, left + 3), slice(right, right + 3)
    for side, y in ((0, half), (1, -half)):
        if not pressing[side]:
            continue
        slide = np.array([1.0, y, y * slope])
        turn = np.array([0.0, 0.0, 1.0])
        joint = interface.stiffness[4 * k + side] * float(section.i_y[0] / section.area[0]) * np.outer(turn, turn)
        if interface.sticks[k]:
            joint = joint + interface.stiffness[4 * k + 2 + side] * np.outer(slide, slide)
        stiffness[left_rows, left_rows] += joint
        stiffness[right_rows, right_rows] += joint
        stiffness[left_rows, right_rows] -= joint
        stiffness[right_rows, left_rows] -= joint
