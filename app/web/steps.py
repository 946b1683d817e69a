"""The order in pictures and on paper: states after each step, plan sheet, tool list."""

from dataclasses import dataclass
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Path, Query, Response
from fastapi.responses import HTMLResponse
from pydantic import BaseModel, ConfigDict, Field

from app.assess import Assessment, ConstructAssessment
from app.drawing import View, draw_sketch, draw_state
from app.order import bone_order, plan, states, tool_list
from app.store.content import file_name
from app.web.api import CaseId
from app.web.desk import Desk, DeskDep
from app.web.etag import etag
from app.web.pages import drawn
from app.web.problems import documented

router = APIRouter(prefix="/api/v1", tags=["order"])
pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

PDF = "application/pdf"
WINDOW = r"^-?[0-9]{1,4}(\.[0-9]{1,4})?,-?[0-9]{1,4}(\.[0-9]{1,4})?$"
HIGHEST_STEP = 9999  # more than 24 holes and six lag screws can ask for

StepNumber = Annotated[int, Path(ge=1, le=HIGHEST_STEP, description="The step's number, from 1.")]


class Look(BaseModel):
    """How a step is looked at."""

    model_config = ConfigDict(extra="forbid", validate_by_name=True, validate_by_alias=True, allow_inf_nan=False)

    target: int = Field(default=0, ge=0, le=63, alias="construct", description="Which bone of the case, from 0.")
    view: str | None = Field(
        default=None, max_length=24, pattern=WINDOW, description="`start,end` of the window along the shaft, mm."
    )
    times: float = Field(default=1, ge=1, le=10, description="How much larger gaps and movements are drawn than true.")
    bold: float = Field(default=1, ge=1, le=3, description="How much larger than usual text and strokes are.")
    roomy: bool = Field(default=True, description="Keep the measures of the interactive sketch, chart included.")

    @property
    def window(self) -> View | None:
        """The window asked for.

        Raises:
            HTTPException: 422, it is none.
        """
        if self.view is None:
            return None
        start, end = self.view.split(",")
        try:
            return View(float(start), float(end))
        except ValueError as error:
            raise HTTPException(422, f"view: {error}.") from error


class Moved(BaseModel):
    """How far one fragment lies off its planned place: turned about a pivot, then shifted; mm and degrees."""

    fragment: str
    ds_mm: float = Field(description="Along the shaft, distally.")
    dy_mm: float = Field(description="Towards the plate.")
    rotation_deg: float = Field(description="Counter-clockwise with `s` to the right and the plate on top.")


class AfterStep(BaseModel):
    """The construct after one step of its order."""

    version: int
    step: int
    steps: int = Field(description="How many there are.")
    what: str = Field(description="What is done in this step.")
    sentence: str = Field(description="What it has changed.")
    screws: list[str] = Field(description="Ids of the screws that are in.")
    offsets: list[Moved] = Field(description="At true size, whatever `times` is.")
    drawing: str = Field(description="The drawing as SVG.")


@router.get("/cases/{case_id}/steps/{step}", responses=documented(404))
def after_step(
    case_id: CaseId, step: StepNumber, desk: DeskDep, response: Response, look: Annotated[Look, Query()]
) -> AfterStep:
    """What one step of the order has changed, drawn."""
    snapshot = desk.store.get(case_id)
    one = _construct(desk.assessed(snapshot), look.target)
    found, done = states(one.layout), plan(one.layout)
    if step > len(found):
        raise HTTPException(404, f"This order has {len(found)} steps; there is no number {step}.")
    state = found[step - 1]
    response.headers["ETag"] = etag(snapshot.version)
    return AfterStep(
        version=snapshot.version,
        step=step,
        steps=len(found),
        what=done[step - 1].what,
        sentence=state.sentence,
        screws=list(state.screws),
        offsets=[
            Moved(fragment=o.fragment, ds_mm=o.ds_mm, dy_mm=o.dy_mm, rotation_deg=o.rotation_deg) for o in state.offsets
        ],
        drawing=draw_state(one, state, view=look.window, times=look.times, bold=look.bold, roomy=look.roomy),
    )


def _construct(assessment: Assessment, index: int) -> ConstructAssessment:
    if index >= len(assessment.constructs):
        count = len(assessment.constructs)
        raise HTTPException(404, f"This case has {count} bone(s); there is no number {index + 1}.")
    return assessment.constructs[index]


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


def _turns(assessment: Assessment) -> list[ConstructAssessment]:
    """The constructs in the order of fixing."""
    order = bone_order(tuple(one.layout for one in assessment.constructs))
    return [assessment.constructs[index] for index in order]


def _plan_page(one: ConstructAssessment, place: int, count: int) -> PlanPage:
    # What is in ``app.sheet`` loads when it is asked for, the typesetter with it, and not at each start.
    from app.sheet.tables import hole_rows, order_rows, tool_rows
    from app.sheet.words import figures, heading, mechanics_words, plate_line

    return PlanPage(
        heading=heading(one),
        place="" if count == 1 else f"Bone {place} of {count}",
        plate=plate_line(one),
        drawing=drawn(draw_sketch(one, interactive=False, charted=False, prefix=f"p{one.target}-")),
        figures=figures(one),
        mechanics=mechanics_words(one),
        holes=hole_rows(one.layout),
        own_order=one.construct.order is not None,
        order=order_rows(one.layout),
        tools=tool_rows(tool_list((one.layout,))),
        warnings=one.warnings,
    )


@pages.get("/cases/{case_id}/plan")
def plan_page(case_id: CaseId, desk: DeskDep) -> HTMLResponse:
    """The plan to be read and printed, one page for each construct."""
    snapshot = desk.store.get(case_id)
    assessment = desk.assessed(snapshot)
    turns = _turns(assessment)
    values = {
        "snapshot": snapshot,
        "case": snapshot.case,
        "sheets": [_plan_page(one, place, len(turns)) for place, one in enumerate(turns, start=1)],
        "warnings": assessment.warnings,
    }
    return HTMLResponse(desk.pages.html("plan.html", **values))


@pages.get("/cases/{case_id}/plan.pdf")
def plan_pdf(case_id: CaseId, desk: DeskDep, paper: Literal["a4", "letter"] = "a4") -> Response:
    """The plan sheet with its true-size drawing; typesetting takes a while, so this runs beside the event loop."""
    from app.sheet import plan_sheet

    snapshot = desk.store.get(case_id)
    data = plan_sheet(desk.assessed(snapshot), paper=paper)
    name = file_name(snapshot.case.title, snapshot.id).removesuffix(".json")
    headers = {"Content-Disposition": f'attachment; filename="{name}-plan.pdf"', "ETag": etag(snapshot.version)}
    return Response(data, media_type=PDF, headers=headers)


@pages.get("/cases/{case_id}/tools")
def tools_page(case_id: CaseId, desk: DeskDep) -> HTMLResponse:
    """Everything that has to lie on the table, for the whole case."""
    return HTMLResponse(desk.pages.html("tools.html", **_tools(desk, case_id)))


def _tools(desk: Desk, case_id: str) -> dict[str, Any]:
    from app.sheet.words import heading

    snapshot = desk.store.get(case_id)
    turns = _turns(desk.assessed(snapshot))
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
