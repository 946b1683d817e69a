"""How long an answer may take to begin."""

import asyncio

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.web.http.headers import Refuse

ANSWER_S = 10.0
LIBRARY_S = 120.0  # thousands of cases, each written for good before the next
LONGER = {"/import": LIBRARY_S, "/library.zip": LIBRARY_S}

TOO_SLOW = "The answer took too long and was given up; if this was a change, look whether it was kept."


class TimeLimit:
    """Gives up on a request, its body included, whose answer has not begun in time.

    What has begun may go on: an event stream lasts for hours, and a download as long as the line is slow.
    """

    def __init__(self, app: ASGIApp, refuse: Refuse, seconds: float = ANSWER_S) -> None:
        self._app = app
        self._refuse = refuse
        self._seconds = seconds

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        begun = False

        async def beginning(message: Message) -> None:
            nonlocal begun
            if not begun:
                if limit.expired():
                    return
                begun = True
                limit.reschedule(None)
            await send(message)

        try:
            async with asyncio.timeout(LONGER.get(scope["path"], self._seconds)) as limit:
                await self._app(scope, receive, beginning)
        except TimeoutError:
            if not limit.expired():
                raise  # somebody else's
        if limit.expired():
            answer = self._refuse(scope["path"], 503, TOO_SLOW)
            answer.headers["Retry-After"] = "5"
            await answer(scope, receive, send)
