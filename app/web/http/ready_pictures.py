"""Pictures that are ready or asked for, given out before all else is looked up: a drag is followed by many at once."""

import asyncio
import re
from urllib.parse import parse_qsl

from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.web.http.parameters import CASE_ID
from app.web.state import PictureKey, ServerState

_PICTURE = re.compile(rf".*/api/v1/cases/({CASE_ID})/picture", re.DOTALL)
_NUMBER = re.compile(r"[0-9]{1,15}")
_NUMBERS = ("version", "construct", "step", "times")


class ReadyPictures:
    """Answers from the pictures kept; whatever is not among them goes on to the route, which checks what is asked.

    Of those who ask for the same picture at the same time one goes on, and the others wait until it has an answer.
    It stands behind the gate, so whoever gets here may read the case.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app
        self._asked: dict[PictureKey, asyncio.Event] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        key = _key(scope) if scope["type"] == "http" and scope["method"] == "GET" else None
        if key is None:
            await self._app(scope, receive, send)
            return
        state: ServerState = scope["app"].state.server
        body = state.pictures.peek(key)
        if body is None and key in self._asked:
            await self._asked[key].wait()
            body = state.pictures.peek(key)
        if body is not None:
            await Response(body, media_type="application/json")(scope, receive, send)
        else:
            await self._first(key, scope, receive, send)

    async def _first(self, key: PictureKey, scope: Scope, receive: Receive, send: Send) -> None:
        answered = self._asked.setdefault(key, asyncio.Event())

        def over() -> None:
            answered.set()
            if self._asked.get(key) is answered:
                del self._asked[key]

        async def answering(message: Message) -> None:
            over()  # before it leaves, since it may leave slowly
            await send(message)

        try:
            await self._app(scope, receive, answering)
        finally:
            over()


def _key(scope: Scope) -> PictureKey | None:
    match = _PICTURE.fullmatch(scope["path"])
    if match is None:
        return None
    asked = {"construct": "0", "variant": "now", "step": "0", "times": "1"}
    asked |= parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    if not all(_NUMBER.fullmatch(asked.get(name, "")) for name in _NUMBERS):
        return None
    version, construct, step, times = (int(asked[name]) for name in _NUMBERS)
    return match[1], version, construct, asked["variant"], step, times, asked.get("edit")
