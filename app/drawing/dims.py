"""Dimension lines above the profile: length of the plate, and the bridging span over each fracture line."""

from dataclasses import dataclass
from itertools import pairwise

from app.drawing.boxes import spread
from app.drawing.placement import AIR_U, hand
from app.drawing.scale import TEXT_U
from app.drawing.scene import Scene
from app.drawing.svg import Element, group, label, loop, path, run
from app.drawing.typeface import text_width
from app.geometry import ScrewPath


def flanking(scene: Scene) -> list[tuple[ScrewPath, ScrewPath] | None]:
    """The two screws in holes that flank each line; None where one side has none. Lag screws bridge nothing."""
    layout = scene.layout
    index = {fragment.name: fragment.index for fragment in layout.fracture.fragments}
    placed = [s for s in layout.screws if s.hole is not None and s.role != "lag" and s.home in index]
    pairs: list[tuple[ScrewPath, ScrewPath] | None] = []
    for line in layout.fracture.lines:
        before = [s for s in placed if index[s.home or ""] <= line.index]
        behind = [s for s in placed if index[s.home or ""] > line.index]
        both = before and behind
        pairs.append((max(before, key=_place), min(behind, key=_place)) if both else None)
    return pairs


def _place(screw: ScrewPath) -> float:
    return screw.s_mm


@dataclass(frozen=True, slots=True)
class Dimension:
    """A length to be written along ``s`` at height ``y``; its extension lines go down to ``feet``."""

    start: float
    end: float
    y: float
    text: str
    feet: tuple[float, float]


def _drawn(scene: Scene, one: Dimension, middle: float) -> Element:
    """Extension lines down to the feet, a line with arrowheads, and the figure over it."""
    u = scene.frame.u
    arrow, wing, y = 13 * u, 3.4 * u, one.y
    heads = loop([(one.start, y), (one.start + arrow, y - wing), (one.start + arrow, y + wing)]) + loop(
        [(one.end, y), (one.end - arrow, y - wing), (one.end - arrow, y + wing)]
    )
    lines = run([(one.start, y), (one.end, y)])
    for s, bottom in zip((one.start, one.end), one.feet, strict=True):
        lines += run([(s, y - 6 * u), (s, bottom)])
    return group(
        [
            path(lines, "fine", width=0.9 * u),
            path(heads, "solid"),
            label(one.text, (middle, y - 6 * u), "halo", text_anchor="middle", stroke_width=4 * u),
        ],
        {"aria-hidden": "true"},
    )


def _middles(scene: Scene, row: list[Dimension]) -> list[float]:
    """Where the figures of one row go: over the middle of what is in sight, beside each other, inside the frame."""
    frame, u = scene.frame, scene.frame.u
    view = frame.view
    if not row:
        return []
    halves = [text_width(one.text, TEXT_U * u) / 2 + AIR_U * u for one in row]
    wanted = [(max(one.start, view.start_mm) + min(one.end, view.end_mm)) / 2 for one in row]
    gaps = [here + there for here, there in pairwise(halves)]
    return spread(wanted, gaps, (frame.left + halves[0], frame.left + frame.width - halves[-1]))


def _plate_text(scene: Scene) -> str:
    plate = scene.construct.plate
    text = f"plate {scene.layout.plate_length_mm:.0f} mm"
    if plate.standoff_mm > 0:
        text += f", stand-off {plate.standoff_mm:g} mm"
    if plate.prebend_mm > 0:
        text += f", pre-bend {plate.prebend_mm:g} mm"
    return text


def dimensions(scene: Scene) -> list[Element]:
    """All dimension lines of the profile."""
    frame, layout = scene.frame, scene.layout
    clear = 6 * frame.u + scene.construct.plate.standoff_mm + layout.series.thickness_mm

    def dimension(start: float, end: float, y: float, text: str) -> Dimension:
        return Dimension(start, end, y, text, (frame.near(start) - clear, frame.near(end) - clear))

    found = [dimension(*layout.plate_ends_mm, frame.plate_row, _plate_text(scene))]
    spans = dict.fromkeys((pair[0].s_mm, pair[1].s_mm) for pair in flanking(scene) if pair is not None)
    ordered = sorted(spans, reverse=hand(scene) < 0)  # so that what is turned end for end keeps its rows
    for i, (a, b) in enumerate(ordered):  # two lines without a screw between them share one span
        row = frame.span_rows[i % len(frame.span_rows)]
        found.append(dimension(a, b, row, f"bridging span {b - a:.0f} mm"))
    drawn = []
    for y in (frame.plate_row, *frame.span_rows):
        row_of = sorted((one for one in found if one.y == y and _in_sight(scene, one)), key=_start)
        drawn += [_drawn(scene, one, x) for one, x in zip(row_of, _middles(scene, row_of), strict=True)]
    return drawn


def _in_sight(scene: Scene, one: Dimension) -> bool:
    return one.start < scene.frame.view.end_mm and one.end > scene.frame.view.start_mm


def _start(one: Dimension) -> float:
    return one.start
