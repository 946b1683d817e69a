"""A construct at a glance, for lists: bone, fracture, plate and screws in the profile, without text."""

import math
from typing import TYPE_CHECKING

from app.catalogue.models import PlateSeries
from app.drawing.palette import PALETTES, Theme
from app.drawing.scale import View, bone_ends, fitted_view
from app.drawing.style import in_either
from app.drawing.svg import SVG, Attrs, Element, Point, loop, num, run, style
from app.drawing.words import describe
from app.geometry import Layout, hole_offsets, hole_sides

if TYPE_CHECKING:
    from app.assess import ConstructAssessment

ASPECT = 0.26  # height over width
STATIONS = 24

# class: (fill, stroke) by name in the palette
PAINT: dict[str, tuple[str | None, str | None]] = {
    "bone": ("bone", "soft"),
    "canal": ("canal", None),
    "gap": ("paper", None),
    "fracture": (None, "fracture"),
    "metal": ("metal", "ink"),
    "line": (None, "ink"),
}


def _shape(data: str, class_: str, width: float, theme: Theme) -> Element:
    """A path, coloured by class on a page and by attributes elsewhere: a list may show it where no style may be set."""
    attrs: Attrs = {"d": data, "stroke-width": width, "stroke-linejoin": "round"}
    if theme == "page":
        attrs["class"] = f"thumb-{class_}"
    else:
        fill, stroke = PAINT[class_]
        palette = PALETTES[theme]
        attrs |= {"fill": palette[fill] if fill else "none", "stroke": palette[stroke] if stroke else "none"}
    return Element("path", attrs)


def _bone(layout: Layout, view: View, axis: float, inner: bool) -> str:
    low, high = bone_ends(view, layout.shape)
    stations = [low + (high - low) * i / STATIONS for i in range(STATIONS + 1)]
    upper = []
    for s in stations:
        half = layout.shape.near(s) - (layout.shape.cortex(s) if inner else 0.0)
        upper.append((s, axis - half))
    return loop([*upper, *((s, 2 * axis - y) for s, y in reversed(upper))])


def _cracks(layout: Layout, axis: float) -> tuple[str, str]:
    """Path data of the fracture, and of the stretches without bone."""
    cracks = "".join(run([(s, axis - y) for s, y in segment]) for segment in layout.fracture.segments)
    gaps = ""
    for line in layout.fracture.lines:
        if line.width_mm > 0:
            half = line.depth_mm * 0.53
            corners: list[Point] = [(line.proximal_face(y), axis - y) for y in (half, -half)]
            corners += [(line.distal_face(y), axis - y) for y in (-half, half)]
            gaps += loop(corners)
    return cracks, gaps


def _plate(layout: Layout, axis: float) -> str:
    start, end = layout.plate_ends_mm
    standoff, thick = layout.construct.plate.standoff_mm, layout.series.thickness_mm
    under = [(s, axis - layout.shape.near(s) - standoff) for s in (start + (end - start) * i / 12 for i in range(13))]
    return loop([*under, *((s, y - thick) for s, y in reversed(under))])


def _screws(layout: Layout, axis: float) -> str:
    found = []
    for screw in layout.screws:
        (head, top, _), (tip, bottom, _) = screw.at(screw.head), screw.at(screw.tip)
        above = layout.series.thickness_mm if screw.turn_deg == 0 else 0.0
        found.append(run([(head, axis - top - above), (tip, axis - bottom)]))
    return "".join(found)


def draw_thumbnail(one: "ConstructAssessment", theme: Theme = "light", *, alone: bool = False) -> str:
    """Draw a construct small.

    Args:
        one: the assessed construct.
        theme: ``page`` for colours from the page's style sheet; else they are written into the drawing.
        alone: with ``page``, for a file of its own: it brings both appearances, and has the one of the page around it.

    Returns:
        An ``<svg>`` element as text, without ids, so that many fit on one page.
    """
    layout = one.layout
    view = fitted_view(layout)
    height = ASPECT * view.width_mm
    axis = height * 0.54
    u = view.width_mm / 100
    cracks, gaps = _cracks(layout, axis)
    shapes = [
        _shape(_bone(layout, view, axis, False), "bone", 0.5 * u, theme),
        _shape(_bone(layout, view, axis, True), "canal", 0.0, theme),
        *([_shape(gaps, "gap", 0.0, theme)] if gaps else []),
        _shape(cracks, "fracture", 1.1 * u, theme),
        _shape(_plate(layout, axis), "metal", 0.5 * u, theme),
        *([_shape(_screws(layout, axis), "line", 1.3 * u, theme)] if layout.screws else []),
    ]
    attrs: Attrs = {
        "xmlns": SVG,
        "class": "drawing thumbnail",
        "viewBox": f"{num(view.start_mm)} 0 {num(view.width_mm)} {num(height)}",
        "role": "img",
        "aria-label": describe(one),
    }
    return Element("svg", attrs, [style(in_either("thumb-")), *shapes] if alone else shapes).tostring()


def draw_icon(layout: Layout, view: View, *, fracture: bool) -> str:
    """A bone, with its fracture or whole, in a window: for a choice that words beside it name.

    Returns:
        An ``<svg>`` element as text, without ids, in the page's colours, hidden from those who hear the words.
    """
    height = ASPECT * view.width_mm
    axis, u = height / 2, view.width_mm / 100
    cracks, gaps = _cracks(layout, axis)
    shapes = [
        _shape(_bone(layout, view, axis, False), "bone", 0.8 * u, "page"),
        _shape(_bone(layout, view, axis, True), "canal", 0.0, "page"),
        *([_shape(gaps, "gap", 0.0, "page")] if gaps and fracture else []),
        *([_shape(cracks, "fracture", 1.6 * u, "page")] if fracture else []),
    ]
    return _icon(f"{num(view.start_mm)} 0 {num(view.width_mm)} {num(height)}", shapes)


def draw_plate_icon(series: PlateSeries, holes: int, window_mm: float) -> str:
    """A plate seen from above, in the middle of a window so wide, mm; else as ``draw_icon``."""
    offsets = hole_offsets(series, holes)
    places = zip(offsets, hole_sides(series, holes), strict=True)
    half, depth = offsets[-1] + series.end_mm, series.width_mm / 2
    outline = loop([(-half, -depth), (half, -depth), (half, depth), (-half, depth)])
    wide, high = series.slot_mm / 2, series.hole_mm / 2
    rims = "".join(loop(_round(at, wide, high)) for at in places)
    u, height = window_mm / 100, ASPECT * window_mm
    shapes = [_shape(outline, "metal", 0.8 * u, "page"), _shape(rims, "gap", 0.0, "page")]
    return _icon(f"{num(-window_mm / 2)} {num(-height / 2)} {num(window_mm)} {num(height)}", shapes)


def _round(at: Point, wide: float, high: float) -> list[Point]:
    turns = (2 * math.pi * i / 16 for i in range(16))
    return [(at[0] + wide * math.cos(turn), at[1] + high * math.sin(turn)) for turn in turns]


def _icon(view_box: str, shapes: list[Element]) -> str:
    attrs: Attrs = {"xmlns": SVG, "class": "drawing thumbnail", "viewBox": view_box, "aria-hidden": "true"}
    return Element("svg", attrs, shapes).tostring()
