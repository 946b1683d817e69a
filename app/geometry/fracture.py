"""Fracture lines, the fragments between them, and the wedge, in the profile plane (``s``, ``y``), mm."""

import math
from dataclasses import dataclass, replace

from app.case.models import Construct, FractureLine, Wedge, Winding
from app.geometry.profile import BoneShape, cos_sin
from app.geometry.spiral import Helix

ZONE = "zone"
ON_LINE = "fracture"  # a point on the bare line, or a cortex that the line runs through
WEDGE = "wedge"
# Below this a line counts as transverse and neither fragment has the obtuse corner. AO Surgery Reference, humeral
# shaft: its page on oblique fractures is headed "30 degrees or more".
OBTUSE_FROM_DEG = 30.0

# A spiral runs this much further along the shaft than the plane nearest to it: 2π of its rise for 4 (spiral.py).
SPIRAL_RUN = math.pi / 2
EDGE_ON = 0.05  # cosine of a plane that nearly holds the wedge's middle line: it meets no more than its apex
TOUCH_MM = 1e-6  # nearer than this is on the line

Point = tuple[float, float]
Segment = tuple[Point, Point]


@dataclass(frozen=True, slots=True)
class Line:
    """One fracture line laid on the bone, as the plane that it is looked at in shows it (the profile, as a rule).

    Its plane is ``s = position − slope·y + across·z``: with the obliquity a and the turn t of the case file the slope
    is tan a·cos t and ``across`` tan a·sin t. ``obliquity_deg`` is the apparent one, atan(slope).

    ``width_mm`` is the stretch without load-bearing bone, along the axis (zone, or the gap left), centred on the line;
    ``depth_mm`` and ``breadth_mm`` are the bone's diameters there, in the plane and square to it.

    ``spiral`` says which way it winds round the shaft, if it does (``app.geometry.spiral``); all else is then of the
    plane that lies nearest to it, except for how far it runs.
    """

    index: int
    position_mm: float
    obliquity_deg: float
    width_mm: float
    zone_mm: float
    depth_mm: float
    slope: float
    across: float = 0.0
    breadth_mm: float = 0.0
    spiral: Winding | None = None

    def proximal_face(self, y: float, z: float = 0.0) -> float:
        """``s`` at height ``y`` (``z`` out of the plane) of the face that ends the proximal fragment."""
        return self.position_mm - self.width_mm / 2 - y * self.slope + z * self.across

    def distal_face(self, y: float, z: float = 0.0) -> float:
        """``s`` at height ``y`` (``z`` out of the plane) of the face that begins the distal fragment."""
        return self.position_mm + self.width_mm / 2 - y * self.slope + z * self.across

    @property
    def steepness_deg(self) -> float:
        """The true obliquity, 0 to 90 degrees, whichever way the line is turned."""
        if self.across == 0:
            return abs(self.obliquity_deg)
        return math.degrees(math.atan(math.hypot(self.slope, self.across)))

    @property
    def turn_deg(self) -> float:
        """How far its plane is turned about the shaft, -90 to 90 degrees: 0 where the profile shows all of its lean."""
        if self.slope == 0:
            return math.copysign(90.0, self.across) if self.across else 0.0
        return math.degrees(math.atan(self.across / self.slope))

    @property
    def face_deg(self) -> float:
        """Its lean in the plane across the shaft's other way, which the view of the plate's face shows, degrees."""
        return math.degrees(math.atan(self.across))

    @property
    def run_mm(self) -> float:
        """How far the bare line runs along the shaft, mm, all round the elliptical section."""
        return self.run_in(self.depth_mm, self.breadth_mm)

    @property
    def plane_run_mm(self) -> float:
        """How far its plane runs along the shaft, mm: less than a spiral, which turns once round the shaft."""
        return self._plane_run_in(self.depth_mm, self.breadth_mm)

    def run_in(self, depth_mm: float, breadth_mm: float) -> float:
        """The same where the bone has these diameters."""
        plane = self._plane_run_in(depth_mm, breadth_mm)
        return plane if self.spiral is None else plane * SPIRAL_RUN

    def _plane_run_in(self, depth_mm: float, breadth_mm: float) -> float:
        if self.across == 0:
            return depth_mm * abs(self.slope)
        return math.hypot(depth_mm * self.slope, breadth_mm * self.across)

    def rim(self, z: float, side: int) -> float:
        """Height ``y`` of the section's surface at ``z``, ``side`` +1 near and -1 far: on an ellipse."""
        return side * self.depth_mm / 2 * math.sqrt(max(0.0, 1 - (2 * z / self.breadth_mm) ** 2))

    def seen_from(self, turn_deg: float, depth_mm: float, breadth_mm: float) -> "Line":
        """The same line in the plane at ``turn_deg`` about the shaft, where the bone measures ``depth_mm``."""
        cos, sin = cos_sin(turn_deg)
        slope, across = self.slope * cos + self.across * sin, self.across * cos - self.slope * sin
        apparent = math.degrees(math.atan(slope))
        return replace(
            self,
            obliquity_deg=apparent,
            slope=slope,
            across=across,
            depth_mm=depth_mm,
            breadth_mm=breadth_mm,
            spiral=None,  # the section there is another ellipse, about which it winds otherwise
        )

    @property
    def cut_mm(self) -> tuple[float, float]:
        """First and last ``s`` at which the plane that it is looked at in meets the line with its zone."""
        half = (self.width_mm + self.depth_mm * abs(self.slope)) / 2
        return self.position_mm - half, self.position_mm + half

    @property
    def extent_mm(self) -> tuple[float, float]:
        """First and last ``s`` that the line with its zone touches, all round the bone."""
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
    """Everything the fracture divides: who owns a point of the bone, and along which segments pieces meet.

    ``across`` tells of each segment by how much its face leans out of the plane: ``s`` per mm of ``z``. ``spirals`` are
    the lines that wind, told by the bone itself, whichever plane the map is of.
    """

    lines: tuple[Line, ...]
    fragments: tuple[Fragment, ...]
    wedge: WedgePiece | None
    segments: tuple[Segment, ...]
    across: tuple[float, ...]
    spirals: tuple[Helix, ...]

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
        ends = [end for line in self.lines for end in (*self.reach_mm(line), *line.extent_mm)]
        return min(ends), max(ends)

    @property
    def length_mm(self) -> float:
        """Length of the fracture along the shaft, mm."""
        low, high = self.extent_mm
        return high - low

    def reach_mm(self, line: Line) -> tuple[float, float]:
        """First and last ``s`` at which the plane meets one line, with its zone and its wedge."""
        low, high = line.cut_mm
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
    broken = None if fracture.wedge is None else fracture.wedge.line  # between a wedge and the rest no line winds
    return tuple(
        _laid(index, line, fracture.gap_mm, shape, None if index == broken else line.spiral)
        for index, line in enumerate(fracture.lines)
    )


def _laid(index: int, line: FractureLine, gap_mm: float, shape: BoneShape, spiral: Winding | None) -> Line:
    cos, sin = cos_sin(line.turn_deg)
    steep = math.tan(math.radians(line.obliquity_deg))
    slope = steep * cos
    return Line(
        index=index,
        position_mm=line.position_mm,
        obliquity_deg=line.obliquity_deg if sin == 0 else math.degrees(math.atan(slope)),
        width_mm=line.zone_mm or gap_mm,
        zone_mm=line.zone_mm,
        depth_mm=shape.depth(line.position_mm),
        slope=slope,
        across=steep * sin,
        breadth_mm=shape.width(line.position_mm),
        spiral=spiral if steep else None,
    )


def room_between(first: Line, second: Line) -> float:
    """Least length of shaft between two lines inside the bone (mm), all round its section; not positive: they cross.

    Two planes are nearest to each other at the edge of an ellipse: c − m·y + n·z is at least c − hypot(m·d, n·w)/2. A
    spiral runs further than its plane, and is given that room wherever the other line lies.
    """
    depth = max(first.depth_mm, second.depth_mm)
    breadth = max(first.breadth_mm, second.breadth_mm)
    lean = math.hypot(depth * (second.slope - first.slope), breadth * (second.across - first.across)) / 2
    beyond = sum(line.run_mm - line.plane_run_mm for line in (first, second)) / 2
    return second.proximal_face(0) - first.distal_face(0) - lean - beyond


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


def _segments(lines: tuple[Line, ...], wedge: WedgePiece | None) -> list[tuple[Segment, float]]:
    """The segments along which pieces meet, each with its lean out of the plane; the wedge's two come last."""
    found: list[tuple[Segment, float]] = []
    for line in lines:
        top, bottom = line.depth_mm / 2, -line.depth_mm / 2
        if wedge is not None and wedge.line == line.index:
            # the wedge takes the place of the line between its apex and its own cortex
            top, bottom = (0.0, bottom) if wedge.side == "near" else (top, 0.0)
        faces = (line.proximal_face, line.distal_face) if line.width_mm > 0 else (line.proximal_face,)
        found += [(((face(top), top), (face(bottom), bottom)), line.across) for face in faces]
    if wedge is not None:
        found += [(edge, 0.0) for edge in _edges(wedge.corners)[1:]]
    return found


def map_fracture(construct: Construct, shape: BoneShape) -> FractureMap:
    """Divide the bone by the construct's fracture."""
    lines = lay_lines(construct, shape)
    given = construct.fracture.wedge
    wedge = None if given is None else _cut_wedge(given, lines[given.line])
    spirals = tuple(helix for helix in map(Helix.of, lines) if helix is not None)
    return _mapped(lines, shape.length_mm, wedge, spirals)


def _mapped(
    lines: tuple[Line, ...], length_mm: float, wedge: WedgePiece | None, spirals: tuple[Helix, ...]
) -> FractureMap:
    met = _segments(lines, wedge)
    segments, across = tuple(segment for segment, _ in met), tuple(lean for _, lean in met)
    return FractureMap(lines, split_shaft(lines, length_mm), wedge, segments, across, spirals)


def turned_fracture(fracture: FractureMap, turned: BoneShape, turn_deg: float) -> FractureMap:
    """What the plane at ``turn_deg`` about the shaft meets of a fracture; ``turned`` is the bone cut by that plane.

    The wedge runs through the whole width of the bone, as the profile draws it.
    """
    if turn_deg == 0:
        return fracture
    lines = tuple(
        line.seen_from(turn_deg, turned.depth(line.position_mm), turned.width(line.position_mm))
        for line in fracture.lines
    )
    return _mapped(lines, turned.length_mm, _turned_wedge(fracture.wedge, turn_deg), fracture.spirals)


def _turned_wedge(wedge: WedgePiece | None, turn_deg: float) -> WedgePiece | None:
    cos, _ = cos_sin(turn_deg)
    if wedge is None or abs(cos) < EDGE_ON:
        return None
    (low, y), (high, _), (apex, _) = wedge.corners
    side = "near" if y / cos > 0 else "far"
    return WedgePiece(wedge.line, side, ((low, y / cos), (high, y / cos), (apex, 0.0)))
