"""What the document can't judge by itself: is it made, does it fit the bone? Ranges are told in words and numbers."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from app.case.faults import Fault
from app.case.models import Case, Construct
from app.catalogue.models import BoneSpec, Catalogue, PlateSeries
from app.geometry.fracture import Line, lay_lines, room_between
from app.geometry.plate import plate_length
from app.geometry.profile import BoneShape, bone_shape

EDGE_MM = 1e-6
APART_MM = 1.0  # between neighbouring lines, as far as handles go
END_MARGIN_MM = 5.0  # a fracture line stays this far from the bone's ends: beyond lies the joint

Range = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Ranges:
    """How far each handle may be moved with all else left as it is, mm."""

    lines: tuple[Range, ...]
    zones: tuple[Range, ...]
    plate_centre: Range
    lag_screws: Range


def _span(low: float, high: float) -> str:
    return f"allowed {low:.1f} to {high:.1f} mm"


def plate_range(series: PlateSeries, holes: int, length_mm: float) -> Range:
    """Where the plate's centre may lie so that the whole plate is on the bone."""
    half = plate_length(series, holes) / 2
    return half, length_mm - half


def ranges(construct: Construct, shape: BoneShape, series: PlateSeries) -> Ranges:
    """Ranges for dragging, each with its neighbours where they are."""
    lines = lay_lines(construct, shape)
    rooms = tuple(_room(lines, i, shape.length_mm, construct.fracture.gap_mm) for i in range(len(lines)))
    return Ranges(
        lines=tuple(_line_range(lines[i], rooms[i], shape) for i in range(len(lines))),
        zones=tuple(_zone_range(lines[i], rooms[i]) for i in range(len(lines))),
        plate_centre=plate_range(series, construct.plate.holes, shape.length_mm),
        lag_screws=(END_MARGIN_MM, shape.length_mm - END_MARGIN_MM),
    )


def _room(lines: tuple[Line, ...], i: int, length_mm: float, gap_mm: float) -> Range:
    """The stretch of shaft that line ``i`` may use, up to its neighbours."""

    def apart(other: Line) -> float:
        # The document wants more than the gap between two zones; of a bare line, half the gap is in its width already.
        return APART_MM + max(0.0, gap_mm - sum((line.width_mm - line.zone_mm) / 2 for line in (lines[i], other)))

    low = lines[i - 1].extent_mm[1] + apart(lines[i - 1]) if i else END_MARGIN_MM
    high = lines[i + 1].extent_mm[0] - apart(lines[i + 1]) if i + 1 < len(lines) else length_mm - END_MARGIN_MM
    return low, high


def _line_range(line: Line, room: Range, shape: BoneShape) -> Range:
    """Rounded inwards to what is told and typed, so that both ends can be made; never short of where the line is."""
    low, high = _within(line, room, shape)
    return min(math.ceil(low * 100) / 100, line.position_mm), max(math.floor(high * 100) / 100, line.position_mm)


def _within(line: Line, room: Range, shape: BoneShape) -> Range:
    """Where a line may be moved so that all of it lies in ``room``: it is longer where the bone is thicker."""

    def half(s: float) -> float:
        return (line.width_mm + line.run_in(shape.depth(s), shape.width(s))) / 2

    low, high = room
    middle = (low + high) / 2
    return (
        _edge(middle, low, lambda s: s - half(s) >= low),
        _edge(middle, high, lambda s: s + half(s) <= high),
    )


def _edge(inside: float, outside: float, holds: Callable[[float], bool]) -> float:
    """The place farthest towards ``outside`` where ``holds`` does, to 1e-6 mm, by halving."""
    if holds(outside):
        return outside
    while abs(outside - inside) > EDGE_MM:
        between = (inside + outside) / 2
        if holds(between):
            inside = between
        else:
            outside = between
    return inside


def _zone_range(line: Line, room: Range) -> Range:
    low, high = room
    free = min(line.position_mm - low, high - line.position_mm) * 2 - line.run_mm
    return 0.0, max(0.0, min(250.0, free))


def check_case(case: Case, catalogue: Catalogue) -> tuple[Fault, ...]:
    """Every fault that only the catalogue can show; empty when the case can be assessed."""
    faults: list[Fault] = []
    places = [(f"constructs.{i}", construct) for i, construct in enumerate(case.constructs)]
    places += [(f"whatifs.{i}.value", whatif.value) for i, whatif in enumerate(case.whatifs)]
    for place, construct in places:
        faults += [
            Fault(f"{place}.{fault.path}", fault.message) for fault in _check_construct(construct, case, catalogue)
        ]
    return tuple(faults)


def _check_construct(construct: Construct, case: Case, catalogue: Catalogue) -> list[Fault]:
    spec = catalogue.bones[construct.bone.name]
    series = catalogue.series.get(construct.plate.series)
    faults = [*_check_bone(construct, spec), *_check_lag_screws(construct, catalogue)]
    if series is None:
        faults.append(Fault("plate.series", f"no such series; in stock: {', '.join(catalogue.series)}"))
    if faults or series is None:
        return faults
    shape = bone_shape(construct.bone, spec, catalogue.qualities[case.bone_quality], construct.surface)
    return [*_check_plate(construct, series, shape), *_check_lines(construct, shape), *_check_beside(construct, shape)]


def _check_bone(construct: Construct, spec: BoneSpec) -> list[Fault]:
    sizes = [
        ("bone.length_mm", construct.bone.length_mm, spec.length_range_mm),
        ("bone.midshaft_depth_mm", construct.bone.midshaft_depth_mm, spec.depth_range_mm),
    ]
    return [
        Fault(path, f"{value:g} mm is no size of an adult {spec.label.lower()}; {_span(low, high)}")
        for path, value, (low, high) in sizes
        if value is not None and not low <= value <= high
    ]


def _check_lag_screws(construct: Construct, catalogue: Catalogue) -> list[Fault]:
    cortex = [key for key, screw in catalogue.screws.items() if screw.kind == "cortex"]
    return [
        Fault(f"lag_screws.{i}.screw", f"no such cortex screw; in stock: {', '.join(cortex)}")
        for i, lag in enumerate(construct.lag_screws)
        if lag.screw not in cortex
    ]


def _check_plate(construct: Construct, series: PlateSeries, shape: BoneShape) -> list[Fault]:
    plate = construct.plate
    if plate.holes not in series.holes_made:
        made = ", ".join(map(str, series.holes_made))
        return [Fault("plate.holes", f"{series.key} is not made with {plate.holes} holes; made with {made}")]
    low, high = plate_range(series, plate.holes, shape.length_mm)
    if low > high:
        return [Fault("plate.holes", f"the plate is {2 * low:.0f} mm long, the bone {shape.length_mm:.0f} mm")]
    if not low - 1e-6 <= plate.centre_mm <= high + 1e-6:
        return [Fault("plate.centre_mm", f"the plate runs off the bone; {_span(low, high)}")]
    return []


def _check_lines(construct: Construct, shape: BoneShape) -> list[Fault]:
    lines = lay_lines(construct, shape)
    faults = []
    for i, line in enumerate(lines):
        low, high = line.extent_mm
        if low < END_MARGIN_MM - 1e-6 or high > shape.length_mm - END_MARGIN_MM + 1e-6:
            allowed = _span(*_within(line, (END_MARGIN_MM, shape.length_mm - END_MARGIN_MM), shape))
            faults.append(Fault(f"fracture.lines.{i}.position_mm", f"the fracture runs off the bone; {allowed}"))
    for first, second in pairwise(lines):
        if room_between(first, second) <= 0:
            faults.append(Fault(f"fracture.lines.{second.index}", "crosses the line before it inside the bone"))
    return faults


def _check_beside(construct: Construct, shape: BoneShape) -> list[Fault]:
    low, high = END_MARGIN_MM, shape.length_mm - END_MARGIN_MM
    return [
        Fault(f"lag_screws.{i}.position_mm", f"the screw is off the bone; {_span(low, high)}")
        for i, lag in enumerate(construct.lag_screws)
        if not low <= lag.position_mm <= high
    ]
