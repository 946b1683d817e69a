"""Where a fracture comes out of the bone, seen from the plate's side: on the near surface and on the far one.

The section is an ellipse, so that the trace of an oblique plane is a curve: half of it on the plate's side, half on the
far side, and the two meet at the edges. Of a spiral it is the helix that is drawn, and the crack that joins its ends.
Across the picture ``z`` grows downwards.
"""

import math

from app.drawing.bone import half_width
from app.drawing.scale import Frame
from app.drawing.svg import Point
from app.geometry import Line
from app.geometry.spiral import Helix, Place

SAMPLES = 12  # along a curved trace
Trace = list[Point]


def straight(frame: Frame, s: float) -> Trace:
    """An edge straight across the bone, from its upper edge in the picture to its lower one."""
    half = half_width(frame, s)
    return [(s, frame.face_axis - half), (s, frame.face_axis + half)]


def trace(frame: Frame, line: Line, side: int, *, distal: bool = False, within_mm: float = math.inf) -> Trace:
    """One face of a line on the near (+1) or the far (-1) surface, as points from the upper edge to the lower one.

    Args:
        frame: the drawing.
        line: the line.
        side: which surface.
        distal: the face that begins the distal fragment, not the one that ends the proximal.
        within_mm: only as far from the middle as this.
    """
    if (helix := Helix.of(line)) is not None:
        return _winding(frame, helix, side, distal, within_mm)
    face = line.distal_face if distal else line.proximal_face
    most = min(1.0, 2 * within_mm / line.breadth_mm)
    bent = line.slope != 0
    shares = [-most * math.cos(math.pi * k / SAMPLES) for k in range(SAMPLES + 1)] if bent else [-most, most]
    points = []
    for share in shares:
        z = share * line.breadth_mm / 2
        s = face(line.rim(z, side), z)
        # on the bone's outline at that place, which is a little wider or narrower than at the line
        points.append((s, frame.face_axis + share * half_width(frame, s)))
    return points


def _winding(frame: Frame, helix: Helix, side: int, distal: bool, within_mm: float) -> Trace:
    """The same of a spiral: from the picture's upper edge round the near surface, or round the far one."""
    most = math.asin(min(1.0, within_mm / helix.half_breadth_mm))
    start, sweep = (-most, 2 * most) if side > 0 else (most - math.pi, -2 * most)
    places = _course(helix, start, sweep, distal)
    return [(s, frame.face_axis + math.sin(angle) * half_width(frame, s)) for angle, s in places]


def turns(frame: Frame, helix: Helix, side: int, *, distal: bool = False) -> Trace:
    """A spiral in the profile, from the plate's side to the far one: before the section (+1) or behind it (-1)."""
    places = _course(helix, 0.0, side * math.pi, distal)
    return [(s, frame.up(math.cos(angle) * frame.shape.near(s))) for angle, s in places]


def _course(helix: Helix, start: float, sweep: float, distal: bool) -> list[Place]:
    """One face of a spiral."""
    shift = (1 if distal else -1) * helix.width_mm / 2
    return [(angle, s + shift) for angle, s in helix.course(start, sweep, 2 * SAMPLES)]


def apart(one: Trace, other: Trace) -> float:
    """How far two traces of one line lie apart at most, mm along the shaft; of a spiral no two lie on each other."""
    if len(one) != len(other):
        return math.inf
    return max(abs(a[0] - b[0]) for a, b in zip(one, other, strict=True))
