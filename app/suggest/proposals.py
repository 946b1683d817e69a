"""Where a new part goes that a menu or a button adds, and what may be offered at all: what can be made, and shown."""

from app.assess import ConstructAssessment, Knowledge, check_edit
from app.case.edits import AddLine, Edit, ReplaceConstruct, SetPlate, SetWedge, apply
from app.case.faults import InvalidCase
from app.case.fields import put
from app.case.models import MAX_LINES, Case, FractureLine, Side, Wedge
from app.catalogue import PlateSeries
from app.geometry import hole_offsets, plate_length
from app.geometry.limits import END_MARGIN_MM, plate_range

WEDGE_LENGTH_MM = 25.0  # of a new one, to be dragged; no source
NEW_LINE_ROOM_MM = 30.0


def accepted(case: Case, edit: Edit, knowledge: Knowledge) -> bool:
    """Whether an edit may be offered: it can be made, and what comes of it can be shown."""
    return not refusal(case, edit, knowledge)


def refusal(case: Case, edit: Edit, knowledge: Knowledge) -> str:
    """Why an edit can't be made, or what comes of it not be shown; empty where it can."""
    try:
        check_edit(case, apply(case, edit), knowledge)
    except InvalidCase as error:
        return error.faults[0].message
    return ""


def can_be_shown(case: Case, edit: ReplaceConstruct, knowledge: Knowledge) -> bool:
    """The same for a whole construct that is in order by itself: there is no need to make it anew to see that."""
    constructs = put(case.constructs, edit.target, edit.value)
    try:
        check_edit(case, case.model_copy(update={"constructs": constructs}), knowledge)
    except InvalidCase:
        return False
    return True


def new_line(one: ConstructAssessment) -> AddLine | None:
    """One more line in the middle of the longest fragment; None where there is no room."""
    lines = one.layout.fracture.lines
    if len(lines) >= MAX_LINES:
        return None
    starts = [END_MARGIN_MM, *(line.extent_mm[1] for line in lines)]
    ends = [*(line.extent_mm[0] for line in lines), one.layout.shape.length_mm - END_MARGIN_MM]
    room, start = max((end - start, start) for start, end in zip(starts, ends, strict=True))
    if room < NEW_LINE_ROOM_MM:
        return None
    return AddLine(target=one.target, value=FractureLine(position_mm=round(start + room / 2)))


def wedge_on(one: ConstructAssessment, side: Side, line: int | None = None) -> SetWedge:
    """A wedge on this side: the one there is turned over or set to another line, or a new one at the first line."""
    wedge = one.construct.fracture.wedge
    length, at = (WEDGE_LENGTH_MM, 0) if wedge is None else (wedge.length_mm, wedge.line)
    value = Wedge(side=side, length_mm=length, line=at if line is None else line)
    return SetWedge(target=one.target, wedge=value)


def plate_of_series(one: ConstructAssessment, series: PlateSeries) -> SetPlate | None:
    """The same plate in another series: as many holes, or the nearest number made that fits; None where none does."""
    holes = nearest_made(series, one.construct.plate.holes, one.layout.shape.length_mm)
    return None if holes is None else _plate(one, series, holes, one.construct.plate.centre_mm)


def nearest_made(series: PlateSeries, wanted: int, length_mm: float) -> int | None:
    """The number of holes made that comes nearest, of plates no longer than the bone; None where there is none."""
    fits = [n for n in series.holes_made if plate_length(series, n) <= length_mm]
    return min(fits, key=lambda n: (abs(n - wanted), n), default=None)


def plate_of_holes(one: ConstructAssessment, series: PlateSeries, holes: int) -> SetPlate | None:
    """More or fewer holes at the distal end, hole 1 where it is as long as the bone allows; None: it is too long."""
    if plate_length(series, holes) > one.layout.shape.length_mm:
        return None
    return _plate(one, series, holes, one.layout.holes[0].s_mm - hole_offsets(series, holes)[0])


def _plate(one: ConstructAssessment, series: PlateSeries, holes: int, centre_mm: float) -> SetPlate:
    """The plate with its centre there, or as near to it as the bone is long enough."""
    low, high = plate_range(series, holes, one.layout.shape.length_mm)
    centre = round(min(max(centre_mm, low), high), 3)
    return SetPlate(target=one.target, series=series.key, holes=holes, centre_mm=centre)
