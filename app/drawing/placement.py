"""Where grips, angles and flags of the profile go, so that none covers another and none is cut off by the frame.

Everything is asked for in one pass. What stands in a row is spread (``boxes.spread``), so that it moves steadily with a
hand; what stands alone takes the nearest free place. Sides are chosen by what mirrors with the construct, so that the
same one turned end for end is drawn as its mirror image. What lies outside the window stays where it belongs.
"""

import math
from dataclasses import dataclass, field
from itertools import pairwise

from app.drawing.bone import faces_of
from app.drawing.boxes import Box, Stretch, around, blocked, nearest_free, overlap, spread
from app.drawing.ruler import heading_places
from app.drawing.scale import FLAG_U, GRIP_U, TARGET_U, TEXT_U
from app.drawing.scene import Scene
from app.drawing.screws import END_ON, axis_of, end_mm
from app.drawing.svg import Point
from app.drawing.typeface import text_width
from app.geometry import Fragment, Line, ScrewPath
from app.geometry.fracture import OBTUSE_FROM_DEG

KNOB_U = 9.5  # half of a round grip with its edge
APART_U = TARGET_U + 2
AIR_U = 3.0
ASCENT_U, DESCENT_U = 12.0, 4.0
BESIDE_U = 14.0  # from the middle of a grip to its text
ROW_U, BARE_ROW_U = GRIP_U, 24.0  # from the far surface to what belongs to a line: with grips, and without
RISE_U, LEAST_RISE_U, STEEP_DEG = 38.0, 20.0, 45.0
OUT_U, FARTHEST_OUT_U, STEP_U = 14.0, 52.0, 12.0
ARC_TEXT_U = 46.0
TILTED = frozenset({"neutral", "eccentric", "lag"})


@dataclass(slots=True)
class LineSpots:
    """Of one fracture line: the grips that move, widen and turn it, the side of the last two, and its obtuse angle.

    ``side`` is where the grip of the zone is (1 distal), ``text_side`` where the lean's figure stands beside its grip.
    """

    shift: Point
    zone: Point
    side: int
    lean: Point
    text_side: int
    angle: Point | None = None


@dataclass(slots=True)
class Placement:
    """All places of a profile; ``tips`` by screw, ``flags`` by the part that is warned of; all of it is ``taken``."""

    lines: list[LineSpots]
    tips: dict[str, Point] = field(default_factory=dict)
    flags: dict[str, Point] = field(default_factory=dict)
    taken: list[Box] = field(default_factory=list)


def hand(scene: Scene) -> int:
    """The side of what leans to neither: away from the nearer end of the bone, 1 distal."""
    return 1 if scene.construct.plate.centre_mm >= scene.layout.shape.length_mm / 2 else -1


def leaning(scene: Scene) -> list[ScrewPath]:
    """The screws whose tips can be taken hold of."""
    # one out of the profile's plane leans towards the eye too: its figures are typed
    return [screw for screw in scene.layout.screws if screw.role in TILTED and screw.turn_deg == 0]


def shows(screw: ScrewPath) -> bool:
    """Whether a screw's grip is always seen: it lags or leans; the others show theirs when pointed at."""
    return screw.role == "lag" or screw.tilt_deg != 0


def far_end(scene: Scene, line: Line) -> Point:
    """Where the middle of a line comes out of the far surface."""
    y = -line.depth_mm / 2
    return line.position_mm - y * line.slope, scene.frame.up(y)


def lean_text(line: Line) -> str:
    """The figure beside the grip that turns a line."""
    return f"{line.obliquity_deg:.0f}°".replace("-", "−").replace("−0°", "0°")


def obtuse_text(line: Line) -> str:
    """The interior angle of an obtuse corner."""
    return f"{90 + abs(line.obliquity_deg):.0f}°"


def text_box(text: str, at: Point, anchor: str, u: float, *, strong: bool = False) -> Box:
    """The box of a line of text of the drawing's size, anchored on its baseline."""
    width = text_width(text, TEXT_U * u, strong=strong)
    left = at[0] - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
    return left, at[1] - ASCENT_U * u, left + width, at[1] + DESCENT_U * u


def place(scene: Scene) -> Placement:
    """Place everything that a scene shows in its profile."""
    return _Placing(scene).all()


class _Placing:
    """One pass: ``taken`` are the boxes that are given away, ``knobs`` the middles of grips, which keep a finger apart.

    Interactive scenes alone have grips; in the others only angles and flags are placed.
    """

    def __init__(self, scene: Scene) -> None:
        self.scene, self.frame, self.u = scene, scene.frame, scene.frame.u
        self.lines = scene.layout.fracture.lines
        self.hand = hand(scene)
        self.taken: list[Box] = [*_headings(scene)]
        self.knobs: list[Point] = []
        self.found = Placement([])

    def all(self) -> Placement:
        self._rows()
        if self.scene.interactive:
            self._tips()
            self._leans()
        self._angles()
        self._flags()
        self.found.taken = [*self.taken, *(around(*at, KNOB_U * self.u) for at in self.knobs)]
        return self.found

    # What belongs to the lines, in a row below the bone

    def _side(self, lean_deg: float) -> int:
        return self.hand if lean_deg == 0 else (1 if lean_deg > 0 else -1)

    def _in_sight(self, x: float) -> bool:
        return self.frame.view.start_mm <= x <= self.frame.view.end_mm

    def _room(self, half: float) -> Stretch:
        edge = half + AIR_U * self.u
        return self.frame.left + edge, self.frame.left + self.frame.width - edge

    def _below(self, x: float) -> float:
        s = min(max(x, 0.0), self.frame.shape.length_mm)
        return self.frame.far(s) + (ROW_U if self.scene.interactive else BARE_ROW_U) * self.u

    def _rows(self) -> None:
        u, apart = self.u, APART_U * self.u
        ends = [far_end(self.scene, line)[0] for line in self.lines]
        sides = [self._side(line.obliquity_deg) for line in self.lines]
        wanted: list[tuple[float, int, str]] = []
        for line, x, side in zip(self.lines, ends, sides, strict=True):
            beside = max(line.width_mm / 2, apart)
            if self.scene.interactive:
                wanted += [(x, line.index, "shift"), (x + side * beside, line.index, "zone")]
            if f"line-{line.index}" in self.scene.warned:
                off = side * apart if self.scene.interactive else 0.0
                wanted.append((x - off, line.index, "flag"))
        wanted.sort(key=lambda one: one[0])
        shown = [one for one in wanted if self._in_sight(self.lines[one[1]].position_mm)]
        gap = apart if self.scene.interactive else (2 * FLAG_U + AIR_U) * u
        xs = spread([one[0] for one in shown], [gap] * (len(shown) - 1), self._room(FLAG_U * u)) if shown else []
        spots = {one[1:]: (one[0], self._below(one[0])) for one in wanted}
        for (_, index, what), x in zip(shown, xs, strict=True):
            spots[index, what] = at = (x, self._below(x))
            if what == "flag":
                self.taken.append(around(*at, FLAG_U * u))
            self.knobs.append(at)
        for line, side in zip(self.lines, sides, strict=True):
            there = (far_end(self.scene, line)[0], 0.0)
            shift, zone = spots.get((line.index, "shift"), there), spots.get((line.index, "zone"), there)
            self.found.lines.append(LineSpots(shift, zone, side, self._produced(line), -side))
            if (line.index, "flag") in spots:
                self.found.flags[f"line-{line.index}"] = spots[line.index, "flag"]

    # Grips at the tips of screws

    def _apart(self, at: Point) -> bool:
        least = TARGET_U * self.u
        return all(abs(x - at[0]) >= least or math.dist((x, y), at) >= least for x, y in self.knobs)

    def _clear(self, at: Point, half: float) -> bool:
        box = around(*at, half)
        return self._apart(at) and not any(overlap(box, other) for other in self.taken)

    def _slid(self, at: Point, half: float) -> Point | None:
        """The nearest place at the same height that is a finger away from all grips and clear of all else."""
        least = TARGET_U * self.u
        stretches = blocked(self.taken, at[1] - half, at[1] + half, half, half)
        for x, y in self.knobs:
            if abs(y - at[1]) < least:
                reach = math.sqrt(least**2 - (y - at[1]) ** 2)
                stretches.append((x - reach, x + reach))
        free = nearest_free(at[0], self._room(half), stretches, self.hand)
        return None if free is None else (free, at[1])

    def _tips(self) -> None:
        u, middle = self.u, self.scene.construct.plate.centre_mm
        lowest = self.frame.grip_row + KNOB_U * u
        own: dict[str, tuple[ScrewPath, list[Point]]] = {}
        for screw in leaning(self.scene):
            axis, end = axis_of(self.scene, screw), end_mm(self.scene, screw)
            out = OUT_U
            ways = []
            while out <= FARTHEST_OUT_U:
                x, y = axis.at(end + out * u, 0)
                ways.append((x, min(y, lowest)))
                out += STEP_U
            own[screw.id] = screw, ways
        order = sorted(
            own.values(),
            key=lambda one: (not shows(one[0]), -round(abs(one[1][0][0] - middle), 6), self.hand * one[0].head[0]),
        )
        for screw, ways in order:
            self.found.tips[screw.id] = self._tip(ways) if self._in_sight(screw.head[0]) else ways[0]

    def _tip(self, ways: list[Point]) -> Point:
        half, wanted = KNOB_U * self.u, ways[0]
        low, high = self._room(half)
        inside = [at for at in ways if low <= at[0] <= high]
        chosen = next((at for at in inside if self._clear(at, half)), None)
        if chosen is None:
            slid = [at for at in (self._slid(way, half) for way in (ways[0], ways[-1])) if at is not None]
            chosen = min(slid, key=lambda at: math.dist(at, wanted), default=wanted)
        self.knobs.append(chosen)
        self.taken.append(around(*chosen, half))
        return chosen

    # Grips that turn lines, with their figures

    def _produced(self, line: Line) -> Point:
        """On the line produced beyond the plate, nearer once it lies flat, but never on the plate."""
        plate = self.scene.construct.plate.standoff_mm + self.scene.layout.series.thickness_mm
        rise = line.depth_mm / 2 + plate + RISE_U * self.u
        lean = math.radians(line.obliquity_deg)
        if abs(line.obliquity_deg) > STEEP_DEG:
            rise *= math.sqrt(2) * math.cos(lean)
        clear = line.depth_mm / 2 + plate + LEAST_RISE_U * self.u
        return line.position_mm - rise * math.tan(lean), self.frame.profile_axis - max(rise, clear)

    def _leans(self) -> None:
        u, half = self.u, TARGET_U / 2 * self.u
        shown = [one for one in zip(self.lines, self.found.lines, strict=True) if self._in_sight(one[0].position_mm)]
        shown.sort(key=lambda one: one[1].lean[0])
        reach = []
        for line, spots in shown:
            widest = f"−{abs(line.obliquity_deg):.0f}°"  # turned end for end the sign is the other one
            text = BESIDE_U * u + text_width(widest, TEXT_U * u) + AIR_U * u
            reach.append((text, half) if spots.text_side < 0 else (half, text))
        if not shown:
            return
        gaps = [here[1] + there[0] for here, there in pairwise(reach)]
        low, high = self._room(0.0)
        xs = spread([spots.lean[0] for _, spots in shown], gaps, (low + reach[0][0], high - reach[-1][1]))
        for (_, spots), x, (left, right) in zip(shown, xs, reach, strict=True):
            y = spots.lean[1]
            stretches = blocked(self.taken, y - half, y + half, left, right)
            stretches += [(kx - right - half, kx + left + half) for kx, ky in self.knobs if abs(ky - y) < TARGET_U * u]
            free = nearest_free(x, (low + left, high - right), stretches, self.hand)
            spots.lean = (x if free is None else free, y)
            self.knobs.append(spots.lean)
            self.taken.append((spots.lean[0] - left, y - half, spots.lean[0] + right, y + half))

    # What lies in the bone

    def _shafts(self, top: float, bottom: float) -> list[Box]:
        """What screws take of a band of the drawing."""
        found, thick = [], self.scene.layout.series.thickness_mm
        for screw in self.scene.layout.screws:
            axis = axis_of(self.scene, screw)
            (x, head), (end, tip) = axis.origin, axis.at(math.dist(screw.head, screw.tip), 0)
            if min(head, tip) - thick < bottom and top < max(head, tip):
                near_head = top < head + screw.spec.head_mm / 4 or screw.turn_deg != 0
                r = (screw.spec.head_mm if near_head else screw.spec.thread_mm) / 2 + AIR_U * self.u
                steep = abs(axis.along[1]) > END_ON
                xs = [x + (y - head) * axis.along[0] / axis.along[1] for y in (top, bottom)] if steep else [x, end]
                found.append((min(xs) - r, top, max(xs) + r, bottom))
        return found

    def _within(self, fragment: Fragment, top: float, bottom: float, half: float) -> Stretch:
        """From where to where the middle of something lies in a fragment and in the window."""
        first, last = faces_of(self.scene, fragment)
        ys = [self.frame.profile_axis - y for y in (top, bottom)]
        low, high = self._room(half)
        if first is not None:
            low = max(low, *(first(y) + half for y in ys))
        if last is not None:
            high = min(high, *(last(y) - half for y in ys))
        return low, high

    def _in_bone(self, wanted: Point, size: tuple[float, float, float], fragment: Fragment) -> Point:
        """The nearest place in a fragment clear of screws and all else; failing that, of all but screws.

        ``size`` is half the width, and the reach up and down.
        """
        half, up, down = size
        room = self._room(half)
        x, y = wanted[0], wanted[1]
        for screws, own in ((True, True), (False, True), (False, False)):
            best: tuple[float, Point] | None = None
            for rise in (0.0, 17.0, -17.0, 30.0, -30.0):
                at = y + rise * self.u
                top, bottom = at - up, at + down
                if rise and (top < self.frame.near(x) or bottom > self.frame.far(x)):
                    continue
                within = self._within(fragment, top, bottom, half) if own else room
                stretches = blocked(self.taken, top, bottom, half, half)
                if screws:
                    stretches += blocked(self._shafts(top, bottom), top, bottom, half, half)
                free = nearest_free(x, within, stretches, self.hand)
                if free is None:
                    continue
                cost = abs(free - x) + abs(rise) * self.u
                if best is None or cost < best[0]:
                    best = cost, (free, at)
                if cost <= 17 * self.u:
                    break
            if best is not None:
                return best[1]
        return wanted

    def _angles(self) -> None:
        """The interior angle of each obtuse corner, as near to its arc as there is room."""
        u, fragments = self.u, self.scene.layout.fracture.fragments
        half = text_width("180°", TEXT_U * u) / 2 + AIR_U * u
        wanted: list[tuple[Point, Fragment, LineSpots]] = []
        for line, spots in zip(self.lines, self.found.lines, strict=True):
            corner = obtuse_corner(self.scene, line)
            if corner is None:
                continue
            (x, _), side = corner
            if not self._in_sight(line.position_mm):
                continue
            middle = (math.pi / 2 + math.radians(abs(line.obliquity_deg))) / 2
            near = x + side * ARC_TEXT_U * u * math.cos(middle)
            at = (near, self.frame.profile_axis + 5.5 * u)
            wanted.append((at, fragments[line.index + (side > 0)], spots))
        centre = self.scene.construct.plate.centre_mm
        for at, fragment, spots in sorted(
            wanted, key=lambda one: (-round(abs(one[0][0] - centre), 6), self.hand * one[0][0])
        ):
            spots.angle = x, y = self._in_bone(at, (half, ASCENT_U * u, DESCENT_U * u), fragment)
            self.taken.append((x - half, y - ASCENT_U * u, x + half, y + DESCENT_U * u))

    # Flags

    def _put_flag(self, part: str, at: Point) -> None:
        self.found.flags[part] = at
        self.taken.append(around(*at, (FLAG_U + 1) * self.u))

    def _flag_beside(self, part: str, wanted: Point) -> None:
        """A flag near what it is about, where nothing else is at that height."""
        half, y = (FLAG_U + 1) * self.u, wanted[1]
        texts = blocked(self.taken, y - half, y + half, half, half)
        screws = blocked(self._shafts(y - half, y + half), y - half, y + half, half, half)
        for stretches in ([*texts, *screws], texts):
            free = nearest_free(wanted[0], self._room(half), stretches, self.hand)
            if free is not None:
                self._put_flag(part, (free, y))
                return

    def _flags(self) -> None:
        warned, layout, u, frame = self.scene.warned, self.scene.layout, self.u, self.frame
        if "plate" in warned:
            # The end that lies nearer to the middle of the bone is in the window more often.
            end = layout.plate_ends_mm[0 if self.hand > 0 else 1]
            y = frame.near(end) - self.scene.construct.plate.standoff_mm - layout.series.thickness_mm
            if self._in_sight(end):
                self._flag_beside("plate", (end + self.hand * 12 * u, y - 16 * u))
        for screw in sorted(layout.screws, key=lambda one: self.hand * one.head[0]):
            if screw.hole is None and screw.id in warned and self._in_sight(screw.head[0]):
                x, y = axis_of(self.scene, screw).at(-0.31 * screw.spec.head_mm, 0)
                self._flag_beside(screw.id, (x, y - (FLAG_U + 4) * u))
        wedge = layout.fracture.wedge
        if wedge is not None and "wedge" in warned and self._in_sight(wedge.corners[2][0]):
            self._flag_beside("wedge", (wedge.corners[2][0], frame.up(wedge.corners[0][1] * 0.55)))
        half = (FLAG_U + 1) * u
        for fragment in layout.fracture.fragments[:: self.hand]:  # in an order that turns round with the construct
            if f"fragment-{fragment.name}" in warned:
                low, high = max(fragment.start_mm, frame.view.start_mm), min(fragment.end_mm, frame.view.end_mm)
                if low < high:
                    wanted = (low + high) / 2, frame.profile_axis
                    self._put_flag(f"fragment-{fragment.name}", self._in_bone(wanted, (half, half, half), fragment))
        if "bone" in warned:
            last = layout.fracture.fragments[-1 if self.hand > 0 else 0]
            x = frame.view.end_mm - 40 * u if self.hand > 0 else frame.view.start_mm + 40 * u
            self._put_flag("bone", self._in_bone((x, frame.profile_axis), (half, half, half), last))


def obtuse_corner(scene: Scene, line: Line) -> tuple[Point, int] | None:
    """The obtuse corner at the plate and the side of the line it is on (-1 proximal); None where there is none."""
    wedge = scene.layout.fracture.wedge
    gone = wedge is not None and wedge.line == line.index and wedge.side == "near"
    if abs(line.obliquity_deg) < OBTUSE_FROM_DEG or gone:
        return None
    side = -1 if line.obliquity_deg > 0 else 1
    y = line.depth_mm / 2
    return ((line.proximal_face if side < 0 else line.distal_face)(y), scene.frame.up(y)), side


def _headings(scene: Scene) -> list[Box]:
    """What is written in every drawing: the names of the views and of their ends, both ends taken for the longer."""
    return [
        text_box("Profile, proximal", at, anchor, scene.frame.u)
        for ends in heading_places(scene.frame)
        for at, anchor in zip(ends, ("start", "end"), strict=True)
    ]
