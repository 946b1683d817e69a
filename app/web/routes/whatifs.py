"""What-ifs over the API: kept from the present state or a revision, renamed, removed."""

from datetime import datetime
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Path
from pydantic import BaseModel, ConfigDict, Field, model_validator

from app.assess import check_edit
from app.case import Case, Edit, apply
from app.case.edits import edit_document
from app.store import Snapshot, Stale, Unreadable, WhatIf
from app.web.http.errors import documented
from app.web.http.idempotency import KeyInHeader
from app.web.http.parameters import CaseId, ConstructIndex
from app.web.state import ServerState, StateDep

MOST_ID = 2**31 - 1  # the database's integers

router = APIRouter(prefix="/api/v1", tags=["what-ifs"])

WhatIfId = Annotated[int, Path(ge=1, le=MOST_ID, description="The what-if's number.")]


class KeptWhatIf(BaseModel):
    """A named variant of one construct; it never changes. ``swap`` is the edit that puts it in place."""

    model_config = ConfigDict(validate_by_name=True, validate_by_alias=True)

    id: int
    name: str
    target: int = Field(alias="construct", description="The construct's place in the case.")
    revision: int = Field(description="The revision that it stands in.")
    created_at: datetime
    fits: bool = Field(description="Whether the case still has that bone in this place.")
    swap: dict[str, Any] | None = Field(
        description="The edit that puts it in place of the construct; null: its revision can't be read."
    )


class Pinning(BaseModel):
    """What to keep: a construct as it stands, as it stood at a revision, or as an edit would make it."""

    model_config = ConfigDict(extra="forbid")

    target: ConstructIndex = Field(default=0, alias="construct")
    name: str | None = Field(default=None, description="1 to 60 characters; null: the first free `What-if 1`, …")
    revision: int | None = Field(default=None, ge=1, le=MOST_ID)
    edit: Edit | None = Field(default=None, description="An edit that is tried for it, and not made.")
    version: int | None = Field(default=None, description="The version that the edit is meant for; another is refused.")

    @model_validator(mode="after")
    def _one_source(self) -> "Pinning":
        if self.edit is not None and self.revision is not None:
            message = "an edit is tried on the case as it stands: give no revision with it"
            raise ValueError(message)
        return self


class Renaming(BaseModel):
    """A new name."""

    model_config = ConfigDict(extra="forbid")

    name: str = Field(description="1 to 60 characters.")


class RevisionLine(BaseModel):
    """A line of the history."""

    id: int
    previous: int | None
    label: str
    title: str
    created_at: datetime
    current: bool


def _told(one: WhatIf, case: Case | None) -> KeptWhatIf:
    swap = one.swap()
    return KeptWhatIf(
        id=one.id,
        name=one.name,
        target=one.target,
        revision=one.revision_id,
        created_at=one.created_at,
        fits=case is not None and one.fits(case),
        swap=None if swap is None else edit_document(swap),
    )


def _case(state: ServerState, case_id: str) -> Case | None:
    """The case as it stands, if it can be read."""
    try:
        return state.store.get(case_id).case
    except Unreadable:
        return None


@router.get("/cases/{case_id}/whatifs", responses=documented(404))
def list_whatifs(case_id: CaseId, state: StateDep) -> list[KeptWhatIf]:
    """All what-ifs of a case, by construct and then oldest first."""
    case = _case(state, case_id)
    return [_told(one, case) for one in state.store.whatifs(case_id)]


@router.post("/cases/{case_id}/whatifs", status_code=201, responses=documented(403, 404, 409, 412, 415))
def keep_whatif(case_id: CaseId, asked: Pinning, keyed: KeyInHeader, state: StateDep) -> KeptWhatIf:
    """Keep a construct under a name. The case itself stays as it is, and so does its version."""
    once = keyed("pin", asked.model_dump_json())
    at = asked.revision if asked.edit is None else partial(_tried, state, asked.edit, asked.version)
    kept = state.store.pin(case_id, asked.target, asked.name, at, once)
    return _told(kept, _case(state, case_id))


def _tried(state: ServerState, edit: Edit, version: int | None, snapshot: Snapshot) -> Case:
    """The case as an edit would make it."""
    if version not in (None, snapshot.version):
        raise Stale(version or 0, snapshot.version)
    case = apply(snapshot.case, edit)
    check_edit(snapshot.case, case, state.knowledge)
    return case


@router.patch("/cases/{case_id}/whatifs/{whatif_id}", responses=documented(403, 404, 409, 415))
def rename_whatif(case_id: CaseId, whatif_id: WhatIfId, asked: Renaming, state: StateDep) -> KeptWhatIf:
    """Give a what-if another name."""
    renamed = state.store.rename_whatif(case_id, whatif_id, asked.name)
    return _told(renamed, _case(state, case_id))


@router.delete("/cases/{case_id}/whatifs/{whatif_id}", status_code=204, responses=documented(403, 404))
def remove_whatif(case_id: CaseId, whatif_id: WhatIfId, state: StateDep) -> None:
    """Take a what-if away; the revision that it stands in stays."""
    state.store.unpin(case_id, whatif_id)


@router.get("/cases/{case_id}/revisions", responses=documented(404))
def list_revisions(case_id: CaseId, state: StateDep) -> list[RevisionLine]:
    """The history, oldest first, what was undone included."""
    return [
        RevisionLine(
            id=one.id,
            previous=one.previous_id,
            label=one.label,
            title=one.title,
            created_at=one.created_at,
            current=one.current,
        )
        for one in state.store.revisions(case_id)
    ]
