"""What holds for every request and answer: limits on bodies, same origin for writes, strict headers."""

import base64
import hashlib
import re
from collections.abc import Callable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MAX_BODY_BYTES = 1_000_000
UPLOADS, MAX_UPLOAD_BYTES = "/import", 25_000_000  # a whole library, packed
SAFE = frozenset({"GET", "HEAD", "OPTIONS", "TRACE"})

CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; "
    "font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "Content-Security-Policy": CONTENT_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "same-origin",  # with no-referrer browsers call the origin of our own forms "null"
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    "Cache-Control": "no-cache",
}

Refuse = Callable[[str, int, str], Response]
_STYLE = re.compile(r"<style[^>]*>(.*?)</style>", re.DOTALL)


def drawing_policy(svg: str) -> str:
    """The policy of a stand-alone drawing: nothing but the style sheets inside it, by their hash, and its fonts."""
    sheets = _STYLE.findall(svg)
    sums = [base64.b64encode(hashlib.sha256(sheet.encode()).digest()).decode() for sheet in sheets]
    styles = " ".join(f"'sha256-{one}'" for one in sums) or "'none'"
    return f"default-src 'none'; style-src {styles}; font-src data:; base-uri 'none'; frame-ancestors 'none'"


def same_origin(headers: Headers) -> bool:
    """Whether a write comes from our own pages, or from a program that is no browser."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    return origin is None or urlsplit(origin).netloc == headers.get("host")


def _is_json(headers: Headers) -> bool:
    kind = headers.get("content-type", "").split(";")[0].strip().lower()
    return kind == "application/json"


async def hang_up(_scope: Scope, _receive: Receive, send: Send) -> None:
    """Refuse a WebSocket: the browser sees 403."""
    await send({"type": "websocket.close", "code": 1008})


class Guard:
    """Refuses bodies over the limit, writes from other sites, and API bodies that don't say they are JSON.

    A WebSocket counts as a write: no rule of the browser keeps other sites' pages from opening one.
    """

    def __init__(self, app: ASGIApp, refuse: Refuse) -> None:
        self._app = app
        self._refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "websocket":
            await (self._app if same_origin(Headers(scope=scope)) else hang_up)(scope, receive, send)
            return
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        body = None
        if scope["method"] not in SAFE:
            if not same_origin(headers):
                await self._refuse(scope["path"], 403, "Writing from another site is not allowed.")(
                    scope, receive, send
                )
                return
            most = _most(scope["path"], headers)
            body = await _read(headers, receive, most)
            if body is None:
                answer = self._refuse(scope["path"], 413, f"The request is too large; the limit is {most} bytes.")
                answer.headers["Connection"] = "close"
                await answer(scope, receive, send)
                return
            if body and scope["path"].startswith("/api/") and not _is_json(headers):
                await self._refuse(scope["path"], 415, "Send JSON, with Content-Type: application/json.")(
                    scope, receive, send
                )
                return
        await self._app(scope, receive if body is None else _again(body, receive), send)


def _most(path: str, headers: Headers) -> int:
    """The limit of a body, bytes: more for a file sent by the form that takes libraries in."""
    sent = headers.get("content-type", "").startswith("multipart/form-data")
    return MAX_UPLOAD_BYTES if sent and path == UPLOADS else MAX_BODY_BYTES


async def _read(headers: Headers, receive: Receive, most: int) -> bytes | None:
    """The whole body, or None if it is over the limit; counted as it comes, whatever Content-Length says."""
    told = headers.get("content-length", "0")
    if not told.isdecimal() or int(told) > most:
        return None
    read = bytearray()
    while True:
        message = await receive()
        if message["type"] != "http.request":
            return bytes(read)
        read += message.get("body", b"")
        if len(read) > most:
            return None
        if not message.get("more_body", False):
            return bytes(read)


def _again(body: bytes, receive: Receive) -> Receive:
    given = False

    async def replay() -> Message:
        nonlocal given
        if given:
            return await receive()
        given = True
        return {"type": "http.request", "body": body, "more_body": False}

    return replay


class StrictHeaders:
    """Puts the security headers on every answer that doesn't carry its own."""

    def __init__(self, app: ASGIApp) -> None:
        self._app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        await self._app(scope, receive, with_headers if scope["type"] == "http" else send)
