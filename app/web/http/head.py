"""HEAD wherever GET works: the same status and header fields, and no body (RFC 9110, section 9.3.2)."""

from starlette.types import ASGIApp, Message, Receive, Scope, Send


class HeadAsGet:
    """Has a GET answered, and keeps its body back; a stream without end is hung up on once it has begun."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] != "http" or scope["method"] != "HEAD":
            await self._app(scope, receive, send)
            return
        begun = False

        async def hung_up() -> Message:
            return {"type": "http.disconnect"} if begun else await receive()

        async def head_only(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                await send(message)
                await send({"type": "http.response.body", "body": b""})
                begun = True

        await self._app({**scope, "method": "GET"}, hung_up, head_only)
