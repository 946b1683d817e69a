"""The sketch of one construct: profile over face over ruler, on one scale."""

from typing import TYPE_CHECKING

from app.drawing.face import face
from app.drawing.flags import flags, symbols
from app.drawing.palette import Theme
from app.drawing.placement import place
from app.drawing.plate import hatches, hole_symbol
from app.drawing.profile import profile
from app.drawing.ruler import heading, ruler
from app.drawing.scale import TEXT_U, Room, View, bold_for, fitted_view, frame_for
from app.drawing.scene import Scene, warned_parts
from app.drawing.stress import stress
from app.drawing.style import embedded
from app.drawing.svg import SVG, Attrs, Element, Lined, box, el, path, style, title
from app.drawing.words import describe

if TYPE_CHECKING:
    from app.assess import ConstructAssessment


def scene_of(
    one: "ConstructAssessment",
    view: View | None,
    interactive: bool,
    prefix: str = "",
    charted: bool = False,
    bold: float | Room = 1.0,
) -> Scene:
    """Make ready to draw a construct in a window (None: fitted to it), with room for the stress chart or without."""
    window = view or fitted_view(one.layout)
    times = bold_for(one.layout, window, bold, interactive, charted) if isinstance(bold, Room) else bold
    frame = frame_for(one.layout, window, interactive, charted, times)
    return Scene(one, frame, interactive, prefix, warned_parts(one))


def contents(scene: Scene) -> list[Element]:
    """Everything inside a drawing's root."""
    frame, u, placed = scene.frame, scene.frame.u, place(scene)
    return [
        el("defs", [*hatches(u, scene.prefix), hole_symbol(scene), *symbols(u, scene.prefix)], {}),
        path(box(frame.left, 0, frame.width, frame.height), "sheet"),
        *heading(frame),
        profile(scene, placed),
        face(scene),
        *stress(scene),
        ruler(frame),
        *flags(scene, placed.flags),
    ]


def view_box(scene: Scene) -> Attrs:
    """Attributes that set a drawing's window and the size of its text."""
    frame = scene.frame
    corner = Element("svg", {"x": frame.left, "width": frame.width, "height": frame.height}).attribs
    return {
        "viewBox": f"{corner['x']} 0 {corner['width']} {corner['height']}",
        "font-size": TEXT_U * frame.u,
        "class": "drawing",
        "data-view": frame.view.text,
    }


def draw_sketch(
    one: "ConstructAssessment",
    *,
    view: View | None = None,
    theme: Theme = "page",
    interactive: bool = True,
    charted: bool = True,
    prefix: str = "",
    bold: float | Room = 1.0,
) -> str:
    """Draw a construct.

    Args:
        one: the assessed construct.
        view: the window along ``s``, mm; None fits it to plate and fracture.
        theme: ``page`` leaves colours to the page's style sheet; ``light``, ``dark`` and ``print`` make a file that
            stands alone.
        interactive: whether holes are buttons and handles are sliders.
        charted: whether the stress along the plate is drawn too, where the mechanics were worked out.
        prefix: begins every id, so that several drawings can share a page.
        bold: how many times larger than usual text and strokes are, for those who stand far off; or the screen's room
            for the drawing, in which they then have the size that people read.

    Returns:
        An ``<svg>`` element as text; one user unit is 1 mm and x is ``s``.
    """
    scene = scene_of(one, view, interactive, prefix, charted and one.mechanics is not None, bold)
    name = describe(one)
    attrs: Attrs = {"xmlns": SVG, "id": scene.id("sketch"), **view_box(scene)}
    attrs |= {"role": "group" if interactive else "img", "aria-label": name}
    head = [] if theme == "page" else [title(name), style(embedded(theme))]
    return Lined("svg", attrs, [*head, *contents(scene)]).tostring()
