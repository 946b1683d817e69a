"""The map of layouts: as a document over the API, and as parts of the sketch page."""

from contextlib import suppress
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, HTTPException, Query, Response
from fastapi.responses import HTMLResponse

from app.case import Case, apply
from app.layout_map.filling import NoMapError
from app.layout_map.shape import MapDocument
from app.web.http.errors import documented
from app.web.http.parameters import CaseId, ConstructInQuery, construct_at
from app.web.panels.loading import Loads, LoadsDep, loadings_of, query_of
from app.web.panels.variants import NOW, is_key, variant, whatifs_of
from app.web.state import ServerState, StateDep

if TYPE_CHECKING:
    from app.store import Snapshot
    from app.web.panels.map_desk import MapOf, Panel

api = APIRouter(prefix="/api/v1", tags=["map of layouts"])
router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

AxisInQuery = Annotated[str | None, Query(max_length=20, pattern="^[a-z-]+$", description="A figure of the map.")]


def _axes(x: AxisInQuery = None, y: AxisInQuery = None) -> tuple[str | None, str | None]:
    return x, y


AxesDep = Annotated[tuple[str | None, str | None], Depends(_axes)]


def _map_of(case: Case, construct: int, loads: Loads = ()) -> "MapOf":
    from app.web.panels.map_desk import MapOf  # numpy loads when a map is asked for

    construct_at(case.constructs, construct)
    return MapOf(case, construct, loadings_of(case, loads).get(construct))


def _panel(
    state: ServerState, snapshot: "Snapshot", construct: int, axes: tuple[str | None, str | None], loads: Loads
) -> "Panel":
    from app.web.panels.layout_map import Others
    from app.web.panels.map_desk import Panel

    whatifs = ((one.name, one.construct) for one in whatifs_of(state, snapshot, construct))
    suggested = state.suggested.peek((snapshot.id, snapshot.version, construct)) or ()
    others = Others(tuple((name, found) for name, found in whatifs if found is not None), suggested)
    file = f"/api/v1/cases/{snapshot.id}/map?construct={construct}{query_of(loads)}"
    return Panel(axes, others, snapshot.version, file)


@api.get("/cases/{case_id}/map", response_model=MapDocument, responses=documented(404))
def get_map(case_id: CaseId, state: StateDep, loads: LoadsDep, construct: ConstructInQuery = 0) -> Response:
    """Every way to fill the plate's holes, with its figures and what the rules that count say of it."""
    from app.web.panels.map_desk import MapDesk

    try:
        text = state.maps.call(MapDesk.document, _map_of(state.store.get(case_id).case, construct, loads))
    except NoMapError as error:
        raise HTTPException(422, str(error)) from error
    return Response(text, media_type="application/json")


@router.get("/cases/{case_id}/map")
def map_part(
    case_id: CaseId,
    state: StateDep,
    loads: LoadsDep,
    axes: AxesDep,
    construct: ConstructInQuery = 0,
    bands: bool = False,
) -> HTMLResponse:
    """The panel of the sketch page, which says the version that it was made of.

    ``bands`` has single changes looked at over what is not known first, which takes long; what is known of that
    already is told in any case.
    """
    from app.web.panels.map_desk import MapDesk

    snapshot = state.store.get(case_id)
    of = _map_of(snapshot.case, construct, loads)
    if bands:
        with suppress(NoMapError):  # the panel says why
            state.maps.call(MapDesk.draw, of)
    return HTMLResponse(state.maps.call(MapDesk.panel, of, _panel(state, snapshot, construct, axes, loads)))


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
    from app.web.panels.map_desk import MapDesk, Which

    of = _map_of(state.store.get(case_id).case, construct, loads)
    where = None if cell is None else (int(cell.split(",")[0]), int(cell.split(",")[1]))
    try:
        return HTMLResponse(state.maps.call(MapDesk.listed, of, axes, Which(where, screws)))
    except NoMapError as error:
        raise HTTPException(422, str(error)) from error


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
    from app.web.panels.map_desk import MapDesk

    swap = variant(state, snapshot, construct, key).swap
    return state.maps.call(
        MapDesk.far, _map_of(snapshot.case if swap is None else apply(snapshot.case, swap), construct)
    )
