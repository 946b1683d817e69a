"""Where numbers, letters, names and flags of the face view go: clear of bone, plate, heads and each other."""

import math
from collections.abc import Hashable
from dataclasses import dataclass

from app.drawing.bone import half_width
from app.drawing.boxes import Box, around, blocked, nearest_free, spread
from app.drawing.placement import AIR_U, APART_U, KNOB_U, hand, text_box
from app.drawing.scale import FLAG_ROW_U, FLAG_U, TEXT_U, crowded, face_clearance
from app.drawing.scene import GRAVEST, Scene
from app.drawing.svg import Point
from app.drawing.typeface import text_width
from app.geometry import HolePlace, Line, ScrewPath
from app.single_flight import SingleFlightCache

NUMBER_U, LETTER_U = 8.0, 20.0  # from the outermost edge to the baselines above and below
FLAG_RISE_U = 24.0  # from the baseline of a number to the middle of the first row of flags
FRAME_U = 9.0  # half of the box around a locking screw's letter
NAME_U = 4.0  # between a head and its name
INSIDE_U = 4.0  # from the edge to the grip: the number of a hole stands right above it
LEAST_RISE_U = 20.0


@dataclass(frozen=True, slots=True)
class HoleLabels:
    """Of one hole: baselines of its number above and its letter below, whether the number is shown, and its flag."""

    top: float
    bottom: float
    numbered: bool
    flag: Point | None


@dataclass(frozen=True, slots=True)
class FaceLabels:
    """Of all holes in their order; and of separate screws the middle of each name, on its baseline."""

    holes: tuple[HoleLabels, ...]
    names: dict[str, Point]


_FOUND: SingleFlightCache[Hashable, FaceLabels] = SingleFlightCache(64)


def beside_height(scene: Scene, screw: ScrewPath) -> float:
    """Drawing height of a separate screw's head: where it enters the bone.

    One that lies in the plane of the profile is drawn beside the plate: there it is driven, close to that plane.
    """
    if screw.turn_deg != 0:
        return scene.frame.face_axis + screw.at(screw.head)[2]
    clear = face_clearance(scene.layout.series.width_mm, screw.spec.head_mm, scene.frame.u)
    return scene.frame.face_axis + clear - screw.spec.head_mm / 2


def turn_grips(scene: Scene) -> list[tuple[Line, Point]]:
    """The lines with a grip that leans them in this view, and where it lies.

    They are in sight and stand clear of the holes; else one looks closer first.
    It lies on the line's own plane, just inside the upper edge of bone and plate; neighbours keep a finger apart.
    """
    frame, view, edge = scene.frame, scene.frame.view, KNOB_U * scene.frame.u
    lines = [line for line in scene.layout.fracture.lines if view.start_mm <= line.position_mm <= view.end_mm]
    risen = [(line, _rise(scene, line) - INSIDE_U * frame.u) for line in lines if scene.interactive]
    clear = [(line, rise) for line, rise in risen if rise >= (LEAST_RISE_U - INSIDE_U) * frame.u]
    wanted = sorted((line.position_mm - line.across * rise, frame.face_axis - rise, line.index) for line, rise in clear)
    if not wanted:
        return []
    room = frame.left + edge, frame.left + frame.width - edge
    xs = spread([x for x, _, _ in wanted], [APART_U * frame.u] * (len(wanted) - 1), room)
    by_index = {line.index: line for line in lines}
    return [(by_index[index], (x, y)) for x, (_, y, index) in zip(xs, wanted, strict=True)]


def _rise(scene: Scene, line: Line) -> float:
    """Half of what is seen of bone and plate at a line, mm."""
    return max(half_width(scene.frame, line.position_mm), scene.layout.series.width_mm / 2)


def face_labels(scene: Scene) -> FaceLabels:
    """The places of all that is written in the face view; kept while only the fracture moves."""
    beside = tuple(
        (s.id, s.head, s.turn_deg, s.tilt_deg > 0, s.tilt_deg < 0, s.spec)
        for s in scene.layout.screws
        if s.hole is None
    )
    empty = tuple(hole.role == "empty" for hole in scene.construct.holes)
    levels = tuple(scene.warned.get(f"h{place.number}") for place in scene.layout.holes)
    # beside the plate no name meets the grips of fracture lines, and may be kept while these move
    turned = any(screw.turn_deg != 0 for screw in scene.layout.screws)
    grips = tuple(around(*at, KNOB_U * scene.frame.u) for _, at in turn_grips(scene)) if turned else ()
    return _FOUND.get((scene.still(), beside, empty, levels, grips), lambda: _found(scene, grips))


def _found(scene: Scene, grips: tuple[Box, ...]) -> FaceLabels:
    names, obstacles = _names(scene, grips)
    frame, u, width = scene.frame, scene.frame.u, scene.layout.series.width_mm
    places, roles = scene.layout.holes, scene.construct.holes
    rows, shown = _flag_rows(scene), _every(scene)
    tops, bottoms = [], []
    for place, role in zip(places, roles, strict=True):
        s = place.s_mm
        half = max(frame.shape.width(s - FRAME_U * u), frame.shape.width(s + FRAME_U * u), width) / 2
        tops.append(frame.face_axis - half - NUMBER_U * u)
        reach = (FRAME_U + AIR_U / 2) * u if role.role != "empty" else 0.0
        under = [frame.face_axis + half, *(box[3] for box in obstacles if box[0] < s + reach and s - reach < box[2])]
        bottoms.append(max(under) + LETTER_U * u)
    meeting = 2 * FLAG_U * u if crowded(scene.layout.series, u) else 0.0

    def flag(place: HolePlace) -> Point | None:
        """Over its own number and over those of neighbours so near that it would meet them."""
        if place.number not in rows:
            return None
        near = [top for top, other in zip(tops, places, strict=True) if abs(other.s_mm - place.s_mm) <= meeting]
        return place.s_mm, min(near) - (FLAG_RISE_U + rows[place.number] * FLAG_ROW_U) * u

    holes = (
        HoleLabels(top, bottom, (place.number - 1) % shown == 0, flag(place))
        for place, top, bottom in zip(places, tops, bottoms, strict=True)
    )
    return FaceLabels(tuple(holes), names)


def _names(scene: Scene, grips: tuple[Box, ...]) -> tuple[dict[str, Point], list[Box]]:
    """The names of separate screws, beside their heads and clear of grips, and the boxes that heads and names take."""
    u, frame = scene.frame.u, scene.frame
    beside = [screw for screw in scene.layout.screws if screw.hole is None]
    boxes: list[Box] = []
    for screw in beside:
        (x, y), r = (screw.head[0], beside_height(scene, screw)), screw.spec.head_mm / 2 + u
        boxes.append((x - r, y - r, x + r, y + r))
    heads, names = list(boxes), {}
    centre = scene.construct.plate.centre_mm
    for screw, head in sorted(zip(beside, heads, strict=True), key=lambda one: -abs(one[0].head[0] - centre)):
        half = text_width(screw.id, TEXT_U * u) / 2
        y = (head[1] + head[3]) / 2 + 6 * u
        away = -hand(scene) if screw.tilt_deg == 0 else -int(math.copysign(1, screw.tilt_deg))
        wanted = screw.head[0] + away * ((head[2] - head[0]) / 2 + NAME_U * u + half)
        _, top, _, bottom = text_box(screw.id, (wanted, y), "middle", u)
        edge = half + AIR_U * u
        room = frame.left + edge, frame.left + frame.width - edge
        free = nearest_free(wanted, room, blocked([*boxes, *grips], top, bottom, edge, edge), hand(scene))
        x = wanted if free is None or not frame.view.start_mm <= screw.head[0] <= frame.view.end_mm else free
        names[screw.id] = x, y
        boxes.append((x - half, top, x + half, bottom))
    return names, boxes


def _every(scene: Scene) -> int:
    """Every how many holes a number is written: all, unless the window is so wide that they would meet."""
    u, pitch = scene.frame.u, scene.layout.series.pitch_mm
    widest = text_width(str(len(scene.layout.holes)), TEXT_U * u, strong=True) + u
    return max(1, math.ceil(widest / pitch))


def _flag_rows(scene: Scene) -> dict[int, int]:
    """The row of each hole's flag, the lowest as a rule; where two would meet, in turns, the end ones low.

    Where two rows are too few, the graver stays: the numbers of all are marked anyway.
    """
    warned = {place.number: place for place in scene.layout.holes if f"h{place.number}" in scene.warned}
    if not crowded(scene.layout.series, scene.frame.u):
        return dict.fromkeys(warned, 0)
    rows: dict[int, int] = {}
    width = 2 * FLAG_U * scene.frame.u
    last: list[list[HolePlace]] = [[], []]
    centre = scene.construct.plate.centre_mm

    def gravest_outermost(place: HolePlace) -> tuple[int, float]:
        return -GRAVEST[scene.warned[f"h{place.number}"]], -abs(place.s_mm - centre)

    order = sorted(warned.values(), key=gravest_outermost)
    for place in order:
        for row in (0, 1):
            if all(abs(place.s_mm - other.s_mm) >= width for other in last[row]):
                rows[place.number] = row
                last[row].append(place)
                break
    return rows
