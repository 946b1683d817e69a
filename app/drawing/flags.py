"""Marks on what a warning speaks of: a shape per level, so that colour is not needed to tell them apart."""

from app.drawing.bone import half_width
from app.drawing.scene import Scene
from app.drawing.svg import Element, Point, disc, el, group, loop, path, run

SIZE_U = 10.5


def symbols(scene: Scene) -> list[Element]:
    """The three marks about the origin: stop a square on its tip, caution a triangle, note a disc."""
    u = scene.frame.u
    r = SIZE_U * u
    shapes = {
        "stop": loop([(0, -1.15 * r), (1.15 * r, 0), (0, 1.15 * r), (-1.15 * r, 0)]),
        "caution": loop([(0, -1.2 * r), (1.15 * r, 0.85 * r), (-1.15 * r, 0.85 * r)]),
        "note": disc((0, 0), r),
    }
    bang = run([(0, -0.5 * r), (0, 0.12 * r)]) + run([(0, 0.5 * r), (0, 0.52 * r)])
    info = run([(0, -0.08 * r), (0, 0.52 * r)]) + run([(0, -0.52 * r), (0, -0.5 * r)])
    return [
        group(
            [
                path(shape, f"flag-{level}", stroke_width=1.6 * u),
                path(info if level == "note" else bang, "flag-sign", stroke_width=3 * u),
            ],
            {"id": scene.id(f"flag-{level}")},
        )
        for level, shape in shapes.items()
    ]


def flag(scene: Scene, level: str, at: Point) -> Element:
    """One mark."""
    return el("use", href=f"#{scene.id(f'flag-{level}')}", x=at[0], y=at[1])


def hole_flag_place(scene: Scene, s: float) -> Point:
    """Above a hole's number."""
    return s, upper_label(scene, s) - 24 * scene.frame.u


def upper_label(scene: Scene, s: float) -> float:
    """Baseline of a hole's number: clear of the bone's outline and the plate."""
    return scene.frame.face_axis - _clear_half(scene, s) - 8 * scene.frame.u


def lower_label(scene: Scene, s: float) -> float:
    """Baseline of a role's letter, below bone and plate, and below a separate screw that stands there."""
    return scene.frame.face_axis + _clear_half(scene, s) + 20 * scene.frame.u


def _clear_half(scene: Scene, s: float) -> float:
    u = scene.frame.u
    widest = max(half_width(scene.frame, s - 9 * u), half_width(scene.frame, s + 9 * u))
    return max(widest, scene.layout.series.width_mm / 2)


def _place(scene: Scene, part: str) -> Point | None:
    """Where the mark of a part goes; holes carry theirs themselves."""
    frame, u, layout = scene.frame, scene.frame.u, scene.layout
    if part == "plate":
        s = layout.plate_ends_mm[0]
        return s + 12 * u, frame.near(s) - scene.construct.plate.standoff_mm - layout.series.thickness_mm - 16 * u
    if part == "bone":
        return frame.left + frame.width - 24 * u, frame.profile_axis
    if part == "wedge" and layout.fracture.wedge is not None:
        corners = layout.fracture.wedge.corners
        return corners[2][0], frame.up(corners[0][1] * 0.55)
    for fragment in layout.fracture.fragments:
        if part == f"fragment-{fragment.name}":
            low, high = max(fragment.start_mm, frame.view.start_mm), min(fragment.end_mm, frame.view.end_mm)
            return (low + high) / 2, frame.profile_axis
    for line in layout.fracture.lines:
        if part == f"line-{line.index}":
            return line.distal_face(-line.depth_mm / 2) + 20 * u, frame.up(-line.depth_mm / 2) + 24 * u
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
            marks.append(flag(scene, level, at))
    return [group(marks, {"aria-hidden": "true", "pointer-events": "none"})] if marks else []


