"""Stress along the plate, on the same axis as both views: a curve against the strengths of its metal."""

import math

from app.drawing.boxes import Box, blocked, nearest_free, overlap
from app.drawing.placement import DESCENT_U, text_box
from app.drawing.scale import STRESS_U, TEXT_U, Frame
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, Point, box, group, label, lined, loop, path, plain, run
from app.drawing.typeface import shortened
from app.mechanics import PlateStress

HEADROOM = 1.12  # above the highest of peak and strengths
STEPS = (50, 100, 200, 500, 1000, 2000, 5000)
MOST_STEPS = 4
LINE_U = 17.0  # from one line of text to the next


def top_of_scale(plate: PlateStress) -> float:
    """The stress at the upper edge of the chart, MPa: above the peak and both strengths."""
    return HEADROOM * max(plate.peak_mpa, plate.yield_mpa, plate.fatigue_mpa)


def _step(top: float) -> float:
    """Distance between two figures of the axis, MPa."""
    wanted = top / MOST_STEPS
    return next((float(step) for step in STEPS if step >= wanted), 10.0 ** math.ceil(math.log10(wanted)))


NAME = "Plate stress, MPa"


class _Chart:
    """Heights of the chart: its base line, its upper edge, and where a stress lies between them."""

    def __init__(self, frame: Frame, top: float) -> None:
        self.base = frame.ruler_row
        self.height = STRESS_U * frame.u
        self.top = top

    def at(self, stress: float) -> float:
        """Drawing height of a stress, MPa."""
        return self.base - self.height * stress / self.top


def stress(scene: Scene) -> list[Element]:
    """The chart, or why there is none; nothing where the mechanics were not asked for."""
    result = scene.one.mechanics
    if result is None or not scene.frame.charted:
        return []
    drawn = _words(scene, result.unstable) if result.plate is None else _curve(scene, result.plate)
    name = label(NAME, _name_at(scene), "soft")
    named: Attrs = {"role": "img", "aria-label": _said(scene)} if scene.interactive else {}
    return [lined([name, *drawn], {"id": scene.id("stress"), **named})]


def _name_at(scene: Scene) -> Point:
    frame = scene.frame
    return frame.left + 8 * frame.u, frame.ruler_row - (STRESS_U + 16) * frame.u


def _said(scene: Scene) -> str:
    result = scene.one.mechanics
    if result is None or result.plate is None:
        return f"No plate stress: {(result and result.unstable) or 'there is no plate under load'}"
    plate = result.plate
    return (
        f"Stress along the plate, peak {plate.peak_mpa:.0f} MPa at {plate.peak_s_mm:.0f} mm; fatigue strength "
        f"{plate.fatigue_mpa:.0f} MPa, yield strength {plate.yield_mpa:.0f} MPa"
    )


def _words(scene: Scene, reason: str | None) -> list[Element]:
    """Why there is no curve, in the chart's place."""
    frame = scene.frame
    text = plain(f"No curve: {reason or 'no answer'}.")
    text = shortened(text, TEXT_U * frame.u, frame.view.width_mm)
    middle = frame.view.start_mm + frame.view.width_mm / 2
    return [label(text, (middle, frame.ruler_row - STRESS_U / 2 * frame.u), "number", text_anchor="middle")]


def _curve(scene: Scene, plate: PlateStress) -> list[Element]:
    frame, u = scene.frame, scene.frame.u
    chart = _Chart(frame, top_of_scale(plate))
    low, high = frame.view.start_mm, frame.view.end_mm
    points = [(s, chart.at(value)) for s, value in zip(plate.s_mm, plate.stress_mpa, strict=True)]
    area = loop([(points[0][0], chart.base), *points, (points[-1][0], chart.base)])
    grid = run([(low, chart.base), (high, chart.base)])
    limits = _limits(scene, chart, plate)
    taken = [text_box(NAME, _name_at(scene), "start", u), *(text_box(words, at, "end", u) for words, at, _ in limits)]
    numbers, step = [], _step(chart.top)
    for value in (step * n for n in range(1, int(chart.top / step) + 1)):
        grid += run([(low, chart.at(value)), (low + 8 * u, chart.at(value))])
        if all(abs(chart.at(value) - chart.at(line)) > LINE_U * u for line in (plate.fatigue_mpa, plate.yield_mpa)):
            at = low + 12 * u, chart.at(value) + 5 * u
            numbers.append(label(f"{value:.0f}", at, "soft"))
            taken.append(text_box(f"{value:.0f}", at, "start", u))
    return [
        path(grid, "fine", width=u),
        *numbers,
        path(area, "stress", width=2.2 * u),
        *(_limit(scene, chart, value, words, at) for words, at, value in limits),
        *_peak(scene, chart, plate, taken),
    ]


def _limits(scene: Scene, chart: _Chart, plate: PlateStress) -> list[tuple[str, Point, float]]:
    """The strengths with the places of their words: over their lines, the lower one's below where they would meet."""
    u, right = scene.frame.u, scene.frame.view.end_mm - 4 * scene.frame.u
    both = sorted(((plate.fatigue_mpa, "fatigue"), (plate.yield_mpa, "yield")))
    close = chart.at(both[0][0]) - chart.at(both[1][0]) < LINE_U * u
    heights = [chart.at(value) + (13 if close and n == 0 else -4) * u for n, (value, _) in enumerate(both)]
    if close and heights[0] - heights[1] < LINE_U * u:
        heights[0] = heights[1] + LINE_U * u
    return [(f"{name} strength {value:.0f}", (right, y), value) for (value, name), y in zip(both, heights, strict=True)]


def _limit(scene: Scene, chart: _Chart, value: float, words: str, at: Point) -> Element:
    """A line across the chart; long dashes for fatigue, dots for yield, so that print tells them apart."""
    frame, u = scene.frame, scene.frame.u
    y = chart.at(value)
    dashes = f"{12 * u:.2f} {6 * u:.2f}" if words.startswith("fatigue") else f"{2 * u:.2f} {5 * u:.2f}"
    line = path(
        run([(frame.view.start_mm, y), (frame.view.end_mm, y)]), "limit", width=1.6 * u, stroke_dasharray=dashes
    )
    return group([line, label(words, at, "halo", text_anchor="end", stroke_width=4 * u)], {})


def _peak_at(scene: Scene, chart: _Chart, peak: Point, words: str, taken: list[Box]) -> tuple[Point, str]:
    """Where the peak's figure stands, and its anchor: beside the mark, over or under what stands there already."""
    frame, u = scene.frame, scene.frame.u
    x, y = peak
    edges = frame.left + 2 * u, frame.left + frame.width - 2 * u
    sides = [("end", x - 10 * u), ("start", x + 10 * u)]
    if x <= frame.view.start_mm + 0.6 * frame.view.width_mm:
        sides.reverse()
    highest, lowest = chart.at(chart.top) + 12 * u, chart.base - DESCENT_U * u
    first = min(max(y - 7 * u, highest), lowest)
    for rise in (0, 8, -8, 16, -16, 24, -24, 32, -32):
        for anchor, at in sides:
            place = at, first + rise * u
            box = text_box(words, place, anchor, u)
            inside = edges[0] <= box[0] and box[2] <= edges[1] and highest <= place[1] <= lowest
            if inside and not any(overlap(box, other) for other in taken):
                return place, anchor
    anchor, at = sides[0]
    left, top, right, bottom = text_box(words, (at, first), anchor, u)
    half = (right - left) / 2
    free = nearest_free(left + half, (edges[0] + half, edges[1] - half), blocked(taken, top, bottom, half, half))
    return (left + half if free is None else free, first), "middle"


def _peak(scene: Scene, chart: _Chart, plate: PlateStress, taken: list[Box]) -> list[Element]:
    """A drop line from the peak to the ruler's axis, a mark on it, and the figure."""
    u = scene.frame.u
    x, y = plate.peak_s_mm, chart.at(plate.peak_mpa)
    words = f"peak {plate.peak_mpa:.0f}"
    place, anchor = _peak_at(scene, chart, (x, y), words, taken)
    attrs: Attrs = {"id": scene.id("stress-peak"), "data-s": plate.peak_s_mm, "data-mpa": plate.peak_mpa}
    mark = path(box(x - 4 * u, y - 4 * u, 8 * u, 8 * u), "solid")
    text = label(words, place, "halo", text_anchor=anchor, stroke_width=4 * u)
    return [group([path(run([(x, y), (x, chart.base)]), "line", width=1.2 * u), mark, text], attrs)]
