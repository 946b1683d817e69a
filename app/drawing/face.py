"""The face view: looking down on the plate, holes in their true shape and pitch."""

from app.drawing import handles
from app.drawing.bone import centre_line, face_bone
from app.drawing.flags import beside_height
from app.drawing.fracture import face_fracture, under_plate
from app.drawing.holes import head_of, holes
from app.drawing.plate import face_plate
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, group, label, lined
from app.geometry import ScrewPath, ranges


def _plate(scene: Scene) -> Element:
    """The plate from above; it slides too, as a second place to take hold of the same slider."""
    attrs: Attrs = {"id": scene.id("plate-face"), **scene.part("plate", "plate"), "aria-hidden": "true"}
    if scene.interactive:
        room = ranges(scene.construct, scene.layout.shape, scene.layout.series)
        slide = handles.shifted(handles.plate_slide(scene, room))
        attrs |= {name: value for name, value in slide.items() if name.startswith("data-")}
    return group([face_plate(scene)], attrs)


def beside(scene: Scene, screw: ScrewPath) -> Element:
    """A separate screw's head beside the plate, with its name."""
    u, y = scene.frame.u, beside_height(scene, screw)
    name = label(screw.id, (screw.head[0] - screw.spec.head_mm / 2 - 4 * u, y + 6 * u), "halo", text_anchor="end")
    attrs: Attrs = {"id": scene.id(f"face-{screw.id}"), **scene.part(screw.id, "screw"), "aria-hidden": "true"}
    return group([*head_of(scene, screw, y), name], attrs)


def face(scene: Scene) -> Element:
    """The whole view."""
    parts = [
        face_bone(scene),
        *face_fracture(scene),
        centre_line(scene.frame, scene.frame.face_axis),
        _plate(scene),
        under_plate(scene),
        *holes(scene),
        *(beside(scene, screw) for screw in scene.layout.screws if screw.hole is None),
    ]
    return lined(parts, {"id": scene.id("face")})
