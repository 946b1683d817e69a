"""Internal forces from displacements: the stress along the plate, and what every screw carries."""

from __future__ import annotations

import math

import numpy as np

from app.mechanics.answers import PlateStress, ScrewAnswer
from app.mechanics.chain import recover_stations
from app.mechanics.frame import Frame, fragment_shifts, line_screw_nodes
from app.mechanics.members import BoolArray
from app.mechanics.model import Construct, LagScrew, Screw
from app.mechanics.screw_joints import ScrewForces, patch_forces, pull_out_n
from app.mechanics.sections import Array, PlateSection, bone_at, full_plate_section, net_plate_section


def station_displacements(frame: Frame, top: Array, weights: Array) -> Array:
    """Displacements of every station, ends included; shape (2, fragments, stations + 2, 6, c), in mm and radians.

    `top` (2, m, c) holds the kept unknowns of c states, and `weights` (2, c) their eccentric shift and pre-bend.
    """
    ends = top[:, frame.ends]
    inner = recover_stations(frame.condensed, ends, weights)
    return np.concatenate([ends[:, :, None, :6], inner, ends[:, :, None, 6:]], axis=2)


def _plate_ends(frame: Frame, top: Array, stations: Array) -> tuple[Array, Array]:
    """Displacements of both ends of every plate member, each of shape (2, n, 3, c)."""
    plate, slots = frame.plate, (frame.plate.slot_i, frame.plate.slot_j)
    i, j = (stations[:, plate.chain, slot * (plate.chain >= 0), 3:] for slot in slots)
    for n in np.flatnonzero(plate.chain < 0):
        line = frame.top.plate[-1 - plate.chain[n]]
        for end, slot in ((i, slots[0]), (j, slots[1])):
            first = 3 * line[slot[n]]
            end[:, n] = top[:, first : first + 3]
    return i, j


def plate_stress(frame: Frame, top: Array, stations: Array, bent: Array) -> PlateStress:
    """Stress along the plate in the first state, with the fatigue ratio of the second, the change that the load caused.

    Each member is evaluated at four sections: node i, the edge of its hole, the edge of the hole at j, and node j. σ =
    |N|/A + |M_z|·t/(2I_z) + |M_y|·b/(2I_y), τ = |T|/W, and the von Mises stress is √(σ² + 3τ²), so the extreme fibres
    of all parts are taken together; b is the width and t the thickness of the plate. `top` has the shape (2, m, c) and
    `stations` (2, fragments, stations + 2, 6, c); `bent` (c,) scales the pre-bend.
    """
    plate, spec = frame.plate, frame.construct.plate
    i, j = _plate_ends(frame, top, stations)
    stretch = j - plate.arm @ i
    stretch[0] -= plate.kink[:, :, None] * bent
    force = plate.turn @ (plate.stiffness @ stretch)
    length = np.hypot(plate.s_j - plate.s_i, plate.arm[0, :, 0, 2])
    half = spec.hole_length_mm / 2.0
    zero = np.zeros_like(length)
    reach = np.array([length, length - half * plate.hole_i, half * plate.hole_j, zero]).T
    net = np.array([plate.hole_i, zero, zero, plate.hole_j]).T > 0.0
    stress = _section_stress(frame.construct, force, reach[..., None], net)
    s = plate.s_j[:, None] - reach * ((plate.s_j - plate.s_i) / length)[:, None]
    order = np.argsort(plate.s_i, kind="stable")
    along, total = s[order].ravel(), stress[order, :, 0].ravel()
    peak = int(np.argmax(total))
    return PlateStress(
        s_mm=tuple(along.tolist()),
        stress_mpa=tuple(total.tolist()),
        peak_mpa=float(total[peak]),
        peak_s_mm=float(along[peak]),
        fatigue_ratio=float(stress[..., 1].max()) / spec.fatigue_mpa,
        yield_ratio=float(total[peak]) / spec.yield_mpa,
        fatigue_mpa=spec.fatigue_mpa,
        yield_mpa=spec.yield_mpa,
    )


def _section_stress(construct: Construct, force: Array, reach: Array, net: BoolArray) -> Array:
    """Von Mises stress (MPa), shape (n, 4, c), from the end forces at the distances `reach` from node j.

    `force` (2, n, 3, c) is in N and N·mm, `reach` (n, 4, 1) in mm; `net` (n, 4) marks the net sections.
    """
    full_section, net_section = full_plate_section(construct.plate), net_plate_section(construct.plate)
    b, t = construct.plate.width_mm, construct.plate.thickness_mm

    per_force = np.where(net[..., None], _stress_factors(net_section, b, t), _stress_factors(full_section, b, t))[
        ..., None
    ]
    end = np.abs(force[:, :, None])
    m_z = force[0, :, None, 2] + force[0, :, None, 1] * reach
    m_y = force[1, :, None, 2] - force[1, :, None, 0] * reach
    sigma = end[0, :, :, 0] * per_force[:, :, 0] + np.abs(m_z) * per_force[:, :, 1] + np.abs(m_y) * per_force[:, :, 2]
    tau = end[1, :, :, 1] * per_force[:, :, 3]
    stress: Array = np.sqrt(sigma**2 + 3.0 * tau**2)
    return stress


def _stress_factors(section: PlateSection, width: float, thickness: float) -> Array:
    """Stress per N and per N·mm: 1/A, t/(2I_z), b/(2I_y) and 1/W; shape (4,)."""
    return np.array(
        [1.0 / section.area, thickness / 2.0 / section.i_z, width / 2.0 / section.i_y, 1.0 / section.torsion_modulus]
    )


def joint_nodes(frame: Frame, top: Array, stations: Array, share: float, state: int = 0) -> Array:
    """Displacements of the plate node and the two bone nodes of every screw in one state; shape (2, n, 9).

    The bone's `share` (0…1) of its eccentric shift is the unstressed position of the joint, and is subtracted.
    """
    nodes = np.zeros((2, len(frame.joints.screws), 9))
    places = frame.places
    inner = places[:, 0] >= 0
    at = stations[..., state][:, places[inner, 0], places[inner, 1]]
    nodes[:, inner] = np.concatenate([at[..., 3:], at[..., :3], at[..., :3]], axis=-1)
    for n, rows in line_screw_nodes(frame.layout, frame.top, frame.joints):
        nodes[:, n] = top[:, rows, state]
    if share:
        shift = fragment_shifts(frame.construct)
        nodes[0, :, 3] -= [share * shift[s.near_fragment or 0] for s in frame.joints.screws]
        nodes[0, :, 6] -= [share * shift[s.far_fragment or 0] for s in frame.joints.screws]
    return nodes


def screw_answers(
    frame: Frame, lags: tuple[LagScrew, ...], forces: ScrewForces, lag_pull: Array
) -> tuple[ScrewAnswer, ...]:
    """The load of every screw against its capacity; a screw that holds no bone carries nothing.

    `forces` are those of the joints; `lag_pull` holds the tension of each of `lags` (N).
    """
    joints = frame.joints
    by_id = {lag.id: float(pull) for lag, pull in zip(lags, lag_pull, strict=True)}
    answers = {}
    for n, screw in enumerate(joints.screws):
        wall = float(joints.geometry.cortex[n])
        pull, moment = float(forces.pull[n]), float(forces.moment[n])
        shear = math.hypot(forces.shear_s[n], forces.shear_z[n])
        answers[screw.id] = _screw_answer(frame.construct, screw, wall, (pull, shear, moment), by_id.get(screw.id, 0.0))
    idle = {s.id: ScrewAnswer(s.id, 0.0, None, None, None) for s in frame.construct.screws}
    beside = {lag.id: _lag_answer(frame.construct, lag, by_id.get(lag.id, 0.0)) for lag in frame.construct.lag_screws}
    return tuple({**idle, **answers, **beside}.values())


def slip_ratios(frame: Frame, nodes: Array) -> tuple[float | None, ...]:
    """For each fragment, the shear that its clamped screws carry together ÷ what their friction holds together.

    What one hole can't bear its neighbours take, so that slip is asked of the fragment: |Σ shear| ÷ Σ (coefficient of
    friction × clamp force), Coulomb. None where no screw clamps it, or a locking screw holds it whatever slips.
    `nodes` (2, n, 9) are from `joint_nodes`, of what the load adds: tightening alone never passes 1, as the plate slips
    back until it holds.
    """
    tie = patch_forces(frame.joints, nodes)
    joints, friction = frame.joints, frame.construct.friction.plate_bone
    found: list[float | None] = []
    for fragment in range(len(frame.construct.fracture_lines) + 1):
        on = [n for n, screw in enumerate(joints.screws) if _clamped_on(screw) == fragment]
        clamped = [n for n in on if not joints.screws[n].kind.startswith("locking")]
        limit = friction * sum(joints.screws[n].clamp_force_n for n in clamped)
        if len(clamped) < len(on) or limit <= 0.0:
            found.append(None)
            continue
        along, across = (float(tie[plane, clamped, 0].sum()) for plane in (0, 1))
        found.append(math.hypot(along, across) / limit)
    return tuple(found)


def _clamped_on(screw: Screw) -> int | None:
    """The fragment that a screw presses the plate on: that of its near cortex, or else of its far one."""
    return screw.far_fragment if screw.near_fragment is None else screw.near_fragment


def _screw_answer(
    construct: Construct, screw: Screw, wall: float, load: tuple[float, float, float], lag_pull: float
) -> ScrewAnswer:
    pull, shear, moment = load
    far_counts = screw.far_fragment is not None and screw.kind != "locking-1"
    near_counts = screw.near_fragment is not None and screw.kind != "lag"
    cortices = near_counts + far_counts
    if not screw.kind.startswith("locking"):
        pull = max(pull, screw.clamp_force_n, lag_pull)
    held = pull_out_n(
        screw.thread_mm, screw.core_mm, screw.pitch_mm, wall * cortices, construct.bone.shear_strength_mpa
    )
    pull_ratio = (abs(pull) / held) if cortices else None
    if screw.kind.startswith("locking"):
        bending = moment * 32.0 / (math.pi * screw.core_mm**3) / screw.yield_mpa
        return ScrewAnswer(screw.id, pull, pull_ratio, bending, None)
    friction = construct.friction.plate_bone * screw.clamp_force_n
    return ScrewAnswer(screw.id, pull, pull_ratio, None, shear / friction if friction > 0.0 else None)


def _lag_answer(construct: Construct, lag: LagScrew, pull: float) -> ScrewAnswer:
    wall = float(bone_at(construct.bone, np.array([lag.far_s_mm])).cortex[0])
    held = pull_out_n(lag.thread_mm, lag.core_mm, lag.pitch_mm, wall, construct.bone.shear_strength_mpa)
    return ScrewAnswer(lag.id, pull, pull / held, None, None)
