"""The construct under load: responses with open fracture lines, the preloaded state, and states with load on top.

The kept unknowns are numbered 0 … m−1 in each plane (three per kept node, see `app.mechanics.frame`); the interface
coordinates are numbered 0 … k−1 (see `app.mechanics.contact`). Units are N, mm, N·mm and radians.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

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
    """Rows fixed in-plane, those of the spare node included.

    At the proximal end u and v are fixed, at the distal end v, and θz at each end that is held.
    """
    p, d, spare = 3 * top.proximal, 3 * top.distal, 3 * top.count - 3
    held = [p + 2] * (supports.proximal == "held") + [d + 2] * (supports.distal == "held")
    return [p, p + 1, d + 1, *held, spare, spare + 1, spare + 2]


def _fixed_out_of_plane(top: TopNodes, supports: Supports) -> list[int]:
    """Rows fixed out-of-plane, those of the spare node included.

    At the proximal end w and θx are fixed, at the distal end w, and θy at each end that is held.
    """
    p, d, spare = 3 * top.proximal, 3 * top.distal, 3 * top.count - 3
    held = [p + 2] * (supports.proximal == "held") + [d + 2] * (supports.distal == "held")
    return [p, p + 1, d, *held, spare, spare + 1, spare + 2]


def open_constructs(frame: Frame, interface: Interface) -> tuple[OpenConstruct, OpenConstruct]:
    """Responses with every fracture line open: with ball joints, and with the chosen supports.

    Where the chosen supports are ball joints, both are the same object. The response to bending is that of ends which
    turn freely in either case.
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
    """One in-plane state of equilibrium.

    Attributes:
        weights: axial load (N), bending (N·mm), share of the eccentric shift (0…1) and of the pre-bend (0 or 1); shape
            (4,).
        interface: forces and contact at the interface coordinates.
        displacement: the kept in-plane unknowns (mm, radians); shape (m,).
    """

    weights: Array
    interface: InterfaceState
    displacement: Array


@dataclass(frozen=True, slots=True)
class Preloaded:
    """The tightened construct before any load.

    Attributes:
        state: the state of equilibrium after tightening.
        offset: value added to each interface coordinate, so that its spring has the force of tightening; shape (k,),
            mm.
        joined: the springs that act in both directions from here on; shape (k,).
    """

    state: State
    offset: Array
    joined: BoolArray


def _state(system: OpenConstruct, weights: Array, found: InterfaceState) -> State:
    return State(weights, found, system.columns @ np.concatenate([weights, found.force]))


def preloaded(frame: Frame, interface: Interface, system: OpenConstruct) -> Preloaded:
    """Tighten the construct: the eccentric screws against a pre-bent plate first, then the lag screws.

    The eccentric shift ends where the screws' compression limit is reached. Fracture faces slide freely while they are
    being tightened, so the part of a force along the fracture is lost; from then on pressed faces stick where friction
    or a lag screw holds them.

    Raises:
        ArithmeticError: the search for the contact state did not end.
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
    """Share of the eccentric shift that the screws can make: up to 1, below 0 where the plate slips back.

    It ends where the screws' compression limit is reached. Whatever presses the faces, the flattened pre-bend
    included, has to be held under the plate: past friction × clamp forces of the side that holds less the plate slips
    back until they are equal.
    """
    if not any(fragment_shifts(frame.construct)):
        return 0.0
    limit = sum(s.compression_limit_n for s in frame.construct.screws if s.shift_mm != 0.0)
    bent = 1.0 if frame.plate.kink.any() else 0.0
    nothing = np.zeros(len(interface.rows), dtype=bool)

    @cache
    def compression(share: float) -> Array:
        free = system.drive @ np.array([0.0, 0.0, share, bent])
        force = press(interface, system.compliance, free, nothing, np.zeros(len(free))).force
        return np.array([force[4 * k] + force[4 * k + 1] for k in range(interface.lines)])

    bent_only = compression(0.0)

    def excess(share: float) -> float:
        return float(np.max(compression(share) - bent_only, initial=0.0)) - limit

    high = excess(1.0)
    share = 1.0
    if high > 0.0:
        share = _root(excess, -limit, high) if limit > 0.0 else 0.0
    holds = _friction_holds(frame)

    def over(share: float) -> float:
        return float(np.max(compression(share) - holds, initial=-math.inf))

    too_much = over(share)
    if not too_much > 0.0:
        return share
    low = next((low for n in range(1, _LIMIT_ROUNDS) if over(low := share - n) <= 0.0), None)
    if low is None:
        return share  # what presses the faces does not come from this shift: lines pulled one against the other
    return low + (share - low) * _root(lambda part: over(low + part * (share - low)), over(low), too_much)


def _friction_holds(frame: Frame) -> Array:
    """For each line, what friction under the clamped screws of the side that holds less can bear (N); shape (lines,).

    A side that locking screws hold too does not slip.
    """
    sides = []
    for fragment in range(len(frame.construct.fracture_lines) + 1):
        on = [screw for screw in frame.construct.screws if screw.near_fragment == fragment and screw.kind != "lag"]
        locked = any(screw.kind.startswith("locking") for screw in on)
        held = frame.construct.friction.plate_bone * sum(screw.clamp_force_n for screw in on)
        sides.append(math.inf if locked or not on else held)
    return np.array([min(pair) for pair in pairwise(sides)])


def _root(function: Callable[[float], float], low_value: float, high_value: float) -> float:
    """Root in 0…1 of a rising function by regula falsi with halving (Illinois algorithm).

    A piecewise linear function ends within a few rounds.
    """
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
    """The state under axial load and bending, on top of the preloaded state.

    `axial_n` is in N, compression positive; `bending_nmm` is in N·mm, plate side in tension positive.

    Raises:
        ArithmeticError: the search for the contact state did not end.
    """
    weights = before.state.weights + np.array([axial_n, bending_nmm, 0.0, 0.0])
    free = system.drive @ weights
    return _state(system, weights, press(interface, system.compliance, free, before.joined, before.offset))


def opening_factor(
    interface: Interface, system: OpenConstruct, before: Preloaded, load: Array, line: int
) -> float | None:
    """Multiple of `load` at which a preloaded face of fracture line number `line` first loses its pressure.

    `load` is (axial force in N, bending moment in N·mm), shape (2,). The answer is None where no face of the line is
    pressed before the load, or where the load never opens one.
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
    """Out-of-plane displacements per unit torque and per unit lateral moment: with ball ends, and as supported.

    Each array has the shape (m, 2), in mm and radians per N·mm. The faces are joined out-of-plane only where preload
    alone presses a cortex: there friction holds it sideways (where the line sticks), and the pressed layer resists
    lateral turning. Elsewhere the line counts as open; that is a lower bound, since a load that closes a lateral edge
    would add stiffness.
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
