"""How far apart two screws run."""

import math

from app.geometry import ScrewPath
from app.geometry.fracture import Point, Segment
from app.geometry.screws import Space


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
    """Least distance between two screw paths, mm; in the profile plane 0 where they cross."""
    if one.turn_deg != 0 or other.turn_deg != 0:
        return _in_space(*([screw.at(point) for point in path_of(screw)] for screw in (one, other)))
    return distance_mm(path_of(one), path_of(other), through="locking-1" not in (one.role, other.role))


def distance_mm(a: Segment, b: Segment, *, through: bool = True) -> float:
    """The same of two paths by their ends; ``through``: both run through the whole bone."""
    # seen from the plate, the two change sides on the way down
    if through and (a[0][0] - b[0][0]) * (_at(a, b[1][1]) - b[1][0]) <= 0:
        return 0.0
    return min(*(_to_segment(point, b) for point in a), *(_to_segment(point, a) for point in b))


def _in_space(one: list[Space], other: list[Space]) -> float:
    """Least distance between two straight paths in space, mm.

    The squared distance of two points is quadratic in their shares of the paths: its least value inside, or else on an
    end of either (Ericson, Real-Time Collision Detection, 5.1.9, from memory).
    """
    a, b = (tuple(q - p for p, q in zip(*path, strict=True)) for path in (one, other))
    between = tuple(p - q for p, q in zip(one[0], other[0], strict=True))
    aa, bb, ab = _dot(a, a), _dot(b, b), _dot(a, b)
    ac, bc = _dot(a, between), _dot(b, between)
    flat = aa * bb - ab * ab
    shares = [] if flat < 1e-9 * aa * bb else [((ab * bc - bb * ac) / flat, (aa * bc - ab * ac) / flat)]
    shares = [(s, t) for s, t in shares if 0 <= s <= 1 and 0 <= t <= 1]
    shares += [(end, _inside((end * ab + bc) / bb)) for end in (0.0, 1.0)]
    shares += [(_inside((end * ab - ac) / aa), end) for end in (0.0, 1.0)]
    apart = (tuple(c + s * p - t * q for c, p, q in zip(between, a, b, strict=True)) for s, t in shares)
    return math.sqrt(min(_dot(way, way) for way in apart))


def _dot(a: tuple[float, ...], b: tuple[float, ...]) -> float:
    return sum(p * q for p, q in zip(a, b, strict=True))


def _inside(share: float) -> float:
    return min(1.0, max(0.0, share))


def _at(path: Segment, y: float) -> float:
    (x1, y1), (x2, y2) = path
    return x1 + (y - y1) * (x2 - x1) / (y2 - y1)
