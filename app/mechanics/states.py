"""The construct under load: responses with open fracture lines, the preloaded state, and states with load on top.

The kept unknowns are numbered 0 … m−1 in each plane (three per kept node, see `app.mechanics.frame`); the interface
coordinates are numbered 0 … k−1 (see `app.mechanics.contact`). Units are N, mm, N·mm and radians.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise

import numpy as np

from app.mechanics.contact import Interface, OpenConstruct
from app.mechanics.frame import Frame, fragment_shifts
from app.mechanics.members import BoolArray
from app.mechanics.model import Supports
from app.mechanics.rising import PRECISE, rising_root
from app.mechanics.sections import Array
from app.mechanics.touching import InterfaceState, UnresolvedError, Way, press

AXIAL, BENDING, SHIFT, BENT = range(4)
BALL_ENDS = Supports("ball", "ball")
SLIP_ROUNDS = 40
_DOUBLED = tuple(2.0**n for n in range(-10, 21))  # of a load: what opens beyond a million of it never does


def solve_free(stiffness: Array, load: Array, fixed: list[int]) -> Array:
    """Displacements of the kept unknowns (m, c) under the loads (m, c), with the rows `fixed` held at 0."""
    loose = np.ones(len(stiffness), dtype=bool)
    loose[fixed] = False
    free = loose.nonzero()[0]
    out = np.zeros_like(load)
    out[free] = np.linalg.solve(stiffness[free[:, None], free], load[free])
    return out


def both_supports(frame: Frame, plane: int, load: Array, moment: int) -> tuple[Array, Array]:
    """Displacements (m, c) under the loads (m, c) in one plane: with ball joints, and with the chosen supports.

    Where the chosen supports are ball joints, both are the same object. Column number `moment` is that of ends which
    turn freely in either case. In-plane (0) u and v are fixed at the proximal end and v at the distal one, out-of-plane
    (1) w and θx at the proximal end and w at the distal one; the turning of each end that is held; and the spare node.
    """
    top, supports = frame.top, frame.construct.supports
    p, d, spare = 3 * top.proximal, 3 * top.distal, 3 * top.count - 3
    fixed = [p, p + 1, d + 1 - plane, spare, spare + 1, spare + 2]
    ball = solve_free(frame.stiffness[plane], load, fixed)
    if supports == BALL_ENDS:
        return ball, ball
    held = [p + 2] * (supports.proximal == "held") + [d + 2] * (supports.distal == "held")
    chosen = solve_free(frame.stiffness[plane], load, fixed + held)
    chosen[:, moment] = ball[:, moment]
    return ball, chosen


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
    ball, chosen = both_supports(frame, 0, load, BENDING)
    with_balls = _read(ball, interface)
    return with_balls, with_balls if chosen is ball else _read(chosen, interface)


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
        offset: value added to each interface coordinate, so that a lag screw has its force of tightening and a line
            the shear force that tightening left it with; shape (k,), mm.
        joined: the springs that act in both directions from here on; shape (k,).
    """

    state: State
    offset: Array
    joined: BoolArray


def _state(system: OpenConstruct, weights: Array, found: InterfaceState) -> State:
    return State(weights, found, system.columns @ np.concatenate([weights, found.force]))


def preloaded(frame: Frame, interface: Interface, system: OpenConstruct) -> Preloaded:
    """Tighten the construct: the eccentric screws against a pre-bent plate first, then the lag screws.

    The eccentric shift ends where the screws' compression limit is reached, or friction under the plate. What presses
    the faces while they slide on each other has their friction against it, as later under load.

    Raises:
        UnresolvedError: the search for the contact state did not end.
    """
    count = len(interface.rows)
    nothing = np.zeros(count, dtype=bool)
    share = _shift_share(frame, interface, system)
    weights = np.array([0.0, 0.0, share, 1.0 if frame.plate.kink.any() else 0.0])
    force, lag = np.zeros(count), interface.lag
    force[lag] = [-screw.force_n for screw in interface.lags]
    free = system.drive @ weights + system.compliance @ force
    found = press(interface, system.compliance, free, nothing, np.zeros(count))
    found = replace(found, force=found.force + force)
    state = _state(system, weights, found)
    moved = interface.rows @ state.displacement
    offset, joined = np.zeros(count), np.zeros(count, dtype=bool)
    offset[lag] = -force[lag] / interface.stiffness[lag] - moved[lag]
    joined[lag] = True
    slides = interface.sliding  # how far they slid stays; what is left is the spring of the shear force that they bear
    offset[slides] = -found.force[slides] / interface.stiffness[slides] - moved[slides]
    return Preloaded(state, offset, joined)


def _shift_share(frame: Frame, interface: Interface, system: OpenConstruct) -> float:
    """Share of the eccentric shift that the screws can make: up to 1, below 0 where the plate slips back.

    It ends where they push with what the wedges under their heads can, on top of what a pre-bend presses. Whatever
    presses the faces, the flattened pre-bend included, has to be held under the plate: past friction × clamp forces of
    the side that holds less the plate slips back until they are equal.
    """
    if not any(fragment_shifts(frame.construct)):
        return 0.0
    limit = sum(s.compression_limit_n for s in frame.construct.screws if s.shift_mm != 0.0)
    bent = 1.0 if frame.plate.kink.any() else 0.0
    nothing, near = np.zeros(len(interface.rows), dtype=bool), list[InterfaceState]()

    @cache
    def compression(share: float) -> Array:
        free = system.drive @ np.array([0.0, 0.0, share, bent])
        found = press(interface, system.compliance, free, nothing, np.zeros(len(free)), near[-1] if near else None)
        near.append(found)
        return np.asarray(found.force[interface.opening].sum(axis=1))

    bent_only = compression(0.0)

    def excess(share: float) -> float:
        return float(np.max(compression(share) - bent_only, initial=0.0)) - limit

    high = excess(1.0)
    share = 1.0
    if high > 0.0:
        share = rising_root(excess, -limit, high) if limit > 0.0 else 0.0
    holds = _friction_holds(frame)

    def over(share: float) -> float:
        return float(np.max(compression(share) - holds, initial=-math.inf))

    too_much = over(share)
    if not too_much > 0.0:
        return share
    low = next((low for n in range(1, SLIP_ROUNDS) if over(low := share - n) <= 0.0), None)
    if low is None:
        return share  # what presses the faces does not come from this shift: lines pulled one against the other
    return low + (share - low) * rising_root(lambda part: over(low + part * (share - low)), over(low), too_much)


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


def loaded(interface: Interface, system: OpenConstruct, before: Preloaded, axial_n: float, bending_nmm: float) -> State:
    """The state under axial load and bending, on top of the preloaded state.

    `axial_n` is in N, compression positive; `bending_nmm` is in N·mm, plate side in tension positive.

    Raises:
        UnresolvedError: the search for the contact state did not end.
    """
    weights = before.state.weights + np.array([axial_n, bending_nmm, 0.0, 0.0])
    free = system.drive @ weights
    near = before.state.interface
    return _state(system, weights, press(interface, system.compliance, free, before.joined, before.offset, near))


def opening_factor(
    interface: Interface, system: OpenConstruct, before: Preloaded, load: Array, line: int
) -> float | None:
    """Multiple of `load` at which an edge of line number `line` that tightening pressed first loses its pressure.

    The forces are piecewise linear in the load, so they are followed from one change of contact to the next. `load` is
    (axial force in N, bending moment in N·mm), shape (2,). The answer is None where neither edge, near or far, is
    pressed before the load, or where the load never opens one.

    Raises:
        UnresolvedError: the changes of contact did not end.
    """
    state = before.state.interface
    edges = [i for i in interface.edges[line].tolist() if state.pressing[i]]
    if not edges or not load.any():
        return None
    way = Way(interface, system.compliance, before.joined, system.drive[:, :2] @ load)
    distance = interface.rows @ before.state.displacement + interface.clearance + before.offset
    try:
        return way.opens(state, distance, edges)
    except UnresolvedError:  # at a corner of friction: then from one load to the next

        def open_at(factor: float) -> bool:
            return not loaded(interface, system, before, *(factor * load).tolist()).interface.pressing[edges].all()

        return first_time(open_at)


def first_time(true: Callable[[float], bool]) -> float | None:
    """The least factor at which something comes true, to 1e-9, sought by doubling and halving; None: never.

    What comes true and untrue again within a step of doubling is passed over.
    """
    high = next((factor for factor in _DOUBLED if true(factor)), None)
    if high is None:
        return None
    low = high / 2.0
    while high - low > PRECISE * high:
        middle = (low + high) / 2.0
        low, high = (low, middle) if true(middle) else (middle, high)
    return high
