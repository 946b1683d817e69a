"""The profile view: bone cut lengthwise, plate edge-on, screws through the cortices, and what can be dragged."""

import math

from app.drawing import handles
from app.drawing.bone import centre_line, profile_bone
from app.drawing.dims import dimensions
from app.drawing.fracture import faces, line_marks, obtuse_labels, wedge_piece
from app.drawing.kept import Kept
from app.drawing.naming import surface_names
from app.drawing.placement import BESIDE_U, LineSpots, Placement, far_end, lean_text, leaning, shows
from app.drawing.plate import profile_outline, profile_plate, sink_mm
from app.drawing.scale import TARGET_U
from app.drawing.scene import Scene
from app.drawing.screws import axis_of, drawn, end_mm, reach, shape
from app.drawing.svg import Attrs, Element, Point, box, group, label, lined, path
from app.geometry import HolePlace, Line, Ranges, ScrewPath, ranges

_SCREWS, _GRABS = Kept(1024), Kept(64)


def _line(scene: Scene, line: Line, room: Ranges | None, grip: Point) -> Element:
    """One fracture line; the whole of it can be taken hold of."""
    name, u = f"line-{line.index}", scene.frame.u
    marks = line_marks(scene, line)
    attrs: Attrs = {"id": scene.id(name), **scene.part(name, "crack")}
    if room is None:
        return group(marks, attrs)
    end = far_end(scene, line)
    grab = path(faces(scene, line), "hit", fill="none", pointer_events="stroke", width=TARGET_U * u)
    lead = handles.leader(scene, end, (grip[0], grip[1] - 12 * u))
    attrs |= handles.shifted(handles.line_slide(scene, line, room))
    attrs["class"] = f"{attrs['class']} handle"
    return group([grab, *marks, lead, *handles.shift_knob(scene, grip)], attrs)


def _turn(scene: Scene, line: Line, spots: LineSpots) -> Element:
    """The grip that turns a line, with its obliquity."""
    u, at = scene.frame.u, spots.lean
    y = line.depth_mm / 2
    start = (line.position_mm - y * line.slope, scene.frame.up(y))
    where = (at[0] + spots.text_side * BESIDE_U * u, at[1] + 6 * u)
    anchor = "start" if spots.text_side > 0 else "end"
    text = label(lean_text(line), where, "halo grip-text", text_anchor=anchor, stroke_width=4 * u)
    attrs = {
        "id": scene.id(f"lean-{line.index}"),
        "class": "handle",
        **handles.leant(handles.lean_slide(scene, line), (line.position_mm, scene.frame.profile_axis), "up"),
    }
    return group([handles.leader(scene, start, at), *handles.knob(scene, at), text], attrs)


def _zone(scene: Scene, line: Line, room: Ranges, spots: LineSpots) -> Element:
    """The grip at an edge of a zone; both edges move, so the zone grows by twice the way."""
    u, at = scene.frame.u, spots.zone
    face = line.distal_face if spots.side > 0 else line.proximal_face
    edge = (face(-line.depth_mm / 2), scene.frame.up(-line.depth_mm / 2))
    square = box(at[0] - 7 * u, at[1] - 7 * u, 14 * u, 14 * u)
    attrs = {
        "id": scene.id(f"zone-{line.index}"),
        "class": "handle",
        **handles.shifted(handles.zone_slide(scene, line, room), 2 * spots.side),
    }
    return group(
        [
            handles.leader(scene, edge, at),
            handles.knob(scene, at)[0],
            path(square, "knob", width=2.2 * u),
        ],
        attrs,
    )


def _plate_grab(scene: Scene) -> Element:
    """Where the plate answers the pointer in the profile: itself, and a margin if it is thin."""
    margin = max(0.0, TARGET_U * scene.frame.u - scene.layout.series.thickness_mm)
    return _GRABS.get(
        (scene.still(), scene.raised, sink_mm(scene)),
        lambda: [path(profile_outline(scene), "hit", margin, fill="none", pointer_events="all")],
    )


def _plate(scene: Scene, room: Ranges | None) -> Element:
    attrs: Attrs = {"id": scene.id("plate"), **scene.part("plate", "plate")}
    if room is None:
        return group([profile_plate(scene)], attrs)
    attrs |= handles.shifted(handles.plate_slide(scene, room))
    attrs["class"] = f"{attrs['class']} handle"
    return group([_plate_grab(scene), profile_plate(scene)], attrs)


def _in_hole(scene: Scene, place: HolePlace, screw: ScrewPath | None) -> Element:
    """The screw of one hole, or the room for it; clicking it does what clicking the hole does."""
    name = f"h{place.number}"
    attrs: Attrs = {"id": scene.id(f"screw-{name}"), **scene.part(name, "screw"), "aria-hidden": "true"}
    parts = [] if screw is None else drawn(scene, screw)
    if scene.interactive:
        attrs |= {"data-hole": str(place.number - 1), **handles.form_attrs(handles.role_form(scene, place))}
        parts.append(path(_hit(scene, place, screw), "hit", fill="none", pointer_events="all"))
    return group(parts, attrs)


def _in_holes(scene: Scene) -> list[Element]:
    placed, still = {screw.hole: screw for screw in scene.layout.screws}, scene.still()

    def of(place: HolePlace) -> Element:
        screw, level = placed.get(place.number), scene.warned.get(f"h{place.number}")
        look = None if screw is None else shape(screw)
        return _SCREWS.get((still, place.number, place.s_mm, level, look), lambda: [_in_hole(scene, place, screw)])

    return [of(place) for place in scene.layout.holes if scene.interactive or place.number in placed]


def _hit(scene: Scene, place: HolePlace, screw: ScrewPath | None) -> str:
    if screw is not None:
        return reach(scene, screw, 0.5 * TARGET_U * scene.frame.u)
    thick = scene.layout.series.thickness_mm
    top = scene.frame.near(place.s_mm) - scene.construct.plate.standoff_mm - thick
    half = scene.layout.series.slot_mm / 2
    return box(place.s_mm - half, top, 2 * half, thick)


def _beside(scene: Scene, screw: ScrewPath, room: Ranges | None) -> Element:
    attrs: Attrs = {"id": scene.id(f"screw-{screw.id}"), **scene.part(screw.id, "screw")}
    if room is None:
        return group(drawn(scene, screw), attrs)
    attrs |= handles.shifted(handles.lag_slide(scene, screw, room))
    attrs["class"] = f"{attrs['class']} handle"
    hit = reach(scene, screw, TARGET_U * scene.frame.u)
    return group([*drawn(scene, screw), path(hit, "hit", fill="none", pointer_events="all")], attrs)


def _tip(scene: Scene, screw: ScrewPath, at: Point) -> Element:
    """The grip at a screw's tip; it shows itself when pointed at, unless the screw leans or lags."""
    axis, shown = axis_of(scene, screw), shows(screw)
    tip = axis.at(end_mm(scene, screw), 0)
    lead = [handles.leader(scene, tip, at)] if shown and math.dist(tip, at) > 20 * scene.frame.u else []
    attrs = {
        "id": scene.id(f"tilt-{screw.id}"),
        "class": "handle",
        **handles.leant(handles.tilt_slide(scene, screw), axis.origin, "down"),
    }
    if screw.hole is not None:
        attrs["tabindex"] = "-1"  # its hole leads to it
    return group([*lead, *handles.knob(scene, at, "knob" if shown else "knob quiet")], attrs)


def _grips(scene: Scene, room: Ranges, placed: Placement) -> list[Element]:
    lines = list(zip(scene.layout.fracture.lines, placed.lines, strict=True))
    tips = [_tip(scene, screw, placed.tips[screw.id]) for screw in leaning(scene)]
    zones = [_zone(scene, line, room, spots) for line, spots in lines]
    return [*tips, *zones, *(_turn(scene, line, spots) for line, spots in lines)]


def profile(scene: Scene, placed: Placement) -> Element:
    """The whole view."""
    layout = scene.layout
    room = ranges(scene.construct, layout.shape, layout.series) if scene.interactive else None
    lines = zip(layout.fracture.lines, placed.lines, strict=True)
    parts = [
        *profile_bone(scene),
        *wedge_piece(scene),
        centre_line(scene.frame, scene.frame.profile_axis),
        *dimensions(scene),
        _plate(scene, room),
        *(_line(scene, line, room, spots.shift) for line, spots in lines),
        *_in_holes(scene),
        *(_beside(scene, screw, room) for screw in layout.screws if screw.hole is None),
        *obtuse_labels(scene, placed),
        *(_grips(scene, room, placed) if room is not None else ()),
        *surface_names(scene, placed),
    ]
    return lined(parts, {"id": scene.id("profile")})
