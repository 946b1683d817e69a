"""Screws tried out on the construct as it lies, so that a remedy offers only what then holds."""

import math
from collections.abc import Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import chain, product

from app.case.models import LagScrew, Role
from app.catalogue.models import ScrewSpec
from app.geometry import Line, ScrewPath
from app.geometry.fracture import WEDGE, Segment
from app.geometry.limits import END_MARGIN_MM
from app.geometry.screws import Aim, Bed, angle_to_normal, lay_screw, spec_for, through_hole
from app.rules.facts import lines_pressed
from app.rules.planes import seen_in, under_plate_mm, views_for
from app.rules.registry import RuleInput
from app.rules.screw_distance import path_of, screw_distance_mm

ROUNDING_DEG = 0.05  # angles are told to whole degrees; what rounds to the limit keeps it
SHARES = (0.5, 0.35, 0.65, 0.2, 0.8)  # where along a face a free screw may cross it, the middle first
LEANS = (1.0, 0.85, 0.7)  # shares of the square tilt, where a screw cannot lean all the way
FREE_TILT_DEG = 70.0  # a free screw leaning further would run along the bone


def _bed(judged: RuleInput, *, beside: bool = False) -> Bed:
    layout = judged.layout
    seat, standoff = (0.0, 0.0) if beside else (layout.series.seat_mm, layout.construct.plate.standoff_mm)
    return Bed(layout.shape, layout.fracture, seat, standoff, layout.tips)


def in_hole(judged: RuleInput, number: int, role: Role, tilt_deg: float = 0.0) -> ScrewPath:
    """The screw that a role and tilt would put into hole ``number``, without an eccentric one's shift."""
    place = judged.layout.holes[number - 1]
    spec = spec_for(role, judged.layout.series, judged.catalogue)
    return lay_screw(_bed(judged), f"h{number}", role, spec, number, through_hole(role, place, place.s_mm, tilt_deg))


def beside(judged: RuleInput, lag: LagScrew) -> ScrewPath:
    """The path of an independent lag screw, where ``judged`` is the construct in the screw's own plane."""
    aim = Aim(lag.position_mm, lag.position_mm, lag.tilt_deg, lag.turn_deg)
    return lay_screw(_bed(judged, beside=True), "s1", "lag", judged.catalogue.screws[lag.screw], None, aim)


def holds_fragment(judged: RuleInput, number: int, role: Role) -> bool:
    """Whether a straight screw in this hole would hold two cortices of one fragment, clear of the fracture."""
    fragment = judged.layout.holes[number - 1].fragment
    if fragment is None:
        return False
    screw = in_hole(judged, number, role)
    name = judged.layout.fracture.fragments[fragment].name
    clearance = judged.thresholds.value("near-fracture", "clearance_diameters") * screw.spec.thread_mm
    clear = screw.clear_of_fracture_mm >= clearance and not screw.crosses_fracture
    return clear and all(owner == name for owner in screw.owners)


def rim_mm(judged: RuleInput, screw: ScrewPath) -> float:
    """Least bone, along the surface, between where a lag screw enters or leaves and a fracture edge."""
    return rim_at(seen_in(judged, screw.turn_deg), path_of(screw))


def rim_at(judged: RuleInput, ends: Segment) -> float:
    """The same for a screw known only by these ends of its path."""
    fracture, wedge = judged.layout.fracture, judged.layout.fracture.wedge
    edges = [
        face(y) - s
        for line in fracture.lines
        for s, y in ends
        # on its own cortex the wedge has taken the line's place
        if wedge is None or wedge.line != line.index or y * wedge.corners[0][1] < 0
        for face in (line.proximal_face, line.distal_face)
    ]
    if wedge is not None:
        (one, at), (two, _), _ = wedge.corners
        edges += [corner - s for corner in (one, two) for s, y in ends if y * at > 0]
    return min(abs(distance) for distance in edges)


def least_rim_mm(judged: RuleInput, spec: ScrewSpec) -> float:
    """Rim of bone that a lag screw of this size should leave."""
    return judged.thresholds.value("lag-valid", "rim_diameters") * spec.thread_mm


def _presses(judged: RuleInput, screw: ScrewPath, line: Line, main: bool = False) -> bool:
    """Whether a lag screw presses this line, squarely enough not to slide.

    Where there is a wedge, that is the piece to catch, unless the ``main`` line beside it is meant.
    """
    if screw.angle_to_normal_deg is None or line not in lines_pressed(judged, screw):
        return False
    if has_wedge(judged, line) and (WEDGE in screw.owners) == main:
        return False
    return screw.angle_to_normal_deg <= judged.thresholds.value("lag-angle", "sliding_deg") + ROUNDING_DEG


def has_wedge(judged: RuleInput, line: Line) -> bool:
    """Whether the wedge lies at this line."""
    wedge = judged.layout.fracture.wedge
    return wedge is not None and wedge.line == line.index


def presses_well(judged: RuleInput, screw: ScrewPath, line: Line, *, main: bool = False) -> bool:
    """Whether a lag screw presses this line squarely, with a sound rim; ``main``: the line itself, not its wedge."""
    return _presses(judged, screw, line, main) and rim_mm(judged, screw) >= least_rim_mm(judged, screw.spec)


def square_tilt(segment: Segment) -> float:
    """Tilt of a screw that stands square on a face, -90 to 90 degrees."""
    (x1, y1), (x2, y2) = segment
    lean = math.degrees(math.atan2(x2 - x1, y1 - y2))
    lean = (lean + 90) % 180 - 90
    return lean - 90 if lean > 0 else lean + 90


def _tilts(judged: RuleInput, line: Line, reach_deg: float, main: bool) -> list[float]:
    """Tilts worth trying, the squarest first: each face of the line and its wedge, as far as the reach goes."""
    squares = [square_tilt(segment) for segment in faces_of(judged, line, main=main)]
    held = [max(-reach_deg, min(reach_deg, tilt * share)) for tilt in squares for share in LEANS]
    return list(dict.fromkeys(round(tilt, 1) for tilt in held))


def faces_of(judged: RuleInput, line: Line, *, main: bool = False) -> list[Segment]:
    """The faces of a line and of the wedge at it; ``main``: of the line itself only."""
    fracture = judged.layout.fracture
    low, high = fracture.reach_mm(line)
    segments = fracture.segments[:-2] if main and fracture.wedge is not None else fracture.segments
    return [seg for seg in segments if low - 1e-6 <= (seg[0][0] + seg[1][0]) / 2 <= high + 1e-6]


def best_lag_tilt(judged: RuleInput, number: int, line: Line, *, main: bool = False) -> float | None:
    """The squarest tilt within the hole's reach at which a lag screw presses the line well; None if there is none.

    ``main``: the line itself is to be pressed, not the wedge at it.
    """
    if judged.trial:
        return None
    tilts = _tilts(judged, line, judged.layout.series.reach_deg, main)
    return next((t for t in tilts if presses_well(judged, in_hole(judged, number, "lag", t), line, main=main)), None)


@lru_cache(maxsize=32)  # several rules want the same screw, each for every screw it objects to
def lag_beside_plate(
    judged: RuleInput, line: Line, moving: str | None = None, *, main: bool = False
) -> LagScrew | None:
    """An independent lag screw that presses the line well, clear of others there; None if no size and tilt does.

    ``moving`` is the id of one that is only to be set elsewhere; ``main``: the line itself is to be pressed, not the
    wedge at it.
    """
    if judged.trial or not can_be_pressed(judged, line):
        return None
    found = (_in_plane(*view, moving, main) for view in views_for(judged, line))
    return next(chain.from_iterable(found), None)


def _in_plane(turn_deg: float, judged: RuleInput, line: Line, moving: str | None, main: bool) -> Iterator[LagScrew]:
    """Those that lie in one plane about the shaft; ``judged`` and ``line`` are as it shows them."""
    return _well_placed(judged, line, _free_places(judged, line, main), turn_deg, moving, main)


def can_be_pressed(judged: RuleInput, line: Line) -> bool:
    """Whether there is anything to press: across a zone there is not, unless a wedge lies in it."""
    wedge = judged.layout.fracture.wedge
    return line.zone_mm == 0 or (wedge is not None and wedge.line == line.index)


def _well_placed(
    judged: RuleInput,
    line: Line,
    places: Iterator[tuple[float, float]],
    turn_deg: float,
    moving: str | None,
    main: bool,
) -> Iterator[LagScrew]:
    """Those places, with the thickest screw that leaves a sound rim there, where a lag screw presses the line well."""
    sizes = _sizes(judged)
    for position_mm, tilt_deg in places:
        place = LagScrew.model_construct(position_mm=position_mm, tilt_deg=tilt_deg, screw=sizes[0].key)
        if turn_deg != 0:
            place = place.model_copy(update={"turn_deg": turn_deg})
        # the path is the same for all sizes, so it is laid once; a thinner screw asks for less rim
        path = beside(judged, place)
        if not _presses(judged, path, line, main):
            continue
        rim = rim_at(judged, path_of(path))
        fit = next((size for size in sizes if rim >= least_rim_mm(judged, size)), None)
        if fit is not None and clear_of_others(judged, path, fit, moving):
            yield place.model_copy(update={"screw": fit.key})


def clear_of_others(judged: RuleInput, path: ScrewPath, spec: ScrewSpec, moving: str | None = None) -> bool:
    """Whether an independent lag screw of this size runs clear of the others; a turned one, of plate and all screws."""
    spacing, turned = judged.thresholds.value("near-fracture", "spacing_diameters"), path.turn_deg != 0
    if turned and under_plate_mm(judged.layout, replace(path, spec=spec)) > 0:
        return False
    others = (screw for screw in judged.layout.screws if (turned or screw.hole is None) and screw.id != moving)
    return all(
        screw_distance_mm(path, other) >= spacing * max(spec.thread_mm, other.spec.thread_mm) for other in others
    )


def _free_places(judged: RuleInput, line: Line, main: bool) -> Iterator[tuple[float, float]]:
    """Entry (mm) and tilt (°) of screws across each face of the line and its wedge, the squarest first."""
    limit = judged.thresholds.value("lag-angle", "sliding_deg") + ROUNDING_DEG
    for (x1, y1), (x2, y2) in faces_of(judged, line, main=main):
        square = square_tilt(((x1, y1), (x2, y2)))
        held = [round(max(-FREE_TILT_DEG, min(FREE_TILT_DEG, square * lean)), 1) for lean in LEANS]
        steady = [tilt for tilt in held if angle_to_normal(tilt, ((x1, y1), (x2, y2))) <= limit]
        for tilt, share in product(dict.fromkeys(steady), SHARES):
            yield from _entry(judged, (x1 + share * (x2 - x1), y1 + share * (y2 - y1)), tilt)


def _entry(judged: RuleInput, through: tuple[float, float], tilt: float) -> Iterator[tuple[float, float]]:
    """Where a screw through this point enters, if that is on the shaft."""
    shape, (x, y) = judged.layout.shape, through
    start = round(x - (shape.near(x) - y) * math.tan(math.radians(tilt)), 1)
    if END_MARGIN_MM <= start <= shape.length_mm - END_MARGIN_MM:
        yield start, tilt


def _sizes(judged: RuleInput) -> list[ScrewSpec]:
    """The plate's own cortex screw, then thinner ones, thickest first."""
    screws = judged.catalogue.screws
    own = screws[judged.layout.series.cortex_screw].thread_mm
    fit = [s for s in screws.values() if s.kind == "cortex" and 2.0 <= s.thread_mm <= own]
    return sorted(fit, key=lambda screw: -screw.thread_mm)
