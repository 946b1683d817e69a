"""The fracture: its faces, the debris of a zone, the wedge, and the obtuse corner with its angle."""

import math
from functools import lru_cache

from app.drawing.bone import edge, half_width
from app.drawing.placement import Placement, obtuse_corner, obtuse_text
from app.drawing.scene import Scene
from app.drawing.svg import Element, Point, filled, group, label, loop, num, path, run
from app.drawing.traces import Trace, apart, straight, trace, turns
from app.geometry import Line
from app.geometry.fracture import WedgePiece
from app.geometry.spiral import Helix

MOST_SHARDS = 40
ARC_U = 26.0
GOLDEN = 0.618034  # steps of the golden section spread points evenly without a visible order


def _noise(n: int) -> float:
    """A number from 0 to 1 that looks random but is the same in every drawing (fractional part of a sine)."""
    return math.sin(n * 12.9898 + 4.1) * 43758.5453 % 1.0


@lru_cache(maxsize=256)
def _shard_shape(n: int) -> tuple[Point, ...]:
    """Corners of shard number ``n`` about its centre, for size 1."""
    corners = 4 + n % 2
    turn = _noise(3 * n) * math.pi
    reaches = [0.55 + 0.6 * _noise(7 * n + k) for k in range(corners)]
    angles = [turn + 2 * math.pi * k / corners for k in range(corners)]
    return tuple((r * math.cos(a), r * 0.7 * math.sin(a)) for r, a in zip(reaches, angles, strict=True))


def shards(line: Line, axis: float, half: float, leaning: bool) -> str:
    """Debris strewn over a zone: in the profile (``leaning``: its faces are lines), or on the surface from above."""
    count = min(MOST_SHARDS, max(3, round(line.zone_mm * half / 7)))
    size = min(0.24 * half, 0.32 * line.zone_mm)
    corners: list[float] = []
    for along, across, large, shape in _strewn(count):
        y = across * half
        start = line.proximal_face(y) if leaning else line.proximal_face(line.rim(-y, 1), -y)
        x, y, r = start + along * line.width_mm, axis - y, size * large
        for dx, dy in shape:
            corners += (x + r * dx, y + r * dy)
    return filled(_outlines(count), corners)


@lru_cache(maxsize=64)
def _strewn(count: int) -> tuple[tuple[float, float, float, tuple[Point, ...]], ...]:
    """Of each shard: place along the zone and across it (shares of width and half depth), size, and shape."""
    return tuple(
        (
            0.06 + 0.88 * (n + 0.5) / count,
            (2 * ((n + 0.5) * GOLDEN % 1) - 1) * 0.84,
            0.6 + 0.5 * _noise(n),
            _shard_shape(n),
        )
        for n in range(count)
    )


@lru_cache(maxsize=64)
def _outlines(count: int) -> str:
    """Path data of that many shards, with a place for each coordinate."""
    return "".join("M" + "L".join(["%.2f,%.2f"] * len(_shard_shape(n))) + "Z" for n in range(count))


def span_y(scene: Scene, line: Line) -> tuple[float, float]:
    """Between which heights the line itself is seen; a wedge takes the place of half of it."""
    wedge = scene.layout.fracture.wedge
    half = line.depth_mm / 2
    if wedge is None or wedge.line != line.index:
        return half, -half
    return (0.0, -half) if wedge.side == "near" else (half, 0.0)


def faces(scene: Scene, line: Line) -> str:
    """Path data of the line, or of both faces where bone is missing between them."""
    top, bottom = span_y(scene, line)
    sides = (line.proximal_face, line.distal_face) if line.width_mm > 0 else (line.proximal_face,)
    up = scene.frame.up
    return "".join(run([(face(top), up(top)), (face(bottom), up(bottom))]) for face in sides)


def _obtuse_arc(scene: Scene, line: Line) -> list[Element]:
    """A small arc in the obtuse corner."""
    found = obtuse_corner(scene, line)
    if found is None:
        return []
    (x, y), side = found
    r, lean = ARC_U * scene.frame.u, math.radians(abs(line.obliquity_deg))
    end = (x - side * r * math.sin(lean), y + r * math.cos(lean))
    sweep = 0 if side < 0 else 1
    arc = f"M{num(x + side * r)},{num(y)}A{num(r)},{num(r)} 0 0 {sweep} {num(end[0])},{num(end[1])}"
    return [path(arc, "arc", width=2 * scene.frame.u)]


def obtuse_labels(scene: Scene, placement: Placement) -> list[Element]:
    """The interior angle of each obtuse corner."""
    width = 4 * scene.frame.u
    return [
        label(
            obtuse_text(line), spots.angle, "halo-canal", text_anchor="middle", stroke_width=width, aria_hidden="true"
        )
        for line, spots in zip(scene.layout.fracture.lines, placement.lines, strict=True)
        if spots.angle is not None
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
        sleeve = path(_sleeve(scene, line), "fine", width=u, stroke_dasharray=f"{num(5 * u)} {num(4 * u)}")
        marks += [path(debris, "shard", width=0.9 * u), sleeve]
    marks.append(path(faces(scene, line), "fracture", width=3.2 * u))
    return [*marks, *_turns(scene, line), *_obtuse_arc(scene, line)]


def _turns(scene: Scene, line: Line) -> list[Element]:
    """How a spiral winds round the bone that the profile cuts: drawn out before the section, dashed behind it."""
    helix, u = Helix.of(line), scene.frame.u
    if helix is None:
        return []
    both = (False, True) if line.width_mm > 0 else (False,)
    before, behind = (
        "".join(run(turns(scene.frame, helix, side, distal=distal)) for distal in both) for side in (1, -1)
    )
    return [
        path(behind, "fracture", width=1.4 * u, stroke_dasharray=_hidden_dashes(u), pointer_events="none"),
        path(before, "fracture", width=1.8 * u, pointer_events="none"),
    ]


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
                path(loop(cortex), "edge", fill=scene.fill("hatch-wedge"), width=1.5 * u),
                path(run([outer[0], apex, outer[-1]]), "fracture", width=2.6 * u),
            ],
            {"id": scene.id("wedge"), **scene.part("wedge", "wedge")},
        )
    ]


def _traces(scene: Scene, side: int, within_mm: float = math.inf) -> list[Trace]:
    """Every edge that the fracture leaves on one surface; on its own surface the wedge has two, straight across."""
    piece, frame = scene.layout.fracture.wedge, scene.frame
    over = piece is not None and (piece.side == "near") == (side > 0)
    found = [straight(frame, corner[0]) for corner in piece.corners[:2]] if piece is not None and over else []
    for line in scene.layout.fracture.lines:
        if over and piece is not None and piece.line == line.index:
            continue
        found.append(trace(frame, line, side, within_mm=within_mm))
        if line.width_mm > 0:
            found.append(trace(frame, line, side, distal=True, within_mm=within_mm))
    return found


def _hidden_dashes(u: float) -> str:
    """Of what lies on the side of the bone that is not seen."""
    return f"{num(7 * u)} {num(5 * u)}"


def _hidden(scene: Scene, near: list[Trace]) -> list[Trace]:
    """The edges on the far side that don't lie under those on the near one."""
    far, least = _traces(scene, -1), 2 * scene.frame.u
    return [edge for edge in far if all(apart(edge, seen) > least for seen in near)]


def face_fracture(scene: Scene) -> list[Element]:
    """The fracture on the plate's side (drawn out) and on the far side (dashed), as seen from above."""
    u, lines = scene.frame.u, scene.layout.fracture.lines
    marks = []
    gaps = "".join(_band(scene, line) for line in lines if line.width_mm > 0)
    if gaps:
        marks.append(path(gaps, "gap"))
    axis = scene.frame.face_axis
    zones = [line for line in lines if line.zone_mm > 0]
    debris = "".join(shards(line, axis, half_width(scene.frame, line.position_mm), False) for line in zones)
    if debris:
        marks.append(path(debris, "shard", width=0.9 * u))
    near = _traces(scene, 1)
    hidden = "".join(run(edge) for edge in _hidden(scene, near))
    if hidden:
        marks.append(path(hidden, "fracture", width=1.4 * u, stroke_dasharray=_hidden_dashes(u)))
    return [*marks, path("".join(run(edge) for edge in near), "fracture", width=3 * u)]


def under_plate(scene: Scene) -> Element:
    """The fracture on the plate's side where the plate hides it: dashed over the metal."""
    u, (low, high) = scene.frame.u, scene.layout.plate_ends_mm
    edges = _traces(scene, 1, scene.layout.series.width_mm / 2)
    data = "".join(run(edge) for edge in edges if low < edge[len(edge) // 2][0] < high)
    dashes = f"{num(5 * u)} {num(4 * u)}"
    return path(data or "M0,0", "fracture", width=1.3 * u, stroke_dasharray=dashes, pointer_events="none")


def _band(scene: Scene, line: Line) -> str:
    first, last = (trace(scene.frame, line, 1, distal=distal) for distal in (False, True))
    return loop([*first, *reversed(last)])
