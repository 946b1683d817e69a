"""Screw paths through the bone, cortex by cortex, in the profile plane (``s``, ``y``), mm and degrees."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

from app.case.models import Construct, Hole, LagScrew, Role
from app.catalogue.models import Catalogue, PlateSeries, ScrewSpec
from app.geometry.bends import lean_deg
from app.geometry.fracture import ON_LINE, TOUCH_MM, WEDGE, ZONE, FractureMap, Point, Segment, turned_fracture
from app.geometry.plate import HolePlace
from app.geometry.profile import BoneShape, cos_sin, turned_shape

CANAL_REACH_MM = 2.0  # how far a unicortical screw looks into the canal, so that its thread fills the cortex
Space = tuple[float, float, float]  # s, y, z
LOCKING = frozenset({"locking-2", "locking-1"})


@dataclass(frozen=True, slots=True)
class Passage:
    """One cortex that a screw passes.

    ``owner`` is a fragment's name, ``wedge``, ``zone`` (no load-bearing bone) or ``fracture`` (the line runs through
    it). ``gliding``: the hole is overdrilled, the thread passes free.
    """

    cortex: Literal["near", "far"]
    owner: str
    entry: Point
    exit: Point
    gliding: bool

    @property
    def holds(self) -> bool:
        """Whether the thread grips bone here."""
        return not self.gliding and self.owner not in (ZONE, ON_LINE)

    @property
    def length_mm(self) -> float:
        """Length of thread in this cortex, mm."""
        return math.dist(self.entry, self.exit)


@dataclass(frozen=True, slots=True)
class ScrewPath:
    """One placed screw.

    ``head`` is where it enters the plate's underside (the bone, for a screw beside the plate), ``tip`` where its bone
    path ends. ``home`` names the one piece it is counted with: where it holds most, the near one if equal; None if it
    holds nothing. ``meets`` is the segment between pieces that a lag screw crosses. ``length_mm`` reaches from the seat
    of the head to the far surface (a unicortical screw's, a little way into the canal); ``stock_length_mm`` is the
    length to take, None where none made holds. ``turn_deg`` is the plane about the shaft that it lies in: its points
    are (s, r) in that plane, which for all screws through the plate is the profile (``at`` tells them in space).
    ``lean_deg`` is the angle of its axis against the perpendicular to the shaft, ``tilt_deg`` the one that was set: 0
    for a screw that stands square to the plate where it lies, and leans with it where the bone flares.
    """

    id: str
    role: Role
    spec: ScrewSpec
    hole: int | None
    s_mm: float
    tilt_deg: float
    head: Point
    tip: Point
    passages: tuple[Passage, ...]
    home: str | None
    crosses_fracture: bool
    meets: Segment | None
    angle_to_normal_deg: float | None
    clear_of_fracture_mm: float
    length_mm: float
    stock_length_mm: float | None
    turn_deg: float = 0.0
    lean_deg: float = 0.0

    def at(self, point: Point) -> Space:
        """A point of the path in space: ``s`` along the shaft, ``y`` towards the plate, ``z`` across it, mm."""
        return _in_space(point, self.turn_deg)

    @property
    def cortices_held(self) -> int:
        """Number of cortices that the thread grips."""
        return sum(passage.holds for passage in self.passages)

    @property
    def owners(self) -> tuple[str, ...]:
        """Owners of the cortices passed, near first."""
        return tuple(passage.owner for passage in self.passages)


@dataclass(frozen=True, slots=True)
class Tips:
    """How far a tip may stand out of the bone, mm; less between ``start_mm`` and ``end_mm``, with vessels behind it."""

    usual_mm: float
    short_mm: float = 0.0
    start_mm: float = 0.0
    end_mm: float = 0.0

    def at(self, s_mm: float) -> float:
        """The limit for a screw that leaves the bone at ``s``."""
        return self.short_mm if self.start_mm <= s_mm < self.end_mm else self.usual_mm


@dataclass(frozen=True, slots=True)
class Bed:
    """What a screw is laid into: bone, fracture, plate seat and stand-off, and how far a tip may stand out."""

    shape: BoneShape
    fracture: FractureMap
    seat_mm: float
    standoff_mm: float
    tips: Tips


def turned_bed(bed: Bed, turn_deg: float) -> Bed:
    """What a screw is laid into that lies in the plane at ``turn_deg`` about the shaft."""
    if turn_deg == 0:
        return bed
    shape = turned_shape(bed.shape, turn_deg)
    return replace(bed, shape=shape, fracture=turned_fracture(bed.fracture, shape, turn_deg))


def _on_surface(shape: BoneShape, head: Point, slope: float, side: int, wall: bool) -> Point:
    """Where the path meets a surface: outer or canal wall, ``side`` +1 near, -1 far; a few steps suffice on a taper."""
    s = head[0]
    y = head[1]
    for _ in range(4 if slope else 1):
        half = shape.depth(s) / 2
        y = side * (half - shape.cortex(s) if wall else half)
        s = head[0] + (head[1] - y) * slope
    return s, y


@lru_cache(maxsize=2048)  # it stays while the fracture is dragged
def _surfaces(shape: BoneShape, head: Point, slope: float, single: bool) -> tuple[Point, ...]:
    """Where a path enters and leaves each cortex, near first; of a unicortical screw the near one only."""
    walls = [(1, False), (1, True)] + ([] if single else [(-1, True), (-1, False)])
    return tuple(_on_surface(shape, head, slope, side, wall) for side, wall in walls)


def _owner(fracture: FractureMap, entry: Point, leave: Point) -> str:
    middle = ((entry[0] + leave[0]) / 2, (entry[1] + leave[1]) / 2)
    owners = {fracture.owner(*point) for point in (entry, middle, leave)}
    return owners.pop() if len(owners) == 1 else ON_LINE


def _passages(bed: Bed, head: Point, slope: float, role: Role) -> tuple[Passage, ...]:
    points = _surfaces(bed.shape, head, slope, role == "locking-1")
    near = Passage("near", _owner(bed.fracture, points[0], points[1]), points[0], points[1], role == "lag")
    if role == "locking-1":
        return (near,)
    return near, Passage("far", _owner(bed.fracture, points[2], points[3]), points[2], points[3], False)


def _home(passages: tuple[Passage, ...]) -> str | None:
    held = [passage.owner for passage in passages if passage.holds]
    return max(held, key=lambda owner: (held.count(owner), -held.index(owner))) if held else None


def _crossing(path: Segment, segment: Segment) -> float | None:
    """Where along ``path`` (0 to 1) it crosses ``segment``; None if it doesn't."""
    (x1, y1), (x2, y2) = path
    (x3, y3), (x4, y4) = segment
    span = (x2 - x1) * (y4 - y3) - (y2 - y1) * (x4 - x3)
    if abs(span) < 1e-12:
        return None
    along = ((x3 - x1) * (y4 - y3) - (y3 - y1) * (x4 - x3)) / span
    across = ((x3 - x1) * (y2 - y1) - (y3 - y1) * (x2 - x1)) / span
    return along if 0 <= along <= 1 and -1e-9 <= across <= 1 + 1e-9 else None


def _met(fracture: FractureMap, path: Segment) -> tuple[Segment, float] | None:
    """The segment crossed nearest to the middle of the path, and by how much its face leans out of the plane."""
    hits = [(abs(at - 0.5), i) for i, seg in enumerate(fracture.segments) if (at := _crossing(path, seg)) is not None]
    if not hits:
        return None
    nearest = min(hits)[1]
    return fracture.segments[nearest], fracture.across[nearest]


def angle_to_normal(tilt_deg: float, segment: Segment, across: float = 0.0) -> float:
    """Angle between a screw and the normal of the face it crosses, 0 to 90 degrees.

    Args:
        tilt_deg: the screw's lean in the plane.
        segment: where the face cuts the plane.
        across: by how much the face leans out of the plane, mm of ``s`` per mm of ``z``.
    """
    (x1, y1), (x2, y2) = segment
    tilt = math.radians(tilt_deg)
    if across == 0:
        along = math.sin(tilt) * (x2 - x1) - math.cos(tilt) * (y2 - y1)
        return math.degrees(math.asin(min(1.0, abs(along) / math.hypot(x2 - x1, y2 - y1))))
    # the face s = s0 − m·y + n·z has the normal (1, m, −n), the screw the direction (sin, −cos, 0)
    sin, cos, slope = math.sin(tilt), math.cos(tilt), (x1 - x2) / (y2 - y1)
    off = math.hypot(cos * across, sin * across, sin * slope + cos)
    return math.degrees(math.atan2(off, abs(sin - cos * slope)))


def _in_space(point: Point, turn_deg: float) -> Space:
    """A point of the plane at ``turn_deg`` about the shaft."""
    cos, sin = cos_sin(turn_deg)
    s, r = point
    return s, r * cos, -r * sin


def _clear(fracture: FractureMap, path: Segment, turn_deg: float) -> float:
    """Least distance along the shaft from the path to a fracture face, 0 where it meets one or lies in the zone.

    From a spiral it keeps the lesser of the distances to its plane and, on the bone's surface, to the line that winds.
    """
    least = _clear_of_wedge(fracture, path)
    for line in fracture.lines:
        before = [line.proximal_face(y) - s for s, y in path]
        behind = [s - line.distal_face(y) for s, y in path]
        least = min(least, max(min(before), min(behind), 0.0))
    for helix in fracture.spirals:
        for s, y, z in (_in_space(point, turn_deg) for point in path):
            angle = math.atan2(z / helix.half_breadth_mm, y / helix.half_depth_mm)
            least = min(least, helix.clear_mm(s, angle))
    return least


def _clear_of_wedge(fracture: FractureMap, path: Segment) -> float:
    """Distance along the shaft to the wedge at its cortex, where it is widest; infinite if the path ends before it."""
    if fracture.wedge is None:
        return math.inf
    (low, at), (high, _), _ = fracture.wedge.corners
    (s1, y1), (s2, y2) = path
    if at < 0 < y2:
        return math.inf
    s = s1 + (s2 - s1) * (at - y1) / (y2 - y1)
    return max(low - s, s - high, 0.0)


def _nearest_face(fracture: FractureMap, s: float) -> tuple[Segment, float]:
    line = fracture.line_at(s)
    half = line.depth_mm / 2
    return ((line.proximal_face(half), half), (line.proximal_face(-half), -half)), line.across


def stock_length(spec: ScrewSpec, length_mm: float, beyond_mm: float = math.inf, far_mm: float = 0.0) -> float | None:
    """The length to take.

    It is the shortest one made that reaches the far surface, unless it stands out further than ``beyond_mm`` and the
    next shorter one still has a full turn of thread in the far cortex; so too where none made reaches.

    Args:
        spec: which screw.
        length_mm: from the seat of the head to the far surface, mm.
        beyond_mm: how far the tip may stand out, mm.
        far_mm: length of its path in the far cortex, mm.

    Returns:
        None where not even a shorter one holds in the far cortex.
    """
    reaching = next((made for made in spec.stock_mm if made >= length_mm - 1e-9), None)
    if reaching is not None and reaching - length_mm <= beyond_mm + 1e-9:
        return reaching
    shorter = [made for made in spec.stock_mm if length_mm - far_mm + spec.pitch_mm <= made < length_mm]
    return max(shorter, default=reaching)


@dataclass(frozen=True, slots=True)
class Aim:
    """Where a screw goes: ``s`` by which distances are measured, ``s`` of its head, and its lean (tip distal: +).

    ``turn_deg`` names the plane about the shaft that it lies in; the bed it is laid into is cut by that plane.
    ``square``: it follows the plate's normal at its head, which a plate on a flare turns with the surface.
    ``across_mm`` is how far beside that plane it runs, in a hole beside the plate's middle line.
    """

    s_mm: float
    start_mm: float
    tilt_deg: float
    turn_deg: float = 0.0
    square: bool = False
    across_mm: float = 0.0

    def __post_init__(self) -> None:
        # -0.0 equals 0.0 but is written otherwise: what is kept of one must serve for the other
        object.__setattr__(self, "tilt_deg", self.tilt_deg + 0.0)
        object.__setattr__(self, "turn_deg", self.turn_deg + 0.0)


def _deeper_beside(shape: BoneShape, s: float, across_mm: float, *, wall: bool) -> float:
    """By how much more of a screw the bone takes beside the plate's middle line than in it, mm; less where negative.

    The section is taken as an ellipse of the bone's depth and width, its canal as one inside it by the wall. At ``z``
    the half depth h over the half width w falls to h·√(1 − (z/w)²), while the plate stays where it is: 2 mm beside the
    middle of a femur the far surface comes 0.14 mm nearer, and the inside of the near ``wall`` lies 0.3 mm deeper.
    """
    if across_mm == 0:
        return 0.0
    inside = shape.cortex(s) if wall else 0.0
    high, wide = shape.depth(s) / 2 - inside, shape.width(s) / 2 - inside
    fall = high * (1 - math.sqrt(max(0.0, 1 - (across_mm / wide) ** 2)))
    return fall if wall else -fall


@lru_cache(maxsize=2048)  # a search changes one screw and asks for all
def lay_screw(bed: Bed, name: str, role: Role, spec: ScrewSpec, hole: int | None, aim: Aim) -> ScrewPath:
    """Run one screw from its head to the end of its bone path.

    A screw in a hole beside the plate's middle line meets a shorter chord: its length is that. All else of its path is
    taken as if it ran in the middle: what holds it, what it crosses, how far it is from the fracture and from others.

    Args:
        bed: what it is laid into.
        name: id, ``h3`` or ``s1``.
        role: what it is for.
        spec: which screw.
        hole: number of its hole, None for a screw beside the plate.
        aim: where it goes; an eccentric screw's head is shifted from the centre of its hole.
    """
    lean = lean_deg(bed.shape, aim.start_mm, ()) if aim.square else aim.tilt_deg
    slope = math.tan(math.radians(lean))
    head = (aim.start_mm, bed.shape.near(aim.start_mm) + bed.standoff_mm)
    passages = _passages(bed, head, slope, role)
    path = passages[0].entry, passages[-1].exit
    met = _met(bed.fracture, path)
    holding = {owner for owner in (p.owner for p in passages) if owner not in (ZONE, ON_LINE, WEDGE)}
    faced = (met or _nearest_face(bed.fracture, aim.s_mm)) if role == "lag" else None
    single = role == "locking-1"
    beside = _deeper_beside(bed.shape, path[1][0], aim.across_mm, wall=single)
    length = bed.seat_mm / math.cos(math.radians(aim.tilt_deg)) + math.dist(head, path[1])
    length += beside / math.cos(math.radians(lean))
    length += CANAL_REACH_MM if single else 0.0
    made = (
        stock_length(spec, length)
        if single
        else stock_length(spec, length, bed.tips.at(path[1][0]), passages[-1].length_mm)
    )
    return ScrewPath(
        id=name,
        role=role,
        spec=spec,
        hole=hole,
        s_mm=aim.s_mm,
        tilt_deg=aim.tilt_deg,
        head=head,
        tip=path[1],
        passages=passages,
        home=_home(passages),
        crosses_fracture=len(holding) > 1 or (met is not None and role != "locking-1"),
        meets=met[0] if role == "lag" and met is not None else None,
        angle_to_normal_deg=None if faced is None else angle_to_normal(lean, *faced),
        clear_of_fracture_mm=_clear(bed.fracture, path, aim.turn_deg),
        length_mm=length,
        stock_length_mm=made,
        turn_deg=aim.turn_deg,
        lean_deg=lean,
    )


def through_hole(role: Role, place: HolePlace, start_mm: float, tilt_deg: float) -> Aim:
    """The aim of a screw in a hole: square to the plate, unless it lags or is tilted in its hole.

    A locking screw's thread holds it to its plate's normal, whatever tilt was set.
    """
    tilt = 0.0 if role in LOCKING else tilt_deg
    return Aim(place.s_mm, start_mm, tilt, square=tilt == 0 and role != "lag", across_mm=place.across_mm)


def spec_for(role: Role, series: PlateSeries, catalogue: Catalogue) -> ScrewSpec:
    """The screw that a role means in this plate; locking roles get a cortex screw where no hole locks."""
    key = series.locking_screw if role in LOCKING and series.locking_screw else series.cortex_screw
    return catalogue.screws[key]


def _hole_screw(bed: Bed, place: HolePlace, hole: Hole, series: PlateSeries, spec: ScrewSpec) -> ScrewPath:
    start = place.s_mm
    if hole.role == "eccentric":
        apart = place.s_mm - bed.fracture.line_at(place.s_mm).position_mm
        # a hole right over the line has no side to pull to: looked at from either end, it stays where it is
        start += math.copysign(series.travel_mm, apart) if abs(apart) > TOUCH_MM else 0.0
    aim = through_hole(hole.role, place, start, hole.tilt_deg)
    return lay_screw(bed, f"h{place.number}", hole.role, spec, place.number, aim)


def _beside_screw(bed: Bed, number: int, lag: LagScrew, catalogue: Catalogue) -> ScrewPath:
    spec, aim = catalogue.screws[lag.screw], Aim(lag.position_mm, lag.position_mm, lag.tilt_deg, lag.turn_deg)
    return lay_screw(turned_bed(bed, lag.turn_deg), f"s{number}", "lag", spec, None, aim)


def lay_screws(
    construct: Construct, catalogue: Catalogue, bed: Bed, series: PlateSeries, places: tuple[HolePlace, ...]
) -> tuple[ScrewPath, ...]:
    """All placed screws: those in holes by number, then the independent lag screws."""
    in_holes = [
        _hole_screw(bed, place, hole, series, spec_for(hole.role, series, catalogue))
        for place, hole in zip(places, construct.holes, strict=True)
        if hole.role != "empty"
    ]
    bare = Bed(bed.shape, bed.fracture, 0.0, 0.0, bed.tips)
    beside = [_beside_screw(bare, n, lag, catalogue) for n, lag in enumerate(construct.lag_screws, 1)]
    return (*in_holes, *beside)
