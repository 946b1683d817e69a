"""The plan on paper and on the screen, and the list of tools."""

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any, Literal

from fastapi import APIRouter, Query, Response
from fastapi.responses import HTMLResponse

from app.assess import Assessment, ConstructAssessment
from app.case import Case
from app.drawing import draw_sketch
from app.drawing.layout_map import draw_layout_map
from app.order import bone_order, tool_list
from app.rules import left_open, put_away
from app.store.content import file_name
from app.web.http.etag import etag
from app.web.http.parameters import CaseId
from app.web.state import ServerState, StateDep
from app.web.templates import drawn

if TYPE_CHECKING:
    from app.map_picture import SmallMap

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

PDF = "application/pdf"
MapInQuery = Annotated[bool, Query(alias="map", description="With a small picture of the map of layouts.")]


@dataclass(frozen=True, slots=True)
class PlanPage:
    """One construct on paper."""

    heading: str
    place: str
    plate: str
    drawing: Any
    figures: list[list[str]]
    mechanics: str
    holes: list[list[str]]
    own_order: bool
    order: list[dict[str, str]]
    tools: list[list[str]]
    warnings: tuple[Any, ...]
    noted: tuple[Any, ...]
    before: list[str]
    checks: list[str]
    fallback: list[list[str]]


def _turns(assessment: Assessment) -> list[ConstructAssessment]:
    """The constructs in the order of fixing."""
    order = bone_order(tuple(one.layout for one in assessment.constructs))
    return [assessment.constructs[index] for index in order]


def _plan_page(state: ServerState, one: ConstructAssessment, place: int, count: int) -> PlanPage:
    # What is in ``app.sheet`` loads when it is asked for, the typesetter with it, and not at each start.
    from app.sheet.fallback import fallback_rows
    from app.sheet.tables import hole_rows, order_rows, tool_rows
    from app.sheet.theatre import before_rows, check_rows
    from app.sheet.words import figures, heading, mechanics_words, plate_line

    return PlanPage(
        heading=heading(one),
        place="" if count == 1 else f"Bone {place} of {count}",
        plate=plate_line(one),
        drawing=drawn(draw_sketch(one, interactive=False, charted=False, prefix=f"p{one.target}-")),
        figures=figures(one),
        mechanics=mechanics_words(one, state.drawn(one)),
        holes=hole_rows(one.layout),
        own_order=one.construct.order is not None,
        order=order_rows(one.layout),
        tools=tool_rows(tool_list((one.layout,))),
        warnings=left_open(one.warnings),
        noted=put_away(one.warnings),
        before=before_rows(one),
        checks=check_rows(one.layout),
        fallback=fallback_rows(one.layout, state.knowledge.catalogue),
    )


def _small_map(state: ServerState, case: Case, target: int) -> "SmallMap | None":
    from app.web.panels.map_desk import MapDesk, MapOf  # the solver of all layouts loads when a map is asked for

    return state.maps.call(MapDesk.small, MapOf(case, target))


def _shown_map(state: ServerState, case: Case, target: int) -> tuple[Any, tuple[str, ...]] | None:
    found = _small_map(state, case, target)
    return None if found is None else (drawn(draw_layout_map(found.picture, name="")), found.sentences)


@router.get("/cases/{case_id}/plan")
def plan_page(case_id: CaseId, state: StateDep, mapped: MapInQuery = False) -> HTMLResponse:
    """The plan to be read and printed, one page for each construct."""
    snapshot = state.store.get(case_id)
    assessment = state.assessed(snapshot)
    turns = _turns(assessment)
    values = {
        "snapshot": snapshot,
        "case": snapshot.case,
        "quality": state.knowledge.catalogue.qualities[snapshot.case.bone_quality].label,
        "sheets": [_plan_page(state, one, place, len(turns)) for place, one in enumerate(turns, start=1)],
        "mapped": mapped,
        "maps": [_shown_map(state, snapshot.case, one.target) if mapped else None for one in turns],
        "warnings": left_open(assessment.warnings),
        "noted": put_away(assessment.warnings),
    }
    return HTMLResponse(state.pages.html("plan.html", **values))


@router.get("/cases/{case_id}/plan.pdf")
def plan_pdf(
    case_id: CaseId, state: StateDep, paper: Literal["a4", "letter"] = "a4", mapped: MapInQuery = False
) -> Response:
    """The plan sheet with its true-size drawing; typesetting takes a while, so this runs beside the event loop."""
    from app.sheet import plan_sheet

    snapshot = state.store.get(case_id)
    assessment = state.assessed(snapshot)
    maps = partial(_small_map, state, snapshot.case) if mapped else None
    data = plan_sheet(assessment, state.knowledge.catalogue, paper=paper, drawn=state.drawn, mapped=maps)
    name = file_name(snapshot.case.title, snapshot.id).removesuffix(".json")
    headers = {"Content-Disposition": f'attachment; filename="{name}-plan.pdf"', "ETag": etag(snapshot.version)}
    return Response(data, media_type=PDF, headers=headers)


@router.get("/cases/{case_id}/tools")
def tools_page(case_id: CaseId, state: StateDep) -> HTMLResponse:
    """Everything that has to lie on the table, for the whole case."""
    return HTMLResponse(state.pages.html("tools.html", **_tools(state, case_id)))


def _tools(state: ServerState, case_id: str) -> dict[str, Any]:
    from app.sheet.words import heading

    snapshot = state.store.get(case_id)
    turns = _turns(state.assessed(snapshot))
    found = tool_list(tuple(one.layout for one in turns))
    others = (
        ("Drill bits", found.drills),
        ("Taps", found.taps),
        ("Guides and sleeves", found.sleeves),
        ("Drivers", found.drivers),
        ("Instruments", found.instruments),
    )
    return {
        "snapshot": snapshot,
        "case": snapshot.case,
        "bones": [heading(one) for one in turns],
        "tools": found,
        "others": [(title, items) for title, items in others if items],
    }
