"""The plate: cut lengthwise in the profile, with its holes in their true shape in the face view."""

import math
from functools import lru_cache
from itertools import pairwise

from app.catalogue.models import PlateSeries
from app.drawing.kept import Kept
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, Written, disc, el, group, loop, num, path, run
from app.geometry import HolePlace, Layout

_PROFILES, _FACES = Kept(64), Kept(64)

WAIST = 0.09  # share of the width that the plate is drawn in by between two holes, on each side
SHOULDER = 0.3  # share of the pitch over which it keeps its full width beside each hole
CHAMFER = 0.45  # share of the thickness that its ends are bevelled by


def _underside(scene: Scene, s: float) -> float:
    return scene.frame.near(s) - scene.construct.plate.standoff_mm - scene.raised(s)


def _stations(scene: Scene) -> list[float]:
    """Where the underside is measured: at every corner of cut metal, so that all of it lies within the outline."""
    corners = [s for one in solid_stretches(scene.layout) for s in (*one, *_upper_edge(scene, *one))]
    start, end = scene.layout.plate_ends_mm
    return sorted({start, end, *corners, *(s for s in scene.bends if start < s < end)})


def profile_outline(scene: Scene) -> str:
    """Path data of the plate edge-on, with bevelled ends, lying on the bone's surface."""
    thick = scene.layout.series.thickness_mm
    start, end = scene.layout.plate_ends_mm
    bevel, slope = CHAMFER * thick, bevel_mm(scene.layout)
    under = [(s, _underside(scene, s)) for s in _stations(scene)]
    inner = [(s, y) for s, y in under if start + slope < s < end - slope]
    left, right = ((s, _underside(scene, s)) for s in (start + slope, end - slope))
    over = [(s, y - thick) for s, y in (right, *reversed(inner), left)]
    return loop([*under, (end, under[-1][1] - thick + bevel), *over, (start, under[0][1] - thick + bevel)])


def bevel_mm(layout: Layout) -> float:
    """Length of the bevel at each end; short ends keep some metal between it and the last hole."""
    metal = layout.series.end_mm - layout.series.slot_mm / 2
    return min(1.6 * CHAMFER * layout.series.thickness_mm, 0.5 * metal)


def sink_mm(scene: Scene) -> float:
    """How far the countersink for a head widens a hole on each side, mm; neighbours keep metal between them."""
    layout = scene.layout
    head = max((screw.spec.head_mm for screw in layout.screws if screw.hole is not None), default=0.0)
    head = max(head, layout.series.hole_mm * 1.4)
    room = (layout.series.pitch_mm - layout.series.slot_mm) / 2 - 0.6
    return max(0.0, min((head + 0.4 - layout.series.hole_mm) / 2, room))


def _upper_edge(scene: Scene, start: float, end: float) -> tuple[float, float]:
    """From where to where cut metal reaches the upper side: the countersinks and the bevels take the rest."""
    sink, slope = sink_mm(scene), bevel_mm(scene.layout)
    low, high = scene.layout.plate_ends_mm
    first, last = start <= low, end >= high
    left_in, right_in = slope if first else sink, slope if last else sink
    room = min(1.0, 0.9 * (end - start) / max(left_in + right_in, 1e-9))
    return start + left_in * (1 if first else room), end - right_in * (1 if last else room)


def _cut(scene: Scene, start: float, end: float) -> str:
    """Cut metal between two holes, its walls sloped by the countersinks and by the bevels of the plate's ends."""
    thick = scene.layout.series.thickness_mm
    low, high = scene.layout.plate_ends_mm
    first, last = start <= low, end >= high
    a, b = _upper_edge(scene, start, end)
    bends = [s for s in scene.bends if start < s < end]
    lower = [(s, _underside(scene, s)) for s in (start, *bends, end)]
    upper = [(s, _underside(scene, s) - thick) for s in (b, *(s for s in reversed(bends) if a < s < b), a)]
    bevel = (1 - CHAMFER) * thick
    right = [(end, lower[-1][1] - bevel)] if last else [(end, lower[-1][1] - 0.4 * thick)]
    left = [(start, lower[0][1] - bevel)] if first else [(start, lower[0][1] - 0.4 * thick)]
    return loop([*lower, *right, *upper, *left])


def solid_stretches(layout: Layout) -> list[tuple[float, float]]:
    """The stretches of plate between holes, where a lengthwise cut meets metal."""
    half = layout.series.slot_mm / 2
    start, end = layout.plate_ends_mm
    walls = [start, *(wall for hole in layout.holes for wall in (hole.s_mm - half, hole.s_mm + half)), end]
    return [(a, b) for a, b in zip(walls[::2], walls[1::2], strict=True) if b - a > 0.05]


def profile_plate(scene: Scene) -> Element:
    """The plate edge-on: cut metal hatched between the holes."""
    return _PROFILES.get((scene.still(), scene.raised, sink_mm(scene)), lambda: _edge_on(scene))


def _edge_on(scene: Scene) -> list[Element]:
    u = scene.frame.u
    blocks = "".join(_cut(scene, a, b) for a, b in solid_stretches(scene.layout))
    return [
        path(profile_outline(scene), "metal", width=1.5 * u),
        path(blocks, "edge", fill=scene.fill("hatch-plate"), width=0.8 * u),
    ]


def face_plate(scene: Scene) -> Element:
    """The plate from above."""
    return _FACES.get(scene.still(), lambda: [path(face_outline(scene), "metal", width=1.5 * scene.frame.u)])


def face_outline(scene: Scene) -> str:
    """The plate from above: rounded ends, drawn in a little between the holes."""
    layout, axis = scene.layout, scene.frame.face_axis
    half = layout.series.width_mm / 2
    start, end = layout.plate_ends_mm
    waist = half * (1 - 2 * WAIST)
    r = min(half * 0.8, layout.series.end_mm * 0.9)
    centres = [hole.s_mm for hole in layout.holes]

    def side(y: int, order: list[float]) -> str:
        edge, dip = num(axis + y * half), num(axis + y * (2 * waist - half))
        bends = ""
        for a, b in pairwise(order):
            broad = SHOULDER * (b - a)
            bends += f"H{num(a + broad)}Q{num((a + b) / 2)},{dip} {num(b - broad)},{edge}"
        return bends

    top, bottom, radius = axis - half, axis + half, num(r)
    return (
        f"M{num(start + r)},{num(top)}H{num(centres[0])}{side(-1, centres)}H{num(end - r)}"
        f"A{radius},{radius} 0 0 1 {num(end)},{num(top + r)}V{num(bottom - r)}"
        f"A{radius},{radius} 0 0 1 {num(end - r)},{num(bottom)}H{num(centres[-1])}{side(1, centres[::-1])}"
        f"H{num(start + r)}A{radius},{radius} 0 0 1 {num(start)},{num(bottom - r)}V{num(top + r)}"
        f"A{radius},{radius} 0 0 1 {num(start + r)},{num(top)}Z"
    )


def _oblong(length: float, width: float) -> str:
    """An opening with round ends about the origin."""
    r, straight = width / 2, max(0.0, length - width)
    x = straight / 2
    return (
        f"M{num(-x)},{num(-r)}H{num(x)}A{num(r)},{num(r)} 0 0 1 {num(x)},{num(r)}"
        f"H{num(-x)}A{num(r)},{num(r)} 0 0 1 {num(-x)},{num(-r)}Z"
    )


def _combined(length: float, width: float) -> str:
    """A smooth slot joined to a round threaded end (right), pinched where the two meet; with its ring of thread."""
    r = width / 2
    left, right = -length / 2 + r, length / 2 - r
    pinch, neck = (left + right) / 2 + 0.12 * width, 0.86 * r
    outline = (
        f"M{num(left)},{num(-r)}Q{num(pinch - 0.1 * width)},{num(-r)} {num(pinch)},{num(-neck)}"
        f"A{num(r)},{num(r)} 0 1 1 {num(pinch)},{num(neck)}"
        f"Q{num(pinch - 0.1 * width)},{num(r)} {num(left)},{num(r)}"
        f"A{num(r)},{num(r)} 0 0 1 {num(left)},{num(-r)}Z"
    )
    ticks = []
    for k in range(-4, 5):
        angle = k * math.pi / 11
        c, s = math.cos(angle), math.sin(angle)
        ticks.append(run([(right + r * c, r * s), (right + 0.82 * r * c, 0.82 * r * s)]))
    return outline + "".join(ticks)


def hole_outline(series: PlateSeries) -> str:
    """Path data of one hole about its centre; a combination hole has its threaded end to the right."""
    if series.hole_kind == "combination":
        return _combined(max(series.slot_mm, series.hole_mm * 1.3), series.hole_mm)
    if series.hole_kind in ("dynamic", "oval"):
        return _oblong(max(series.slot_mm, series.hole_mm), series.hole_mm)
    return disc((0.0, 0.0), series.hole_mm / 2)


def hole_symbol(scene: Scene) -> Element:
    """The hole's shape for reuse."""
    series, sink, u = scene.layout.series, sink_mm(scene), scene.frame.u
    rim = _oblong(max(series.slot_mm, series.hole_mm) + 2 * sink, series.hole_mm + 2 * sink)
    shapes = [
        path(rim, "hole-rim", width=0.8 * u),
        path(hole_outline(series), "hole-opening", width=1.2 * u),
    ]
    return group(shapes, {"id": scene.id("hole-shape")})


def hole_use(scene: Scene, place: HolePlace) -> Element:
    """One hole; combination holes turn their threaded end to the plate's middle (assumed: plates differ)."""
    s, y = place.s_mm, scene.frame.face_axis + place.across_mm
    href = f"#{scene.id('hole-shape')}"
    if scene.layout.series.hole_kind == "combination" and s > scene.construct.plate.centre_mm:
        return Element("use", {"href": href, "transform": f"translate({num(s)},{num(y)})rotate(180)"})
    return Element("use", {"href": href, "x": s, "y": y})


@lru_cache(maxsize=64)
def hatches(u: float, prefix: str) -> tuple[Element, ...]:
    """The hatches: bone one way, plate the other and closer, wedge across. ``prefix`` begins their ids."""
    return (
        _hatch(u, prefix + "hatch", 7.5, 45, "hatch-line"),
        _hatch(u, prefix + "hatch-wedge", 5.5, -45, "hatch-line"),
        _hatch(u, prefix + "hatch-plate", 4.2, -45, "plate-hatch-line"),
    )


def _hatch(u: float, name: str, gap: float, turn: float, class_: str) -> Element:
    size = gap * u
    attrs: Attrs = {
        "id": name,
        "width": size,
        "height": size,
        "patternUnits": "userSpaceOnUse",
        "patternTransform": f"rotate({num(turn)})",
    }
    line = path(run([(size / 2, 0), (size / 2, size)]), class_, width=1.1 * u)
    return Written([el("pattern", [line], attrs)])
