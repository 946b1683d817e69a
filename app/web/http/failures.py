"""One line in the log for every request that failed by no fault of whoever asked, as JSON, for programs and people."""

import json
import logging
from dataclasses import dataclass
from datetime import UTC, datetime

from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.store import Unavailable
from app.web.http.writes import written_in

NAME = "fishplate.failure"
ASKED_TO_LOOK = "Look at the traceback beside this line, and report it as a fault of Fishplate."
OTHERWISE = "The server is overloaded or stopping; look at its load."

log = logging.getLogger("fishplate.failures")


class LogFailures:
    """Logs answers of 500 and more: when, what was asked, what became of a write, what is wrong, what to do.

    Addresses are logged as their patterns with the case's id: a reader's link is a secret, and so is what is asked for.
    """

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        scope[NAME] = failure = Failure()
        status = 0

        async def heeding(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
            await send(message)

        try:
            await self._app(scope, receive, heeding)
        except Exception as error:
            failure.error, failure.written = error, written_in(Request(scope))
            status = max(status, 500)
            raise
        finally:
            if status >= 500:
                log.error("%s", line(scope, status, failure))


@dataclass(slots=True)
class Failure:
    """What is known of why a request failed; made for each request, filled in by whoever answers it."""

    error: BaseException | None = None
    written: bool | None = False
    scope: Scope | None = None  # as the route has it, below a reader's link too


def note(scope: Scope, error: BaseException, written: bool | None) -> None:
    """Say why the request fails, for the line in the log."""
    failure = scope.get(NAME)
    if isinstance(failure, Failure):
        failure.error, failure.written, failure.scope = error, written, scope


def line(scope: Scope, status: int, failure: Failure) -> str:
    """The line: one JSON object."""
    error, scope = failure.error, failure.scope or scope
    if isinstance(error, Unavailable):
        cause, what, remedy = error.cause, str(error), error.operator
    elif error is not None:
        cause, what, remedy = "unexpected", type(error).__name__, ASKED_TO_LOOK
    else:
        cause, what, remedy = "busy", "the answer was refused or took too long", OTHERWISE
    told = {
        "time": datetime.now(UTC).isoformat(timespec="milliseconds"),
        "event": "request-failed",
        "status": status,
        "method": scope["method"],
        "route": _route(scope),
        "case": scope.get("path_params", {}).get("case_id"),
        "written": failure.written,
        "cause": cause,
        "what": what,
        "do": remedy,
    }
    return json.dumps(told, ensure_ascii=False)


def _route(scope: Scope) -> str:
    pattern = getattr(scope.get("route"), "path", None)
    return str(pattern) if pattern else "(none)"
