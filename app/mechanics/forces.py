"""Displacements of all nodes from the kept ones, and what every screw carries."""

from __future__ import annotations

import math

import numpy as np

from app.mechanics.answers import ScrewAnswer
from app.mechanics.chain import recover_stations
from app.mechanics.contact import lag_pull_out_n
from app.mechanics.frame import Frame, fragment_shifts, line_screw_nodes
from app.mechanics.model import Construct, LagScrew, Screw
from app.mechanics.screw_joints import ScrewForces, patch_forces, pull_out_n
from app.mechanics.sections import Array


def station_displacements(frame: Frame, top: Array, weights: Array) -> Array:
    """Displacements of every station, ends included; shape (2, fragments, stations + 2, 6, c), in mm and radians.

    `top` (2, m, c) holds the kept unknowns of c states, and `weights` (2, c) their eccentric shift and pre-bend.
    """
    ends = top[:, frame.ends]
    inner = recover_stations(frame.condensed, ends, weights)
    return np.concatenate([ends[:, :, None, :6], inner, ends[:, :, None, 6:]], axis=2)


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
    return ScrewAnswer(lag.id, pull, pull / lag_pull_out_n(construct, lag), None, None)
