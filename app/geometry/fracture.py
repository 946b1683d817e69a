"""Fracture lines, the fragments between them, and the wedge, in the profile plane (``s``, ``y``), mm."""

import math
from dataclasses import dataclass

from app.case.models import Construct, Wedge
from app.geometry.profile import BoneShape

ZONE = "zone"
ON_LINE = "fracture"  # a point on the bare line, or a cortex that the line runs through
WEDGE = "wedge"
# Below this a line counts as transverse and neither fragment has the obtuse corner. AO Surgery Reference, humeral
# shaft: its page on oblique fractures is headed "30 degrees or more".
OBTUSE_FROM_DEG = 30.0

TOUCH_MM = 1e-6  # nearer than this is on the line

Point = tuple[float, float]
Segment = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class Line:
    """One fracture line laid on the bone.

    ``width_mm`` is the stretch without load-bearing bone, along the axis (zone, or the gap left), centred on the line.
    """

    index: int
    position_mm: float
    obliquity_deg: float
    width_mm: float
    zone_mm: float
    depth_mm: float
    slope: float

    def proximal_face(self, y: float) -> float:
        """``s`` at height ``y`` of the face that ends the fragment proximal to the line."""
        return self.position_mm - self.width_mm / 2 - y * self.slope

    def distal_face(self, y: float) -> float:
        """``s`` at height ``y`` of the face that begins the fragment distal to the line."""
        return self.position_mm + self.width_mm / 2 - y * self.slope

    @property
    def run_mm(self) -> float:
        """How far the bare line runs along the shaft between the two surfaces, mm."""
        return self.depth_mm * abs(self.slope)

    @property
    def extent_mm(self) -> tuple[float, float]:
        """First and last ``s`` that the line with its zone touches."""
        half = (self.width_mm + self.run_mm) / 2
        return self.position_mm - half, self.position_mm + half


@dataclass(frozen=True, slots=True)
class Fragment:
    """A stretch of shaft between fracture lines; ``start_mm`` and ``end_mm`` are measured on the axis."""

    index: int
    name: str
    start_mm: float
    end_mm: float
    obtuse_at_plate: bool


@dataclass(frozen=True, slots=True)
class WedgePiece:
    """The wedge as a triangle: two corners on its cortex, the apex on the fracture line at the axis."""

    line: int
    side: str
    corners: tuple[Point, Point, Point]

    def contains(self, s: float, y: float) -> bool:
        """Whether a point lies inside or on the edge, out to the surface where the bone is thicker than at the line."""
        surface = abs(self.corners[0][1])
        point = (s, max(-surface, min(surface, y)))
        signs = [_turn(a, b, point) for a, b in _edges(self.corners)]
        return all(turn >= -1e-9 for turn in signs) or all(turn <= 1e-9 for turn in signs)


@dataclass(frozen=True, slots=True)
class FractureMap:
    """Everything the fracture divides: who owns a point of the bone, and along which segments pieces meet."""

    lines: tuple[Line, ...]
    fragments: tuple[Fragment, ...]
    wedge: WedgePiece | None
    segments: tuple[Segment, ...]

    def owner(self, s: float, y: float) -> str:
        """Name of the fragment that holds a point, ``wedge``, or ``zone`` / ``fracture`` where no bone bears load.

        It is the same looked at from either end; where lines cross, so that a point lies beyond a distal one but not
        beyond a proximal one, no piece holds it.
        """
        if self.wedge is not None and self.wedge.contains(s, y):
            return WEDGE
        passed, met, last = 0, None, -1
        for line in self.lines:
            if s < line.proximal_face(y) - TOUCH_MM:
                continue
            if s <= line.distal_face(y) + TOUCH_MM:
                met = ZONE if line.width_mm > 0 or met == ZONE else ON_LINE
            passed, last = passed + 1, line.index
        if met is not None:
            return met
        return self.fragments[passed].name if last == passed - 1 else ON_LINE

    @property
    def extent_mm(self) -> tuple[float, float]:
        """First and last ``s`` that the fracture touches, wedge included."""
        ends = [end for line in self.lines for end in self.reach_mm(line)]
        return min(ends), max(ends)

    @property
    def length_mm(self) -> float:
        """Length of the fracture along the shaft, mm."""
        low, high = self.extent_mm
        return high - low

    def reach_mm(self, line: Line) -> tuple[float, float]:
        """First and last ``s`` that one line touches, with its zone and its wedge."""
        low, high = line.extent_mm
        if self.wedge is None or self.wedge.line != line.index:
            return low, high
        places = [corner[0] for corner in self.wedge.corners]
        return min(low, *places), max(high, *places)

    def line_at(self, s: float) -> Line:
        """The line nearest to ``s`` on the axis."""
        return min(self.lines, key=lambda line: abs(line.position_mm - s))


def _turn(a: Point, b: Point, p: Point) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _edges(corners: tuple[Point, Point, Point]) -> tuple[Segment, Segment, Segment]:
    a, b, c = corners
    return (a, b), (b, c), (c, a)


def lay_lines(construct: Construct, shape: BoneShape) -> tuple[Line, ...]:
    """Place the construct's fracture lines on the bone."""
    fracture = construct.fracture
    return tuple(
        Line(
            index,
            line.position_mm,
            line.obliquity_deg,
            line.zone_mm or fracture.gap_mm,
            line.zone_mm,
            shape.depth(line.position_mm),
            math.tan(math.radians(line.obliquity_deg)),
        )
        for index, line in enumerate(fracture.lines)
    )


def fragment_names(count: int) -> tuple[str, ...]:
    """Names from proximal to distal for ``count`` fragments (two at least)."""
    inner = count - 2
    middle = ("intermediate",) if inner == 1 else tuple(f"intermediate-{n}" for n in range(1, inner + 1))
    return ("proximal", *middle, "distal")


def split_shaft(lines: tuple[Line, ...], length_mm: float) -> tuple[Fragment, ...]:
    """The fragments between the lines.

    Positive obliquity: the fragment proximal to the line has the obtuse corner at the plate.
    """
    names = fragment_names(len(lines) + 1)
    starts = [0.0, *(line.distal_face(0) for line in lines)]
    ends = [*(line.proximal_face(0) for line in lines), length_mm]
    leans = [0.0, *(-line.obliquity_deg for line in lines)], [*(line.obliquity_deg for line in lines), 0.0]
    return tuple(
        Fragment(i, name, starts[i], ends[i], max(leans[0][i], leans[1][i]) >= OBTUSE_FROM_DEG)
        for i, name in enumerate(names)
    )


def _cut_wedge(wedge: Wedge, line: Line) -> WedgePiece:
    y = line.depth_mm / 2 if wedge.side == "near" else -line.depth_mm / 2
    middle = line.position_mm - y * line.slope
    half = wedge.length_mm / 2
    return WedgePiece(wedge.line, wedge.side, ((middle - half, y), (middle + half, y), (line.position_mm, 0.0)))


def _segments(lines: tuple[Line, ...], wedge: WedgePiece | None) -> tuple[Segment, ...]:
    found: list[Segment] = []
    for line in lines:
        top, bottom = line.depth_mm / 2, -line.depth_mm / 2
        if wedge is not None and wedge.line == line.index:
            # the wedge takes the place of the line between its apex and its own cortex
            top, bottom = (0.0, bottom) if wedge.side == "near" else (top, 0.0)
        faces = (line.proximal_face, line.distal_face) if line.width_mm > 0 else (line.proximal_face,)
        found += [((face(top), top), (face(bottom), bottom)) for face in faces]
    if wedge is not None:
        found += list(_edges(wedge.corners))[1:]
    return tuple(found)


def map_fracture(construct: Construct, shape: BoneShape) -> FractureMap:
    """Divide the bone by the construct's fracture."""
    lines = lay_lines(construct, shape)
    given = construct.fracture.wedge
    wedge = None if given is None else _cut_wedge(given, lines[given.line])
    return FractureMap(lines, split_shaft(lines, shape.length_mm), wedge, _segments(lines, wedge))
