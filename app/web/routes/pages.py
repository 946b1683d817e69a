"""The pages: list of cases, sketch, rules, help, API; and the forms on them."""

import logging
import re
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Form, Header, HTTPException, Request
from fastapi.responses import HTMLResponse, RedirectResponse, Response

from app.case import BoneName, Case, InvalidCase, Principle
from app.case.models import BodySide
from app.case.roles import ROLE_NAMES
from app.catalogue.figures import ON_WORDS
from app.drawing import legend
from app.rules import all_rules
from app.store import BadPlace, Sort, Wanted
from app.suggest import begin, blank_case
from app.suggest.beginning import Pattern
from app.web.http.idempotency import KeyInForm
from app.web.http.parameters import CaseId, ConstructInQuery, PlaceInList, RoomDep, WordsSought, construct_at
from app.web.panels.list_lines import SORT_WORDS, address_of_list, shown_page
from app.web.panels.loading import LoadsDep
from app.web.panels.new_case import TOLD, label_of, new_case_card
from app.web.panels.operations import operations
from app.web.panels.redraw import Look, all_panels, drawing
from app.web.panels.sources import sources_counted
from app.web.state import ServerState, StateDep
from app.web.templates import drawn

log = logging.getLogger(__name__)

first = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)

LINES = 20  # of a page of the list
LIST_PAGE = re.compile(r"https?://[^/?#]+(/\?[!-~]+)")

# Where the panels of the sketch page are, and what they are called there.
TABS = (
    ("at-hand", "At hand"),
    ("set-up", "Set-up"),
    ("screws", "Screws"),
    ("order", "Order"),
    ("mechanics", "Mechanics"),
    ("what-ifs", "What-ifs"),
    ("this-case", "Case"),
    ("map", "Map"),
)


def _page(state: ServerState, name: str, values: Mapping[str, Any], status: int = 200) -> HTMLResponse:
    return HTMLResponse(state.pages.html(name, **values), status)


def _to(case_id: str) -> RedirectResponse:
    return RedirectResponse(f"/cases/{case_id}", 303)


@first.get("/")
def index(
    state: StateDep,
    q: WordsSought = "",
    sort: Sort = "newest",
    after: PlaceInList | None = None,
    before: PlaceInList | None = None,
) -> Response:
    """A new case, a page of the user's own, and the sample cases."""
    try:
        page = state.store.page(Wanted(q, sort, after, before), LINES)
    except BadPlace:  # of a link that was kept too long, or cut
        return RedirectResponse(address_of_list(q, sort), 303)
    values = {
        "samples": state.samples,
        "thumbnails": {sample.key: drawn(sample.thumbnail) for sample in state.samples},
        "own": shown_page(page, q, sort),
        "sorts": SORT_WORDS,
        "card": drawn(state.parts.get("new-case", lambda: _card(state))),
        "all_cases": address_of_list("", sort),
    }
    return _page(state, "index.html", values)


def _card(state: ServerState) -> str:
    return state.pages.html("_new_case.html", card=new_case_card(state.knowledge, state.samples))


def _sample(state: ServerState, key: str) -> Case:
    for sample in state.samples:
        if sample.key == key:
            return sample.case
    raise HTTPException(404, "There is no such sample case.")


@router.post("/cases")
def new_case(
    state: StateDep,
    keyed: KeyInForm,
    sample: Annotated[str | None, Form()] = None,
    bone: Annotated[str | None, Form()] = None,
) -> RedirectResponse:
    """Begin from a sample, or from a bone."""
    once = keyed("begin", sample or "", bone or "")
    if sample is not None:
        return _to(state.store.create(_sample(state, sample), "Copy of a sample case", once).id)
    bones = state.knowledge.catalogue.bones
    if bone not in bones:
        raise HTTPException(422, f"Choose a bone: {', '.join(bones)}.")
    case = blank_case(f"{bones[bone].label}, shaft fracture", bone, state.knowledge)
    return _to(state.store.create(case, "New case", once).id)


@router.post("/new-case")
def begin_case(
    state: StateDep,
    keyed: KeyInForm,
    bone: Annotated[BoneName, Form()],
    pattern: Annotated[Pattern, Form()],
    side: Annotated[BodySide | Literal[""], Form()] = "",
    principle: Annotated[Principle | Literal[""], Form()] = "",
    series: Annotated[str, Form(max_length=60)] = "",
) -> RedirectResponse:
    """Begin from the answers on the card, with a layout."""
    once = keyed("new-case", bone, pattern, side, principle, series)
    if series and series not in state.knowledge.catalogue.series:
        raise HTTPException(422, "There is no such plate in stock.")
    begun = begin(state.knowledge, bone, pattern, side=side or None, principle=principle or None, series=series or None)
    return _to(state.store.create(begun.case, label_of(begun, principle or None), once).id)


@router.get("/cases/{case_id}")
def sketch(
    case_id: CaseId, state: StateDep, loads: LoadsDep, room: RoomDep, construct: ConstructInQuery = 0
) -> HTMLResponse:
    """The sketch page, complete."""
    snapshot = state.store.get(case_id)
    try:
        assessment = state.assessed(snapshot, loads)
    except Exception as error:
        log.exception("case %s can't be judged", case_id)
        reason = str(error) if isinstance(error, InvalidCase) else ""
        return _page(state, "unshown.html", {"snapshot": snapshot, "reason": reason})
    one = construct_at(assessment.constructs, construct)
    look = Look(construct, None, loads, room)
    panels = all_panels(state, snapshot, assessment, look)
    values = {
        "snapshot": snapshot,
        "case": snapshot.case,
        "current": construct,
        "drawing": drawn(drawing(state, one, look)),
        "panels": {name: drawn(html) for name, html in panels if html is not None},
        "roles": ROLE_NAMES,
        "tabs": TABS,
        "signs": legend(),
        "told": TOLD.get(snapshot.label) if snapshot.version == 1 else None,
    }
    return _page(state, "sketch.html", values)


@router.post("/cases/{case_id}/duplicate")
def duplicate(case_id: CaseId, state: StateDep, keyed: KeyInForm) -> RedirectResponse:
    """A copy of the case, opened."""
    title = state.store.get(case_id).case.title
    return _to(state.store.duplicate(case_id, f"{title[:112]} (copy)", keyed("duplicate", case_id)).id)


@router.post("/cases/{case_id}/delete")
def delete(case_id: CaseId, state: StateDep, referer: Annotated[str | None, Header()] = None) -> RedirectResponse:
    """Delete the case with its history; who did so from a page of the list comes back to that page."""
    state.store.delete(case_id)
    came_from = LIST_PAGE.fullmatch(referer or "")
    return RedirectResponse(came_from[1] if came_from else "/", 303)


@router.get("/rules")
def rules(state: StateDep) -> HTMLResponse:
    """Every rule with its reason, source and thresholds."""
    thresholds = state.knowledge.thresholds
    counts = sources_counted(all_rules(), thresholds)
    values = {"rules": all_rules(), "thresholds": thresholds, "counts": counts, "on_words": ON_WORDS}
    return _page(state, "rules.html", values)


@router.get("/help")
def help_page(state: StateDep) -> HTMLResponse:
    """Keys, words, and what this is not."""
    return _page(state, "help.html", {"roles": ROLE_NAMES, "signs": legend()})


@router.get("/api")
def api_page(request: Request, state: StateDep) -> HTMLResponse:
    """The JSON API, from its own description."""
    return _page(state, "api.html", {"operations": operations(request.app.openapi())})
