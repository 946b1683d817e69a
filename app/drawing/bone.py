"""The bone: cut lengthwise with hatched cortex in the profile, as an outline in the face view."""

from collections.abc import Callable
from functools import lru_cache

from app.drawing.kept import Kept
from app.drawing.scale import Frame, bone_ends
from app.drawing.scene import Scene
from app.drawing.svg import Element, Point, at, group, lined, loop, num, path, run, through
from app.geometry import Fragment

_FACES = Kept(64)

Face = Callable[[float], float]


def _meets(frame: Frame, face: Face | None, side: int, inner: bool, open_end: float) -> float:
    """``s`` where a fracture face meets the outer surface or the canal wall; the open end where there's no face."""
    if face is None:
        return open_end
    s = face(0.0)
    for _ in range(4):
        half = frame.shape.near(s)
        s = face(side * (half - frame.shape.cortex(s) if inner else half))
    return s


@lru_cache(maxsize=256)
def _stations(frame: Frame, side: int, inner: bool) -> tuple[tuple[Point, str], ...]:
    """The stations of a surface in drawing coordinates, each as a point and as written."""
    column = 2 if inner else 1
    points = ((row[0], frame.profile_axis - side * row[column]) for row in frame.stations)
    return tuple((point, at(*point)) for point in points)


def _on(frame: Frame, s: float, side: int, inner: bool) -> Point:
    half = frame.shape.near(s)
    return s, frame.up(side * (half - frame.shape.cortex(s) if inner else half))


def edge(frame: Frame, start: float, end: float, side: int, inner: bool) -> list[Point]:
    """A surface from ``start`` to ``end`` (``s``), in drawing coordinates."""
    here, there = (_on(frame, s, side, inner) for s in (start, end))
    return [here, *(point for point, _ in _stations(frame, side, inner) if start < point[0] < end), there]


def _surface(frame: Frame, start: float, end: float, side: int, inner: bool) -> list[str]:
    """The same as written points."""
    here, there = (at(*_on(frame, s, side, inner)) for s in (start, end))
    return [here, *(text for point, text in _stations(frame, side, inner) if start < point[0] < end), there]


def faces_of(scene: Scene, fragment: Fragment) -> tuple[Face | None, Face | None]:
    """The fracture faces that begin and end a fragment; None at the ends of the bone."""
    lines = scene.layout.fracture.lines
    first = lines[fragment.index - 1].distal_face if fragment.index else None
    last = lines[fragment.index].proximal_face if fragment.index < len(lines) else None
    return first, last


def _stretch(scene: Scene, fragment: Fragment, side: int, inner: bool) -> tuple[float, float]:
    low, high = bone_ends(scene.frame.view, scene.layout.shape)
    first, last = faces_of(scene, fragment)
    start = _meets(scene.frame, first, side, inner, low)
    end = _meets(scene.frame, last, side, inner, high)
    return min(max(start, low), high), min(max(end, low), high)


def piece(scene: Scene, fragment: Fragment) -> Element:
    """One fragment cut lengthwise."""
    frame, u = scene.frame, scene.frame.u
    walls = {
        (side, inner): _surface(frame, *_stretch(scene, fragment, side, inner), side, inner)
        for side in (1, -1)
        for inner in (False, True)
    }
    whole = through([*walls[1, False], *reversed(walls[-1, False])])
    cortex = "".join(through([*walls[side, False], *reversed(walls[side, True])]) for side in (1, -1))
    name = f"fragment-{fragment.name}"
    return group(
        [
            path(whole, "canal"),
            path(cortex, "bone"),
            path(cortex, "edge", fill=scene.fill("hatch"), width=1.5 * u),
        ],
        {"id": scene.id(name), **scene.part(name, "fragment")},
    )


def _curve(x: float, axis: float, half: float, sway: float) -> str:
    """The S of a break line, from above to below the bone."""
    top, bottom = axis - half, axis + half
    points = ((x + sway, axis - half * 0.35), (x - sway, axis + half * 0.35), (x, bottom))
    return f"M{num(x)},{num(top)}C" + " ".join(f"{num(a)},{num(b)}" for a, b in points)


def _break(frame: Frame, axis: float, half: float, at_start: bool) -> list[Element]:
    """A break line where the window cuts the bone, with the sheet shown beyond it."""
    u = frame.u
    x = frame.view.start_mm + 4 * u if at_start else frame.view.end_mm - 4 * u
    away = frame.left - u if at_start else frame.left + frame.width + u
    curve = _curve(x, axis, half + 3 * u, 16 * u)
    cover = f"{curve}L{num(away)},{num(axis + half + 3 * u)}V{num(axis - half - 3 * u)}Z"
    return [path(cover, "sheet"), path(curve, "line", width=1.5 * u)]


def _rounded(frame: Frame, axis: float, half: float, at_start: bool, class_: str) -> list[Element]:
    """The bone's own end, hinted at: joints are no part of the sketch."""
    u = frame.u
    s = 0.0 if at_start else frame.shape.length_mm
    sweep = 0 if at_start else 1
    data = f"M{num(s)},{num(axis - half)}A{num(13 * u)},{num(half)} 0 0 {sweep} {num(s)},{num(axis + half)}"
    return [path(data, f"{class_} edge", width=1.5 * u)]


def ends(frame: Frame, axis: float, half: Callable[[float], float], class_: str) -> list[Element]:
    """Both ends of the bone in one view: a break line where the window cuts it, else the rounded end."""
    return [*end(frame, axis, half, True, class_), *end(frame, axis, half, False, class_)]


def end(frame: Frame, axis: float, half: Callable[[float], float], at_start: bool, class_: str) -> list[Element]:
    """One of them."""
    s = bone_ends(frame.view, frame.shape)[0 if at_start else 1]
    if frame.cut[0 if at_start else 1]:
        return _break(frame, axis, half(s), at_start)
    return _rounded(frame, axis, half(s), at_start, class_)


def centre_line(frame: Frame, axis: float) -> Element:
    """The dash-dotted axis through a view."""
    u = frame.u
    data = run([(frame.left + 3 * u, axis), (frame.left + frame.width - 3 * u, axis)])
    dashes = f"{num(24 * u)} {num(5 * u)} {num(4 * u)} {num(5 * u)}"
    return path(data, "axis", width=0.9 * u, stroke_dasharray=dashes)


def profile_bone(scene: Scene) -> list[Element]:
    """The bone cut lengthwise, fragment by fragment."""
    frame = scene.frame
    pieces = [piece(scene, fragment) for fragment in scene.layout.fracture.fragments]
    parts = [*pieces, *ends(frame, frame.profile_axis, frame.shape.near, "canal")]
    return [lined(parts, {"id": scene.id("bone"), **scene.part("bone", "whole-bone")})]


def half_width(frame: Frame, s: float) -> float:
    """Half the bone's width at ``s``, mm."""
    return frame.shape.width(s) / 2


def face_bone(scene: Scene) -> Element:
    """The bone seen from the plate's side."""
    return _FACES.get((scene.still(), scene.warned.get("bone")), lambda: _from_above(scene))


def _from_above(scene: Scene) -> list[Element]:
    frame, u = scene.frame, scene.frame.u
    axis = frame.face_axis
    upper = [(row[0], axis - row[3]) for row in frame.stations]
    lower = [(s, 2 * axis - y) for s, y in reversed(upper)]
    sides = run(upper) + run(lower)
    parts = [
        path(loop([*upper, *lower]), "bone"),
        path(sides, "line", width=1.5 * u),
        *ends(frame, axis, lambda s: half_width(frame, s), "bone"),
    ]
    return [group(parts, {"id": scene.id("bone-face"), **scene.part("bone", "whole-bone")})]
