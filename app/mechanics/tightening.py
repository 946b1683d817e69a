"""What a screw's torque makes: the force that presses the plate on the bone, and the push of a wedge under its head.

No measured compression goes in: what was measured is what the answers are held against. How much of the torque friction
takes is not known, and is chosen so that the forces of screws are those remembered (`app/catalogue/data/loads.toml`).
"""

import math


def torque_nm(of_4_5_nm: float, thread_mm: float) -> float:
    """Torque T (N·m) by which a screw with the thread diameter D = `thread_mm` (mm) is tightened: T₄.₅·(D/4.5)³.

    So the shear stress in cores of one shape is the same (torsion of a round bar: τ = 16·T/(π·d³)); that surgeons
    tighten by that is assumed. T₄.₅ = `of_4_5_nm` is that of a 4.5 mm cortex screw.
    """
    return of_4_5_nm * (thread_mm / 4.5) ** 3


def clamp_force_n(torque_nm: float, coefficient: float, thread_mm: float) -> float:
    """Force F = T/(K·D) of a tightened screw (N), with the torque T (N·m) and the thread diameter D (mm).

    K = `coefficient` (dimensionless) stands for the friction in the thread and under the head, which take most of the
    torque. Source: short form of the bolt torque equation (mechanical design handbooks; from memory).
    """
    return 1000.0 * torque_nm / (coefficient * thread_mm)


def wedge_share(slope_deg: float, friction_head: float, friction_bone: float) -> float:
    """Pull along the plate ÷ force of a screw whose head slides down the slope of its hole; 0 where it sticks.

    The head presses on a slope of β = `slope_deg` (degrees, against the plate) with the friction μ = `friction_head`,
    and moves the plate by F·tan(β − arctan μ); under the plate the bone that it is pressed on holds it back by μ'·F,
    μ' = `friction_bone`. Source: equilibrium of a wedge with Coulomb friction (statics, from memory).
    """
    drive = math.radians(slope_deg) - math.atan(friction_head)
    return max(0.0, math.tan(drive) - friction_bone) if drive > 0.0 else 0.0
