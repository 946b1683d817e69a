"""What the mechanics answers, as frozen data.

A model estimate for comparing layouts, not a prediction for a patient.
"""

from __future__ import annotations

from dataclasses import dataclass

from app.mechanics.model import LoadCase, Supports


@dataclass(frozen=True, slots=True)
class Motion:
    """Motion of the distal face against the proximal one at one line, caused by the load (mm, degrees).

    `near`, `far`: along the axis at the two cortices, opening positive. `shear`: across the axis at the line's
    middle, in
    any direction. `turn`: in-plane rotation; `twist`: about the axis.
    """

    near_mm: float
    far_mm: float
    shear_mm: float
    turn_deg: float
    twist_deg: float


@dataclass(frozen=True, slots=True)
class Strain:
    """Axial motion ÷ gap left after tightening, in percent, closing or opening.

    None where there is no gap: `reason` says so.
    """

    near_percent: float | None
    far_percent: float | None
    reason: str | None


@dataclass(frozen=True, slots=True)
class InterfaceAnswer:
    """Contact at one fracture line.

    `near_preloaded`, `far_preloaded`: pressed by tightening alone. `near_closed`, `far_closed`: touching under the
    load case;
    `closed`: both. `preload_n`: force pressing the faces before load. `opens_at_factor`: multiple of the load case's
    axial and
    bending load at which a pressed face loses contact (None: nothing was pressed, or it never opens), `opens_at_n` and
    `opens_at_nmm` the same in axial load and bending; `margin` = factor − 1. `slip_ratio`: friction used (None: the
    line slides or is open).
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
    """Largest nominal stress of each plate section.

    (MPa, magnitude: axial, both bendings, torsional shear, von Mises) along `s_mm`.

    Net section at hole centres, full section at hole edges; no stress concentration. `peak_mpa` at `peak_s_mm`.
    `yield_ratio`: peak ÷ yield strength. `fatigue_ratio`: largest change caused by the load ÷ fatigue strength; both
    strengths (MPa) stand beside them.
    """

    s_mm: tuple[float, ...]
    stress_mpa: tuple[float, ...]
    peak_mpa: float
    peak_s_mm: float
    fatigue_ratio: float
    yield_ratio: float
    fatigue_mpa: float
    yield_mpa: float


@dataclass(frozen=True, slots=True)
class ScrewAnswer:
    """Load of one screw against what it can take; None where it does not apply.

    `pull_out_ratio`: force along the screw ÷ Chapman's pull-out force of the cortices held (a clamped or lag screw
    carries at least
    its own tightening). `bending_ratio`: bending stress of a locking screw's core ÷ its yield strength.
    `friction_ratio`: shear
    at a clamped screw ÷ friction × clamp force; above 1 it slips.
    """

    id: str
    pull_n: float
    pull_out_ratio: float | None
    bending_ratio: float | None
    friction_ratio: float | None


@dataclass(frozen=True, slots=True)
class MechanicsResult:
    """All answers for one construct.

    When `unstable` says why the construct holds nothing, every figure is None or empty.

    Bending stiffness: moment ÷ relative rotation of the two bone ends, which turn freely (uniform moment, as between
    the inner
    rollers of a four-point test). Axial and torsional stiffness hold for `supports`. All are secant values at the
    load case, or at
    100 N and 1 N·m where it has no such component (less than 1 N, 10 N·mm).
    `lines` has one answer per fracture line; `worst_line` has the largest axial or shear motion.
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

    @property
    def worst(self) -> LineAnswer | None:
        """Answer of the worst fracture line."""
        return None if self.worst_line is None else self.lines[self.worst_line]
