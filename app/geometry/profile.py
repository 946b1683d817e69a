"""The bone's outline along the shaft: depth, width and cortex thickness at any ``s``, all in mm."""

from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from app.case.models import Bone
from app.catalogue.models import BoneSpec, ProfileRow, Quality

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
    """One patient's bone: length and the three outlines, as functions of ``s`` (mm from the proximal end)."""

    length_mm: float
    depth: MonotoneCubic
    width: MonotoneCubic
    wall: MonotoneCubic

    def cortex(self, s: float) -> float:
        """Cortex thickness at ``s``, mm."""
        return min(self.wall(s), self.depth(s) * (1 - MIN_CANAL_SHARE) / 2)

    def near(self, s: float) -> float:
        """``y`` of the surface under the plate, mm."""
        return self.depth(s) / 2


@lru_cache(maxsize=256)
def _scaled(rows: tuple[ProfileRow, ...], length: float, scale: float, cortex_factor: float) -> BoneShape:
    xs = tuple(row.fraction * length for row in rows)
    return BoneShape(
        length,
        monotone_cubic(xs, tuple(row.depth_mm * scale for row in rows)),
        monotone_cubic(xs, tuple(row.width_mm * scale for row in rows)),
        monotone_cubic(xs, tuple(row.cortex_mm * scale * cortex_factor for row in rows)),
    )


@lru_cache(maxsize=64)
def typical_midshaft_depth(rows: tuple[ProfileRow, ...]) -> float:
    """Depth half-way along the typical adult bone, mm."""
    return monotone_cubic(tuple(row.fraction for row in rows), tuple(row.depth_mm for row in rows))(0.5)


def bone_shape(bone: Bone, spec: BoneSpec, quality: Quality) -> BoneShape:
    """The patient's bone: the typical profile stretched to its length and scaled to its mid-shaft depth."""
    typical = typical_midshaft_depth(spec.profile)
    scale = 1.0 if bone.midshaft_depth_mm is None else bone.midshaft_depth_mm / typical
    return _scaled(spec.profile, bone.length_mm or spec.length_mm, scale, quality.cortex_factor)
