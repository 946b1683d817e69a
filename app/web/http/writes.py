"""What became of the writes of one request, for the answer when something else goes wrong."""

from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from app.store import WRITES, Writes

NAME = "fishplate.writes"


class CountWrites:
    """Has the store note down, for each request, what was written."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "http":
            scope[NAME] = writes = Writes()
            WRITES.set(writes)  # each request is served in a context of its own
        await self._app(scope, receive, send)


def written_in(request: Request) -> bool | None:
    """Whether the request has written anything; None: that isn't known."""
    writes: Writes | None = request.scope.get(NAME)
    if writes is None or writes.doubtful:
        return None
    return writes.kept > 0
