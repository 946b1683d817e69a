"""Input of the mechanics: one plated bone as frozen data.

Axes: `s` runs along the shaft from the proximal end, `y` from the bone axis towards the plate, `z` sideways.
Lengths in mm, forces in N, moments in N·mm, moduli and stresses in MPa. Fragments are counted from 0 (proximal).
Nothing here has a default that stands for a material or a size: every figure comes from the caller.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

ScrewKind = Literal["locking-2", "locking-1", "clamped", "lag"]
Support = Literal["ball", "held"]


def _require(condition: bool, message: str) -> None:
    if not condition:
        raise ValueError(message)


def _require_positive(**values: float) -> None:
    for name, value in values.items():
        _require(math.isfinite(value) and value > 0.0, f"{name} must be a positive number, not {value}")


def _require_finite(**values: float) -> None:
    for name, value in values.items():
        _require(math.isfinite(value), f"{name} must be a finite number, not {value}")


def _increasing(values: Iterable[float]) -> bool:
    return all(after > before for before, after in pairwise(values))


@dataclass(frozen=True, slots=True)
class BoneProfile:
    """Shaft as samples of a hollow ellipse; between the samples the sizes run linearly.

    `depth_mm` is the outer size in y (plate direction), `width_mm` in z, `cortex_mm` the wall. A wall as thick as
    the radius is a solid rod. `shear_strength_mpa` is the strength of the bone between screw threads.
    Raises ValueError when the samples differ in number, are not in order, or a size is not positive.
    """

    s_mm: tuple[float, ...]
    depth_mm: tuple[float, ...]
    width_mm: tuple[float, ...]
    cortex_mm: tuple[float, ...]
    modulus_mpa: float
    shear_modulus_mpa: float
    shear_strength_mpa: float

    def __post_init__(self) -> None:
        count = len(self.s_mm)
        _require(count >= 2, "a bone profile needs at least two samples")
        _require(
            count == len(self.depth_mm) == len(self.width_mm) == len(self.cortex_mm),
            "bone profile samples differ in number",
        )
        _require(_increasing(self.s_mm), "bone profile samples must run from proximal to distal")
        for size in (*self.depth_mm, *self.width_mm, *self.cortex_mm):
            _require_positive(bone_size_mm=size)
        _require_positive(
            modulus_mpa=self.modulus_mpa,
            shear_modulus_mpa=self.shear_modulus_mpa,
            shear_strength_mpa=self.shear_strength_mpa,
        )


@dataclass(frozen=True, slots=True)
class Plate:
    """Straight plate with its holes; `hole_s_mm` are the hole centres, hole 1 first.

    The net section at a hole is the rectangle less `hole_width_mm`, over `hole_length_mm` along the plate.
    `standoff_mm` is the clear distance between the plate's underside and the bone.
    """

    width_mm: float
    thickness_mm: float
    hole_width_mm: float
    hole_length_mm: float
    hole_s_mm: tuple[float, ...]
    standoff_mm: float
    modulus_mpa: float
    shear_modulus_mpa: float
    yield_mpa: float
    fatigue_mpa: float

    def __post_init__(self) -> None:
        _require_positive(
            width_mm=self.width_mm,
            thickness_mm=self.thickness_mm,
            hole_width_mm=self.hole_width_mm,
            hole_length_mm=self.hole_length_mm,
            modulus_mpa=self.modulus_mpa,
            shear_modulus_mpa=self.shear_modulus_mpa,
            yield_mpa=self.yield_mpa,
            fatigue_mpa=self.fatigue_mpa,
        )
        _require(math.isfinite(self.standoff_mm) and self.standoff_mm >= 0.0, "standoff_mm must not be negative")
        _require(self.hole_width_mm < self.width_mm, "a hole must be narrower than the plate")
        _require(len(self.hole_s_mm) >= 2, "a plate needs at least two holes")
        _require(_increasing(self.hole_s_mm), "plate holes must be ordered from proximal to distal")
        pitch = min(after - before for before, after in pairwise(self.hole_s_mm))
        _require(self.hole_length_mm < pitch, "a hole must be shorter than the pitch")


@dataclass(frozen=True, slots=True)
class Screw:
    """A screw in plate hole `hole_number` (from 1).

    `near_fragment` and `far_fragment` say which fragment each cortex belongs to; None: that cortex is not held.
    `clamped` is a cortex screw pressing the plate on the bone with `clamp_force_n`. When it is eccentric,
    `shift_mm` is how far tightening it moves its fragment along +s (negative: towards proximal) and
    `compression_limit_n` the most compression it can make. `lag` also clamps the plate on its near fragment and pulls
    the
    far cortex with `lag_force_n`; `far_s_mm` is where its tip passes the far cortex (None: straight across).
    """

    id: str
    hole_number: int
    kind: ScrewKind
    core_mm: float
    thread_mm: float
    pitch_mm: float
    modulus_mpa: float
    yield_mpa: float
    near_fragment: int | None
    far_fragment: int | None
    clamp_force_n: float = 0.0
    shift_mm: float = 0.0
    compression_limit_n: float = 0.0
    lag_force_n: float = 0.0
    far_s_mm: float | None = None

    def __post_init__(self) -> None:
        _require_positive(
            core_mm=self.core_mm,
            thread_mm=self.thread_mm,
            pitch_mm=self.pitch_mm,
            modulus_mpa=self.modulus_mpa,
            yield_mpa=self.yield_mpa,
        )
        _require(self.core_mm < self.thread_mm, "a screw's core must be thinner than its thread")
        _require_finite(shift_mm=self.shift_mm)
        for force in (self.clamp_force_n, self.compression_limit_n, self.lag_force_n):
            _require(math.isfinite(force) and force >= 0.0, "screw forces must not be negative")


@dataclass(frozen=True, slots=True)
class LagScrew:
    """A lag screw beside the plate, from the near surface at `near_s_mm` to the far surface at `far_s_mm`."""

    id: str
    near_s_mm: float
    far_s_mm: float
    near_fragment: int
    far_fragment: int
    core_mm: float
    thread_mm: float
    pitch_mm: float
    modulus_mpa: float
    force_n: float

    def __post_init__(self) -> None:
        _require_positive(
            core_mm=self.core_mm, thread_mm=self.thread_mm, pitch_mm=self.pitch_mm, modulus_mpa=self.modulus_mpa
        )
        _require_finite(near_s_mm=self.near_s_mm, far_s_mm=self.far_s_mm)
        _require(math.isfinite(self.force_n) and self.force_n >= 0.0, "force_n must not be negative")


@dataclass(frozen=True, slots=True)
class FractureLine:
    """A fracture line: axis position, obliquity (degrees), length without load-bearing bone, open gap.

    The line crosses the near cortex at `s - depth/2·tan a` and the far one at `s + depth/2·tan a`.
    """

    s_mm: float
    obliquity_deg: float = 0.0
    zone_mm: float = 0.0
    gap_mm: float = 0.0

    def __post_init__(self) -> None:
        _require_finite(s_mm=self.s_mm, obliquity_deg=self.obliquity_deg)
        _require(abs(self.obliquity_deg) <= 80.0, "obliquity must lie between -80 and 80 degrees")
        for length in (self.zone_mm, self.gap_mm):
            _require(math.isfinite(length) and length >= 0.0, "zone and gap must not be negative")

    @property
    def clearance_mm(self) -> float:
        """Length along the axis over which the faces can close before they touch."""
        return self.zone_mm + self.gap_mm


@dataclass(frozen=True, slots=True)
class LoadCase:
    """Loads acting together. Axial: compression positive. Bending: plate side in tension positive."""

    axial_n: float = 0.0
    bending_nmm: float = 0.0
    lateral_nmm: float = 0.0
    torsion_nmm: float = 0.0

    def __post_init__(self) -> None:
        _require_finite(
            axial=self.axial_n, bending=self.bending_nmm, lateral=self.lateral_nmm, torsion=self.torsion_nmm
        )


@dataclass(frozen=True, slots=True)
class Supports:
    """How the two bone ends are held under axial load and torsion: ball joint, or held against turning."""

    proximal: Support = "ball"
    distal: Support = "ball"


@dataclass(frozen=True, slots=True)
class Friction:
    """Coefficients of friction between plate and bone, and between two fracture faces."""

    plate_bone: float
    bone_bone: float

    def __post_init__(self) -> None:
        _require_positive(plate_bone=self.plate_bone, bone_bone=self.bone_bone)


@dataclass(frozen=True, slots=True)
class Construct:
    """Everything the mechanics needs to know. Raises ValueError when the parts contradict each other.

    `prebend_mm`: how far the unloaded plate stands off the bone at the fracture. `shear_flexible` switches the
    shear deformation of the bone off for comparison with solvers that lack it.
    """

    bone: BoneProfile
    plate: Plate
    screws: tuple[Screw, ...]
    fracture_lines: tuple[FractureLine, ...]
    friction: Friction
    load: LoadCase
    supports: Supports = Supports()
    lag_screws: tuple[LagScrew, ...] = ()
    prebend_mm: float = 0.0
    shear_flexible: bool = True

    def __post_init__(self) -> None:
        self._check_lines()
        self._check_screws()
        start, end = self.bone.s_mm[0], self.bone.s_mm[-1]
        _require(
            start < self.plate.hole_s_mm[0] and self.plate.hole_s_mm[-1] < end,
            "the plate's holes must lie over the bone",
        )
        _require(math.isfinite(self.prebend_mm) and self.prebend_mm >= 0.0, "prebend_mm must not be negative")

    def _check_lines(self) -> None:
        edges = [self.bone.s_mm[0]]
        for line in self.fracture_lines:
            edges += [line.s_mm - line.zone_mm / 2.0, line.s_mm + line.zone_mm / 2.0]
        edges.append(self.bone.s_mm[-1])
        for before, after in zip(edges[::2], edges[1::2], strict=True):
            _require(after > before, "fracture lines must be ordered, lie on the bone and leave bone between them")

    def _check_screws(self) -> None:
        numbers = [screw.hole_number for screw in self.screws]
        _require(len(set(numbers)) == len(numbers), "two screws in one hole")
        _require(all(1 <= n <= len(self.plate.hole_s_mm) for n in numbers), "a screw in a hole the plate has not")
        last = len(self.fracture_lines)
        held = [f for screw in self.screws for f in (screw.near_fragment, screw.far_fragment) if f is not None]
        held += [f for lag in self.lag_screws for f in (lag.near_fragment, lag.far_fragment)]
        _require(all(0 <= f <= last for f in held), "a screw in a fragment that does not exist")

    @property
    def fragment_count(self) -> int:
        """Number of main fragments, one more than fracture lines."""
        return len(self.fracture_lines) + 1
