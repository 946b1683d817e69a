"""The whole search for an independent lag screw: every place, tilt and size, where a few tries don't do.

``trial.lag_beside_plate`` tries the middle of each face and is enough for most fractures; here no place is left out,
down to ``STEP_MM`` and ``STEP_DEG``. What can't do is thrown out by two distances before its path is worked out.
"""

import math
from collections.abc import Iterator

from app.case.models import LagScrew
from app.catalogue.models import ScrewSpec
from app.geometry import Line, ScrewPath
from app.geometry.fracture import WEDGE, Point, Segment
from app.geometry.limits import END_MARGIN_MM
from app.rules.facts import lag_fault
from app.rules.planes import views_for
from app.rules.registry import RuleInput
from app.rules.screw_distance import distance_mm, path_of
from app.rules.trial import (
    ROUNDING_DEG,
    beside,
    clear_of_others,
    faces_of,
    has_wedge,
    lag_beside_plate,
    least_rim_mm,
    rim_at,
    square_tilt,
)

STEP_MM, STEP_DEG = 1, 5
MAX_TILT_DEG = 75.0  # a case file holds no more
SLACK_MM = 0.3  # a path's ends are first found with the far surface taken as straight
Place = tuple[float, float]
Room = list[tuple[float, float]]


def lags_beside_plate(judged: RuleInput, line: Line, *, main: bool = False) -> Iterator[LagScrew]:
    """Every independent lag screw that presses the line, as no rule on lag screws objects to; likeliest first.

    Where a wedge lies at the line, those that catch it; ``main``: those that press the line beside it instead.
    """
    usual = lag_beside_plate(judged, line, main=main)
    if usual is not None:
        yield usual
    for turn_deg, view, seen in views_for(judged, line):
        yield from _in_plane(view, seen, turn_deg, main)


def _in_plane(judged: RuleInput, line: Line, turn_deg: float, main: bool) -> Iterator[LagScrew]:
    """Those that lie in one plane about the shaft; ``judged`` and ``line`` are as it shows them."""
    found = _places(judged, line, main, turned=turn_deg != 0)
    threads = [other.spec.thread_mm for other in judged.layout.screws if other.hole is None]
    paths: dict[Place, ScrewPath] = {}
    for size in _sizes(judged):
        least = least_rim_mm(judged, size)
        for place, room, rim in found:
            if rim < least - SLACK_MM:
                break
            if turn_deg == 0 and not _clear(judged, size, threads, room, SLACK_MM):
                continue
            lag = LagScrew(position_mm=place[0], tilt_deg=place[1], screw=size.key)
            if turn_deg != 0:
                lag = lag.model_copy(update={"turn_deg": turn_deg})
            if place not in paths:
                paths[place] = beside(judged, lag)
            path = paths[place]
            if rim_at(judged, path_of(path)) < least or not _presses(judged, path, line, main):
                continue
            clear = (
                clear_of_others(judged, path, size)
                if turn_deg != 0
                else _clear(judged, size, threads, _room(judged, path_of(path)))
            )
            if clear:
                yield lag


def _presses(judged: RuleInput, path: ScrewPath, line: Line, main: bool) -> bool:
    """Whether it presses what is meant, and stands square enough."""
    if has_wedge(judged, line) and (WEDGE in path.owners) == main:
        return False
    limit = judged.thresholds.value("lag-angle", "sliding_deg") + ROUNDING_DEG
    angle = path.angle_to_normal_deg
    return angle is not None and angle <= limit and lag_fault(judged, path) is None


def _room(judged: RuleInput, path: Segment) -> Room:
    """Distance to each other independent lag screw, and between where the two enter, mm."""
    others = (path_of(other) for other in judged.layout.screws if other.hole is None)
    return [(distance_mm(path, other), abs(path[0][0] - other[0][0])) for other in others]


def _clear(judged: RuleInput, size: ScrewSpec, threads: list[float], room: Room, slack_mm: float = 0.0) -> bool:
    """Whether a screw runs clear of the others, of these threads; that their tips alone come near is usual."""
    diameters = judged.thresholds.value("near-fracture", "spacing_diameters")
    for thread, (distance, entries) in zip(threads, room, strict=True):
        least, touching = diameters * max(size.thread_mm, thread), (size.thread_mm + thread) / 2
        if distance + slack_mm < (touching if entries >= least else least):
            return False
    return True


def _places(judged: RuleInput, line: Line, main: bool, *, turned: bool) -> list[tuple[Place, Room, float]]:
    """Every place with its room and the rim of bone it leaves (mm), as nearly as they are known yet, widest first."""
    places = dict.fromkeys(place for face in faces_of(judged, line, main=main) for place in _through(judged, face))
    least = min(least_rim_mm(judged, size) for size in _sizes(judged)) - SLACK_MM
    ends = ((place, _ends(judged, place)) for place in places)
    rims = [(place, path, rim) for place, path in ends if (rim := rim_at(judged, path)) >= least]
    return [
        (place, [] if turned else _room(judged, path), rim)
        for place, path, rim in sorted(rims, key=lambda found: -found[2])
    ]


def _through(judged: RuleInput, face: Segment) -> Iterator[Place]:
    """Entry (mm) and tilt (°) of every screw through a face that stands square enough to it."""
    limit = judged.thresholds.value("lag-angle", "sliding_deg") + ROUNDING_DEG
    square = square_tilt(face)
    for step in range(int(-MAX_TILT_DEG / STEP_DEG), int(MAX_TILT_DEG / STEP_DEG) + 1):
        tilt = step * STEP_DEG
        if abs((tilt - square + 90) % 180 - 90) > limit:
            continue
        low, high = sorted(_entry_mm(judged, at, tilt) for at in face)
        low, high = max(low, END_MARGIN_MM), min(high, judged.layout.shape.length_mm - END_MARGIN_MM)
        for place in range(math.ceil(low / STEP_MM), math.floor(high / STEP_MM) + 1):
            yield place * STEP_MM, tilt


def _entry_mm(judged: RuleInput, through: Point, tilt_deg: float) -> float:
    x, y = through
    return x - (judged.layout.shape.near(x) - y) * math.tan(math.radians(tilt_deg))


def _ends(judged: RuleInput, place: Place) -> Segment:
    """Where a screw enters and leaves the bone, as nearly as two steps tell."""
    shape, (start, tilt) = judged.layout.shape, place
    slope, top = math.tan(math.radians(tilt)), shape.near(start)
    end = start
    for _ in range(2):
        end = start + (top + shape.near(min(max(end, 0.0), shape.length_mm))) * slope
    return (start, top), (end, -shape.near(min(max(end, 0.0), shape.length_mm)))


def _sizes(judged: RuleInput) -> list[ScrewSpec]:
    """The plate's own cortex screw, then thinner ones, thickest first, then thicker ones."""
    own = judged.catalogue.screws[judged.layout.series.cortex_screw].thread_mm
    fit = [screw for screw in judged.catalogue.screws.values() if screw.kind == "cortex"]
    return sorted(fit, key=lambda screw: (screw.thread_mm > own, abs(screw.thread_mm - own)))
