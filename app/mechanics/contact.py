"""The interface: the fracture faces as points of bone, and the lag screws that join them.

Everything acts on a few interface coordinates q (opening, sliding, elongation) of the kept unknowns. The construct with
all fracture lines open gives their compliance; which points then press and which lines slide is found in
`app.mechanics.touching`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from app.mechanics.frame import Frame, dofs
from app.mechanics.layout import Layout
from app.mechanics.members import IntArray
from app.mechanics.model import Construct, LagScrew
from app.mechanics.screw_joints import pull_out_n
from app.mechanics.sections import Array, bone_at, bone_section

POINTS = 9  # of one face, evenly from the near surface to the far one, both included


@dataclass(frozen=True, slots=True)
class Interface:
    """The k interface coordinates q = rows·d of all fracture lines and lag screws; d are the m kept in-plane unknowns.

    For each line the order is the opening at each point from the near surface to the far one, then the sliding along
    the line, distal face towards the plate; the elongation of each lag screw follows after all lines.

    Attributes:
        rows: coordinates in terms of the kept unknowns; shape (k, m).
        stiffness: spring of each coordinate (N/mm); shape (k,).
        clearance: opening that is left before the faces touch (mm); shape (k,).
        friction: coefficient of friction between two faces (dimensionless).
        lines: number of fracture lines.
        lags: the lag screws, in the order of their coordinates.
        opening: indices of the opening coordinates; shape (lines, points).
        sliding: index of each line's sliding; shape (lines,).
        spans: for each line the index of its first opening, and that of its sliding, which follows its last.
    """

    rows: Array
    stiffness: Array
    clearance: Array
    friction: float
    lines: int
    lags: tuple[LagScrew, ...]
    opening: IntArray
    sliding: IntArray
    spans: tuple[tuple[int, int], ...]

    @property
    def edges(self) -> IntArray:
        """Indices of the openings at the near and the far surface; shape (lines, 2)."""
        return self.opening[:, [0, -1]]

    @property
    def lag(self) -> slice:
        """Where the coordinates of the lag screws are."""
        return slice(self.lines * (POINTS + 1), None)


def all_lags(construct: Construct) -> tuple[LagScrew, ...]:
    """Lag screws, independent and through the plate, as one kind; only those that join two neighbouring fragments."""
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

    The springs of a face are a layer of bone one cortex t thick: E·w/t at a point that stands for the area w, and
    G·A/t along the line (N/mm), where A is the whole section.
    """
    construct = frame.construct
    lags, size, lines = all_lags(construct), 3 * frame.top.count, len(construct.fracture_lines)
    count = lines * (POINTS + 1)
    rows = np.zeros((count + len(lags), size))
    stiffness, clearance = np.zeros(len(rows)), np.zeros(len(rows))
    for k, line in enumerate(construct.fracture_lines):
        angle = math.radians(line.obliquity_deg)
        first = k * (POINTS + 1)
        at = face_points(construct, k)
        rows[first : first + POINTS + 1, dofs((frame.top.left[k], frame.top.right[k]))] = line_rows(at.y, angle)
        stiffness[first : first + POINTS + 1] = face_springs(construct, at)
        clearance[first : first + POINTS] = line.clearance_mm * math.cos(angle)
    for n, lag in enumerate(lags):
        at_line, row, stiffness[count + n] = lag_row(construct, frame.layout, lag)
        rows[count + n, dofs((frame.top.left[at_line], frame.top.right[at_line]))] = row
    numbers = np.arange(count).reshape(lines, POINTS + 1)
    opening, sliding = numbers[:, :POINTS], numbers[:, POINTS]
    spans = tuple((int(of[0]), int(of[-1])) for of in numbers)
    return Interface(rows, stiffness, clearance, construct.friction.bone_bone, lines, lags, opening, sliding, spans)


@dataclass(frozen=True, slots=True)
class FacePoints:
    """The points of one face: height `y` over the bone axis (mm) and area (mm²), near first, and the `cortex` (mm).

    Both arrays have the shape (points,).
    """

    y: Array
    area: Array
    cortex: float


def face_points(construct: Construct, k: int) -> FacePoints:
    """The points of fracture line number `k`, with area and second moment of the bone's section there."""
    at = np.array([construct.fracture_lines[k].s_mm])
    sizes, section = bone_at(construct.bone, at), bone_section(construct.bone, at)
    depth, width, cortex = (float(x[0]) for x in (sizes.depth, sizes.width, sizes.cortex))
    y = np.linspace(depth / 2.0, -depth / 2.0, POINTS)
    canal = _strip_areas(depth - 2.0 * cortex, width - 2.0 * cortex, depth)
    area = _strip_areas(depth, width, depth) - canal
    return FacePoints(y, _with_moment(y, area, float(section.i_z[0])), cortex)


def face_springs(construct: Construct, at: FacePoints) -> Array:
    """Springs of a face at its points and, last, along the line (N/mm); shape (points + 1,)."""
    along = construct.bone.shear_modulus_mpa * at.area.sum()
    return np.append(construct.bone.modulus_mpa * at.area, along) / at.cortex


def _with_moment(y: Array, area: Array, i_z: float) -> Array:
    """The areas, scaled by p + q·y² so that their sum stays and Σ area·y² is `i_z` (mm⁴).

    Areas lumped at their points have a second moment somewhat too great: by two hundredths with nine points.
    """
    whole, second, fourth = (float((area * y**n).sum()) for n in (0, 2, 4))
    q = (i_z - second) / (fourth - second**2 / whole)
    return np.asarray(area * (1.0 - q * second / whole + q * y**2))


def _strip_areas(depth: float, width: float, row: float) -> Array:
    """Area of an ellipse `depth` by `width`, shared among points that lie evenly over the depth `row` (mm, mm²).

    A canal that is closed has none.
    """
    if min(depth, width) <= 0.0:
        return np.zeros(POINTS)
    return _hat_areas(round(depth / row, 12)) * (depth * width / 4.0)


@lru_cache(maxsize=256)
def _hat_areas(ratio: float) -> Array:
    """Area of a unit circle that is `ratio` times as deep as the row of points, shared among the points.

    Each point takes ∫ hat·2√(1 − v²) dv, where hat falls from 1 at the point linearly to 0 at its neighbours; shape
    (points,).
    """
    nodes = np.linspace(-1.0, 1.0, POINTS) / ratio
    ends = np.clip(nodes, -1.0, 1.0)
    plain = ends * np.sqrt(1.0 - ends**2) + np.arcsin(ends)  # ∫ 2√(1 − v²) dv
    first = -2.0 / 3.0 * (1.0 - ends**2) ** 1.5  # ∫ 2v√(1 − v²) dv
    zero, one, step = np.diff(plain), np.diff(first), nodes[1] - nodes[0]
    out = np.zeros(POINTS)
    out[:-1] += (nodes[1:] * zero - one) / step
    out[1:] += (one - nodes[:-1] * zero) / step
    return out


def line_rows(y: Array, angle: float) -> Array:
    """Rows (points + 1, 6) over (left face, right face): the openings at the heights `y`, and the sliding.

    With the obliquity a the normal is (cos a, sin a) and the tangent (−sin a, cos a). A point of the line lies at
    −y·tan a along the shaft, so that turning by θ opens it by −θ·y/cos a, and makes nothing slide.
    """
    cos, sin = math.cos(angle), math.sin(angle)
    right = np.array([*((cos, sin, -height / cos) for height in y.tolist()), (-sin, cos, 0.0)])
    return np.concatenate([-right, right], axis=1)


def _turned(angle_deg: float) -> tuple[float, float]:
    angle = math.radians(angle_deg)
    return math.cos(angle), math.sin(angle)


def _lag_radii(construct: Construct, lag: LagScrew) -> Array:
    """Distance of the surface from the axis at both ends of a lag screw, in the plane that it lies in (mm); (2,)."""
    at = bone_at(construct.bone, np.array([lag.near_s_mm, lag.far_s_mm]))
    cos, sin = _turned(lag.turn_deg)
    return at.depth / 2.0 if lag.turn_deg == 0 else np.asarray(0.5 / np.hypot(cos / at.depth, sin / at.width))


def lag_pull_out_n(construct: Construct, lag: LagScrew) -> float:
    """Pull-out force of a lag screw beside the plate (N): leaning, it has a longer way through the far cortex."""
    across = float(_lag_radii(construct, lag).sum())
    wall = float(bone_at(construct.bone, np.array([lag.far_s_mm])).cortex[0])
    thread = wall * math.hypot(lag.far_s_mm - lag.near_s_mm, across) / across
    return pull_out_n(lag.thread_mm, lag.core_mm, lag.pitch_mm, thread, construct.bone.shear_strength_mpa)


def lag_row(construct: Construct, layout: Layout, lag: LagScrew) -> tuple[int, Array, float]:
    """The lag screw's line, its elongation over (left face, right face), shape (6,), and its core's EA/L (N/mm).

    The elongation is that between the near and the far surface point, each of which moves with the face of its
    fragment. Of a screw turned by τ about the shaft the points lie on the ellipse at ±r·(cos τ, −sin τ) in (y, z), with
    r = 1/√((2cos τ/d)² + (2sin τ/w)²); what moves in the plane of the profile stretches it by its share in that plane,
    and its pull out of that plane is left out.
    """
    row, radius = np.zeros(6), _lag_radii(construct, lag)
    cos, sin = (1.0, 0.0) if lag.turn_deg == 0 else _turned(lag.turn_deg)
    ends = np.array([[lag.near_s_mm, radius[0] * cos], [lag.far_s_mm, -radius[1] * cos]])
    length = float(np.linalg.norm([*(ends[1] - ends[0]), float(radius.sum()) * sin]))
    direction = (ends[1] - ends[0]) / length
    line = min(lag.near_fragment, lag.far_fragment)
    for sign, (s, y), fragment in ((-1.0, ends[0], lag.near_fragment), (1.0, ends[1], lag.far_fragment)):
        first, s_face = (0, layout.chains[line].end_mm) if fragment == line else (3, layout.chains[line + 1].start_mm)
        arm = np.array([[1.0, 0.0, -y], [0.0, 1.0, s - s_face]])
        row[first : first + 3] += sign * direction @ arm
    return line, row, lag.modulus_mpa * math.pi * lag.core_mm**2 / 4.0 / length


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
