"""Screws in the profile: head in the plate, thread where it holds, plain and overdrilled where it glides."""

import math
from collections.abc import Hashable
from dataclasses import dataclass

from app.drawing.scene import Scene
from app.drawing.svg import Element, Point, loop, path
from app.geometry import Passage, ScrewPath
from app.geometry.profile import cos_sin

LEAST_TOOTH_U = 4.5
END_ON = 0.05  # share of a screw's length that is seen of one which points at the eye


@dataclass(frozen=True, slots=True)
class Axis:
    """A screw's own axes in the drawing: ``t`` from the plate's underside towards the tip, ``n`` across, mm.

    ``along`` is what the drawing shows of a step of 1 mm down the screw, shorter where that leans towards the eye;
    ``across`` is square to it, and of full length.
    """

    origin: Point
    along: Point
    across: Point

    def at(self, t: float, n: float) -> Point:
        """A point in drawing coordinates."""
        (x, y), (ax, ay), (nx, ny) = self.origin, self.along, self.across
        return x + t * ax + n * nx, y + t * ay + n * ny


def axis_of(scene: Scene, screw: ScrewPath) -> Axis:
    """The screw's axes in the profile."""
    tilt = math.radians(screw.lean_deg)
    sin, cos = math.sin(tilt), math.cos(tilt)
    if screw.turn_deg == 0:
        return Axis((screw.head[0], scene.frame.up(screw.head[1])), (sin, cos), (cos, -sin))
    s, y, _ = screw.at(screw.head)
    down = cos * cos_sin(screw.turn_deg)[0]
    seen = math.hypot(sin, down)
    across = (down / seen, -sin / seen) if seen > END_ON else (1.0, 0.0)
    return Axis((s, scene.frame.up(y)), (sin, down), across)


def end_mm(scene: Scene, screw: ScrewPath) -> float:
    """How far the screw that would be taken from stock reaches from its head, mm along its axis."""
    seat = scene.layout.series.seat_mm if screw.hole is not None else 0.0
    tilt = math.radians(screw.tilt_deg)
    return (screw.stock_length_mm or screw.length_mm) - seat / math.cos(tilt)


def _depth(screw: ScrewPath, point: Point) -> float:
    return math.dist(screw.head, point)


def _head(scene: Scene, screw: ScrewPath) -> list[Point]:
    """Right-hand half of the head, from its top down, as ``(t, n)``."""
    half, core = screw.spec.head_mm / 2, screw.spec.core_mm / 2
    if screw.hole is None:
        dome = [(-0.62, 0.0), (-0.62, 0.5), (-0.3, 0.94), (0.0, 1.0)]
        return [*((t * half, n * half) for t, n in dome), (0.25 * half, core)]
    thick = scene.layout.series.thickness_mm
    if screw.spec.kind == "locking":
        steps = [(-thick + k * thick / 6, half * (1 - 0.03 * k) * (0.9 if k % 2 else 1)) for k in range(6)]
        return [(-thick, 0), *steps, (-0.04 * thick, core)]
    sunk = [(-1.1, 0.0), (-1.1, 0.62), (-0.82, 1.0), (-0.5, 0.9)]
    return [*((t * thick, n * half) for t, n in sunk), (-0.02, core)]


def _thread(screw: ScrewPath, passage: Passage, least: float, tip: float) -> list[Point]:
    """Teeth along one cortex that the thread grips, as far as the screw reaches."""
    start, end = _depth(screw, passage.entry), min(_depth(screw, passage.exit), tip)
    if end <= start:
        return []
    teeth = max(1, round((end - start) / max(screw.spec.pitch_mm, least)))
    step = (end - start) / teeth
    core, crest = screw.spec.core_mm / 2, screw.spec.thread_mm / 2
    points = [(start, core)]
    for k in range(teeth):
        points += [(start + (k + 0.5) * step, crest), (start + (k + 1) * step, core)]
    return points


def _half(scene: Scene, screw: ScrewPath) -> list[Point]:
    """Right-hand outline of the whole screw from the top of its head to its tip, as ``(t, n)``."""
    core, end = screw.spec.core_mm / 2, end_mm(scene, screw)
    points = _head(scene, screw)
    for passage in screw.passages:
        if passage.holds:
            points += _thread(screw, passage, LEAST_TOOTH_U * scene.frame.u, end)
    return [*points, (max(end - core, points[-1][0]), core), (max(end, points[-1][0]), 0)]


def body(scene: Scene, screw: ScrewPath) -> Element:
    """The screw's outline: head, shank, teeth and tip in one."""
    axis = axis_of(scene, screw)
    half = _half(scene, screw)
    right = [axis.at(t, n) for t, n in half]
    left = [axis.at(t, -n) for t, n in reversed(half[1:-1])]
    return path(loop([*right, *left]), screw.role, width=1.2 * scene.frame.u)


def _quad(axis: Axis, start: float, end: float, half: float) -> str:
    return loop([axis.at(start, -half), axis.at(end, -half), axis.at(end, half), axis.at(start, half)])


def gliding_hole(scene: Scene, screw: ScrewPath) -> Element | None:
    """The overdrilled stretch of a lag screw, wider than its thread, if it has one."""
    gliding = [passage for passage in screw.passages if passage.gliding]
    if not gliding:
        return None
    axis = axis_of(scene, screw)
    wide = max(screw.spec.gliding_drill_mm or screw.spec.thread_mm, screw.spec.core_mm + 3 * scene.frame.u) / 2
    data = "".join(_quad(axis, _depth(screw, p.entry), _depth(screw, p.exit), wide) for p in gliding)
    return path(data, "drilled", width=1.1 * scene.frame.u)


def reach(scene: Scene, screw: ScrewPath, least_mm: float) -> str:
    """Outline about the whole screw, for pointing at it."""
    axis = axis_of(scene, screw)
    half = max(screw.spec.head_mm / 2, least_mm / 2)
    return _quad(axis, -scene.layout.series.thickness_mm, end_mm(scene, screw), half)


def shape(screw: ScrewPath) -> tuple[Hashable, ...]:
    """All that the drawing of a screw depends on; how far the fracture is from it is not among it."""
    lengths = screw.length_mm, screw.stock_length_mm
    place = screw.hole, screw.tilt_deg, screw.lean_deg, screw.turn_deg, screw.head, screw.tip
    return screw.role, screw.spec, place, screw.passages, lengths


def drawn(scene: Scene, screw: ScrewPath) -> list[Element]:
    """Everything that is seen of one screw in the profile."""
    hole = gliding_hole(scene, screw)
    return [body(scene, screw)] if hole is None else [hole, body(scene, screw)]
