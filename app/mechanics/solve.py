"""The entry point of the mechanics: from a construct to all answers."""

from __future__ import annotations

import math

import numpy as np

from app.mechanics.answers import InterfaceAnswer, LineAnswer, MechanicsResult, Motion, Strain
from app.mechanics.contact import Interface, OpenConstruct, build_interface
from app.mechanics.forces import joint_nodes, screw_answers, slip_ratios, station_displacements
from app.mechanics.frame import Frame, build_frame
from app.mechanics.layout import CrossedLinesError
from app.mechanics.model import Construct, LoadCase
from app.mechanics.plate_stress import plate_stress
from app.mechanics.screw_joints import screw_forces
from app.mechanics.sections import Array, bone_depth
from app.mechanics.sideways import Sideways, out_of_plane
from app.mechanics.stability import instability
from app.mechanics.states import Preloaded, State, loaded, open_constructs, opening_factor, preloaded
from app.mechanics.touching import UnresolvedError

REFERENCE_AXIAL_N = 100.0
REFERENCE_MOMENT_NMM = 1000.0
_LEAST_N, _LEAST_NMM = 1.0, 10.0  # loads below these move nothing that could be measured
SAME_TRAVEL = 1e-9  # relative: lines are not told apart closer than this
CLOSED_MM = 0.02  # about a cell across: in less no tissue is strained (assumed)


def analyse(construct: Construct) -> MechanicsResult:
    """Solve a construct under its load case.

    A construct in which some fragment is not held, that the frame cannot represent, or whose state of contact cannot be
    settled, is answered too: `unstable` says why, and every figure is None or empty.

    Raises:
        ValueError: the input contradicts itself.
    """
    reason = instability(construct)
    if reason is not None:
        return MechanicsResult(reason, construct.supports, construct.load)
    try:
        frame = build_frame(construct)
        interface = build_interface(frame)
        ball, chosen = open_constructs(frame, interface)
        before = preloaded(frame, interface, chosen)
        before_ball = before if chosen is ball else preloaded(frame, interface, ball)
        return _answer(frame, interface, (ball, before_ball), (chosen, before))
    except (CrossedLinesError, UnresolvedError) as error:
        return MechanicsResult(f"not computed: {error}", construct.supports, construct.load)


def _answer(
    frame: Frame, interface: Interface, ball: tuple[OpenConstruct, Preloaded], chosen: tuple[OpenConstruct, Preloaded]
) -> MechanicsResult:
    load, (system, before) = frame.construct.load, chosen
    after = loaded(interface, system, before, load.axial_n, load.bending_nmm)
    out_ball, out_chosen = out_of_plane(frame, interface, before.state)
    sideways = out_chosen.displacement(load.torsion_nmm, load.lateral_nmm)
    change = after.displacement - before.state.displacement
    top = np.array([[after.displacement, change], [sideways, sideways]]).swapaxes(1, 2)
    preload = before.state.weights[2:]
    stations = station_displacements(frame, top, np.array([preload, np.zeros(2)]).T)
    edges = interface.edges.tolist()
    lines = tuple(
        LineAnswer(motion := _motion(frame, k, change, sideways), _strain(frame, k, edges[k], before, motion), contact)
        for k, contact in enumerate(_contacts(frame, interface, system, before, after))
    )
    travel = [max(abs(line.motion.near_mm), abs(line.motion.far_mm), line.motion.shear_mm) for line in lines]
    forces = screw_forces(frame.joints, joint_nodes(frame, top, stations, float(preload[0])))
    return MechanicsResult(
        unstable=None,
        supports=frame.construct.supports,
        load=load,
        axial_stiffness_n_per_mm=_axial_stiffness(frame, interface, system, before),
        bending_stiffness_plate_tension_nm_per_deg=_bending_stiffness(frame, interface, ball, 1.0),
        bending_stiffness_plate_compression_nm_per_deg=_bending_stiffness(frame, interface, ball, -1.0),
        lateral_stiffness_nm_per_deg=_lateral_stiffness(frame, out_ball),
        torsional_stiffness_nm_per_deg=_torsional_stiffness(frame, out_chosen),
        lines=lines,
        worst_line=_worst_line(frame.construct, travel),
        plate=plate_stress(frame, top, stations, np.array([preload[1], 0.0])),
        screws=screw_answers(frame, interface.lags, forces, -after.interface.force[interface.lag]),
        slip_ratios=slip_ratios(frame, joint_nodes(frame, top, stations, 0.0, 1)),
    )


def _worst_line(construct: Construct, travel: list[float]) -> int | None:
    least = max(travel, default=0.0) * (1.0 - SAME_TRAVEL)
    return next((k for k in lines_by_gap(construct) if travel[k] >= least), None)


def lines_by_gap(construct: Construct) -> list[int]:
    """Fracture lines, the narrowest gap first: of two that move alike it is strained the most, seen from either end."""
    lines = construct.fracture_lines
    return sorted(range(len(lines)), key=lambda k: lines[k].clearance_mm)


def _per_degree(moment_nmm: float, radians: float) -> float:
    return float(moment_nmm / 1000.0 / math.degrees(radians))


def _axial_stiffness(frame: Frame, interface: Interface, system: OpenConstruct, before: Preloaded) -> float:
    force = asked_axial(frame.construct.load)
    after = loaded(interface, system, before, force, 0.0)
    row = 3 * frame.top.distal
    return float(force / (before.state.displacement[row] - after.displacement[row]))


def _bending_stiffness(frame: Frame, interface: Interface, ball: tuple[OpenConstruct, Preloaded], sign: float) -> float:
    system, before = ball
    moment = sign * asked_moment(frame.construct.load.bending_nmm)
    change = loaded(interface, system, before, 0.0, moment).displacement - before.state.displacement
    return _per_degree(moment, change[3 * frame.top.proximal + 2] - change[3 * frame.top.distal + 2])


def _torsional_stiffness(frame: Frame, sideways: Sideways) -> float:
    torque = asked_moment(frame.construct.load.torsion_nmm)
    return _per_degree(torque, sideways.displacement(torque, 0.0)[3 * frame.top.distal + 1])


def _lateral_stiffness(frame: Frame, sideways: Sideways) -> float:
    moment = asked_moment(frame.construct.load.lateral_nmm)
    turned = sideways.displacement(0.0, moment)
    return _per_degree(moment, turned[3 * frame.top.distal + 2] - turned[3 * frame.top.proximal + 2])


def asked_axial(load: LoadCase) -> float:
    """Axial force (N) at which stiffness is told."""
    asked = abs(load.axial_n)
    return asked if asked >= _LEAST_N else REFERENCE_AXIAL_N


def asked_moment(moment_nmm: float) -> float:
    """Moment (N·mm) at which stiffness is told, where the load case has `moment_nmm`."""
    return abs(moment_nmm) if abs(moment_nmm) >= _LEAST_NMM else REFERENCE_MOMENT_NMM


def _motion(frame: Frame, k: int, change: Array, sideways: Array) -> Motion:
    """Motion of the faces at line k, both carried rigidly to its middle, so the length of the zone does not enter."""
    line, left, right = frame.construct.fracture_lines[k], 3 * frame.top.left[k], 3 * frame.top.right[k]
    half_depth = float(bone_depth(frame.construct.bone, np.array([line.s_mm]))[0]) / 2.0
    reach = line.zone_mm / 2.0
    u, v, turn = change[right : right + 3] - change[left : left + 3]
    w, twist = sideways[right : right + 2] - sideways[left : left + 2]
    v -= (change[right + 2] + change[left + 2]) * reach
    w += (sideways[right + 2] + sideways[left + 2]) * reach
    return Motion(
        near_mm=float(u - turn * half_depth),
        far_mm=float(u + turn * half_depth),
        shear_mm=float(np.hypot(v, w)),
        turn_deg=math.degrees(turn),
        twist_deg=math.degrees(twist),
    )


def _strain(frame: Frame, k: int, edges: list[int], before: Preloaded, motion: Motion) -> Strain:
    tightened = _motion(frame, k, before.state.displacement, np.zeros_like(before.state.displacement))
    clearance = frame.construct.fracture_lines[k].clearance_mm
    pressing = before.state.interface.pressing[edges]
    found, closed = [], []
    for side, gap, moved in (
        (0, clearance + tightened.near_mm, motion.near_mm),
        (1, clearance + tightened.far_mm, motion.far_mm),
    ):
        shut = bool(pressing[side]) or gap < CLOSED_MM
        found.append(None if shut else 100.0 * moved / gap)
        closed.append(shut)
    names = [name for name, shut in zip(("near", "far"), closed, strict=True) if shut]
    reason = f"no gap to strain at the {' and '.join(names)} cortex: the faces touch" if names else None
    return Strain(found[0], found[1], reason)


def _contacts(
    frame: Frame, interface: Interface, system: OpenConstruct, before: Preloaded, after: State
) -> list[InterfaceAnswer]:
    load = frame.construct.load
    applied = np.array([load.axial_n, load.bending_nmm])
    answers = []
    for k in range(interface.lines):
        factor = opening_factor(interface, system, before, applied, k)
        edges = interface.edges[k]
        pressed, touching = before.state.interface.pressing[edges], after.interface.pressing[edges]
        answers.append(
            InterfaceAnswer(
                near_preloaded=bool(pressed[0]),
                far_preloaded=bool(pressed[1]),
                near_closed=bool(touching[0]),
                far_closed=bool(touching[1]),
                closed=bool(touching.all()),
                preload_n=float(before.state.interface.force[interface.opening[k]].sum()),
                opens_at_factor=None if factor is None else float(factor),
                opens_at_n=None if factor is None or load.axial_n == 0.0 else float(factor * load.axial_n),
                opens_at_nmm=None if factor is None or load.bending_nmm == 0.0 else float(factor * load.bending_nmm),
                margin=None if factor is None else float(factor - 1.0),
                slip_ratio=_slip_ratio(interface, k, after),
            )
        )
    return answers


def _slip_ratio(interface: Interface, k: int, after: State) -> float | None:
    normal = float(after.interface.force[interface.opening[k]].sum())
    sliding = abs(float(after.interface.force[interface.sliding[k]]))
    return min(1.0, sliding / (interface.friction * normal)) if normal > 0.0 else None
