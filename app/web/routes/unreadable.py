"""What can be done with a case that can't be read: take it home as it is stored, go back to what could be."""

from typing import Annotated

from fastapi import APIRouter, Form, Query, Response
from fastapi.responses import HTMLResponse, RedirectResponse

from app.store.content import stored_name
from app.web.http.idempotency import KeyInForm
from app.web.http.parameters import CaseId
from app.web.routes.whatifs import MOST_ID
from app.web.state import StateDep

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
JSON = "application/json"


@router.get("/cases/{case_id}/stored")
def stored(case_id: CaseId, state: StateDep, revision: Annotated[int, Query(ge=1, le=MOST_ID)]) -> Response:
    """A revision as it lies in the database, whether it can be read or not."""
    content = state.store.stored(case_id, revision)
    headers = {"Content-Disposition": f'attachment; filename="{stored_name(case_id, revision)}"'}
    return Response(content, media_type=JSON, headers=headers)


@router.post("/cases/{case_id}/earlier")
def earlier(
    case_id: CaseId, state: StateDep, keyed: KeyInForm, version: Annotated[int, Form(ge=1, le=2**53)]
) -> RedirectResponse:
    """Undo, as a form: the page of a case that can't be read has no drawing board."""
    state.store.undo(case_id, version, keyed("undo"))
    return RedirectResponse(f"/cases/{case_id}", 303)
