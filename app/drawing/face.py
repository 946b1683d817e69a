"""The face view: looking down on the plate, holes in their true shape and pitch."""

from app.drawing import handles
from app.drawing.bone import centre_line, face_bone
from app.drawing.boxes import around
from app.drawing.face_labels import beside_height, face_labels, turn_grips
from app.drawing.fracture import face_fracture, under_plate
from app.drawing.holes import head_of, holes
from app.drawing.naming import edge_names
from app.drawing.placement import KNOB_U
from app.drawing.plate import face_plate
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, Point, group, label, lined, num, path, run
from app.geometry import Line, ScrewPath, ranges

ANSWERS_ABOVE_U = 12.0


def _plate(scene: Scene) -> Element:
    """The plate from above; it slides too, as a second place to take hold of the same slider."""
    attrs: Attrs = {"id": scene.id("plate-face"), **scene.part("plate", "plate"), "aria-hidden": "true"}
    if scene.interactive:
        room = ranges(scene.construct, scene.layout.shape, scene.layout.series)
        slide = handles.shifted(handles.plate_slide(scene, room))
        attrs |= {name: value for name, value in slide.items() if name.startswith("data-")}
    return group([face_plate(scene)], attrs)


def beside(scene: Scene) -> list[Element]:
    """The heads of separate screws beside the plate, with their names."""
    names = face_labels(scene).names
    return [_beside(scene, screw, names[screw.id]) for screw in scene.layout.screws if screw.hole is None]


def _beside(scene: Scene, screw: ScrewPath, at: Point) -> Element:
    name = label(screw.id, at, "halo", text_anchor="middle")
    attrs: Attrs = {"id": scene.id(f"face-{screw.id}"), **scene.part(screw.id, "screw"), "aria-hidden": "true"}
    heads = head_of(scene, screw, beside_height(scene, screw))
    return group([*_shank(scene, screw), *_near_or_far(scene, screw, heads), name], attrs)


def _shank(scene: Scene, screw: ScrewPath) -> list[Element]:
    """Through the bone, dashed, of a screw that lies out of the profile's plane."""
    if screw.turn_deg == 0:
        return []
    u, axis = scene.frame.u, scene.frame.face_axis
    ends = [(s, axis + z) for s, _, z in (screw.at(screw.head), screw.at(screw.tip))]
    return [path(run(ends), "line", width=2 * u, stroke_dasharray=f"{num(6 * u)} {num(4 * u)}")]


def _near_or_far(scene: Scene, screw: ScrewPath, heads: list[Element]) -> list[Element]:
    """The head as it is seen, or dashed where it lies on the far side of the bone."""
    if screw.at(screw.head)[1] >= 0:
        return heads
    u = scene.frame.u
    return [group(heads, {"stroke-dasharray": f"{num(3 * u)} {num(2 * u)}", "fill-opacity": "0.25"})]


def _turn(scene: Scene, line: Line, at: Point) -> Element:
    """The grip that leans a line in this view."""
    attrs = {
        "id": scene.id(f"turn-{line.index}"),
        "class": "handle",
        **handles.leant(handles.turn_slide(scene, line), (line.position_mm, scene.frame.face_axis), "up"),
    }
    # it answers above its knob rather than about it, so that a hole beneath is pressed as any other
    return group(handles.knob(scene, at, reach_up_u=ANSWERS_ABOVE_U), attrs)


def face(scene: Scene) -> Element:
    """The whole view."""
    turns = turn_grips(scene)
    parts = [
        face_bone(scene),
        *face_fracture(scene),
        centre_line(scene.frame, scene.frame.face_axis),
        _plate(scene),
        under_plate(scene),
        *holes(scene),
        *beside(scene),
        *(_turn(scene, line, at) for line, at in turns),
        *edge_names(scene, [around(*at, KNOB_U * scene.frame.u) for _, at in turns]),
    ]
    return lined(parts, {"id": scene.id("face")})
