"""Contact of the fracture faces: springs at the two cortices that only press, and lag screws that join the faces.

Everything acts on a few interface coordinates q (opening, sliding, elongation) of the kept unknowns. The construct with
all fracture lines open gives their compliance. Which of the springs press is then a small linear complementarity
problem: at every opening either the gap is zero or more without force, or the spring presses.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from app.mechanics.frame import Frame, dofs
from app.mechanics.members import BoolArray, IntArray
from app.mechanics.model import LagScrew
from app.mechanics.sections import Array, bone_at, bone_depth, ellipse_area

_BLOCK_ROUNDS = 6
_MOST_ROUNDS = 200
LEAST_PRESS_N = 1e-6


@dataclass(frozen=True, slots=True)
class Interface:
    """The k interface coordinates q = rows·d of all fracture lines and lag screws; d are the m kept in-plane unknowns.

    For each line the order is near opening, far opening, near sliding, far sliding; the elongation of each lag screw
    follows.

    Attributes:
        rows: coordinates in terms of the kept unknowns; shape (k, m).
        stiffness: spring of each coordinate (N/mm); shape (k,).
        clearance: opening that is left before the faces touch (mm); shape (k,).
        sticks: for each line, whether friction or a lag screw prevents sliding while the faces are pressed.
        lags: the lag screws, in the order of their coordinates.
        opening: indices of the opening coordinates; shape (2·lines,).
    """

    rows: Array
    stiffness: Array
    clearance: Array
    sticks: tuple[bool, ...]
    lags: tuple[LagScrew, ...]
    opening: IntArray

    @property
    def lines(self) -> int:
        """Number of fracture lines."""
        return len(self.sticks)


def all_lags(frame: Frame) -> tuple[LagScrew, ...]:
    """Lag screws, independent and through the plate, as one kind; only those that join two neighbouring fragments."""
    construct = frame.construct
    through = [
        LagScrew(
            s.id,
            construct.plate.hole_s_mm[s.hole_number - 1],
            s.far_s_mm if s.far_s_mm is not None else construct.plate.hole_s_mm[s.hole_number - 1],
            s.near_fragment,
            s.far_fragment,
            s.core_mm,
            s.thread_mm,
            s.pitch_mm,
            s.modulus_mpa,
            s.lag_force_n,
        )
        for s in construct.screws
        if s.kind == "lag" and s.near_fragment is not None and s.far_fragment is not None
    ]
    return tuple(lag for lag in (*construct.lag_screws, *through) if abs(lag.near_fragment - lag.far_fragment) == 1)


def build_interface(frame: Frame) -> Interface:
    """The interface of a frame.

    The spring of one cortex is half the section of the bone over a layer one cortex thick: E·A/(2t) against closing and
    G·A/(2t) against sliding (N/mm). The faces stick where the line is flatter than the friction angle (tan a ≤ µ, with
    the obliquity a) or a lag screw presses it; otherwise they slide freely.
    """
    construct = frame.construct
    lags, size = all_lags(frame), 3 * frame.top.count
    count = 4 * len(construct.fracture_lines)
    rows = np.zeros((count + len(lags), size))
    stiffness, clearance = np.zeros(len(rows)), np.zeros(len(rows))
    sticks = []
    for k, line in enumerate(construct.fracture_lines):
        angle = math.radians(line.obliquity_deg)
        part = slice(4 * k, 4 * k + 4)
        rows[part, dofs((frame.top.left[k], frame.top.right[k]))] = _line_rows(frame, k, angle)
        stiffness[part] = _cortex_contact(frame, line.s_mm)
        clearance[4 * k : 4 * k + 2] = line.clearance_mm * math.cos(angle)
        lagged = any({lag.near_fragment, lag.far_fragment} == {k, k + 1} and lag.force_n > 0.0 for lag in lags)
        sticks.append(lagged or abs(math.tan(angle)) <= construct.friction.bone_bone)
    for n, lag in enumerate(lags):
        rows[count + n], stiffness[count + n] = _lag_row(frame, lag)
    opening = np.array([4 * k + side for k in range(len(sticks)) for side in (0, 1)], dtype=np.intp)
    return Interface(rows, stiffness, clearance, tuple(sticks), lags, opening)


def _line_rows(frame: Frame, k: int, angle: float) -> Array:
    """Rows (4, 6) over (left face, right face), for the openings and the sliding at the two cortices.

    The normal is (cos a, sin a) and the tangent (−sin a, cos a), with the obliquity a.
    """
    line = frame.construct.fracture_lines[k]
    half = float(bone_depth(frame.construct.bone, np.array([line.s_mm]))[0]) / 2.0
    cos, sin, slope = math.cos(angle), math.sin(angle), math.tan(angle)
    open_turn, slide_turn = half * (cos + sin * slope), half * (sin - cos * slope)
    right = [(cos, sin, -open_turn), (cos, sin, open_turn), (-sin, cos, slide_turn), (-sin, cos, -slide_turn)]
    return np.array([(-a, -b, -c, a, b, c) for a, b, c in right])


def _cortex_contact(frame: Frame, s_mm: float) -> Array:
    bone, at = frame.construct.bone, np.array([s_mm])
    sizes = bone_at(bone, at)
    layer = float(sizes.cortex[0])
    half_area = ellipse_area(float(sizes.depth[0]), float(sizes.width[0]), layer) / 2.0
    press, slide = bone.modulus_mpa * half_area / layer, bone.shear_modulus_mpa * half_area / layer
    return np.array([press, press, slide, slide])


def _lag_row(frame: Frame, lag: LagScrew) -> tuple[Array, float]:
    """Elongation between the near and the far surface point, and the stiffness EA/L of the core (N/mm).

    Each of the two points moves with the face of its fragment.
    """
    construct, row = frame.construct, np.zeros(3 * frame.top.count)
    depth = bone_at(construct.bone, np.array([lag.near_s_mm, lag.far_s_mm])).depth
    ends = np.array([[lag.near_s_mm, depth[0] / 2.0], [lag.far_s_mm, -depth[1] / 2.0]])
    length = float(np.linalg.norm(ends[1] - ends[0]))
    direction = (ends[1] - ends[0]) / length
    line = min(lag.near_fragment, lag.far_fragment)
    for sign, (s, y), fragment in ((-1.0, ends[0], lag.near_fragment), (1.0, ends[1], lag.far_fragment)):
        face, s_face = (
            (frame.top.left[line], frame.layout.chains[line].end_mm)
            if fragment == line
            else (frame.top.right[line], frame.layout.chains[line + 1].start_mm)
        )
        arm = np.array([[1.0, 0.0, -y], [0.0, 1.0, s - s_face]])
        row[3 * face : 3 * face + 3] += sign * direction @ arm
    return row, lag.modulus_mpa * math.pi * lag.core_mm**2 / 4.0 / length


@dataclass(frozen=True, slots=True)
class OpenConstruct:
    """The construct with every fracture line open, under one pair of supports.

    Attributes:
        columns: in-plane displacements per unit of axial load, bending, eccentric shift and pre-bend, then per unit
            force of each interface coordinate; shape (m, 4 + k).
        drive: the first four columns read at the interface; shape (k, 4).
        compliance: the other columns read at the interface (mm/N); shape (k, k).
    """

    columns: Array
    drive: Array
    compliance: Array


@dataclass(frozen=True, slots=True)
class InterfaceState:
    """Contact in one state: forces on the interface coordinates, and which openings press.

    `force` (k,) is in N, positive where it pushes the faces apart; `pressing` (k,) is true where an opening presses.
    """

    force: Array
    pressing: BoolArray


def press(interface: Interface, compliance: Array, free: Array, joined: BoolArray, offset: Array) -> InterfaceState:
    """Find which faces press, by solving the linear complementarity problem of unilateral contact.

    An acting spring has the force r = −k·(q + c), with its stiffness k and c = clearance + offset. Without sticking the
    matrix is positive definite, and the least-index rule ends (Murty, Linear Complementarity, ch. 4; from memory).
    Where sticking keeps the search from ending, the faces are let slide.

    Args:
        interface: the interface coordinates.
        compliance: displacement of each coordinate per unit force of each other one (mm/N); shape (k, k).
        free: coordinates without interface forces (mm); shape (k,).
        joined: springs that act in both directions: those of lag screws always, those of sticking faces with their
            cortex; shape (k,).
        offset: value added to a coordinate, so that a joined spring has its force of tightening (mm); shape (k,).

    Raises:
        ArithmeticError: the search did not end.
    """
    gap = free + interface.clearance + offset
    lines = 4 * interface.lines
    if not joined[lines:].any() and (gap[interface.opening] >= 0.0).all():
        return InterfaceState(np.zeros(len(free)), np.zeros(len(free), dtype=bool))
    found = _search(interface, compliance, gap, joined)
    if found is None:
        sliding = joined.copy()
        sliding[:lines] = False
        found = _search(interface, compliance, gap, sliding)
    if found is None:
        raise ArithmeticError("the contact search did not end")
    return found


def _search(interface: Interface, compliance: Array, gap: Array, joined: BoolArray) -> InterfaceState | None:
    opening, count = interface.opening, len(gap)
    pressing = np.zeros(count, dtype=bool)
    pressing[opening] = gap[opening] < 0.0
    for round_ in range(_MOST_ROUNDS):
        force = _spring_forces(interface, compliance, gap, _acting(interface, pressing, joined))
        distance = gap + compliance @ force
        wrong = np.zeros(count, dtype=bool)
        wrong[opening] = np.where(pressing[opening], force[opening] < 0.0, distance[opening] < -1e-12)
        if not wrong.any():
            # what rounding alone makes touch presses nothing, and does not stick
            pressing[opening] &= force[opening] > LEAST_PRESS_N
            return InterfaceState(force, pressing)
        if round_ >= _BLOCK_ROUNDS:
            wrong[np.flatnonzero(wrong)[1:]] = False
        pressing = pressing ^ wrong
    return None


def _acting(interface: Interface, pressing: BoolArray, joined: BoolArray) -> BoolArray:
    active = pressing | joined
    for k in range(interface.lines):
        for side in (0, 1):
            slide = 4 * k + 2 + side
            active[slide] = joined[slide] and pressing[slide - 2]
    return active


def _spring_forces(interface: Interface, compliance: Array, gap: Array, active: BoolArray) -> Array:
    at = active.nonzero()[0]
    force = np.zeros(len(gap))
    if len(at):
        matrix = compliance[at[:, None], at]
        matrix.flat[:: len(at) + 1] += 1.0 / interface.stiffness[at]
        force[at] = np.linalg.solve(matrix, -gap[at])
    return force
