"""The construct after one step of the operation: the screws in so far, and what they have moved."""

from dataclasses import replace
from typing import TYPE_CHECKING

from app.case.models import Construct, Hole
from app.drawing.bone import centre_line, end, half_width, piece
from app.drawing.face import beside
from app.drawing.flags import symbols
from app.drawing.fracture import shards, span_y, wedge_piece
from app.drawing.holes import holes
from app.drawing.motion import Motion, bend_mm, motions, planned, raised_by, screws_in
from app.drawing.naming import edge_names, surface_names
from app.drawing.palette import Theme
from app.drawing.placement import Placement
from app.drawing.plate import face_plate, hatches, hole_symbol, profile_plate
from app.drawing.ruler import heading, ruler
from app.drawing.scale import Frame, Room, View, bone_ends
from app.drawing.scene import Scene
from app.drawing.screws import drawn
from app.drawing.sketch import scene_of, view_box
from app.drawing.style import embedded
from app.drawing.svg import (
    SVG,
    Attrs,
    Element,
    Lined,
    box,
    el,
    figure,
    group,
    label,
    lined,
    loop,
    num,
    path,
    run,
    style,
    title,
)
from app.drawing.traces import Trace, apart, trace
from app.drawing.words import describe
from app.geometry import Fragment, Layout, Line
from app.order import State, Step, plan

if TYPE_CHECKING:
    from app.assess import ConstructAssessment

PLATE_AT_HAND = frozenset({"contour", "prebend", "hold"})


def draw_state(
    one: "ConstructAssessment",
    state: State,
    *,
    view: View | None = None,
    theme: Theme = "page",
    times: float = 1.0,
    roomy: bool = True,
    bold: float | Room = 1.0,
) -> str:
    """Draw a construct as it is after one step of its own order.

    Args:
        one: the assessed construct.
        state: one of ``states(one.layout)``.
        view: the window along ``s``, mm; None fits it to plate and fracture.
        theme: as for ``draw_sketch``.
        times: how many times larger than true every movement and gap is drawn; the drawing says so if it is not 1.
        roomy: keep the measures of the interactive sketch, so that nothing jumps where the one replaces the other.
        bold: as for ``draw_sketch``.

    Returns:
        An ``<svg>`` element as text; one user unit is 1 mm and x is ``s``.
    """
    moved = motions(one.layout, state, times)
    steps = plan(one.layout)[: state.step]
    whole = replace(
        scene_of(one, view, roomy, "", roomy and one.mechanics is not None, bold),
        interactive=False,
        warned={},
        raised=raised_by(one.layout, state, moved, times),
        bends=(bend_mm(one.layout),),
    )
    here = _so_far(whole, state, moved)
    name = f"{describe(one)}. After step {state.step}: {state.sentence}"
    attrs: Attrs = {"xmlns": SVG, "id": whole.id("sketch"), **view_box(whole), "role": "img", "aria-label": name}
    attrs |= {"data-step": str(state.step)}
    head = [] if theme == "page" else [title(name), style(embedded(theme))]
    has_plate = any(step.kind in PLATE_AT_HAND for step in steps)
    return Lined("svg", attrs, [*head, *_contents(whole, here, moved, state, steps[-1], has_plate, times)]).tostring()


def _so_far(whole: Scene, state: State, moved: tuple[Motion, ...]) -> Scene:
    """The same scene with nothing but the screws that are in, where they are by now."""
    layout = whole.layout
    holes_now = tuple(
        hole if f"h{n}" in state.screws else Hole(role="empty") for n, hole in enumerate(layout.construct.holes, 1)
    )
    construct: Construct = layout.construct.model_copy(update={"holes": holes_now})
    now = replace(layout, construct=construct, screws=screws_in(layout, state, moved, whole.raised))
    return replace(whole, one=replace(whole.one, layout=now))


def _contents(
    whole: Scene, here: Scene, moved: tuple[Motion, ...], state: State, step: Step, has_plate: bool, times: float
) -> list[Element]:
    frame, u = whole.frame, whole.frame.u
    return [
        el("defs", [*hatches(u, whole.prefix), hole_symbol(whole), *symbols(u, whole.prefix)], {}),
        path(box(frame.left, 0, frame.width, frame.height), "sheet"),
        *heading(frame),
        *_scale_note(whole, times),
        *_planned(whole, planned(whole.layout, state, times), moved),
        _profile(whole, here, moved, step, has_plate),
        _face(whole, here, moved, state, has_plate),
        *surface_names(whole, Placement([])),
        *edge_names(whole),
        ruler(frame),
    ]


def _scale_note(scene: Scene, times: float) -> list[Element]:
    if times == 1:
        return []
    frame = scene.frame
    middle = frame.left + frame.width / 2
    words = f"Gaps and movements drawn {figure(times)} times as large"
    return [label(words, (middle, 20 * frame.u), "halo", text_anchor="middle", stroke_width=4 * frame.u)]


def _profile(whole: Scene, here: Scene, moved: tuple[Motion, ...], step: Step, has_plate: bool) -> Element:
    frame, layout = whole.frame, whole.layout
    fragments = layout.fracture.fragments
    parts = [
        *(_fragment(whole, one, moved[one.index]) for one in fragments),
        *_debris(whole, moved),
        *_wedge(whole, moved),
        centre_line(frame, frame.profile_axis),
        *(
            [group([profile_plate(whole)], {"id": whole.id("plate"), **whole.part("plate", "plate")})]
            if has_plate
            else ()
        ),
        *_screws(here),
        *_pointer(here, step),
    ]
    return lined(parts, {"id": whole.id("profile")})


def _turned(scene: Scene, motion: Motion) -> str:
    """A fragment's way as a transform of the drawing, whose ``y`` runs down."""
    x, y = motion.pivot[0], scene.frame.up(motion.pivot[1])
    shift = f"translate({num(motion.ds_mm)} {num(-motion.dy_mm)})"
    return f"{shift}rotate({motion.rotation_deg * -1:.4f} {num(x)} {num(y)})"


def _fragment(scene: Scene, fragment: Fragment, motion: Motion) -> Element:
    """A fragment with its fracture faces, and its end of the bone, all moved as one."""
    frame, lines = scene.frame, scene.layout.fracture.lines
    parts = [piece(scene, fragment), *_faces(scene, fragment)]
    if fragment.index == 0:
        parts += end(frame, frame.profile_axis, frame.shape.near, True, "canal")
    if fragment.index == len(lines):
        parts += end(frame, frame.profile_axis, frame.shape.near, False, "canal")
    return group(parts, {"id": scene.id(f"moved-{fragment.name}"), "transform": _turned(scene, motion)})


def _faces(scene: Scene, fragment: Fragment) -> list[Element]:
    lines, up = scene.layout.fracture.lines, scene.frame.up
    sides = [(lines[fragment.index - 1], lines[fragment.index - 1].distal_face)] if fragment.index else []
    if fragment.index < len(lines):
        sides.append((lines[fragment.index], lines[fragment.index].proximal_face))
    data = ""
    for line, face in sides:
        top, bottom = span_y(scene, line)
        data += run([(face(top), up(top)), (face(bottom), up(bottom))])
    return [path(data, "fracture", width=2.2 * scene.frame.u)]


def _planned(scene: Scene, places: tuple[Motion, ...], moved: tuple[Motion, ...]) -> list[Element]:
    """Where the fragments that have moved were planned to lie, thinly dashed."""
    fragments = scene.layout.fracture.fragments
    gone = [one for one in fragments if places[one.index] != moved[one.index]]
    outlines = [_outline(scene, one, places[one.index]) for one in gone]
    return [group(outlines, {"id": scene.id("planned")})] if outlines else []


def _outline(scene: Scene, fragment: Fragment, place: Motion) -> Element:
    frame, lines = scene.frame, scene.layout.fracture.lines
    low, high = bone_ends(frame.view, scene.layout.shape)
    first = lines[fragment.index - 1].distal_face if fragment.index else None
    last = lines[fragment.index].proximal_face if fragment.index < len(lines) else None
    outline = []
    for side in (1, -1):
        start = low if first is None else first(side * frame.shape.near(first(0.0)))
        stop = high if last is None else last(side * frame.shape.near(last(0.0)))
        outline.append([(s, frame.up(side * frame.shape.near(s))) for s in _between(start, stop)])
    dashes = f"{num(6 * frame.u)} {num(5 * frame.u)}"
    data = loop([*outline[0], *reversed(outline[1])])
    return path(data, "fine", width=1.1 * frame.u, stroke_dasharray=dashes, transform=_turned(scene, place))


def _between(start: float, stop: float, count: int = 12) -> list[float]:
    return [start + (stop - start) * i / count for i in range(count + 1)]


def _middle_way(line: Line, moved: tuple[Motion, ...]) -> str:
    """Between the two fragments of a line, for what lies loose there."""
    sides = moved[line.index], moved[line.index + 1]
    ds, dy = sum(m.ds_mm for m in sides) / 2, sum(m.dy_mm for m in sides) / 2
    return f"translate({num(ds)} {num(-dy)})"


def _debris(scene: Scene, moved: tuple[Motion, ...]) -> list[Element]:
    frame = scene.frame
    return [
        path(
            shards(line, frame.profile_axis, line.depth_mm / 2, True),
            "shard",
            width=0.9 * frame.u,
            transform=_middle_way(line, moved),
        )
        for line in scene.layout.fracture.lines
        if line.zone_mm > 0
    ]


def _wedge(scene: Scene, moved: tuple[Motion, ...]) -> list[Element]:
    wedge = scene.layout.fracture.wedge
    if wedge is None:
        return []
    way = _middle_way(scene.layout.fracture.lines[wedge.line], moved)
    return [group(wedge_piece(scene), {"id": scene.id("moved-wedge"), "transform": way})]


def _screws(here: Scene) -> list[Element]:
    return [
        group(drawn(here, screw), {"id": here.id(f"screw-{screw.id}"), **here.part(screw.id, "screw")})
        for screw in here.layout.screws
    ]


def _pointer(here: Scene, step: Step) -> list[Element]:
    """An arrowhead over the screw of this step."""
    u, layout = here.frame.u, here.layout
    screw = next((one for one in layout.screws if one.id == step.screw), None)
    if screw is None:
        return []
    x, height, _ = screw.at(screw.head)
    y = here.frame.up(height) - layout.series.thickness_mm - 10 * u
    return [path(loop([(x, y), (x - 9 * u, y - 18 * u), (x + 9 * u, y - 18 * u)]), "solid", aria_hidden="true")]


def _face(whole: Scene, here: Scene, moved: tuple[Motion, ...], state: State, has_plate: bool) -> Element:
    frame, fragments = whole.frame, whole.layout.fracture.fragments
    parts = [
        *(_from_above(whole, one, moved[one.index]) for one in fragments),
        *(_hidden_edges(whole, one, moved[one.index]) for one in fragments),
        centre_line(frame, frame.face_axis),
        *([_plate_from_above(whole, here, state)] if has_plate else ()),
        *beside(here),
    ]
    return lined(parts, {"id": whole.id("face")})


def _edges(scene: Scene, fragment: Fragment, side: int) -> tuple[Trace | None, Trace | None]:
    """A fragment's fracture edges on the plate's side (+1) or the far side (-1); None at the bone's ends."""
    lines, frame = scene.layout.fracture.lines, scene.frame
    first = lines[fragment.index - 1] if fragment.index else None
    last = lines[fragment.index] if fragment.index < len(lines) else None
    return (
        None if first is None else trace(frame, first, side, distal=True),
        None if last is None else trace(frame, last, side),
    )


def _outer(frame: Frame, first: float, last: float) -> list[float]:
    """Places along an outline between two that may lie outside the window."""
    low, high = bone_ends(frame.view, frame.shape)
    a, b = min(max(first, low), high), min(max(last, low), high)
    return [a, *(row[0] for row in frame.stations if a < row[0] < b), b]


def _from_above(scene: Scene, fragment: Fragment, motion: Motion) -> Element:
    frame, u, axis = scene.frame, scene.frame.u, scene.frame.face_axis
    first, last = _edges(scene, fragment, 1)
    low, high = bone_ends(frame.view, scene.layout.shape)
    starts = (low, low) if first is None else (first[0][0], first[-1][0])
    stops = (high, high) if last is None else (last[0][0], last[-1][0])
    upper = [(s, axis - half_width(frame, s)) for s in _outer(frame, starts[0], stops[0])]
    lower = [(s, axis + half_width(frame, s)) for s in _outer(frame, starts[1], stops[1])]
    edges = "".join(run(edge) for edge in (first, last) if edge is not None)
    parts = [
        path(loop([*upper, *(last or [])[1:-1], *reversed(lower), *reversed((first or [])[1:-1])]), "bone"),
        path(run(upper) + run(lower), "line", width=1.5 * u),
        path(edges, "fracture", width=2.2 * u),
    ]
    for at_start, whose in ((True, 0), (False, len(scene.layout.fracture.lines))):
        if fragment.index == whose:
            parts += end(frame, axis, lambda s: half_width(frame, s), at_start, "bone")
    return group(parts, {"id": scene.id(f"above-{fragment.name}"), "transform": _along(motion)})


def _along(motion: Motion) -> str:
    return f"translate({num(motion.ds_mm)} 0)"


def _hidden_edges(scene: Scene, fragment: Fragment, motion: Motion) -> Element:
    """A fragment's edges on the far side, dashed, where they don't lie under those in sight."""
    u = scene.frame.u
    pairs = zip(_edges(scene, fragment, -1), _edges(scene, fragment, 1), strict=True)
    seen = [edge for edge, over in pairs if edge is not None and over is not None and apart(edge, over) > 2 * u]
    data = "".join(run(edge) for edge in seen) or "M0,0"
    dashes = f"{num(7 * u)} {num(5 * u)}"
    edges = path(data, "fracture", width=1.4 * u, stroke_dasharray=dashes)
    return group([edges], {"id": scene.id(f"hidden-{fragment.name}"), "transform": _along(motion)})


def _plate_from_above(whole: Scene, here: Scene, state: State) -> Element:
    """Plate, holes and heads, turned about the only screw where that may turn them: clockwise, as it is driven in."""
    parts = [
        group(
            [face_plate(whole)],
            {"id": whole.id("plate-face"), **whole.part("plate", "plate")},
        ),
        *holes(here),
    ]
    about = whole.layout.screw(state.turns_about).head[0] if state.turns_about else _middle(whole.layout)
    turn = f"rotate({num(state.plate_turn_deg)} {num(about)} {num(whole.frame.face_axis)})"
    return group(parts, {"id": whole.id("turned-plate"), "transform": turn})


def _middle(layout: Layout) -> float:
    return layout.construct.plate.centre_mm
