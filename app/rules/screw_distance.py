"""How far apart two screws run."""

import math

from app.geometry import ScrewPath
from app.geometry.fracture import Point, Segment


def path_of(screw: ScrewPath) -> Segment:
    """Where it enters the bone, and where it leaves it."""
    return screw.passages[0].entry, screw.passages[-1].exit


def _to_segment(point: Point, segment: Segment) -> float:
    (x1, y1), (x2, y2) = segment
    dx, dy = x2 - x1, y2 - y1
    along = ((point[0] - x1) * dx + (point[1] - y1) * dy) / (dx * dx + dy * dy)
    share = min(1.0, max(0.0, along))
    return math.dist(point, (x1 + share * dx, y1 + share * dy))


def screw_distance_mm(one: ScrewPath, other: ScrewPath) -> float:
    """Least distance between two screw paths in the profile plane, mm; 0 where they cross."""
    return distance_mm(path_of(one), path_of(other), through="locking-1" not in (one.role, other.role))


def distance_mm(a: Segment, b: Segment, *, through: bool = True) -> float:
    """The same of two paths by their ends; ``through``: both run through the whole bone."""
    # seen from the plate, the two change sides on the way down
    if through and (a[0][0] - b[0][0]) * (_at(a, b[1][1]) - b[1][0]) <= 0:
        return 0.0
    return min(*(_to_segment(point, b) for point in a), *(_to_segment(point, a) for point in b))


def _at(path: Segment, y: float) -> float:
    (x1, y1), (x2, y2) = path
    return x1 + (y - y1) * (x2 - x1) / (y2 - y1)
