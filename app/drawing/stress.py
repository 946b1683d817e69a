"""Stress along the plate, on the same axis as both views: a curve against the strengths of its metal."""

import math

from app.drawing.scale import STRESS_U, TEXT_U, Frame
from app.drawing.scene import Scene
from app.drawing.svg import Attrs, Element, box, group, label, lined, loop, path, plain, run
from app.drawing.typeface import shortened
from app.mechanics import PlateStress

HEADROOM = 1.12  # above the highest of peak and strengths
STEPS = (50, 100, 200, 500, 1000, 2000, 5000)
MOST_STEPS = 4


def top_of_scale(plate: PlateStress) -> float:
    """The stress at the upper edge of the chart, MPa: above the peak and both strengths."""
    return HEADROOM * max(plate.peak_mpa, plate.yield_mpa, plate.fatigue_mpa)


def _step(top: float) -> float:
    """Distance between two figures of the axis, MPa."""
    wanted = top / MOST_STEPS
    return next((float(step) for step in STEPS if step >= wanted), 10.0 ** math.ceil(math.log10(wanted)))


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
    u, frame = scene.frame.u, scene.frame
    name = label("Plate stress, MPa", (frame.left + 8 * u, frame.ruler_row - (STRESS_U + 16) * u), "soft")
    named: Attrs = {"role": "img", "aria-label": _said(scene)} if scene.interactive else {}
    return [lined([name, *drawn], {"id": scene.id("stress"), **named})]


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
    numbers, step = [], _step(chart.top)
    for value in (step * n for n in range(1, int(chart.top / step) + 1)):
        grid += run([(low, chart.at(value)), (low + 8 * u, chart.at(value))])
        if all(abs(chart.at(value) - chart.at(line)) > 17 * u for line in (plate.fatigue_mpa, plate.yield_mpa)):
            numbers.append(label(f"{value:.0f}", (low + 12 * u, chart.at(value) + 5 * u), "soft"))
    return [
        path(grid, "fine", width=u),
        *numbers,
        path(area, "stress", width=2.2 * u),
        _strength(scene, chart, plate.fatigue_mpa, "fatigue strength"),
        _strength(scene, chart, plate.yield_mpa, "yield strength"),
        *_peak(scene, chart, plate),
    ]


def _strength(scene: Scene, chart: _Chart, value: float, name: str) -> Element:
    """A line across the chart; long dashes for fatigue, dots for yield, so that print tells them apart."""
    frame, u = scene.frame, scene.frame.u
    y = chart.at(value)
    dashes = f"{12 * u:.2f} {6 * u:.2f}" if name.startswith("fatigue") else f"{2 * u:.2f} {5 * u:.2f}"
    line = run([(frame.view.start_mm, y), (frame.view.end_mm, y)])
    place = (frame.view.end_mm - 4 * u, y - 4 * u)
    words = label(f"{name} {value:.0f}", place, "halo", text_anchor="end", stroke_width=4 * u)
    return group([path(line, "limit", width=1.6 * u, stroke_dasharray=dashes), words], {})


def _peak(scene: Scene, chart: _Chart, plate: PlateStress) -> list[Element]:
    """A drop line from the peak to the ruler's axis, a mark on it, and the figure."""
    frame, u = scene.frame, scene.frame.u
    x, y = plate.peak_s_mm, chart.at(plate.peak_mpa)
    left = x > frame.view.start_mm + 0.6 * frame.view.width_mm
    place = (x - 10 * u if left else x + 10 * u, max(y - 7 * u, chart.at(chart.top) + 12 * u))
    attrs: Attrs = {"id": scene.id("stress-peak"), "data-s": plate.peak_s_mm, "data-mpa": plate.peak_mpa}
    mark = path(box(x - 4 * u, y - 4 * u, 8 * u, 8 * u), "solid")
    words = label(f"peak {plate.peak_mpa:.0f}", place, "halo", text_anchor="end" if left else None, stroke_width=4 * u)
    return [group([path(run([(x, y), (x, chart.base)]), "line", width=1.2 * u), mark, words], attrs)]
