"""Input of the mechanics: one plated bone as frozen data.

Axes: `s` runs along the shaft from the proximal end, `y` from the bone axis towards the plate, and `z` sideways.
Lengths are in mm, forces in N, moments in N·mm, moduli and stresses in MPa. Main fragments are counted from 0
(proximal). Nothing here has a default that stands for a material or a size: every such figure comes from the caller.
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
    """The shaft as samples of a hollow elliptical section; between the samples the sizes are interpolated linearly.

    Attributes:
        s_mm: positions of the samples from the proximal end, rising, at least two (mm).
        depth_mm: outer size in y, the direction of the plate, one per sample (mm).
        width_mm: outer size in z, one per sample (mm).
        cortex_mm: thickness of the wall, one per sample (mm); a wall as thick as the radius makes a solid rod.
        modulus_mpa: Young's modulus of the bone (MPa).
        shear_modulus_mpa: shear modulus of the bone (MPa).
        shear_strength_mpa: shear strength of the bone between the threads of a screw (MPa).

    Raises:
        ValueError: the samples differ in number or are not in order, or a size, modulus or strength is not positive.
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
    """A straight plate with its holes.

    The net section at a hole is the rectangle width × thickness less the hole, over `hole_length_mm` along the plate.

    Attributes:
        width_mm: width of the plate (mm).
        thickness_mm: thickness of the plate (mm).
        hole_width_mm: width of a hole across the plate (mm).
        hole_length_mm: length of a hole along the plate (mm).
        hole_s_mm: positions of the hole centres along the shaft, hole 1 (proximal) first (mm).
        standoff_mm: clear distance between the underside of the plate and the bone (mm).
        modulus_mpa: Young's modulus of the metal (MPa).
        shear_modulus_mpa: shear modulus of the metal (MPa).
        yield_mpa: yield strength of the metal (MPa).
        fatigue_mpa: fatigue strength of the metal, an amplitude about no mean stress (MPa).
        ultimate_mpa: ultimate strength of the metal (MPa).

    Raises:
        ValueError: a size is not positive, the stand-off is negative, the holes are fewer than two or not in order, or
            a hole does not fit the plate.
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
    ultimate_mpa: float

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
            ultimate_mpa=self.ultimate_mpa,
        )
        _require(math.isfinite(self.standoff_mm) and self.standoff_mm >= 0.0, "standoff_mm must not be negative")
        _require(self.hole_width_mm < self.width_mm, "a hole must be narrower than the plate")
        _require(len(self.hole_s_mm) >= 2, "a plate needs at least two holes")
        _require(_increasing(self.hole_s_mm), "plate holes must be ordered from proximal to distal")
        pitch = min(after - before for before, after in pairwise(self.hole_s_mm))
        _require(self.hole_length_mm < pitch, "a hole must be shorter than the pitch")


@dataclass(frozen=True, slots=True)
class Screw:
    """A screw in a hole of the plate.

    A `clamped` screw is a cortex screw that presses the plate on the bone. A `lag` screw also clamps the plate on its
    near fragment, and pulls the far cortex towards it. An eccentric screw is a clamped one with a shift.

    Attributes:
        id: name of the screw in the answers.
        hole_number: number of the plate hole, from 1.
        kind: `locking-2` or `locking-1` (held by two cortices or by one), `clamped` or `lag`.
        core_mm: core diameter (mm).
        thread_mm: outer diameter of the thread (mm).
        pitch_mm: pitch of the thread (mm).
        modulus_mpa: Young's modulus of the metal (MPa).
        yield_mpa: yield strength of the metal (MPa).
        near_fragment: main fragment that the near cortex belongs to; None where that cortex is not held.
        far_fragment: main fragment that the far cortex belongs to; None where that cortex is not held.
        clamp_force_n: force with which the screw presses the plate on the bone (N).
        shift_mm: how far tightening an eccentric screw moves its fragment along +s; negative is towards proximal (mm).
        compression_limit_n: the most axial compression that the wedge under an eccentric screw's head can make (N).
        lag_force_n: force with which a lag screw pulls the far cortex (N).
        far_s_mm: where the tip of a lag screw passes the far cortex (mm); None means straight across from the hole.
        grip_n: the most that the bone lets it be tightened to (N).

    Raises:
        ValueError: a size, modulus or strength is not positive, a force is negative, or the core is not thinner than
            the thread.
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
    grip_n: float = math.inf

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
    """An independent lag screw, from the near surface of the bone to the far one.

    Attributes:
        id: name of the screw in the answers.
        near_s_mm: where the screw passes the near surface (mm).
        far_s_mm: where the screw passes the far surface (mm).
        near_fragment: main fragment under the head.
        far_fragment: main fragment that the thread holds.
        core_mm: core diameter (mm).
        thread_mm: outer diameter of the thread (mm).
        pitch_mm: pitch of the thread (mm).
        modulus_mpa: Young's modulus of the metal (MPa).
        force_n: tension of the tightened screw (N).
        grip_n: the most of it that the bone's thread bears (N).
        turn_deg: angle τ about the shaft from the profile plane to the plane that the screw lies in (degrees).

    Raises:
        ValueError: a size or modulus is not positive, a position is not finite, or the force is negative.
    """

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
    turn_deg: float = 0.0
    grip_n: float = math.inf

    def __post_init__(self) -> None:
        _require_positive(
            core_mm=self.core_mm, thread_mm=self.thread_mm, pitch_mm=self.pitch_mm, modulus_mpa=self.modulus_mpa
        )
        _require_finite(near_s_mm=self.near_s_mm, far_s_mm=self.far_s_mm, turn_deg=self.turn_deg)
        _require(math.isfinite(self.force_n) and self.force_n >= 0.0, "force_n must not be negative")


@dataclass(frozen=True, slots=True)
class FractureLine:
    """A fracture line across the shaft.

    The line crosses the near cortex at s − (depth/2)·tan a and the far cortex at s + (depth/2)·tan a, with the
    obliquity a.

    Attributes:
        s_mm: position on the bone axis (mm).
        obliquity_deg: angle a between the line and the cross-section (degrees), −80 to 80.
        zone_mm: length of shaft without load-bearing bone, centred on the line (mm).
        gap_mm: gap left open after reduction (mm).

    Raises:
        ValueError: a figure is not finite, the obliquity is out of range, or the zone or the gap is negative.
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
        """Length along the axis over which the faces can close before they touch (mm): zone + gap."""
        return self.zone_mm + self.gap_mm


@dataclass(frozen=True, slots=True)
class LoadCase:
    """Loads that act together on the two bone ends.

    Attributes:
        axial_n: axial force, compression positive (N).
        bending_nmm: bending moment in the profile plane (s, y), plate side in tension positive (N·mm).
        lateral_nmm: bending moment about the y axis, in the plane (s, z) (N·mm).
        torsion_nmm: torque about the bone axis (N·mm).

    Raises:
        ValueError: a load is not finite.
    """

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
    """How the two bone ends are held under axial load and torsion: `ball` is a ball joint, `held` prevents turning."""

    proximal: Support = "ball"
    distal: Support = "ball"


@dataclass(frozen=True, slots=True)
class Friction:
    """Coefficients of friction (dimensionless) between plate and bone, and between two fracture faces.

    Raises:
        ValueError: a coefficient is not positive.
    """

    plate_bone: float
    bone_bone: float

    def __post_init__(self) -> None:
        _require_positive(plate_bone=self.plate_bone, bone_bone=self.bone_bone)


@dataclass(frozen=True, slots=True)
class Construct:
    """Everything that the mechanics need to know of one plated bone.

    Attributes:
        bone: the shaft.
        plate: the plate.
        screws: the screws in plate holes, at most one per hole.
        fracture_lines: the fracture lines, from proximal to distal.
        friction: coefficients of friction.
        load: the load case.
        supports: how the two bone ends are held.
        lag_screws: the independent lag screws.
        prebend_mm: how far the unloaded plate stands off the bone at the fracture (mm).
        shear_flexible: whether the bone has shear deformation; False is for comparison with solvers that lack it.
        foundation: κ, how firmly a cortex holds a screw: stiffness of the foundation ÷ modulus of the bone
            (dimensionless).

    Raises:
        ValueError: the parts contradict each other, for instance a screw in a hole that the plate does not have.
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
    foundation: float = 1.0

    def __post_init__(self) -> None:
        self._check_lines()
        self._check_screws()
        start, end = self.bone.s_mm[0], self.bone.s_mm[-1]
        _require(
            start < self.plate.hole_s_mm[0] and self.plate.hole_s_mm[-1] < end,
            "the plate's holes must lie over the bone",
        )
        _require_positive(foundation=self.foundation)
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
        """Number of main fragments: one more than there are fracture lines."""
        return len(self.fracture_lines) + 1
