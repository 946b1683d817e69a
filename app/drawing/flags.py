"""Marks on what a warning speaks of: a shape per level, so that colour is not needed to tell them apart."""

from functools import lru_cache

from app.drawing.scale import TARGET_U
from app.drawing.scene import Scene
from app.drawing.svg import Element, Point, Written, disc, group, loop, path, run
from app.geometry import ScrewPath

SIZE_U = 10.5


@lru_cache(maxsize=64)
def symbols(u: float, prefix: str) -> tuple[Element, ...]:
    """The three marks about the origin: stop a square on its tip, caution a triangle, note a disc."""
    r = SIZE_U * u
    shapes = {
        "stop": loop([(0, -1.15 * r), (1.15 * r, 0), (0, 1.15 * r), (-1.15 * r, 0)]),
        "caution": loop([(0, -1.2 * r), (1.15 * r, 0.85 * r), (-1.15 * r, 0.85 * r)]),
        "note": disc((0, 0), r),
    }
    bang = run([(0, -0.5 * r), (0, 0.12 * r)]) + run([(0, 0.5 * r), (0, 0.52 * r)])
    info = run([(0, -0.08 * r), (0, 0.52 * r)]) + run([(0, -0.52 * r), (0, -0.5 * r)])
    found = []
    for level, shape in shapes.items():
        sign = path(info if level == "note" else bang, "flag-sign", width=3 * u)
        mark = path(shape, f"flag-{level}", width=1.6 * u)
        found.append(Written([group([mark, sign], {"id": f"{prefix}flag-{level}"})]))
    return tuple(found)


def flag(scene: Scene, part: str, level: str, at: Point) -> Element:
    """One mark; pressed on a sketch, it leads to its warning."""
    mark = Element("use", {"href": f"#{scene.id(f'flag-{level}')}", "x": at[0], "y": at[1]})
    if not scene.interactive:
        return mark
    room = path(disc(at, TARGET_U / 2 * scene.frame.u), "hit", fill="none", pointer_events="all")
    return group([mark, room], {"class": "flag", "data-flag": part, "aria-hidden": "true"})


def beside_height(scene: Scene, screw: ScrewPath) -> float:
    """Drawing height of a separate screw's head: beside the plate, since the plane of the sketch doesn't say where."""
    return scene.frame.face_axis + scene.layout.series.width_mm / 2 + screw.spec.head_mm / 2 + 3 * scene.frame.u


def label_heights(scene: Scene, s: float) -> tuple[float, float]:
    """Baselines of a hole's number above, and of its role's letter below: clear of bone, plate and separate screws."""
    u, axis, width = scene.frame.u, scene.frame.face_axis, scene.frame.shape.width
    half = max(width(s - 9 * u), width(s + 9 * u), scene.layout.series.width_mm) / 2
    below = axis + half
    for screw in scene.layout.screws:
        r = screw.spec.head_mm / 2
        if screw.hole is None and -r - 32 * u < s - screw.head[0] < r + 10 * u:
            below = max(below, beside_height(scene, screw) + r)
    return axis - half - 8 * u, below + 20 * u


def _place(scene: Scene, part: str) -> Point | None:
    """Where the mark of a part goes; holes carry theirs themselves."""
    frame, u, layout = scene.frame, scene.frame.u, scene.layout
    if part == "plate":
        s = layout.plate_ends_mm[0]
        return s + 12 * u, frame.near(s) - scene.construct.plate.standoff_mm - layout.series.thickness_mm - 16 * u
    if part == "bone":
        return frame.view.end_mm - 40 * u, frame.profile_axis
    if part == "wedge" and layout.fracture.wedge is not None:
        corners = layout.fracture.wedge.corners
        return corners[2][0], frame.up(corners[0][1] * 0.55)
    for fragment in layout.fracture.fragments:
        if part == f"fragment-{fragment.name}":
            low, high = max(fragment.start_mm, frame.view.start_mm), min(fragment.end_mm, frame.view.end_mm)
            return (low + high) / 2, frame.profile_axis
    for line in layout.fracture.lines:
        if part == f"line-{line.index}":
            far = line.position_mm + line.depth_mm / 2 * line.slope
            return far - 34 * u, frame.far(far) + (62 if scene.interactive else 24) * u
    for screw in layout.screws:
        if part == screw.id and screw.hole is None:
            return screw.head[0] - 24 * u, frame.up(screw.head[1]) - 20 * u
    return None


def flags(scene: Scene) -> list[Element]:
    """The marks of all parts but holes."""
    marks = []
    for part, level in scene.warned.items():
        at = _place(scene, part)
        if at is not None:
            marks.append(flag(scene, part, level, at))
    return [group(marks, {"aria-hidden": "true"})] if marks else []
