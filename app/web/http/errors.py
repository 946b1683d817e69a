"""Errors: one JSON shape for the API, one page for people, the same sentence in both."""

from collections.abc import Mapping
from typing import Any

from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.routing import Match

from app.case import Fault, InvalidCase
from app.case.faults import MOST_FAULTS, capped, told
from app.case.refusals import in_words
from app.store import (
    BadName,
    BadPlace,
    KeyReused,
    NameTaken,
    NotFound,
    NothingToRedo,
    NothingToUndo,
    Stale,
    Store,
    StoreError,
    TooMany,
    Unavailable,
    Unreadable,
)
from app.web.http.etag import etag
from app.web.http.failures import note
from app.web.http.headers import HEADERS
from app.web.http.writes import written_in
from app.web.templates import Pages
from app.wording import capitalised

API_PREFIX = "/api/"
NOT_JSON = "json_invalid"
DESCRIBED = {"application/json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE")

SENTENCES = {
    400: "The request can't be read.",
    404: "There is nothing at this address.",
    405: "This address doesn't take that method.",
    413: "The request is too large; the limit is 1 MB.",
}
WENT_WRONG = "Something went wrong on the server; "
FATES: dict[bool | None, str] = {
    False: "nothing was written.",
    True: "but the change was written. Reload the page to see it.",
    None: "it is not known whether the change was written. Reload the page and look.",
}

STATUSES: dict[type[StoreError], int] = {
    NotFound: 404,
    NothingToUndo: 409,
    NothingToRedo: 409,
    NameTaken: 409,
    TooMany: 409,
    BadName: 422,
    BadPlace: 422,
    KeyReused: 422,
}


class FaultBody(BaseModel):
    """One thing wrong; ``path`` is dotted from the top of what was sent, empty for the whole."""

    path: str
    message: str


class Problem(BaseModel):
    """What every error of the API looks like."""

    status: int = Field(examples=[422])
    error: str = Field(description="One sentence that says what is wrong, and what is allowed.")
    faults: list[FaultBody]
    written: bool | None = Field(
        default=None,
        description="Only with 500 and 503: whether a change was written; null, or none at all: it is not known.",
    )


def documented(*codes: int) -> dict[int | str, dict[str, Any]]:
    """The ``responses`` of a route that may answer with these errors.

    They name the schema in place: a model would be built anew for every route and status, twice, at each start. The
    schema itself comes into the description with a route that does name the model, ``/health/ready``.
    """
    return {code: {"content": DESCRIBED} for code in sorted({400, 401, 413, 421, 422, 431, 503, *codes})}


class Refusals:
    """Builds the answer to a request that can't be served: JSON below ``/api/``, otherwise a page."""

    def __init__(self, pages: Pages) -> None:
        self._pages = pages

    def answer(
        self,
        path: str,
        status: int,
        sentence: str,
        faults: tuple[Fault, ...] = (),
        headers: Mapping[str, str] | None = None,
        **more: bool | None,
    ) -> Response:
        """The response for one problem; ``more`` are other fields of ``Problem``."""
        if path.startswith(API_PREFIX):
            told = [FaultBody(path=fault.path, message=fault.message) for fault in faults]
            body = Problem(status=status, error=sentence, faults=told, **more)
            return JSONResponse(body.model_dump(exclude_unset=True), status, headers)
        page = self._pages.html("error.html", status=status, sentence=sentence, faults=faults)
        return HTMLResponse(page, status, headers)

    def register(self, app: FastAPI) -> None:
        """Let these answers stand for everything that routes may raise."""
        app.add_exception_handler(RequestValidationError, self._invalid_request)
        app.add_exception_handler(InvalidCase, self._invalid_case)
        app.add_exception_handler(HTTPException, self._http)
        app.add_exception_handler(Stale, self._stale)
        app.add_exception_handler(Unavailable, self._unavailable)
        app.add_exception_handler(Unreadable, self._unreadable)
        for kind, status in STATUSES.items():
            app.add_exception_handler(kind, self._plain(status))
        app.add_exception_handler(Exception, self._unexpected)

    def _invalid_request(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, RequestValidationError)
        found = error.errors()
        faults = capped([told(_steps(item["loc"]), in_words(item)) for item in found[:MOST_FAULTS]], len(found))
        status = 400 if any(item["type"] == NOT_JSON for item in found) else 422
        return self.answer(request.url.path, status, _sentence(faults), faults)

    def _invalid_case(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, InvalidCase)
        return self.answer(request.url.path, 422, _sentence(error.faults), error.faults)

    def _http(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, HTTPException)
        own = error.status_code not in (400, 404, 405) or request.scope.get("endpoint") is not None
        sentence = error.detail if own else SENTENCES[error.status_code]
        headers = _allowed(request) if error.status_code == 405 else error.headers
        return self.answer(request.url.path, error.status_code, sentence, headers=headers)

    def _stale(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, Stale)
        return self.answer(
            request.url.path, 412, capitalised(str(error)), headers={"ETag": etag(error.current_version)}
        )

    def _plain(self, status: int) -> Any:
        def answer(request: Request, error: Exception) -> Response:
            return self.answer(request.url.path, status, capitalised(str(error)))

        return answer

    def _unavailable(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, Unavailable)
        note(request.scope, error, error.written)
        return self.answer(request.url.path, 503, capitalised(str(error)), written=error.written)

    def _unreadable(self, request: Request, error: Exception) -> Response:
        assert isinstance(error, Unreadable)
        if request.url.path.startswith(API_PREFIX) or request.scope.get("root_path"):  # a reader can mend nothing
            return self.answer(request.url.path, 409, capitalised(str(error)))
        store: Store = request.app.state.server.store
        there = store.unreadable(error.document_id)
        page = self._pages.html("unreadable.html", error=error, there=there)
        return HTMLResponse(page, 409)

    def _unexpected(self, request: Request, _error: Exception) -> Response:
        written = written_in(request)
        # No other layer puts the headers on this one.
        return self.answer(request.url.path, 500, WENT_WRONG + FATES[written], headers=HEADERS, written=written)


def _allowed(request: Request) -> dict[str, str]:
    """Every method that the address takes; the framework names those of one of its routes."""
    scopes = {method: {**request.scope, "method": method} for method in METHODS}
    found = [
        method
        for method, scope in scopes.items()
        if any(route.matches(scope)[0] is Match.FULL for route in request.app.routes)
    ]
    return {"Allow": ", ".join(found)}


def _steps(where: tuple[int | str, ...]) -> tuple[int | str, ...]:
    return where[1:] if where and where[0] in ("body", "query", "path", "header") else where


def _sentence(faults: tuple[Fault, ...]) -> str:
    if not faults:
        return "The request is not valid."
    more = "" if len(faults) == 1 else f" (and {len(faults) - 1} more)"
    return capitalised(str(faults[0])) + more
