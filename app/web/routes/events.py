"""Looking on: the conference view, its pictures, and word of every change as it happens."""

import json
from collections.abc import AsyncIterator
from dataclasses import replace
from typing import Annotated, Any

from fastapi import APIRouter, Depends, HTTPException, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse
from fastapi.sse import EventSourceResponse, ServerSentEvent

from app.case import InvalidCase
from app.case.faults import Fault, not_json
from app.store import GONE, NotFound, Pins, Preview, Word
from app.store.preview import EDIT_BYTES
from app.web.access.gate import AccessDep, PermissionDep, holder
from app.web.access.permissions import Owner
from app.web.access.places import Full
from app.web.access.tokens import ends_at
from app.web.http.errors import documented
from app.web.http.parameters import CaseId, ConstructInQuery
from app.web.panels.conference import Picture, Scene, picture
from app.web.panels.variants import NOW, whatifs_of
from app.web.state import PictureKey, ServerState, StateDep
from app.web.templates import drawn

RETRY_MS = 1000
AGAIN_S = 10
TOO_MANY = "As many windows follow cases as this server can serve; close some. A page tries again by itself."

router = APIRouter(prefix="/api/v1", tags=["following"])
pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

Step = Annotated[int, Query(ge=0, le=9999, description="How many steps of the order are done; 0: all.")]
Variant = Annotated[str, Query(pattern="^(now|w[0-9]{1,18})$", description="`now`, or `w` and a what-if's number.")]
Version = Annotated[int | None, Query(ge=0, le=2**53, description="The version that the edit is tried on.")]
Times = Annotated[int, Query(ge=1, le=10, description="How much larger than true movements of a step are drawn.")]
Hand = Annotated[str, Query(pattern="^[0-9a-f-]{0,36}$", description="Whose previews are left out.")]
EditText = Annotated[str | None, Query(max_length=EDIT_BYTES, description="An edit being tried, as JSON.")]


def _scene(construct: ConstructInQuery = 0, variant: Variant = NOW, step: Step = 0, times: Times = 1) -> Scene:
    """What is asked to be shown, as stored."""
    return Scene(construct, variant, step, times=times)


SceneDep = Annotated[Scene, Depends(_scene)]


async def _known(case_id: CaseId, state: StateDep) -> str:
    """The id of a case that is there; asked before the stream begins, when an error can still be told."""
    if not await run_in_threadpool(state.store.versions, case_id):
        message = f"no such case: {case_id}"
        raise NotFound(message)
    return case_id


async def _place(request: Request, state: StateDep, held: PermissionDep) -> AsyncIterator[None]:
    """A place among those who follow, for as long as the stream lasts."""
    try:
        with state.following.one(holder(request.scope), reads_only=not isinstance(held, Owner)):
            yield
    except Full:
        raise HTTPException(503, TOO_MANY, {"Retry-After": str(AGAIN_S)}) from None


@router.get("/cases/{case_id}/events", response_class=EventSourceResponse, responses=documented(404))
async def events(
    case_id: Annotated[str, Depends(_known)],
    _: Annotated[None, Depends(_place)],
    state: StateDep,
    access: AccessDep,
    held: PermissionDep,
    hand: Hand = "",
) -> AsyncIterator[ServerSentEvent]:
    """Word of every change of a case: `version`, `pins` (its what-ifs), `preview` (an edit being tried; null: none).

    A page that sketches names its own hand, and is not told what it tries itself.

    A stream begins with the version as it stands, whatever Last-Event-ID says: one who comes back needs the present
    state, not what was missed.
    """
    # First listen, then look: nothing falls in between.
    with state.changes.subscribe(case_id) as words, access.ended.closing(held, words.close):
        version = (await run_in_threadpool(state.store.versions, case_id)).get(case_id, GONE)
        if version == GONE:
            return
        yield ServerSentEvent(event="version", data={"version": version}, id=str(version), retry=RETRY_MS)
        async for word in words:
            if isinstance(word, Preview) and hand and word.hand == hand:
                continue
            if word != version:  # whoever watches the database tells of what is there already, too
                yield _told(word)


def _told(word: Word) -> ServerSentEvent:
    if isinstance(word, Preview):
        data = {
            "version": word.version,
            "construct": word.construct,
            "edit": word.edit,
            "seq": word.seq,
            "hand": word.hand,
        }
        return ServerSentEvent(event="preview", data=data)
    if isinstance(word, Pins):
        return ServerSentEvent(event="pins", data={"count": word.count})
    return ServerSentEvent(event="version", data={"version": word}, id=str(word))


@router.get("/cases/{case_id}/picture", response_model=Picture, responses=documented(404))
async def get_picture(
    case_id: CaseId,
    state: StateDep,
    scene: SceneDep,
    version: Version = None,
    edit: EditText = None,
) -> Any:
    """A whole picture of a case for those who look on: as stored, with an edit being tried, or of a what-if.

    An edit that was made on another version than the stored one is left out. Nothing is written.
    """
    scene = replace(scene, version=version, edit=_edit(edit))
    if version is None:
        return _json(await run_in_threadpool(_picture, state, case_id, scene, edit))
    # Fifty who follow one drag ask for the same picture at once; only the first of them needs a thread.
    key = _picture_key(case_id, version, scene, edit)
    found = state.pictures.peek(key)
    return _json(found or await state.painting.get_async(key, lambda: _picture(state, case_id, scene, edit)))


def _json(body: bytes) -> Response:
    return Response(body, media_type="application/json")


def _edit(text: str | None) -> dict[str, object] | None:
    if text is None:
        return None
    try:
        edit = json.loads(text)
    except (ValueError, RecursionError) as error:
        raise InvalidCase((Fault("edit", not_json(error)),)) from error
    if not isinstance(edit, dict):
        raise InvalidCase((Fault("edit", "must be an edit"),))
    return edit


def _picture_key(case_id: str, version: int, scene: Scene, edit: str | None) -> PictureKey:
    return case_id, version, scene.construct, scene.variant, scene.step, scene.times, edit


def _picture(state: ServerState, case_id: str, scene: Scene, edit: str | None) -> bytes:
    snapshot = state.store.get(case_id)
    if scene.variant != NOW or scene.version != snapshot.version:
        edit = None
    key = _picture_key(case_id, snapshot.version, scene, edit)
    return state.pictures.get(key, lambda: picture(state, snapshot, scene).model_dump_json(by_alias=True).encode())


@pages.get("/cases/{case_id}/conference")
def conference(
    request: Request,
    case_id: CaseId,
    state: StateDep,
    held: PermissionDep,
    scene: SceneDep,
) -> HTMLResponse:
    """The conference view: full screen, its controls out of sight while nobody moves."""
    snapshot = state.store.get(case_id)
    shown = picture(state, snapshot, scene)
    whatifs = whatifs_of(state, snapshot, scene.construct)
    values = {
        "root": request.scope.get("root_path", ""),
        "owner": isinstance(held, Owner),
        "times": scene.times,
        "ends_at": None if isinstance(held, Owner | None) else ends_at(held.issued_ms),
        "case_id": case_id,
        "shown": shown,
        "drawing": drawn(shown.drawing),
        "words": drawn(shown.words),
        "variants": [[NOW, "Now"], *([f"w{one.id}", one.name] for one in whatifs)],
    }
    return HTMLResponse(state.pages.html("conference.html", **values))
