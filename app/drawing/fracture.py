"""The fracture: its faces, the debris of a zone, the wedge, and the obtuse corner with its angle."""

import math

from app.drawing.bone import edge, half_width
from app.drawing.scene import Scene
from app.drawing.svg import Element, Point, group, label, loop, num, path, run
from app.geometry import Line
from app.geometry.fracture import OBTUSE_FROM_DEG, WedgePiece

MOST_SHARDS = 40


def _noise(n: int) -> float:
    """A number from 0 to 1 that looks random but is the same in every drawing (fractional part of a sine)."""
    return math.sin(n * 12.9898 + 4.1) * 43758.5453 % 1.0


def _shard(centre: Point, size: float, n: int) -> str:
    corners = 4 + n % 2
    turn = _noise(3 * n) * math.pi
    points = []
    for k in range(corners):
        reach = size * (0.55 + 0.6 * _noise(7 * n + k))
        angle = turn + 2 * math.pi * k / corners
        points.append((centre[0] + reach * math.cos(angle), centre[1] + reach * 0.7 * math.sin(angle)))
    return loop(points)


def shards(line: Line, axis: float, half: float, leaning: bool) -> str:
    """Debris strewn over a zone; ``leaning`` follows the faces (profile), else it fills an upright band (face)."""
    count = min(MOST_SHARDS, max(3, round(line.zone_mm * half / 7)))
    size = min(0.24 * half, 0.32 * line.zone_mm)
    pieces = []
    for n in range(count):
        t = (n + 0.5) / count
        y = (2 * _noise(5 * n + 1) - 1) * 0.82 * half
        start = line.proximal_face(y if leaning else line.depth_mm / 2)
        pieces.append(_shard((start + (0.06 + 0.88 * t) * line.width_mm, axis - y), size * (0.6 + 0.5 * _noise(n)), n))
    return "".join(pieces)


def _span_y(scene: Scene, line: Line) -> tuple[float, float]:
    """Between which heights the line itself is seen; a wedge takes the place of half of it."""
    wedge = scene.layout.fracture.wedge
    half = line.depth_mm / 2
    if wedge is None or wedge.line != line.index:
        return half, -half
    return (0.0, -half) if wedge.side == "near" else (half, 0.0)


def faces(scene: Scene, line: Line) -> str:
    """Path data of the line, or of both faces where bone is missing between them."""
    top, bottom = _span_y(scene, line)
    sides = (line.proximal_face, line.distal_face) if line.width_mm > 0 else (line.proximal_face,)
    up = scene.frame.up
    return "".join(run([(face(top), up(top)), (face(bottom), up(bottom))]) for face in sides)


def _obtuse_arc(scene: Scene, line: Line) -> list[Element]:
    """A small arc in the obtuse corner at the plate, with the corner's interior angle."""
    if abs(line.obliquity_deg) < OBTUSE_FROM_DEG or _span_y(scene, line)[0] == 0.0:
        return []
    u = scene.frame.u
    side = -1 if line.obliquity_deg > 0 else 1
    y = line.depth_mm / 2
    x = (line.proximal_face if side < 0 else line.distal_face)(y)
    corner = (x, scene.frame.up(y))
    lean = math.radians(abs(line.obliquity_deg))
    r = 26 * u
    begin = (x + side * r, corner[1])
    end = (x - side * r * math.sin(lean), corner[1] + r * math.cos(lean))
    sweep = 0 if side < 0 else 1
    arc = f"M{num(begin[0])},{num(begin[1])}A{num(r)},{num(r)} 0 0 {sweep} {num(end[0])},{num(end[1])}"
    middle = (math.pi / 2 + lean) / 2
    at = (x + side * 46 * u * math.cos(middle), corner[1] + 46 * u * math.sin(middle) + 5 * u)
    text = f"{90 + abs(line.obliquity_deg):.0f}°"
    return [
        path(arc, "arc", stroke_width=2 * u),
        label(text, at, "halo-canal", text_anchor="middle", stroke_width=4 * u, aria_hidden="true"),
    ]


def _sleeve(scene: Scene, line: Line) -> str:
    """The two surfaces where they are missing."""
    half, up = line.depth_mm / 2, scene.frame.up
    return "".join(run([(line.proximal_face(y), up(y)), (line.distal_face(y), up(y))]) for y in (half, -half))


def line_marks(scene: Scene, line: Line) -> list[Element]:
    """One line in the profile: debris, faces, obtuse corner."""
    u = scene.frame.u
    marks = []
    if line.zone_mm > 0:
        debris = shards(line, scene.frame.profile_axis, line.depth_mm / 2, True)
        sleeve = path(_sleeve(scene, line), "fine", stroke_width=u, stroke_dasharray=f"{num(5 * u)} {num(4 * u)}")
        marks += [path(debris, "shard", stroke_width=0.9 * u), sleeve]
    marks.append(path(faces(scene, line), "fracture", stroke_width=3.2 * u))
    return [*marks, *_obtuse_arc(scene, line)]


def _cortical_part(scene: Scene, piece: WedgePiece) -> list[Point]:
    """The cortex of the wedge: its outer surface and the part of its two sides within the wall."""
    frame = scene.frame
    side = 1 if piece.side == "near" else -1
    (low, _), (high, _), (apex, _) = piece.corners
    outer = edge(frame, low, high, side, False)
    share = frame.shape.cortex(apex) / frame.shape.near(apex)
    first, last = outer[0], outer[-1]
    tip = (apex, frame.profile_axis)
    inner = [(p[0] + (tip[0] - p[0]) * share, p[1] + (tip[1] - p[1]) * share) for p in (last, first)]
    return [*outer, *inner]


def wedge_piece(scene: Scene) -> list[Element]:
    """The third fragment, drawn over the two it was broken from."""
    piece = scene.layout.fracture.wedge
    if piece is None:
        return []
    frame, u = scene.frame, scene.frame.u
    cortex = _cortical_part(scene, piece)
    outer, apex = cortex[:-2], (piece.corners[2][0], frame.profile_axis)
    return [
        group(
            [
                path(loop([*outer, apex]), "canal"),
                path(loop(cortex), "bone"),
                path(loop(cortex), "edge", fill=scene.fill("hatch-wedge"), stroke_width=1.5 * u),
                path(run([outer[0], apex, outer[-1]]), "fracture", stroke_width=2.6 * u),
            ],
            {"id": scene.id("wedge"), **scene.part("wedge", "wedge")},
        )
    ]


def _across(scene: Scene, s: float) -> str:
    half = half_width(scene.frame, s)
    return run([(s, scene.frame.face_axis - half), (s, scene.frame.face_axis + half)])


def _wedge_band(scene: Scene, side: str) -> str:
    piece = scene.layout.fracture.wedge
    if piece is None or piece.side != side:
        return ""
    return _across(scene, piece.corners[0][0]) + _across(scene, piece.corners[1][0])


def face_fracture(scene: Scene) -> list[Element]:
    """The fracture on the plate's side (drawn out) and on the far side (dashed), as seen from above."""
    u = scene.frame.u
    near, far, debris, gaps = _wedge_band(scene, "near"), _wedge_band(scene, "far"), "", ""
    for line in scene.layout.fracture.lines:
        half = line.depth_mm / 2
        sides = (line.proximal_face, line.distal_face) if line.width_mm > 0 else (line.proximal_face,)
        near += "".join(_across(scene, face(half)) for face in sides)
        if line.run_mm > 2 * u:
            far += "".join(_across(scene, face(-half)) for face in sides)
        if line.width_mm > 0:
            gaps += _band(scene, line)
        if line.zone_mm > 0:
            debris += shards(line, scene.frame.face_axis, half_width(scene.frame, line.position_mm), False)
    dashes = f"{num(7 * u)} {num(5 * u)}"
    marks = [path(near, "fracture", stroke_width=3 * u)]
    if far:
        marks.append(path(far, "fracture", stroke_width=1.4 * u, stroke_dasharray=dashes))
    if debris:
        marks.insert(0, path(debris, "shard", stroke_width=0.9 * u))
    return [path(gaps, "gap"), *marks] if gaps else marks


def _band(scene: Scene, line: Line) -> str:
    half = line.depth_mm / 2
    a, b = line.proximal_face(half), line.distal_face(half)
    axis, width = scene.frame.face_axis, half_width(scene.frame, line.position_mm)
    return loop([(a, axis - width), (b, axis - width), (b, axis + width), (a, axis + width)])
