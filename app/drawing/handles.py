"""What can be dragged: each a slider with its range, its value in words, and the edit that a new value makes."""

import json
from dataclasses import dataclass
from functools import lru_cache

from app.case.edits import LeanFracture, MoveFracture, MovePlate, SetLag, SetObliquity, SetRole, SetTilt, SetZone
from app.case.forms import EditForm, lacking
from app.case.planes import steepest_lean
from app.drawing.scale import TARGET_U
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, Point, disc, figure, num, path, run
from app.geometry import HolePlace, Line, Ranges, ScrewPath

KNOB_U = 8.0
STEEPEST_DEG = 75.0  # of a fracture line, as a case file holds it


@dataclass(frozen=True, slots=True)
class Slide:
    """One value along one way: its name, range and edit. ``hole`` is the index of the hole it belongs to, if any."""

    name: str
    form: EditForm
    low: float
    high: float
    value: float
    unit: str
    hole: int | None = None


def _said(value: float, unit: str) -> str:
    return f"{value:.1f} mm" if unit == "mm" else f"{value:.0f} degrees"


def slider(slide: Slide) -> Attrs:
    """What makes a group a slider, for the pointer, the keyboard and a screen reader."""
    low, high, value = (figure(x) for x in (slide.low, slide.high, slide.value))
    attrs: Attrs = {
        "role": "slider",
        "tabindex": "0",
        "aria-label": slide.name,
        "aria-valuemin": low,
        "aria-valuemax": high,
        "aria-valuenow": value,
        "aria-valuetext": _said(slide.value, slide.unit),
        "data-min": low,
        "data-max": high,
        "data-value": value,
        "data-step": "1",
        **form_attrs(slide.form),
    }
    return attrs if slide.hole is None else {**attrs, "data-of-hole": str(slide.hole)}


def form_attrs(form: EditForm) -> Attrs:
    """What the browser fills a value into."""
    return {"data-edit": _as_json(form), "data-field": form.field}


@lru_cache(maxsize=1024)  # as many as there are forms: what is dragged is filled in by the browser
def _as_json(form: EditForm) -> str:
    return json.dumps(form.document, separators=(",", ":"))


def shifted(slide: Slide, gain: float = 1) -> Attrs:
    """A slider that follows the pointer along the shaft."""
    return {**slider(slide), "data-drag": "shift", "data-gain": figure(gain)}


def leant(slide: Slide, pivot: Point, way: str) -> Attrs:
    """A slider whose value is the lean of the pointer from the vertical through ``pivot``."""
    at = f"{num(pivot[0])},{num(pivot[1])}"
    return {**slider(slide), "data-drag": "lean", "data-lean": way, "data-pivot": at}


def knob(scene: Scene, at: Point, class_: str = "knob", reach_up_u: float = 0.0) -> list[Element]:
    """A round grip with room for a finger about it, or so far above it."""
    u = scene.frame.u
    return [
        path(disc((at[0], at[1] - reach_up_u * u), TARGET_U / 2 * u), "hit", fill="none", pointer_events="all"),
        path(disc(at, KNOB_U * u), class_, width=2.2 * u),
    ]


def role_form(scene: Scene, place: HolePlace) -> EditForm:
    """Giving a hole another role."""
    return lacking(SetRole, "role", target=scene.one.target, hole=place.number - 1)


def line_slide(scene: Scene, line: Line, ranges: Ranges) -> Slide:
    """Moving a fracture line."""
    low, high = ranges.lines[line.index]
    form = lacking(MoveFracture, "position_mm", target=scene.one.target, line=line.index)
    name = f"Fracture line {line.index + 1}, position along the shaft"
    return Slide(name, form, low, high, line.position_mm, "mm")


def lean_slide(scene: Scene, line: Line) -> Slide:
    """Leaning a fracture line in the profile; what the view of the plate's face shows of it stays."""
    if line.across == 0:
        form = lacking(SetObliquity, "obliquity_deg", target=scene.one.target, line=line.index)
        name = f"Fracture line {line.index + 1}, obliquity"
        return Slide(name, form, -STEEPEST_DEG, STEEPEST_DEG, line.obliquity_deg, "deg")
    form = lacking(LeanFracture, "angle_deg", target=scene.one.target, line=line.index, view="profile")
    most = steepest_lean(line.face_deg, STEEPEST_DEG)
    return Slide(f"Fracture line {line.index + 1}, lean in the profile", form, -most, most, line.obliquity_deg, "deg")


def turn_slide(scene: Scene, line: Line) -> Slide:
    """Leaning a fracture line in the view of the plate's face, which turns its plane about the shaft."""
    form = lacking(LeanFracture, "angle_deg", target=scene.one.target, line=line.index, view="face")
    most = steepest_lean(line.obliquity_deg, STEEPEST_DEG)
    return Slide(f"Fracture line {line.index + 1}, lean in the face view", form, -most, most, line.face_deg, "deg")


def zone_slide(scene: Scene, line: Line, ranges: Ranges) -> Slide:
    """Widening a zone."""
    low, high = ranges.zones[line.index]
    form = lacking(SetZone, "zone_mm", target=scene.one.target, line=line.index)
    name = f"Fracture line {line.index + 1}, length of the zone without load-bearing bone"
    return Slide(name, form, low, max(high, line.zone_mm), line.zone_mm, "mm")


def plate_slide(scene: Scene, ranges: Ranges) -> Slide:
    """Sliding the plate."""
    low, high = ranges.plate_centre
    form = lacking(MovePlate, "centre_mm", target=scene.one.target)
    return Slide("Plate, position of its centre", form, low, high, scene.construct.plate.centre_mm, "mm")


def lag_slide(scene: Scene, screw: ScrewPath, ranges: Ranges) -> Slide:
    """Moving an independent lag screw."""
    low, high = ranges.lag_screws
    form = lacking(SetLag, "position_mm", target=scene.one.target, lag=int(screw.id[1:]) - 1)
    name = f"Independent lag screw {screw.id[1:]}, entry along the shaft"
    return Slide(name, form, low, high, screw.s_mm, "mm")


def tilt_slide(scene: Scene, screw: ScrewPath) -> Slide:
    """Leaning a screw."""
    if screw.hole is None:
        form = lacking(SetLag, "tilt_deg", target=scene.one.target, lag=int(screw.id[1:]) - 1)
        return Slide(f"Independent lag screw {screw.id[1:]}, tilt", form, -75, 75, screw.tilt_deg, "deg")
    hole = screw.hole - 1
    form = lacking(SetTilt, "tilt_deg", target=scene.one.target, hole=hole)
    return Slide(f"Screw in hole {screw.hole}, tilt", form, -45, 45, screw.tilt_deg, "deg", hole)


def diamond(at: Point, r: float) -> str:
    """Path data of a grip that moves both ways along the shaft."""
    x, y = at
    points = [(x - r, y), (x - 0.2 * r, y - 0.75 * r), (x - 0.2 * r, y + 0.75 * r)]
    mirrored = [(2 * x - px, py) for px, py in points]
    return "".join("M" + "L".join(f"{num(px)},{num(py)}" for px, py in three) + "Z" for three in (points, mirrored))


def shift_knob(scene: Scene, at: Point) -> list[Element]:
    """A grip with two arrowheads."""
    u = scene.frame.u
    return [
        path(disc(at, TARGET_U / 2 * u), "hit", fill="none", pointer_events="all"),
        path(diamond(at, 13 * u), "knob", width=2 * u),
    ]


def leader(scene: Scene, start: Point, end: Point) -> Element:
    """The thin line from a part to its grip."""
    u = scene.frame.u
    return path(run([start, end]), "leader", width=1.1 * u, stroke_dasharray=f"{num(4 * u)} {num(3 * u)}")
