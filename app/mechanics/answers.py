"""What the mechanics answer, as frozen data: model estimates for comparing layouts, not predictions for a patient."""

from __future__ import annotations

from dataclasses import dataclass

from app.mechanics.model import LoadCase, Supports


@dataclass(frozen=True, slots=True)
class Motion:
    """Motion of the distal face against the proximal one at one fracture line, caused by the load.

    Attributes:
        near_mm: along the axis at the near cortex, opening positive (mm).
        far_mm: along the axis at the far cortex, opening positive (mm).
        shear_mm: across the axis at the middle of the line, in any direction, never negative (mm).
        turn_deg: rotation in the plane of the profile (degrees).
        twist_deg: rotation about the bone axis (degrees).
    """

    near_mm: float
    far_mm: float
    shear_mm: float
    turn_deg: float
    twist_deg: float


@dataclass(frozen=True, slots=True)
class Strain:
    """Interfragmentary strain at the two cortices of one fracture line.

    It is the axial motion ÷ the gap left after tightening, in percent, opening positive. A figure is None where there
    is no gap to strain; `reason` then says so in words.
    """

    near_percent: float | None
    far_percent: float | None
    reason: str | None


@dataclass(frozen=True, slots=True)
class InterfaceAnswer:
    """Contact at one fracture line.

    Attributes:
        near_preloaded: whether tightening alone presses the near cortex.
        far_preloaded: whether tightening alone presses the far cortex.
        near_closed: whether the near cortex touches under the load case.
        far_closed: whether the far cortex touches under the load case.
        closed: whether both cortices touch under the load case.
        preload_n: force that presses the faces together before any load (N).
        opens_at_factor: multiple of the axial and bending load of the load case at which a pressed face loses contact;
            None where nothing was pressed, or where it never opens.
        opens_at_n: the same as an axial load (N); None too where the load case has no axial load.
        opens_at_nmm: the same as a bending moment (N·mm); None too where the load case has no bending.
        margin: `opens_at_factor` − 1.
        slip_ratio: share of the available friction that is used, 1 where the line slides; None where it is open.
    """

    near_preloaded: bool
    far_preloaded: bool
    near_closed: bool
    far_closed: bool
    closed: bool
    preload_n: float
    opens_at_factor: float | None
    opens_at_n: float | None
    opens_at_nmm: float | None
    margin: float | None
    slip_ratio: float | None


@dataclass(frozen=True, slots=True)
class LineAnswer:
    """Motion, strain and contact at one fracture line."""

    motion: Motion
    strain: Strain
    interface: InterfaceAnswer


@dataclass(frozen=True, slots=True)
class PlateStress:
    """Largest nominal stress along the plate.

    The stress is the von Mises stress of axial force, both bending moments and torsion. It is that of the net section
    at hole centres and of the full section at hole edges, without stress concentration.

    Attributes:
        s_mm: positions along the shaft (mm).
        stress_mpa: stress at each of these positions (MPa).
        peak_mpa: largest stress (MPa).
        peak_s_mm: where it occurs (mm).
        swing_mpa: largest change of stress caused by the load (MPa).
        fatigue_ratio: Goodman's sum K·σ_a/S_e + σ_m/S_u where it is largest, for the load put on and off again; its
            inverse is the reserve. For comparing layouts only: no number of cycles follows from it.
        load_ratio: R, lowest ÷ highest stress there in one cycle of the load.
        yield_ratio: largest stress ÷ yield strength.
        fatigue_mpa: fatigue strength (MPa).
        yield_mpa: yield strength (MPa).
    """

    s_mm: tuple[float, ...]
    stress_mpa: tuple[float, ...]
    peak_mpa: float
    peak_s_mm: float
    swing_mpa: float
    fatigue_ratio: float
    load_ratio: float
    yield_ratio: float
    fatigue_mpa: float
    yield_mpa: float


@dataclass(frozen=True, slots=True)
class ScrewAnswer:
    """The load of one screw against its capacity; a ratio is None where it does not apply.

    Attributes:
        id: the screw.
        pull_n: force along the screw (N).
        pull_out_ratio: that force ÷ Chapman's pull-out force of the cortices held; a clamped or lag screw carries at
            least the force of its own tightening.
        bending_ratio: bending stress in the core of a locking screw ÷ its yield strength.
        friction_ratio: shear at a clamped screw ÷ (coefficient of friction × clamp force); above 1 it slips.
    """

    id: str
    pull_n: float
    pull_out_ratio: float | None
    bending_ratio: float | None
    friction_ratio: float | None


@dataclass(frozen=True, slots=True)
class MechanicsResult:
    """All answers for one construct; where it is unstable, every figure is None or empty.

    Bending stiffness is the moment ÷ the relative rotation of the two bone ends, which turn freely (a uniform moment,
    as between the inner rollers of a four-point test). Axial and torsional stiffness hold for `supports`. All are
    secant values at the load case; where that has no such component (less than 1 N or 10 N·mm), at 100 N or 1 N·m.

    Attributes:
        unstable: why the construct holds nothing or was not computed, in words; None where it was solved.
        supports: how the bone ends are held.
        load: the load case.
        axial_stiffness_n_per_mm: axial stiffness (N/mm).
        bending_stiffness_plate_tension_nm_per_deg: bending stiffness with the plate side in tension (N·m/°).
        bending_stiffness_plate_compression_nm_per_deg: bending stiffness with the plate side in compression (N·m/°).
        lateral_stiffness_nm_per_deg: stiffness in lateral bending (N·m/°).
        torsional_stiffness_nm_per_deg: torsional stiffness (N·m/°).
        lines: one answer per fracture line, from proximal to distal.
        worst_line: index of the line with the largest axial or shear motion, of those that move alike the one with the
            narrowest gap; None without a line.
        plate: stress along the plate.
        screws: one answer per screw.
        slip_ratios: for each fragment, from proximal to distal, the shear that the load puts on its clamped screws
            together ÷ what their friction holds together; above 1 the plate slips on it. None where it does not apply.
    """

    unstable: str | None
    supports: Supports
    load: LoadCase
    axial_stiffness_n_per_mm: float | None = None
    bending_stiffness_plate_tension_nm_per_deg: float | None = None
    bending_stiffness_plate_compression_nm_per_deg: float | None = None
    lateral_stiffness_nm_per_deg: float | None = None
    torsional_stiffness_nm_per_deg: float | None = None
    lines: tuple[LineAnswer, ...] = ()
    worst_line: int | None = None
    plate: PlateStress | None = None
    screws: tuple[ScrewAnswer, ...] = ()
    slip_ratios: tuple[float | None, ...] = ()

    @property
    def worst(self) -> LineAnswer | None:
        """The answer of the worst fracture line; None where there is none."""
        return None if self.worst_line is None else self.lines[self.worst_line]
