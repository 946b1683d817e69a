"""The order in pictures: the construct after each step."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Query, Response
from pydantic import BaseModel, ConfigDict, Field

from app.drawing import Room, View, draw_state
from app.order import plan, states
from app.web.http.errors import documented
from app.web.http.etag import etag
from app.web.http.parameters import ROOM, CaseId, ConstructInAddress, construct_at, room_of
from app.web.state import StateDep

router = APIRouter(prefix="/api/v1", tags=["order"])

WINDOW = r"^-?[0-9]{1,4}(\.[0-9]{1,4})?,-?[0-9]{1,4}(\.[0-9]{1,4})?$"
HIGHEST_STEP = 9999  # more than 24 holes and six lag screws can ask for

StepNumber = Annotated[int, Path(ge=1, le=HIGHEST_STEP, description="The step's number, from 1.")]


class Look(BaseModel):
    """How a step is looked at."""

    model_config = ConfigDict(extra="forbid", validate_by_name=True, validate_by_alias=True, allow_inf_nan=False)

    target: ConstructInAddress = Field(default=0, alias="construct")
    view: str | None = Field(
        default=None, max_length=24, pattern=WINDOW, description="`start,end` of the window along the shaft, mm."
    )
    room: str | None = Field(
        default=None,
        max_length=20,
        pattern=f"^{ROOM}$",
        description="`width,height` that the screen has for the drawing, CSS pixels; instead of `bold`.",
    )
    times: float = Field(default=1, ge=1, le=10, description="How much larger gaps and movements are drawn than true.")
    bold: float = Field(default=1, ge=1, le=3, description="How much larger than usual text and strokes are.")
    roomy: bool = Field(default=True, description="Keep the measures of the interactive sketch, chart included.")

    @property
    def size(self) -> float | Room:
        """The screen's room if it was told, or how bold to draw."""
        return room_of(self.room) or self.bold

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
    case_id: CaseId, step: StepNumber, state: StateDep, response: Response, look: Annotated[Look, Query()]
) -> AfterStep:
    """What one step of the order has changed, drawn."""
    snapshot = state.store.get(case_id)
    one = construct_at(state.assessed(snapshot).constructs, look.target)
    found, done = states(one.layout), plan(one.layout)
    if step > len(found):
        raise HTTPException(404, f"This order has {len(found)} steps; there is no number {step}.")
    after = found[step - 1]
    response.headers["ETag"] = etag(snapshot.version)
    return AfterStep(
        version=snapshot.version,
        step=step,
        steps=len(found),
        what=done[step - 1].what,
        sentence=after.sentence,
        screws=list(after.screws),
        offsets=[
            Moved(fragment=o.fragment, ds_mm=o.ds_mm, dy_mm=o.dy_mm, rotation_deg=o.rotation_deg) for o in after.offsets
        ],
        drawing=draw_state(one, after, view=look.window, times=look.times, bold=look.size, roomy=look.roomy),
    )
