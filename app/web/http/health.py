"""For those who watch over the server: is the process alive, can it serve."""

from typing import Any, Literal

from fastapi import APIRouter, Request
from fastapi.responses import JSONResponse
from pydantic import BaseModel

from app.web.http.errors import Problem
from app.web.http.failures import note
from app.web.state import StateDep

router = APIRouter(prefix="/health", tags=["health"])


class Health(BaseModel):
    """All is well."""

    status: Literal["live", "ready"]


@router.get("/live")
async def live() -> Health:
    """The process runs; it needs no thread and no database to say so."""
    return Health(status="live")


@router.get("/ready", response_model=Health, responses={503: {"model": Problem}})
def ready(request: Request, state: StateDep) -> Any:
    """The process can serve: its database was read and written within the last second."""
    trouble = state.store.trouble()
    if trouble is None:
        return Health(status="ready")
    note(request.scope, trouble, trouble.written)
    sentence = f"Not ready: {trouble}"
    return JSONResponse(Problem(status=503, error=sentence, faults=[]).model_dump(exclude_unset=True), 503)
