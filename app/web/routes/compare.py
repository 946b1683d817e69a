"""The page that puts two to four variants of a construct side by side, and the list of what-ifs on the sketch page."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, HTTPException, Query
from fastapi.responses import HTMLResponse
from markupsafe import Markup

from app.drawing import View, draw_sketch
from app.store import Snapshot, Unreadable, WhatIf
from app.web.http.parameters import CaseId, ConstructInQuery, construct_at
from app.web.panels.variants import NOW, Variant, is_key, revision_label, variant, whatifs_of
from app.web.state import ServerState, StateDep
from app.web.templates import drawn

if TYPE_CHECKING:
    from app.compare import Comparison, Row

REVISIONS_OFFERED = 200
BOLD = 1.5  # columns are narrow

router = APIRouter(include_in_schema=False, default_response_class=HTMLResponse)
With = Annotated[list[str] | None, Query(alias="with", max_length=20)]


@dataclass(frozen=True, slots=True)
class Offer:
    """One line of the choice of variants."""

    key: str
    label: str
    group: str


@dataclass(frozen=True, slots=True)
class Shown:
    """One column of the page."""

    variant: Variant
    drawing: Markup
    letter: str


@router.get("/cases/{case_id}/compare")
def compare_page(
    case_id: CaseId, state: StateDep, construct: ConstructInQuery = 0, chosen: With = None
) -> HTMLResponse:
    """Drawings on one scale, every figure, and the warnings that differ."""
    from app.compare import LEAST, MOST, common_view, compare  # no first page should wait for it

    snapshot = state.store.get(case_id)
    bone = construct_at(snapshot.case.constructs, construct).bone.name
    offers = _offers(state, snapshot, construct)
    keys = _keys(chosen, offers)
    variants = list(_variants(state, snapshot, construct, keys, asked_for=bool(chosen)))
    keys = [one.key for one in variants]
    columns = tuple(one.column for one in variants)
    if len(columns) == LEAST:
        columns = tuple(replace(column, drawn=state.drawn(column.one)) for column in columns)
    result = compare(columns) if len(columns) > 1 else None
    values: dict[str, Any] = {
        "snapshot": snapshot,
        "current": construct,
        "bone": bone,
        "most": MOST,
        "keys": [*keys, *[""] * (MOST - len(keys))],
        "offers": offers,
        "shown": [_shown(index, one, common_view(columns)) for index, one in enumerate(variants)],
        "comparison": result,
        "groups": [] if result is None else list(_groups(result)),
    }
    return HTMLResponse(state.pages.html("compare.html", **values))


@router.get("/cases/{case_id}/whatifs")
def whatifs_part(case_id: CaseId, state: StateDep, construct: ConstructInQuery = 0) -> HTMLResponse:
    """The list of what-ifs as part of the sketch page."""
    snapshot = state.store.get(case_id)
    construct_at(snapshot.case.constructs, construct)
    found = [one for one in state.store.whatifs(case_id) if one.target == construct]
    values: dict[str, Any] = {
        "snapshot": snapshot,
        "current": construct,
        "whatifs": [(one, one.fits(snapshot.case)) for one in found],
        "together": _together(found, snapshot),
    }
    return HTMLResponse(state.pages.html("_whatifs.html", **values))


def _variants(
    state: ServerState, snapshot: Snapshot, construct: int, keys: list[str], asked_for: bool
) -> Iterator[Variant]:
    """What to show; what can't be read is left out where nobody asked for it."""
    for key in keys:
        try:
            yield variant(state, snapshot, construct, key)
        except Unreadable:
            if asked_for:
                raise


def _together(found: list[WhatIf], snapshot: Snapshot) -> str:
    from app.compare import MOST

    keys = [f"w{one.id}" for one in found if one.fits(snapshot.case)]
    return ",".join([NOW, *keys[: MOST - 1]])


def _offers(state: ServerState, snapshot: Snapshot, target: int) -> tuple[Offer, ...]:
    whatifs = (Offer(f"w{one.id}", one.name, "What-ifs") for one in whatifs_of(state, snapshot, target))
    revisions = (
        Offer(f"r{one.id}", revision_label(one), "Revisions, newest first")
        for one in reversed(state.store.revisions(snapshot.id)[-REVISIONS_OFFERED:])
        if not one.current and _had(state, snapshot.id, one.id, target)
    )
    return (Offer(NOW, "Now", ""), *whatifs, *revisions)


def _had(state: ServerState, case_id: str, revision: int, target: int) -> bool:
    """Whether the case had that bone then; the first one it always had."""
    return target == 0 or target < len(state.store.revision(case_id, revision).constructs)


def _keys(chosen: list[str] | None, offers: tuple[Offer, ...]) -> list[str]:
    """What to show: what was chosen, each once; by itself now with its what-ifs, or with the revision before."""
    from app.compare import MOST

    given = [key for text in chosen or [] for key in text.split(",") if key]
    faulty = next((key for key in given if not is_key(key)), None)
    if faulty is not None or len(set(given)) > MOST:
        raise HTTPException(422, f"Choose two to {MOST} of: now, w and a what-if’s number, r and a revision’s number.")
    if given:
        return list(dict.fromkeys(given))
    whatifs = [one.key for one in offers if one.key[0] == "w"]
    return [NOW, *(whatifs[: MOST - 1] or [one.key for one in offers[1:2]])]


def _shown(index: int, one: Variant, view: View) -> Shown:
    svg = draw_sketch(one.one, view=view, interactive=False, charted=False, prefix=f"v{index}-", bold=BOLD)
    return Shown(one, drawn(svg), "ABCD"[index])


def _groups(comparison: "Comparison") -> Iterator[tuple[str, "list[Row]"]]:
    for name, rows in groupby(comparison.rows, lambda row: row.group):
        yield name, list(rows)
