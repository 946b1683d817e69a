"""The face view: looking down on the plate, holes in their true shape and pitch."""

from app.drawing import handles
from app.drawing.bone import centre_line, face_bone
from app.drawing.face_labels import beside_height, face_labels
from app.drawing.fracture import face_fracture, under_plate
from app.drawing.holes import head_of, holes
from app.drawing.plate import face_plate
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, Point, group, label, lined
from app.geometry import ScrewPath, ranges


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
    return group([*head_of(scene, screw, beside_height(scene, screw)), name], attrs)


def face(scene: Scene) -> Element:
    """The whole view."""
    parts = [
        face_bone(scene),
        *face_fracture(scene),
        centre_line(scene.frame, scene.frame.face_axis),
        _plate(scene),
        under_plate(scene),
        *holes(scene),
        *beside(scene),
    ]
    return lined(parts, {"id": scene.id("face")})
