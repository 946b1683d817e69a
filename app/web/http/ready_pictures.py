"""Pictures that are ready, given out before anything else is looked up: a drag is followed by many at once."""

import re
from urllib.parse import parse_qsl

from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from app.web.http.parameters import CASE_ID
from app.web.state import ServerState

_PICTURE = re.compile(rf".*/api/v1/cases/({CASE_ID})/picture", re.DOTALL)
_NUMBER = re.compile(r"[0-9]{1,15}")
_NUMBERS = ("version", "construct", "step", "times")


class ReadyPictures:
    """Answers from the pictures kept; whatever is not among them goes on to the route, which checks what is asked.

    It stands behind the gate, so whoever gets here may read the case.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        body = _kept(scope) if scope["type"] == "http" and scope["method"] == "GET" else None
        answer = self._app if body is None else Response(body, media_type="application/json")
        await answer(scope, receive, send)


def _kept(scope: Scope) -> bytes | None:
    match = _PICTURE.fullmatch(scope["path"])
    if match is None:
        return None
    asked = {"construct": "0", "variant": "now", "step": "0", "times": "1"}
    asked |= parse_qsl(scope["query_string"].decode("latin-1"), keep_blank_values=True)
    if not all(_NUMBER.fullmatch(asked.get(name, "")) for name in _NUMBERS):
        return None
    state: ServerState = scope["app"].state.server
    version, construct, step, times = (int(asked[name]) for name in _NUMBERS)
    return state.pictures.peek((match[1], version, construct, asked["variant"], step, times, asked.get("edit")))
