"""The ruler under both views: mm along the shaft from the proximal end."""

import math
from functools import lru_cache

from app.drawing.scale import Frame, View
from app.drawing.svg import Element, Point, Written, group, label, path, run

LABEL_GAP_U = 70.0  # numbers of three digits need this much room


def _step(u: float) -> int:
    """Distance between numbers, mm: 10, 20, 50 or 100."""
    return next((step for step in (10, 20, 50, 100) if step >= LABEL_GAP_U * u), 200)


def ruler(frame: Frame) -> Element:
    """The ruler of a drawing."""
    return _ruler(frame.view, frame.u, frame.ruler_row)


@lru_cache(maxsize=64)
def _ruler(view: View, u: float, y: float) -> Element:
    """Ticks each millimetre or five, longer each ten, numbers where there is room."""
    low, high = view.start_mm, view.end_mm
    fine = 1 if 5 * u <= 1 else 5
    ticks = [run([(low, y), (high, y)])]
    for s in range(math.ceil(low / fine) * fine, math.floor(high) + 1, fine):
        size = 14 if s % 10 == 0 else 9 if s % 5 == 0 else 5
        ticks.append(run([(s, y), (s, y + size * u)]))
    step = _step(u)
    first = math.ceil((low + 14 * u) / step) * step
    numbers = [
        label(f"{s} mm" if s == first else str(s), (s, y + 31 * u), "soft", text_anchor="middle")
        for s in range(first, math.floor(high) + 1, step)
        if s <= high - 14 * u
    ]
    marks = [path("".join(ticks), "fine", width=u), *numbers]
    return Written([group(marks, {"aria-hidden": "true"})])


def heading_places(frame: Frame) -> list[tuple[Point, Point]]:
    """Where the name of each view begins, and where that of its distal end ends: the profile's, then the face's."""
    left, right = frame.left + 8 * frame.u, frame.left + frame.width - 8 * frame.u
    return [((left, y), (right, y)) for y in (20 * frame.u, frame.face_row)]


def heading(frame: Frame) -> list[Element]:
    """Which view is which, and which end is proximal."""
    names = []
    for view, (left, right) in zip(("Profile", "Face"), heading_places(frame), strict=True):
        names += [label(f"{view}, proximal", left, "soft"), label("distal", right, "soft", text_anchor="end")]
    return [group(names, {"aria-hidden": "true"})]
