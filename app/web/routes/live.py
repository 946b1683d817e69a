"""The live line: previews over one WebSocket, for a page in which something is being dragged.

It answers as ``POST …/preview`` does, word for word, but for the drawing: of that it says only the lines that are not
as in the answer before. A drag asks thirty times a second and more, and a request of its own takes a browser and a
server twice as long as a message on a line that is open. A page that gets no line, for instance behind a proxy that
lets none through, goes on with requests.
"""

import asyncio
import time
from contextlib import suppress
from dataclasses import replace
from typing import Any

from fastapi import APIRouter, WebSocket
from fastapi.concurrency import run_in_threadpool
from fastapi.exceptions import RequestValidationError
from pydantic import Field, ValidationError
from starlette.websockets import WebSocketDisconnect

from app.case import InvalidCase
from app.store import Preview, Snapshot, StoreError
from app.web.access.gate import PASS, Access, holder
from app.web.access.places import Full
from app.web.http.parameters import CaseId
from app.web.http.websocket_protocol import MOST_BYTES
from app.web.panels.preview import Question, TriedEdit, previewed, redrawn
from app.web.panels.redraw import Redraw
from app.web.panels.speculation import continued
from app.web.routes.cases import PreviewRequest
from app.web.state import ServerState

LONGEST_S = 120.0  # a line is opened anew after that, and the pass looked at anew: signing out ends none before
IDLE_S = 60.0
FRESH_S = 0.25  # how long a case counts as unchanged while something is dragged: four readings a second, not sixty
NO_TEXT, TOO_LONG = 1003, 1009  # RFC 6455, section 7.4.1
NOT_ALLOWED = 1008  # as above
TRY_LATER = 1013  # IANA's registry of WebSocket close codes

router = APIRouter()


class LiveRedraw(Redraw):
    """A redraw whose drawing is told line by line."""

    lines: dict[int, str] | None = Field(
        default=None,
        description="Lines that differ from the drawing before, by number from 0; `drawing` is empty then.",
    )


class Page:
    """The page at the other end: what it has been drawn last, what it asked, and what it will probably ask next."""

    def __init__(self, case_id: str, state: ServerState) -> None:
        self._case_id = case_id
        self._state = state
        self._lines: list[str] = []
        self._read: tuple[float, Snapshot] | None = None
        self._asked: list[Question] = []
        self._shared: Preview | None = None

    def answered(self, asked: PreviewRequest) -> LiveRedraw:
        """The answer to one question."""
        question = asked.question
        self._asked = [*self._asked[-1:], question]
        with self._state.questions.answering():
            snapshot = self._snapshot(asked.version)
            redraw = previewed(self._state, snapshot, question, asked.seq, asked.hand)
        trying = question.edit is not None
        self._shared = Preview(snapshot.version, asked.shown, None, asked.seq, asked.hand) if trying else None
        return self._told(redraw)

    def leave(self) -> None:
        """Nothing is tried here any more: a window that was closed, or a machine that went down, says no last word."""
        if self._shared is not None:
            self._state.changes.preview(self._case_id, self._shared)

    def work_ahead(self) -> None:
        """Make ready the answer to what is asked next if the drag goes on as it did."""
        if len(self._asked) < 2 or self._read is None:
            return
        before, last = self._asked
        edit = before.edit and last.edit and continued(before.edit.document, last.edit.document)
        if not edit:
            return
        with self._state.questions.idle() as free, suppress(InvalidCase, StoreError):
            if free:
                redrawn(self._state, self._read[1], replace(last, edit=TriedEdit.of(edit)))

    def _snapshot(self, shown: int | None) -> Snapshot:
        """The case as it stands, or stood a moment ago if that is what the page shows too."""
        now = time.monotonic()
        if self._read is not None and self._read[1].version == shown and now - self._read[0] < FRESH_S:
            return self._read[1]
        snapshot = self._state.store.get(self._case_id)
        self._read = now, snapshot
        return snapshot

    def _told(self, redraw: Redraw) -> LiveRedraw:
        """What the page needs to hear to have this drawing."""
        before, self._lines = self._lines, redraw.drawing.split("\n")
        if len(before) != len(self._lines):
            return LiveRedraw.model_construct(**dict(redraw))
        pairs = enumerate(zip(before, self._lines, strict=True))
        new = {number: line for number, (old, line) in pairs if line != old}
        return LiveRedraw.model_construct(**{**dict(redraw), "drawing": "", "lines": new})


@router.websocket("/api/v1/cases/{case_id}/live")
async def live(socket: WebSocket, case_id: CaseId) -> None:
    """Answer previews one after another, until the page goes, falls silent or has been at it for long."""
    state: ServerState = socket.app.state.server
    try:
        with state.lines.one(holder(socket.scope), reads_only=False):
            await socket.accept()
            await _converse(socket, Page(case_id, state))
    except Full:
        await socket.close(TRY_LATER)  # the page goes on with requests, and tries again


async def _converse(socket: WebSocket, page: Page) -> None:
    access: Access = socket.app.state.access
    ahead: asyncio.Task[None] | None = None
    with suppress(WebSocketDisconnect):  # gone before it heard the answer
        try:
            async with asyncio.timeout(LONGEST_S):
                while True:
                    async with asyncio.timeout(IDLE_S):
                        message = await socket.receive()
                    if message["type"] == "websocket.disconnect":
                        return
                    if access.ended.over(socket.scope[PASS]):
                        await socket.close(NOT_ALLOWED)
                        return
                    text = message.get("text")
                    if text is None or len(text) > MOST_BYTES:
                        await socket.close(TOO_LONG if text else NO_TEXT)
                        return
                    await socket.send_text(await run_in_threadpool(_answer, socket, page, text))
                    if ahead is None or ahead.done():
                        ahead = asyncio.create_task(run_in_threadpool(page.work_ahead))
        except TimeoutError:
            await socket.close()
        finally:
            page.leave()


def _answer(socket: WebSocket, page: Page, text: str) -> str:
    try:
        return page.answered(PreviewRequest.model_validate_json(text)).model_dump_json(by_alias=True)
    except ValidationError as error:
        return _refused(socket, RequestValidationError(error.errors()))
    except (InvalidCase, StoreError) as error:
        return _refused(socket, error)


def _refused(socket: WebSocket, error: Exception) -> str:
    """What the application answers to this error when a request raises it."""
    handlers: dict[Any, Any] = socket.app.exception_handlers
    handler = next(handlers[kind] for kind in type(error).__mro__ if kind in handlers)
    return bytes(handler(socket, error).body).decode()
