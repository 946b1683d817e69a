"""The JSON API, ``/api/v1``: cases, previews, edits, undo, assessment, schemas."""

from collections.abc import Callable
from datetime import datetime
from typing import Annotated, Any, Literal
from urllib.parse import urlencode

from fastapi import APIRouter, Header, HTTPException, Query, Response
from pydantic import BaseModel, ConfigDict, Field, field_validator

from app.assess import Assessment, assess, with_remedies
from app.case import Case, Edit, InvalidCase, apply
from app.case.codes import ALL_CODES
from app.case.edits import edit_document
from app.case.models import MAX_CONSTRUCTS, BoneName
from app.document import AssessmentDocument, as_document, schema
from app.drawing import Room, View
from app.store import Once, Snapshot, Sort, Stale, Unreadable, Wanted
from app.suggest import Reach, on_other_bone, pattern_edit, suggestions
from app.web.http.errors import documented
from app.web.http.etag import ExpectedVersion, etag, not_modified
from app.web.http.idempotency import KeyInHeader
from app.web.http.parameters import (
    CaseId,
    ConstructIndex,
    ConstructInQuery,
    Millimetres,
    Pixels,
    PlaceInList,
    WordsSought,
    construct_at,
)
from app.web.panels.labels import label_of, takes_screw_out, under_its_words
from app.web.panels.loading import LoadChoice, LoadsDep
from app.web.panels.preview import Question, TriedEdit, as_far_as_it_goes, previewed, redrawn, tried
from app.web.panels.redraw import LIVE, LivePanel, Look, Redraw, more_lags_found
from app.web.panels.written import Write, answer
from app.web.state import ServerState, StateDep

router = APIRouter(prefix="/api/v1", tags=["cases"])

MOST_IN_PAGE = 500
WithBands = Annotated[
    bool, Query(description="Tell between what each figure of the mechanics lies, over what is not known.")
]
WRITE_ERRORS = documented(403, 404, 409, 412, 415, 428)


class Where(BaseModel):
    """Which construct the page shows, the window along the shaft, mm (null: fitted), and the loads chosen."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    # By number, not by what is there: an edit or undo may have taken that bone out, and then the last one is shown.
    shown: ConstructIndex = Field(default=0, alias="construct")  # BaseModel has a method of that name
    view: tuple[Millimetres, Millimetres] | None = None
    room: tuple[Pixels, Pixels] | None = Field(
        default=None,
        description="Width and height that the screen has for the drawing, CSS pixels, so that its text can be read.",
    )
    seq: int = Field(default=0, ge=0, le=2**53)
    loading: tuple[LoadChoice, ...] = Field(
        default=(),
        max_length=MAX_CONSTRUCTS,
        description="By construct; without one, the protected preset.",
    )

    @field_validator("view")
    @classmethod
    def _is_window(cls, view: tuple[float, float] | None) -> tuple[float, float] | None:
        if view is not None:
            View(*view)
        return view

    @property
    def look(self) -> Look:
        """The same without the sequence number."""
        return Look(self.shown, self.view, self.loading, None if self.room is None else Room(*self.room))


class ReachAsked(BaseModel):
    """A figure that goes only as far as it can, if it can't go all the way."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    field: str = Field(pattern="^[a-z_]{1,40}$", description="The field of the edit that holds the figure.")
    start: float = Field(ge=-1e4, le=1e4, description="Where the figure stands now.")


class PreviewRequest(Where):
    """An edit to try out; null shows the stored case."""

    edit: Edit | None = None
    reach: ReachAsked | None = Field(default=None, description="Without one, an edit goes all the way or is refused.")
    version: int | None = Field(
        default=None,
        ge=1,
        le=2**53,
        description="The version that the page shows; the edit is tried on the newest, if another.",
    )
    hand: str = Field(
        default="",
        pattern="^[0-9a-f-]{0,36}$",
        description="Tells this page from others: followers see nothing it asked before what they saw last of it.",
    )
    quiet: bool = Field(default=False, description="Tell those who follow nothing of it: the page only looks.")
    panels: frozenset[LivePanel] = Field(
        default=LIVE,
        description=(
            "Which of the panels that follow a drag to make; the others are null. Without an edit, all that there are; "
            "with none asked for, the drawing alone."
        ),
    )

    @property
    def question(self) -> Question:
        """What is asked, whoever asks and from which version."""
        edit = None if self.edit is None else TriedEdit.of(self.edit)
        return Question(self.look, edit, self.panels, _reach(self.reach))


class EditRequest(Where):
    """An edit to keep."""

    edit: Edit
    reach: ReachAsked | None = Field(default=None, description="As for a preview.")


class Kept(BaseModel):
    """A stored case's id and version."""

    id: str
    version: int


class BoneInList(BaseModel):
    """What the list says of one bone of a case."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)

    bone: str
    side: str | None
    code: str | None
    principle: str


class ListedCase(BaseModel):
    """A line in the list of cases."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)

    id: str
    title: str
    version: int
    updated_at: datetime
    bones: tuple[BoneInList, ...]


class CaseList(BaseModel):
    """A page of the list of cases, and where the next one is."""

    model_config = ConfigDict(extra="forbid")

    cases: tuple[ListedCase, ...]
    total: int = Field(description="How many cases were found, on all pages.")
    next: str | None = Field(description="The address of the next page; null: this is the last.")


class StoredCase(BaseModel):
    """A stored case."""

    id: str
    version: int
    case: Case
    undo: str | None = Field(description="What undo would take back; null: nothing.")
    redo: str | None = Field(description="What redo would bring again; null: nothing.")


class Layouts(BaseModel):
    """Suggested layouts as HTML."""

    version: int
    html: str


class Bands(BaseModel):
    """Between what the figures of the mechanics lie."""

    version: int
    figures: dict[str, str] = Field(description="In words, by the figure's id in the panel; what varies in sight only.")
    changes: dict[str, str] = Field(
        description="In how many draws a figure that changed with the last edit did so the same way, by the same ids; "
        "only if asked for, and while the version before is remembered."
    )


class ToldEdit(BaseModel):
    """An edit that a menu does not carry, for whoever chooses it."""

    version: int
    edit: dict[str, Any] = Field(description="An edit for this version.")


class LagPlaceFound(BaseModel):
    """What the search for a place for a lag screw found, as HTML and as a sentence."""

    version: int
    html: str
    status: str


@router.post("/cases", status_code=201, responses=documented(403, 415))
def create_case(case: Case, keyed: KeyInHeader, state: StateDep, response: Response) -> Kept:
    """Keep a new case."""
    state.judged(case)
    snapshot = state.store.create(case, "New case", keyed("create", case.model_dump_json()))
    response.headers["ETag"] = etag(snapshot.version)
    response.headers["Location"] = f"/api/v1/cases/{snapshot.id}"
    return Kept(id=snapshot.id, version=snapshot.version)


@router.get("/cases", responses=documented())
def list_cases(
    state: StateDep,
    response: Response,
    limit: Annotated[int, Query(ge=1, le=MOST_IN_PAGE, description="How many cases a page has at most.")] = 100,
    after: PlaceInList | None = None,
    q: WordsSought = "",
    sort: Sort = "newest",
) -> CaseList:
    """The cases, page by page; a case that is edited meanwhile moves no other across the border of a page."""
    found = state.store.page(Wanted(q, sort, after), limit)
    following = None
    if found.after is not None:
        asked = {"limit": limit, "after": found.after, **({"q": q} if q else {}), "sort": sort}
        following = f"/api/v1/cases?{urlencode(asked)}"
        response.headers["Link"] = f'<{following}>; rel="next"'  # RFC 8288
    told = {"cases": found.lines, "total": found.total, "next": following}
    return CaseList.model_validate(told, from_attributes=True)


@router.get(
    "/cases/{case_id}",
    response_model=StoredCase,
    responses={**documented(404), 304: {"description": "You have this version already."}},
)
def get_case(
    case_id: CaseId, state: StateDep, response: Response, if_none_match: Annotated[str | None, Header()] = None
) -> Any:
    """One case as it stands; its version is the ETag."""
    snapshot = state.store.get(case_id)
    tag = etag(snapshot.version)
    if not_modified(if_none_match, snapshot.version):
        return Response(status_code=304, headers={"ETag": tag})
    response.headers["ETag"] = tag
    return StoredCase(
        id=snapshot.id,
        version=snapshot.version,
        case=snapshot.case,
        undo=snapshot.undo_label,
        redo=snapshot.redo_label,
    )


@router.post("/cases/{case_id}/preview", responses=documented(403, 404, 415))
def preview(case_id: CaseId, asked: PreviewRequest, state: StateDep, response: Response) -> Redraw:
    """Show what an edit would do; nothing is written."""
    with state.questions.answering():
        snapshot = state.store.get(case_id)
        if asked.quiet:
            shown = redrawn(state, snapshot, asked.question, asked.seq)
        else:
            shown = previewed(state, snapshot, asked.question, asked.seq, asked.hand)
    response.headers["ETag"] = etag(shown.version)
    return shown


@router.post("/cases/{case_id}/edits", responses=WRITE_ERRORS)
def edit_case(
    case_id: CaseId,
    asked: EditRequest,
    expected: ExpectedVersion,
    keyed: KeyInHeader,
    state: StateDep,
    response: Response,
) -> Redraw:
    """Apply an edit to the version named by If-Match, and keep the result as a revision."""
    edit = TriedEdit.of(asked.edit)
    once = keyed("edit", edit.text)
    try:
        saved, write = _edited(state, case_id, asked, edit, expected=expected, once=once)
    except (Stale, InvalidCase, Unreadable):
        # It may have been made already, and not be possible a second time.
        done = state.store.written(case_id, once)
        if done is None:
            raise
        saved, write = done, Write(done.label)
    if asked.edit.op == "add_construct":
        asked = asked.model_copy(update={"shown": len(saved.case.constructs) - 1})
    return _answered(state, saved, write, asked, response)


@router.post("/cases/{case_id}/undo", responses=WRITE_ERRORS)
def undo(
    case_id: CaseId, asked: Where, expected: ExpectedVersion, keyed: KeyInHeader, state: StateDep, response: Response
) -> Redraw:
    """Go back to the revision before; those that can't be read are passed over."""
    once = keyed("undo")
    saved, before = _moved(state, case_id, asked, lambda: state.store.undo(case_id, expected, once))
    return _answered(state, saved, Write(f"Undone: {saved.redo_label}", before), asked, response)


@router.post("/cases/{case_id}/redo", responses=WRITE_ERRORS)
def redo(
    case_id: CaseId, asked: Where, expected: ExpectedVersion, keyed: KeyInHeader, state: StateDep, response: Response
) -> Redraw:
    """Go forward to the newest of the revisions that follow."""
    once = keyed("redo")
    saved, before = _moved(state, case_id, asked, lambda: state.store.redo(case_id, expected, once))
    return _answered(state, saved, Write(f"Redone: {saved.label}", before), asked, response)


@router.get("/cases/{case_id}/layouts", responses=documented(404))
def layouts(case_id: CaseId, state: StateDep, construct: ConstructInQuery = 0) -> Layouts:
    """Suggested layouts for one construct."""
    snapshot = state.store.get(case_id)
    one = construct_at(state.assessed(snapshot).constructs, construct)

    def made() -> str:
        free, kept = (
            suggestions(snapshot.case, one.target, state.knowledge, as_it_is=as_it_is) for as_it_is in (False, True)
        )
        state.suggested.put(
            (snapshot.id, snapshot.version, one.target), tuple(found.edit.value for found in (*free, *kept))
        )
        where = one.construct.on_surface
        return state.pages.html("_layouts.html", free=free, kept=kept, on_surface=where)

    key = ("layouts", snapshot.id, snapshot.version, construct)  # as long as the case is the same, so are they
    return Layouts(version=snapshot.version, html=state.parts.get(key, made))


@router.get("/cases/{case_id}/bands", responses=documented(404))
def bands(
    case_id: CaseId, state: StateDep, loads: LoadsDep, construct: ConstructInQuery = 0, changed: bool = False
) -> Bands:
    """Between what the mechanics of one construct lie, over what is not known of it.

    ``changed``: say too in how many draws each figure lies above or below that of the version before, where that was
    looked at lately.
    """
    snapshot = state.store.get(case_id)
    one = construct_at(state.assessed(snapshot, loads).constructs, construct)
    from app.web.panels import contents  # no first page should wait for it to load

    if one.mechanics is None:
        return Bands(version=snapshot.version, figures={}, changes={})
    past = state.stored.peek((snapshot.id, snapshot.version - 1, loads)) if changed else None
    stood = None if past is None or construct >= len(past.constructs) else past.constructs[construct]
    before, now = contents.of_same_bone(stood, one), (one.mechanics, state.drawn(one))
    changes = {}
    if before is not None and before.mechanics is not None:
        changes = contents.change_texts(now, (before.mechanics, state.drawn(before)))
    return Bands(version=snapshot.version, figures=contents.band_texts(now), changes=changes)


@router.get("/cases/{case_id}/other-bones/{bone}", responses=documented(404))
def other_bone(case_id: CaseId, bone: BoneName, state: StateDep, construct: ConstructInQuery = 0) -> ToldEdit:
    """The edit that puts a construct on another bone, and keeps of it what can be kept; its label says what can't."""
    snapshot = state.store.get(case_id)
    construct_at(snapshot.case.constructs, construct)
    edit = on_other_bone(snapshot.case, construct, bone, state.knowledge)
    return ToldEdit(version=snapshot.version, edit=edit_document(edit, brief=True))


@router.get("/cases/{case_id}/patterns/{code}", responses=documented(404))
def pattern_drawn(case_id: CaseId, code: str, state: StateDep, construct: ConstructInQuery = 0) -> ToldEdit:
    """The edit that draws what a code of the bone stands for, where the present fracture is."""
    snapshot = state.store.get(case_id)
    one, known = construct_at(snapshot.case.constructs, construct), ALL_CODES.get(code)
    if known is None or known.bone != one.bone.name:
        raise HTTPException(404, f"The {one.bone.name} has no such code.")
    put = pattern_edit(one, construct, known.pattern, state.knowledge)
    edit = under_its_words(put, f"Draw {code}")
    return ToldEdit(version=snapshot.version, edit=edit_document(edit, brief=True))


@router.get("/cases/{case_id}/more-lags", responses=documented(404))
def more_lags(case_id: CaseId, state: StateDep, construct: ConstructInQuery = 0) -> LagPlaceFound:
    """A place for one more independent lag screw, which no rule objects to."""
    snapshot = state.store.get(case_id)
    assessment = state.assessed(snapshot)
    one = construct_at(assessment.constructs, construct)
    found, html = more_lags_found(state, assessment, one)
    return LagPlaceFound(version=snapshot.version, html=html, status=found)


@router.post("/assess", tags=["assessment"], response_model=AssessmentDocument, responses=documented(403, 415))
def assess_case(case: Case, state: StateDep, bands: WithBands = False) -> Any:
    """Judge a case without keeping it."""
    return as_document(assess(case, state.knowledge), state.drawn if bands else None)


@router.get("/schema/{which}", tags=["schemas"])
def get_schema(which: Literal["case", "assessment", "map"]) -> dict[str, Any]:
    """The JSON Schema of the case file, of the assessment or of the map of layouts."""
    return schema(which)


def _edited(
    state: ServerState, case_id: str, asked: EditRequest, wanted: TriedEdit, *, expected: int, once: Once | None
) -> tuple[Snapshot, Write]:
    snapshot = state.store.get(case_id)
    if snapshot.version != expected:
        raise Stale(expected, snapshot.version)
    edit, stop = as_far_as_it_goes(snapshot, wanted, _reach(asked.reach), state.knowledge)
    loads = asked.loading
    before = state.assessed(snapshot, loads)
    case, label = apply(snapshot.case, edit.edit), label_of(edit.edit, snapshot.case)
    if case == snapshot.case:  # equal edits in a row make one revision, and need no second judgement
        return snapshot, Write(label, lambda: before, stop=stop)
    after = with_remedies(tried(state, snapshot, edit, loads))  # the first was done for the last preview, most times
    write = Write(label, lambda: before, takes_screw_out(edit.edit), stop)
    saved = state.store.save(case_id, case, expected, write.label, once)
    if saved.case is not case:  # it had been made already
        return saved, Write(saved.label)
    state.stored.put((saved.id, saved.version, loads), after)
    return saved, write


def _reach(asked: ReachAsked | None) -> Reach | None:
    return None if asked is None else Reach(asked.field, asked.start)


def _moved(
    state: ServerState, case_id: str, asked: Where, move: Callable[[], Snapshot]
) -> tuple[Snapshot, Callable[[], Assessment] | None]:
    """A step through the history, and the assessment before it; None after a repeat, or if that can't be read."""
    try:
        before = state.store.get(case_id)
    except Unreadable:
        return move(), None
    saved = move()
    return saved, None if saved.version != before.version + 1 else lambda: state.assessed(before, asked.loading)


def _answered(state: ServerState, saved: Snapshot, write: Write, asked: Where, response: Response) -> Redraw:
    response.headers["ETag"] = etag(saved.version)
    return answer(state, saved, write, asked.look, asked.seq)
