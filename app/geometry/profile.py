"""The bone's outline along the shaft: depth, width and cortex thickness at any ``s``, all in mm."""

import math
from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from app.case.models import Bone, Surface
from app.catalogue.models import BoneSpec, ProfileRow, Quality
from app.geometry.facing import facing

Curve = Callable[[float], float]
MIN_CANAL_SHARE = 0.1  # a drawn wall never closes the canal: beams and drills need an inside


@dataclass(frozen=True, slots=True)
class MonotoneCubic:
    """A monotone piecewise cubic through given points: no overshoot between them.

    Source: Fritsch FN, Carlson RE. SIAM J Numer Anal 1980;17:238-46 (from memory); slopes by the weighted harmonic
    mean of Fritsch and Butland, as general numeric libraries have it.
    """

    xs: tuple[float, ...]
    ys: tuple[float, ...]
    slopes: tuple[float, ...]

    def __call__(self, x: float) -> float:
        """Value at ``x``; outside the points the end value holds."""
        xs, ys = self.xs, self.ys
        if x <= xs[0]:
            return ys[0]
        if x >= xs[-1]:
            return ys[-1]
        i = bisect_right(xs, x) - 1
        h = xs[i + 1] - xs[i]
        t = (x - xs[i]) / h
        rise = ys[i + 1] - ys[i]
        return ys[i] + t * (
            h * self.slopes[i] * (1 - t) * (1 - t) + rise * t * (3 - 2 * t) - h * self.slopes[i + 1] * t * (1 - t)
        )


def monotone_cubic(xs: tuple[float, ...], ys: tuple[float, ...]) -> MonotoneCubic:
    """Build the interpolant; ``xs`` must rise strictly and have at least three entries."""
    steps = [b - a for a, b in pairwise(xs)]
    secants = [(b - a) / h for a, b, h in zip(ys, ys[1:], steps, strict=False)]
    inner = [_inner_slope(*pair) for pair in zip(steps, steps[1:], secants, secants[1:], strict=False)]
    first = _end_slope(steps[0], steps[1], secants[0], secants[1])
    last = _end_slope(steps[-1], steps[-2], secants[-1], secants[-2])
    return MonotoneCubic(xs, ys, (first, *inner, last))


def _inner_slope(h0: float, h1: float, d0: float, d1: float) -> float:
    if d0 * d1 <= 0:
        return 0.0
    w0, w1 = 2 * h1 + h0, h1 + 2 * h0
    return (w0 + w1) / (w0 / d0 + w1 / d1)


def _end_slope(h0: float, h1: float, d0: float, d1: float) -> float:
    slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1)
    if slope * d0 <= 0:
        return 0.0
    if d0 * d1 <= 0 and abs(slope) > 3 * abs(d0):
        return 3 * d0
    return slope


@dataclass(frozen=True, slots=True)
class BoneShape:
    """One patient's bone under its plate: length and outlines, as functions of ``s`` (mm from the proximal end).

    ``depth`` lies in the plate's plane, ``width`` across it. ``cut_from`` is the bone as the profile shows it, of one
    that is cut by another plane about the shaft.
    """

    length_mm: float
    depth: Curve
    width: Curve
    wall: Curve
    cut_from: "BoneShape | None" = None

    def cortex(self, s: float) -> float:
        """Cortex thickness at ``s``, mm."""
        return min(self.wall(s), self.depth(s) * (1 - MIN_CANAL_SHARE) / 2)

    def near(self, s: float) -> float:
        """``y`` of the surface under the plate, mm."""
        return self.depth(s) / 2


@dataclass(frozen=True, slots=True)
class Diameter:
    """Diameter (mm) of the elliptical section at ``s``, in the direction turned about the shaft from its depth.

    An ellipse of axes d and w measures 1/√((cos τ/d)² + (sin τ/w)²) across its middle in the direction τ.
    """

    depth: Curve
    width: Curve
    cos: float
    sin: float

    def __call__(self, s: float) -> float:
        """The diameter at ``s``."""
        return across(self.depth(s), self.width(s), self.cos, self.sin)


@dataclass(frozen=True, slots=True)
class WallAcross:
    """Thickness of the wall (mm) at ``s`` in the turned direction: half of what outer and canal ellipse differ by."""

    shape: BoneShape
    cos: float
    sin: float

    def __call__(self, s: float) -> float:
        """The thickness at ``s``."""
        depth, width, wall = self.shape.depth(s), self.shape.width(s), self.shape.cortex(s)
        canal = across(depth - 2 * wall, max(width - 2 * wall, MIN_CANAL_SHARE * width), self.cos, self.sin)
        return (across(depth, width, self.cos, self.sin) - canal) / 2


def across(depth: float, width: float, cos: float, sin: float) -> float:
    """Diameter of an ellipse with these axes in the direction with this cosine and sine from the first."""
    return 1 / math.hypot(cos / depth, sin / width)


def cos_sin(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine of an angle in degrees, exact at right angles, where a plane lies in the view or square to it."""
    if angle_deg % 90 == 0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(angle_deg // 90) % 4]
    return math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))


@lru_cache(maxsize=64)
def turned_shape(shape: BoneShape, turn_deg: float) -> BoneShape:
    """The bone cut along the shaft by the plane at ``turn_deg`` about it: its depth is the diameter in that plane.

    The plane's own direction is (cos τ, −sin τ) in (y, z), as a fracture line's is.
    """
    if turn_deg == 0:
        return shape
    cos, sin = cos_sin(turn_deg)
    return BoneShape(
        shape.length_mm,
        Diameter(shape.depth, shape.width, cos, sin),
        Diameter(shape.depth, shape.width, sin, cos),
        WallAcross(shape, cos, sin),
        shape,
    )


@lru_cache(maxsize=256)
def _scaled(
    rows: tuple[ProfileRow, ...], length: float, scale: float, cortex_factor: float, swapped: bool
) -> BoneShape:
    xs = tuple(row.fraction * length for row in rows)
    depth = monotone_cubic(xs, tuple(row.depth_mm * scale for row in rows))
    width = monotone_cubic(xs, tuple(row.width_mm * scale for row in rows))
    wall = monotone_cubic(xs, tuple(row.cortex_mm * scale * cortex_factor for row in rows))
    return BoneShape(length, *((width, depth) if swapped else (depth, width)), wall)


@lru_cache(maxsize=64)
def typical_midshaft_depth(rows: tuple[ProfileRow, ...]) -> float:
    """Depth half-way along the typical adult bone, mm."""
    return monotone_cubic(tuple(row.fraction for row in rows), tuple(row.depth_mm for row in rows))(0.5)


def bone_shape(bone: Bone, spec: BoneSpec, quality: Quality, surface: Surface) -> BoneShape:
    """The patient's bone under a plate on one of its surfaces.

    It is the typical profile stretched to its length and scaled to its mid-shaft depth. That is measured in the bone's
    own direction (``depth_axis``) wherever the plate lies, so that another surface shows the same bone.
    """
    typical = typical_midshaft_depth(spec.profile)
    scale = 1.0 if bone.midshaft_depth_mm is None else bone.midshaft_depth_mm / typical
    swapped = facing(spec, surface, bone.side).swapped
    return _scaled(spec.profile, bone.length_mm or spec.length_mm, scale, quality.cortex_factor, swapped)
