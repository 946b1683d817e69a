"""How a straight plate has to be bent to lie on the bone: between its holes, and across its width; mm and degrees."""

import math
from collections.abc import Callable, Iterator
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
def lean_deg(shape: BoneShape, s_mm: float, bow: tuple[Arc, ...]) -> float:
    """Lean of the surface under the plate against the shaft's axis at ``s`` (degrees), its bow included.

    An arc of radius R turns the surface by its length up to there ÷ R.
    """
    half = LEAN_OVER_MM / 2
    slope = math.atan((shape.near(s_mm + half) - shape.near(s_mm - half)) / LEAN_OVER_MM)
    return math.degrees(slope + sum(run / arc.radius_mm for arc, _, run in _runs(shape.length_mm, bow, s_mm)))


def bends(shape: BoneShape, holes: tuple[HolePlace, ...], bow: tuple[Arc, ...]) -> tuple[Bend, ...]:
    """The bend between each two neighbouring holes, from proximal to distal."""
    leans = [lean_deg(shape, hole.s_mm, bow) for hole in holes]
    return tuple(
        Bend((one.number, other.number), after - before)
        for (one, other), (before, after) in zip(pairwise(holes), pairwise(leans), strict=True)
    )


@lru_cache(maxsize=512)  # the plate lies still while the fracture is dragged, and while remedies are tried
def straight_gap(shape: BoneShape, ends_mm: tuple[float, float], bow: tuple[Arc, ...]) -> float:
    """How far a straight plate between these ends would stand off the bone at most, mm.

    It lies on the surface as well as it can: on two high points where that is hollow, balanced on the highest one where
    it is not. On a bare bow of radius R the gap is l²/(8R) either way.
    """
    raised = _raised(shape.length_mm, ends_mm, bow)
    points = [(s, shape.near(s) + raised(s)) for s in _stations(ends_mm)]
    edge = _upper_edge(points)
    if len(edge) == 2:
        return max(_above(edge, s) - y for s, y in points)
    # the narrowest strip that holds all points has one of their hull's sides on one of its own
    under = [(s, -y) for s, y in _upper_edge([(s, -y) for s, y in points])]
    leans = [(y2 - y1) / (s2 - s1) for side in (edge, under) for (s1, y1), (s2, y2) in pairwise(side)]
    return min(max(above) - min(above) for lean in leans for above in [[y - lean * s for s, y in points]])


def _raised(length_mm: float, ends_mm: tuple[float, float], bow: tuple[Arc, ...]) -> Callable[[float], float]:
    """How a bow raises the surface (mm), but for a lean: s²/(2R) about the plate's middle if all of it is one arc."""
    start, end = ends_mm
    if len(bow) == 1 and bow[0].start * length_mm <= start and end <= bow[0].end * length_mm:
        middle, radius = (start + end) / 2, bow[0].radius_mm
        return lambda s: (s - middle) ** 2 / (2 * radius)
    return _middle_line(length_mm, bow)


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
    """The line of the shaft in one plane (mm): arcs joined smoothly, each turning it by its length ÷ radius."""

    def offset(s: float) -> float:
        # twice integrated curvature: an arc of radius R that ends d before s and is l long adds l·(d + l/2)/R
        return sum(run * (s - end + run / 2) / arc.radius_mm for arc, end, run in _runs(length_mm, arcs, s))

    return offset


def _runs(length_mm: float, arcs: tuple[Arc, ...], s_mm: float) -> Iterator[tuple[Arc, float, float]]:
    """The arcs begun before ``s``, with where each ends, at the latest there, and how long it is up to there, mm."""
    for arc in arcs:
        start, end = arc.start * length_mm, min(arc.end * length_mm, s_mm)
        if end > start:
            yield arc, end, end - start


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
