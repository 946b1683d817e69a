"""Letting in: the gate before every route, the sign-in page, read-only links."""

import re
import time
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Query, Request, Response
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import BaseModel, Field
from starlette.requests import HTTPConnection
from starlette.types import ASGIApp, Receive, Scope, Send

from app.store import Store
from app.web.api import CaseId
from app.web.desk import DeskDep
from app.web.keys import READER_S, SESSION_S, Keys, load_secret, offered_secret
from app.web.limits import Tries
from app.web.pages import Pages
from app.web.passes import READING, Owner, Pass, Reader, may
from app.web.problems import API_PREFIX, documented
from app.web.security import Refuse, hang_up
from app.web.settings import Settings

COOKIE = "fishplate"
PASS = "fishplate.pass"
FOLLOW = "/follow/"
_FOLLOWED = re.compile(r"(/follow/([^/]+))(/.*)?", re.DOTALL)
_OWN_ADDRESS = re.compile(r"/(?![/\\])[!-~]*")

SIGN_IN = "Sign in first."
ENDED = "This read-only link has ended, or was never one; ask for a new one."
READ_ONLY = "This is a read-only link to one case; it opens nothing else."


@dataclass(frozen=True, slots=True)
class Admission:
    """What the gate and the sign-in page share."""

    keys: Keys
    tries: Tries = field(default_factory=Tries)

    def issue_reader_token(self, case_id: str) -> str:
        """A token that lets its holder read one case, below ``/follow/{token}``."""
        return self.keys.reader_token(case_id, time.time())


def open_admission(settings: Settings, store: Store) -> Admission:
    """With the keys of this server, or of all that share its database, made at the first start.

    Raises:
        OSError: the key file can't be read or written.
    """
    folder = settings.data_dir
    secret = store.shared_secret(offered_secret(folder)) if settings.database_url else load_secret(folder)
    return Admission(Keys(secret, settings.phrase))


def _admission(request: Request) -> Admission:
    admission: Admission = request.app.state.admission
    return admission


def _pass(request: Request) -> Pass | None:
    held: Pass | None = request.scope[PASS]
    return held


AdmissionDep = Annotated[Admission, Depends(_admission)]
PassDep = Annotated[Pass | None, Depends(_pass)]


def _held(scope: Scope, keys: Keys) -> Pass | None:
    """The pass that the cookie gives."""
    cookie = HTTPConnection(scope).cookies.get(COOKIE, "")
    return Owner() if not keys.phrase_needed or keys.is_session(cookie, time.time()) else None


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
        admission: Admission = scope["app"].state.admission
        keys = admission.keys
        if scope["type"] == "http":
            answer = self._follow if scope["path"].startswith(FOLLOW) else self._enter
            await answer(scope, keys)(scope, receive, send)
        else:
            await (self._app if may(_held(scope, keys), "POST", scope["path"]) else hang_up)(scope, receive, send)

    def _enter(self, scope: Scope, keys: Keys) -> ASGIApp:
        held = _held(scope, keys)
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
            answer = HTMLResponse(_page(self._pages, "/", f"{SIGN_IN} Nothing was written."), 401)
        answer.headers["WWW-Authenticate"] = f'Cookie realm="Fishplate", form-action="/signin", cookie-name="{COOKIE}"'
        return answer

    def _follow(self, scope: Scope, keys: Keys) -> ASGIApp:
        match = _FOLLOWED.fullmatch(scope["path"])
        case_id = keys.reader_case(match.group(2), time.time()) if match else None
        if match is None or case_id is None:
            return self._refuse(scope["path"], 401, ENDED)
        root, inner = match.group(1), match.group(3) or "/"
        if inner == "/" and scope["method"] in READING:
            return RedirectResponse(f"{root}/cases/{case_id}/conference", 303)
        held = Reader(case_id)
        if not may(held, scope["method"], inner):
            return self._refuse(scope["path"], 403, READ_ONLY)
        scope[PASS] = held
        scope["root_path"] = root
        return self._app


pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

Address = Annotated[str, Query(max_length=2000)]


def _page(templates: Pages, then: str, problem: str = "", signed_in: bool = False) -> str:
    return templates.html("signin.html", then=then, problem=problem, signed_in=signed_in)


def own_address(then: str) -> str:
    """The address if it is one of ours, otherwise the first page: a link must not lead elsewhere after signing in."""
    return then if _OWN_ADDRESS.fullmatch(then) else "/"


@pages.get("/signin")
async def sign_in_page(desk: DeskDep, admission: AdmissionDep, held: PassDep, then: Address = "/") -> Response:
    """Ask for the phrase."""
    if not admission.keys.phrase_needed:
        return RedirectResponse("/", 303)
    return HTMLResponse(_page(desk.pages, own_address(then), signed_in=held is not None))


@pages.post("/signin")
async def sign_in(
    request: Request,
    desk: DeskDep,
    admission: AdmissionDep,
    phrase: Annotated[str, Form(max_length=1000)],
    then: Annotated[str, Form(max_length=2000)] = "/",
) -> Response:
    """Check the phrase; the right one gives a cookie."""
    then = own_address(then)
    address = request.client.host if request.client else "unknown"
    wait_s = admission.tries.take(address, time.monotonic())
    if wait_s:
        problem = f"Too many tries. Wait {wait_s} s and try again."
        return HTMLResponse(_page(desk.pages, then, problem), 429, {"Retry-After": str(wait_s)})
    if not admission.keys.knows(phrase):
        return HTMLResponse(_page(desk.pages, then, "That is not the access phrase."), 403)
    admission.tries.forgive(address)
    answer = RedirectResponse(then, 303)
    # Lax, so that a link to a case in a message opens the case; writes from elsewhere are refused by their origin.
    secure = request.url.scheme == "https"
    value = admission.keys.session(time.time())
    answer.set_cookie(COOKIE, value, max_age=SESSION_S, httponly=True, samesite="lax", secure=secure)
    return answer


@pages.post("/signout")
async def sign_out() -> Response:
    """Take the cookie away from this browser."""
    answer = RedirectResponse("/signin", 303)
    answer.delete_cookie(COOKIE, httponly=True, samesite="lax")
    return answer


class ReaderLink(BaseModel):
    """A read-only link to one case's conference view."""

    path: str = Field(description="Put the server's address before it.")
    expires_at: datetime


api = APIRouter(prefix="/api/v1", tags=["cases"])


@api.post("/cases/{case_id}/reader-link", status_code=201, responses=documented(403, 404, 415))
def make_reader_link(case_id: CaseId, desk: DeskDep, admission: AdmissionDep) -> Any:
    """Make a link by which others can watch this case, and change nothing."""
    desk.store.get(case_id)
    expires_at = datetime.fromtimestamp(time.time() + READER_S, UTC)
    return ReaderLink(path=f"{FOLLOW}{admission.issue_reader_token(case_id)}", expires_at=expires_at)
