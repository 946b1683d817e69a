"""Dimension lines above the profile: length of the plate, and the bridging span over each fracture line."""

from app.drawing.scene import Scene
from app.drawing.svg import Element, group, label, loop, path, run
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


def _dimension(scene: Scene, start: float, end: float, y: float, text: str, foot: tuple[float, float]) -> Element:
    """Extension lines down to ``foot``, a line with arrowheads at ``y``, and the figure over its middle."""
    u = scene.frame.u
    arrow, wing = 13 * u, 3.4 * u
    heads = loop([(start, y), (start + arrow, y - wing), (start + arrow, y + wing)]) + loop(
        [(end, y), (end - arrow, y - wing), (end - arrow, y + wing)]
    )
    lines = run([(start, y), (end, y)])
    for s, bottom in zip((start, end), foot, strict=True):
        lines += run([(s, y - 6 * u), (s, bottom)])
    return group(
        [
            path(lines, "fine", width=0.9 * u),
            path(heads, "solid"),
            label(text, ((start + end) / 2, y - 6 * u), "halo", text_anchor="middle", stroke_width=4 * u),
        ],
        {"aria-hidden": "true"},
    )


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
    start, end = layout.plate_ends_mm
    foot = frame.near(start) - clear, frame.near(end) - clear
    found = [_dimension(scene, start, end, frame.plate_row, _plate_text(scene), foot)]
    spans = dict.fromkeys((pair[0].s_mm, pair[1].s_mm) for pair in flanking(scene) if pair is not None)
    for i, (a, b) in enumerate(spans):  # two lines without a screw between them share one span
        feet = frame.near(a) - clear, frame.near(b) - clear
        row = frame.span_rows[i % len(frame.span_rows)]
        found.append(_dimension(scene, a, b, row, f"bridging span {b - a:.0f} mm", feet))
    return found
