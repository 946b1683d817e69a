"""How a straight plate has to be bent to lie on the bone: between its holes, and across its width; mm and degrees."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise

from app.catalogue.models import Arc
from app.geometry.plate import HolePlace
from app.geometry.profile import BoneShape

STEP_MM = 2.0  # between the places at which surface and middle line are looked at
LEAN_OVER_MM = 1.0  # stretch over which the surface's lean is taken


@dataclass(frozen=True, slots=True)
class Bend:
    """The bend between two neighbouring holes; positive turns the plate's ends away from the bone's axis.

    Attributes:
        holes: their numbers, the proximal one first.
        angle_deg: by how much the plate turns between them (degrees).
    """

    holes: tuple[int, int]
    angle_deg: float


@lru_cache(maxsize=2048)
def lean_deg(shape: BoneShape, s_mm: float, bow_radius_mm: float | None) -> float:
    """Lean of the surface under the plate against the shaft's axis at ``s`` (degrees), its bow included.

    A bow of radius R turns the surface by s/R.
    """
    half = LEAN_OVER_MM / 2
    slope = math.atan((shape.near(s_mm + half) - shape.near(s_mm - half)) / LEAN_OVER_MM)
    return math.degrees(slope + (0.0 if bow_radius_mm is None else s_mm / bow_radius_mm))


def bends(shape: BoneShape, holes: tuple[HolePlace, ...], bow_radius_mm: float | None) -> tuple[Bend, ...]:
    """The bend between each two neighbouring holes, from proximal to distal."""
    leans = [lean_deg(shape, hole.s_mm, bow_radius_mm) for hole in holes]
    return tuple(
        Bend((one.number, other.number), after - before)
        for (one, other), (before, after) in zip(pairwise(holes), pairwise(leans), strict=True)
    )


@lru_cache(maxsize=512)  # the plate lies still while the fracture is dragged, and while remedies are tried
def straight_gap(shape: BoneShape, ends_mm: tuple[float, float], bow_radius_mm: float | None) -> float:
    """How far a straight plate between these ends would stand off the bone at most, mm.

    It rests on the highest points of the surface beneath it, a bow of radius R included as s²/(2R); on a bare bow that
    is l²/(8R).
    """
    middle = (ends_mm[0] + ends_mm[1]) / 2

    def height(s: float) -> float:
        return shape.near(s) + (0.0 if bow_radius_mm is None else (s - middle) ** 2 / (2 * bow_radius_mm))

    points = [(s, height(s)) for s in _stations(ends_mm)]
    edge = _upper_edge(points)
    return max((_above(edge, s) - y for s, y in points), default=0.0)


@dataclass(frozen=True, slots=True)
class Overhang:
    """A stretch (``s``) over which the plate's edge lies beside the bone, and by how much at most, mm."""

    start_mm: float
    end_mm: float
    over_mm: float


@dataclass(frozen=True, slots=True)
class Across:
    """How the bone curves across the plate's width, which no bending up or down mends.

    Attributes:
        bow_mm: how far its middle line lies off the straight one between its places under the plate's ends, at most: a
            bow of radius R over a plate of length l stands off by l²/(8R).
        overhangs: where a straight plate leaves the bone's edge, proximal first.
    """

    bow_mm: float
    overhangs: tuple[Overhang, ...]

    @property
    def overrun_mm(self) -> float:
        """How far it leaves the edge at most, mm; 0 where it stays on the bone."""
        return max((one.over_mm for one in self.overhangs), default=0.0)


STRAIGHT = Across(0.0, ())


@lru_cache(maxsize=512)
def across_width(shape: BoneShape, ends_mm: tuple[float, float], width_mm: float, arcs: tuple[Arc, ...]) -> Across:
    """How the bone curves under a straight plate across its width, and where the plate leaves the bone's edge.

    The plate is laid where its middle line is least off the bone's (least squares).
    """
    if not arcs:
        return STRAIGHT
    middle = _middle_line(shape.length_mm, arcs)
    points = [(s, middle(s)) for s in _stations(ends_mm)]
    (first_s, first_z), (last_s, last_z) = points[0], points[-1]
    chord = (last_z - first_z) / (last_s - first_s)
    bow = max(abs(z - first_z - chord * (s - first_s)) for s, z in points)
    mean_s, mean_z = (sum(point[i] for point in points) / len(points) for i in (0, 1))
    slope = sum((s - mean_s) * (z - mean_z) for s, z in points) / sum((s - mean_s) ** 2 for s, _ in points)
    over = [(s, abs(z - mean_z - slope * (s - mean_s)) + width_mm / 2 - shape.width(s) / 2) for s, z in points]
    return Across(bow, _overhangs(over))


def _overhangs(over: list[tuple[float, float]]) -> tuple[Overhang, ...]:
    """The stretches of neighbouring places with something beside the bone."""
    found = []
    for beside, group in groupby(over, key=lambda place: place[1] > 0):
        if beside:
            places = list(group)
            found.append(Overhang(places[0][0], places[-1][0], max(most for _, most in places)))
    return tuple(found)


def _middle_line(length_mm: float, arcs: tuple[Arc, ...]) -> Callable[[float], float]:
    """The bone's middle line seen from above (mm): arcs joined smoothly, each turning it by its length ÷ radius."""

    def offset(s: float) -> float:
        # twice integrated curvature: an arc of radius R that ends d before s and is l long adds l·(d + l/2)/R
        found = 0.0
        for arc in arcs:
            start, end = arc.start * length_mm, min(arc.end * length_mm, s)
            if end > start:
                run = end - start
                found += run * (s - end + run / 2) / arc.radius_mm
        return found

    return offset


def _stations(ends_mm: tuple[float, float]) -> list[float]:
    start, end = ends_mm
    # the same from either end, however the ends are rounded
    count = max(2, math.ceil((end - start) / STEP_MM - 1e-6))
    return [start + (end - start) * i / count for i in range(count + 1)]


def _upper_edge(points: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """The upper convex edge of points that rise in ``s``."""
    edge: list[tuple[float, float]] = []
    for s, y in points:
        while len(edge) > 1 and (edge[-1][1] - edge[-2][1]) * (s - edge[-2][0]) <= (y - edge[-2][1]) * (
            edge[-1][0] - edge[-2][0]
        ):
            edge.pop()
        edge.append((s, y))
    return edge


def _above(edge: list[tuple[float, float]], s: float) -> float:
    for (s1, y1), (s2, y2) in pairwise(edge):
        if s1 <= s <= s2:
            return y1 + (y2 - y1) * (s - s1) / (s2 - s1)
    return edge[-1][1]
