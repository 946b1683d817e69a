"""The gate before every route: what pass a request carries, and what that pass opens."""

import asyncio
import logging
import re
import time
from dataclasses import dataclass
from typing import Annotated
from urllib.parse import quote

from fastapi import Depends, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Receive, Scope, Send

from app.store import Store
from app.web.access.ended import EVERY_S, Ended, last_phrase
from app.web.access.permissions import READING, Owner, Pass, Reader, may
from app.web.access.shared_tries import SharedTries
from app.web.access.throttle import neighbourhood
from app.web.access.tokens import Keys, load_secret, offered_secret
from app.web.http.errors import API_PREFIX
from app.web.http.headers import Refuse, hang_up
from app.web.settings import Settings
from app.web.templates import Pages

log = logging.getLogger(__name__)

COOKIE = "fishplate"
PASS = "fishplate.pass"
FOLLOW = "/follow/"
_FOLLOWED = re.compile(r"(/follow/([^/]+))(/.*)?", re.DOTALL)
_OWN_ADDRESS = re.compile(r"/(?![/\\])[!-~]*")

SIGN_IN = "Sign in first."
ENDED = "This read-only link has ended, or was never one; ask for a new one."
KNOWN = "fishplate-known"
READ_ONLY = "This is a read-only link to one case; it opens nothing else."


@dataclass(frozen=True, slots=True)
class Access:
    """What the gate and the sign-in page share."""

    keys: Keys
    ended: Ended
    tries: SharedTries
    hosts: tuple[str, ...] = ()

    async def look_out(self) -> None:
        """Hear, for as long as the server runs, of what other processes ended, and close what is open by it."""
        while True:
            await asyncio.sleep(EVERY_S)
            try:
                await run_in_threadpool(self.ended.look)
                self.ended.close_ended()
            except Exception:  # whatever it is, the next look may go well, and nobody else would notice that none comes
                log.exception("cannot look for sessions and links that ended elsewhere, trying again")


def open_access(settings: Settings, store: Store) -> Access:
    """With the keys of this server, or of all that share its database, made at the first start.

    Raises:
        OSError: the key file can't be read or written.
    """
    folder = settings.data_dir
    secret = store.shared_secret(offered_secret(folder)) if settings.database_url else load_secret(folder)
    keys = Keys(secret, settings.phrase)
    keys.begin_epoch(last_phrase(store, keys))
    return Access(keys, Ended(store), SharedTries(store), settings.hosts)


def _access(request: Request) -> Access:
    access: Access = request.app.state.access
    return access


def _pass(request: Request) -> Pass | None:
    held: Pass | None = request.scope[PASS]
    return held


def holder(scope: Scope) -> str:
    """Who shares what is shared out: a read-only link, a session, or else the machine that asks."""
    match scope.get(PASS):
        case Reader():
            return str(scope["root_path"])
        case Owner(session) if session is not None:
            return session
    client = scope.get("client")
    return neighbourhood(client[0]) if client else "unknown"


AccessDep = Annotated[Access, Depends(_access)]
PermissionDep = Annotated[Pass | None, Depends(_pass)]


def _held(scope: Scope, access: Access) -> Pass | None:
    """The pass that the cookie gives."""
    if not access.keys.phrase_needed:
        return Owner()
    session = access.keys.session_of(HTTPConnection(scope).cookies.get(COOKIE, ""), time.time())
    held = None if session is None else Owner(session)
    return None if access.ended.over(held) else held


def sign_in_html(templates: Pages, then: str, problem: str = "", signed_in: bool = False) -> str:
    """The sign-in page."""
    return templates.html("signin.html", then=then, problem=problem, signed_in=signed_in)


def own_address(then: str) -> str:
    """The address if it is one of ours, otherwise the first page: a link must not lead elsewhere after signing in."""
    return then if _OWN_ADDRESS.fullmatch(then) else "/"


class Gate:
    """Finds out what pass a request carries, and lets it through to what that pass opens.

    Below ``/follow/{token}`` lies the whole application again, for readers of that token's case: the prefix becomes
    the ASGI ``root_path``, so that routes are written once, and pages that put ``root_path`` before their links work
    in both places. A reader carries nothing but the link: no cookie that another link could overwrite.
    """

    def __init__(self, app: ASGIApp, refuse: Refuse, pages: Pages) -> None:
        self._app = app
        self._refuse = refuse
        self._pages = pages

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Serve one request."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        access: Access = scope["app"].state.access
        if scope["type"] == "http":
            answer = self._follow if scope["path"].startswith(FOLLOW) else self._enter
            await answer(scope, access)(scope, receive, send)
        else:
            scope[PASS] = _held(scope, access)
            await (self._app if may(scope[PASS], "POST", scope["path"]) else hang_up)(scope, receive, send)

    def _enter(self, scope: Scope, access: Access) -> ASGIApp:
        held = _held(scope, access)
        if not may(held, scope["method"], scope["path"]):
            return self._to_sign_in(scope)
        scope[PASS] = held
        return self._app

    def _to_sign_in(self, scope: Scope) -> Response:
        path, query = scope["path"], scope["query_string"].decode("latin-1")
        if path.startswith(API_PREFIX):
            answer = self._refuse(path, 401, SIGN_IN)
        elif scope["method"] in READING:
            wanted = quote(path) + (f"?{query}" if query else "")
            return RedirectResponse(f"/signin?then={quote(wanted, safe='')}", 303)
        else:
            answer = HTMLResponse(sign_in_html(self._pages, "/", f"{SIGN_IN} Nothing was written."), 401)
        answer.headers["WWW-Authenticate"] = f'Cookie realm="Fishplate", form-action="/signin", cookie-name="{COOKIE}"'
        return answer

    def _follow(self, scope: Scope, access: Access) -> ASGIApp:
        match = _FOLLOWED.fullmatch(scope["path"])
        found = access.keys.reader_of(match.group(2), time.time()) if match else None
        if match is None or found is None or access.ended.over(Reader(*found)):
            return self._refuse(scope["path"], 401, ENDED)
        case_id = found[0]
        root, inner = match.group(1), match.group(3) or "/"
        if inner == "/" and scope["method"] in READING:
            return RedirectResponse(f"{root}/cases/{case_id}/conference", 303)
        held = Reader(*found)
        if not may(held, scope["method"], inner):
            return self._refuse(scope["path"], 403, READ_ONLY)
        scope[PASS] = held
        scope["root_path"] = root
        return self._app
