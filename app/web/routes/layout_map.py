"""The map of layouts: as a document over the API, and as parts of the sketch page."""

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Query
from fastapi.responses import HTMLResponse

from app.case import apply
from app.layout_map.filling import NoMapError
from app.layout_map.shape import MapDocument
from app.web.http.errors import documented
from app.web.http.parameters import CaseId, ConstructInQuery, construct_at
from app.web.panels.loading import Loads, LoadsDep, query_of
from app.web.panels.variants import NOW, is_key, variant
from app.web.state import ServerState, StateDep

if TYPE_CHECKING:
    from app.assess import Assessment, ConstructAssessment
    from app.store import Snapshot

api = APIRouter(prefix="/api/v1", tags=["map of layouts"])
router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

AxisInQuery = Annotated[str | None, Query(max_length=20, pattern="^[a-z-]+$", description="A figure of the map.")]


def _axes(x: AxisInQuery = None, y: AxisInQuery = None) -> tuple[str | None, str | None]:
    return x, y


AxesDep = Annotated[tuple[str | None, str | None], Depends(_axes)]


def _looked_at(
    state: ServerState, case_id: str, loads: Loads, construct: int
) -> "tuple[Snapshot, Assessment, ConstructAssessment]":
    snapshot = state.store.get(case_id)
    assessment = state.assessed(snapshot, loads)
    return snapshot, assessment, construct_at(assessment.constructs, construct)


@api.get("/cases/{case_id}/map", response_model=MapDocument, responses=documented(404))
def get_map(case_id: CaseId, state: StateDep, loads: LoadsDep, construct: ConstructInQuery = 0) -> Any:
    """Every way to fill the plate's holes, with its figures and what the rules that count say of it."""
    from app.layout_map.document import map_document  # numpy loads when a map is asked for
    from app.web.panels.layout_map import table_of

    _, assessment, one = _looked_at(state, case_id, loads, construct)
    try:
        return map_document(table_of(state, assessment, one))
    except NoMapError as error:
        raise HTTPException(422, str(error)) from error


@router.get("/cases/{case_id}/map")
def map_part(
    case_id: CaseId,
    state: StateDep,
    loads: LoadsDep,
    axes: AxesDep,
    construct: ConstructInQuery = 0,
    bands: bool = False,
) -> HTMLResponse:
    """The panel of the sketch page; it says the version that it was made of."""
    from app.web.panels.layout_map import map_view

    snapshot, assessment, one = _looked_at(state, case_id, loads, construct)
    try:
        view, why = map_view(state, snapshot, assessment, one, axes, bands), ""
    except NoMapError as error:
        view, why = None, str(error)
    state.questions.pause()
    values = {"map": view, "why": why, "snapshot": snapshot, "current": one.target, "loading": query_of(loads)}
    return HTMLResponse(state.pages.html("_layout_map.html", **values))


@router.get("/cases/{case_id}/map/list")
def map_list(
    case_id: CaseId,
    state: StateDep,
    loads: LoadsDep,
    axes: AxesDep,
    construct: ConstructInQuery = 0,
    cell: Annotated[str | None, Query(pattern="^[0-9]{1,3},[0-9]{1,3}$")] = None,
    screws: Annotated[int | None, Query(ge=0, le=64)] = None,
) -> HTMLResponse:
    """The layouts of one cell of the picture, or those with so many screws."""
    from app.layout_map.table import AXES
    from app.web.panels.layout_map import axes_of, cell_rows, table_of

    _, assessment, one = _looked_at(state, case_id, loads, construct)
    try:
        table = table_of(state, assessment, one)
    except NoMapError as error:
        raise HTTPException(422, str(error)) from error
    x, y = axes_of(table, *axes)
    where = None if cell is None else (int(cell.split(",")[0]), int(cell.split(",")[1]))
    rows, count = cell_rows(table, x, y, where, screws)
    values = {"rows": rows, "count": count, "screws": screws, "x": AXES[x].label, "y": AXES[y].label}
    return HTMLResponse(state.pages.html("_layout_list.html", **values))


@router.get("/cases/{case_id}/conference/map")
def conference_map(
    case_id: CaseId,
    state: StateDep,
    construct: ConstructInQuery = 0,
    key: Annotated[str, Query(alias="variant", max_length=20)] = NOW,
) -> HTMLResponse:
    """The map as the conference view shows it, of the construct as it stands or of a what-if."""
    snapshot = state.store.get(case_id)
    if not is_key(key):
        raise HTTPException(422, "variant: now, or w and a what-if's number.")
    known = ("conference map", snapshot.id, snapshot.version, construct, key)
    return HTMLResponse(state.parts.get(known, lambda: _far_part(state, snapshot, construct, key)))


def _far_part(state: ServerState, snapshot: "Snapshot", construct: int, key: str) -> str:
    from app.web.panels.layout_map import far_view

    shown = variant(state, snapshot, construct, key)
    assessment = state.assessed(snapshot) if shown.swap is None else state.opened(apply(snapshot.case, shown.swap))
    try:
        view, why = far_view(state, assessment, assessment.constructs[construct]), ""
    except NoMapError as error:
        view, why = None, str(error)
    return state.pages.html("_conference_map.html", map=view, why=why)
