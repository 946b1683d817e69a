"""Signing in and out, and read-only links."""

import logging
import time
from datetime import datetime
from typing import Annotated, Any
from urllib.parse import urlsplit

from fastapi import APIRouter, Form, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.responses import HTMLResponse, RedirectResponse
from pydantic import BaseModel, Field

from app.web.access.gate import COOKIE, FOLLOW, KNOWN, AccessDep, PermissionDep, own_address, sign_in_html
from app.web.access.permissions import Owner
from app.web.access.tokens import KNOWN_S, SESSION_S, ends_at
from app.web.http.errors import documented
from app.web.http.hosts import is_loopback, shareable
from app.web.http.parameters import CaseId
from app.web.state import StateDep

log = logging.getLogger(__name__)
pages = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

Address = Annotated[str, Query(max_length=2000)]


@pages.get("/signin")
async def sign_in_page(state: StateDep, access: AccessDep, held: PermissionDep, then: Address = "/") -> Response:
    """Ask for the phrase."""
    if not access.keys.phrase_needed:
        return RedirectResponse("/", 303)
    return HTMLResponse(sign_in_html(state.pages, own_address(then), signed_in=held is not None))


@pages.post("/signin")
def sign_in(
    request: Request,
    state: StateDep,
    access: AccessDep,
    phrase: Annotated[str, Form(max_length=1000)],
    then: Annotated[str, Form(max_length=2000)] = "/",
) -> Response:
    """Check the phrase; the right one gives a cookie."""
    then = own_address(then)
    address = request.client.host if request.client else "unknown"
    known = access.keys.known_of(request.cookies.get(KNOWN, ""), time.time())
    wait_s = access.tries.take(address, time.time(), known)
    if wait_s:
        log.warning("sign-in refused: too many tries from %s, the next in %d s", address, wait_s)
        problem = f"Too many tries. Wait {wait_s} s and try again."
        return HTMLResponse(sign_in_html(state.pages, then, problem), 429, {"Retry-After": str(wait_s)})
    if not access.keys.knows(phrase):
        log.warning("sign-in refused: not the access phrase, from %s", address)
        return HTMLResponse(sign_in_html(state.pages, then, "That is not the access phrase."), 403)
    access.tries.forgive(address, known)
    answer = RedirectResponse(then, 303)
    # Lax, so that a link to a case in a message opens the case; writes from elsewhere are refused by their origin.
    secure = request.url.scheme == "https"
    value = access.keys.session(time.time())
    answer.set_cookie(COOKIE, value, max_age=SESSION_S, httponly=True, samesite="lax", secure=secure)
    # It opens nothing; tries of the phrase that others make can't lock this browser out.
    mark = access.keys.known(time.time())
    answer.set_cookie(KNOWN, mark, max_age=KNOWN_S, path="/signin", httponly=True, samesite="strict", secure=secure)
    return answer


@pages.post("/signout")
async def sign_out(access: AccessDep, held: PermissionDep) -> Response:
    """End the session, whoever has kept its cookie, and take the cookie away from this browser."""
    if isinstance(held, Owner) and held.session is not None:
        try:
            await run_in_threadpool(access.ended.sign_out, held.session)
        finally:
            access.ended.close_ended()
    answer = RedirectResponse("/signin", 303)
    answer.delete_cookie(COOKIE, httponly=True, samesite="lax")
    return answer


class ReaderLink(BaseModel):
    """A read-only link to one case's conference view."""

    path: str = Field(description="The link without the server's address.")
    address: str = Field(description="The whole link, by the name this was asked for or one that the server goes by.")
    for_others: bool = Field(description="Whether the address is one that leads here from other machines, too.")
    expires_at: datetime


class Withdrawn(BaseModel):
    """Read-only links to a case that were made up to now open nothing any more."""

    withdrawn: bool = True


api = APIRouter(prefix="/api/v1", tags=["cases"])


@api.post("/cases/{case_id}/reader-link", status_code=201, responses=documented(403, 404, 415))
def make_reader_link(request: Request, case_id: CaseId, state: StateDep, access: AccessDep) -> Any:
    """Make a link by which others can watch this case, and change nothing."""
    state.store.get(case_id)
    issued_s = access.ended.free_s(case_id)
    path = f"{FOLLOW}{access.keys.reader_token(case_id, issued_s)}"
    base = shareable(str(request.base_url), access.hosts)
    return ReaderLink(
        path=path,
        address=f"{base}{path}",
        for_others=not is_loopback(urlsplit(base).hostname or ""),
        expires_at=ends_at(int(issued_s * 1000)),
    )


@api.delete("/cases/{case_id}/reader-link", responses=documented(403, 404, 415))
async def withdraw_reader_links(case_id: CaseId, state: StateDep, access: AccessDep) -> Withdrawn:
    """Withdraw all read-only links to this case; whoever watches by one is cut off."""
    await run_in_threadpool(state.store.get, case_id)
    try:
        await run_in_threadpool(access.ended.withdraw, case_id)
    finally:
        access.ended.close_ended()
    return Withdrawn()
