"""Stress along the plate, and how its swing under the load compares with what the metal bears for long."""

from __future__ import annotations

import numpy as np

from app.mechanics.answers import PlateStress
from app.mechanics.frame import Frame
from app.mechanics.members import BoolArray
from app.mechanics.model import Construct, Plate
from app.mechanics.sections import Array, PlateSection, full_plate_section, net_plate_section

ROUND_HOLE, LONG_HOLE = 1.3, 1.6  # how much the edge of a hole raises the stress of its net section: see `hole_factor`
_CORNERS = np.array([(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)])  # signs of both bending stresses


def hole_factor(plate: Plate) -> float:
    """K, peak stress at the edge of a hole ÷ nominal stress of the net section, when the plate is bent.

    1.3 for a round hole and 1.6 for one twice as long as wide, between them in proportion. Read from own solid finite
    elements: 1.20 to 1.32 and 1.50 to 1.62 (see the tests).
    """
    longer = min(max(plate.hole_length_mm / plate.hole_width_mm - 1.0, 0.0), 1.0)
    return ROUND_HOLE + (LONG_HOLE - ROUND_HOLE) * longer


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
    """Stress along the plate in the first state, of which the second is the part that the load caused.

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
    parts = _section_parts(frame.construct, force, reach[..., None], net)
    stress = np.sqrt(np.abs(parts[:3]).sum(axis=0) ** 2 + 3.0 * parts[3] ** 2)
    s = plate.s_j[:, None] - reach * ((plate.s_j - plate.s_i) / length)[:, None]
    order = np.argsort(plate.s_i, kind="stable")
    along, total = s[order].ravel(), stress[order, :, 0].ravel()
    peak = int(np.argmax(total))
    used, load_ratio = _goodman(spec, parts, net)
    return PlateStress(
        s_mm=tuple(along.tolist()),
        stress_mpa=tuple(total.tolist()),
        peak_mpa=float(total[peak]),
        peak_s_mm=float(along[peak]),
        swing_mpa=float(stress[..., 1].max()),
        fatigue_ratio=used,
        load_ratio=load_ratio,
        yield_ratio=float(total[peak]) / spec.yield_mpa,
        fatigue_mpa=spec.fatigue_mpa,
        yield_mpa=spec.yield_mpa,
    )


def _section_parts(construct: Construct, force: Array, reach: Array, net: BoolArray) -> Array:
    """N/A (tension positive), M_z·t/(2I_z), M_y·b/(2I_y) and T/W at every section, with their signs (MPa).

    From the end forces at the distances `reach` from node j. `force` (2, n, 3, c) is in N and N·mm, `reach` (n, 4, 1)
    in mm; `net` (n, 4) marks the net sections. The shape is (4, n, 4, c).
    """
    full_section, net_section = full_plate_section(construct.plate), net_plate_section(construct.plate)
    b, t = construct.plate.width_mm, construct.plate.thickness_mm
    factors = np.where(net[..., None], stress_factors(net_section, b, t), stress_factors(full_section, b, t))
    n, torque = force[0, :, None, 0], force[1, :, None, 1]
    m_z = force[0, :, None, 2] + force[0, :, None, 1] * reach
    m_y = force[1, :, None, 2] - force[1, :, None, 0] * reach
    whole = np.broadcast_arrays(n, m_z, m_y, torque)
    return np.stack([part * factors[..., k, None] for k, part in enumerate(whole)])


def stress_factors(section: PlateSection, width: float, thickness: float) -> Array:
    """Stress per N and per N·mm: 1/A, t/(2I_z), b/(2I_y) and 1/W; shape (4,)."""
    return np.array(
        [1.0 / section.area, thickness / 2.0 / section.i_z, width / 2.0 / section.i_y, 1.0 / section.torsion_modulus]
    )


def _goodman(plate: Plate, parts: Array, net: BoolArray) -> tuple[float, float]:
    """The largest of K·σ_a/S_e + σ_m/S_u over all sections and their corners, and R there.

    The load is put on and taken off again: the stress goes between σ₀, that of tightening, and σ₁, with the load on
    top. At each corner σ = N/A ± M_z·t/(2I_z) ± M_y·b/(2I_y); σ_a = √((σ₁ − σ₀)²/4 + 3(τ₁ − τ₀)²/4), and σ_m = (σ₁ +
    σ₀)/2 where that is tension, else 0. S_e is the fatigue strength (R = −1), S_u the ultimate strength; K, that of a
    hole's edge, raises the swing only, as is usual for ductile metals. R = lowest ÷ highest of σ₀ and σ₁. Source:
    Goodman's line (mechanical design handbooks; from memory).

    `parts` (4, n, 4, 2) holds the stress with the load, and the part of it that the load caused.
    """
    with_load, caused = parts[..., 0], parts[..., 1]
    before = with_load - caused
    corner = [
        state[0][..., None] + state[1][..., None] * _CORNERS[:, 0] + state[2][..., None] * _CORNERS[:, 1]
        for state in (before, with_load)
    ]
    amplitude = np.sqrt((corner[1] - corner[0]) ** 2 / 4.0 + 3.0 * (caused[3] ** 2)[..., None] / 4.0)
    mean = np.maximum((corner[0] + corner[1]) / 2.0, 0.0)
    raised = np.where(net, hole_factor(plate), 1.0)[..., None]
    used = raised * amplitude / plate.fatigue_mpa + mean / plate.ultimate_mpa
    worst = np.unravel_index(int(np.argmax(used)), used.shape)
    low, high = sorted((float(corner[0][worst]), float(corner[1][worst])))
    return float(used[worst]), low / high if high > 0.0 else 0.0
