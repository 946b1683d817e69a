"""What stands side by side or is switched to: the present state, what-ifs, revisions."""

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.assess import ConstructAssessment
from app.case import Case, apply
from app.case.edits import ReplaceConstruct, Together
from app.store import NotFound, RevisionInfo, Snapshot, WhatIf
from app.web.http.parameters import construct_at
from app.web.state import ServerState

if TYPE_CHECKING:
    from app.compare import Column

NOW = "now"
_KEY = re.compile(r"now|[wr][0-9]{1,18}")


@dataclass(frozen=True, slots=True)
class Variant:
    """One construct under the key and the name it goes by; ``swap`` is the edit that puts it in place, None for now."""

    key: str
    label: str
    one: ConstructAssessment
    swap: Together | None = None

    @property
    def column(self) -> "Column":
        """As the comparison takes it."""
        from app.compare import Column  # no first page should wait for it to load

        return Column(self.label, self.one)


def is_key(text: str) -> bool:
    """Whether this can name a variant."""
    return _KEY.fullmatch(text) is not None


def variant(state: ServerState, snapshot: Snapshot, target: int, key: str) -> Variant:
    """The construct at index ``target`` as it stands (``now``), as a what-if (``w3``) or as it stood (``r17``).

    A what-if is judged inside the present case, as it would be if it were swapped in; a revision as it was.

    Raises:
        NotFound: no such what-if or revision.
        HTTPException: 404, the case has, or had then, no such construct.
    """
    construct_at(snapshot.case.constructs, target)
    if key == NOW:
        return Variant(NOW, "Now", state.assessed(snapshot).constructs[target])
    number = int(key[1:])
    return _whatif(state, snapshot, target, number) if key[0] == "w" else _revision(state, snapshot, target, number)


def whatifs_of(state: ServerState, snapshot: Snapshot, target: int) -> tuple[WhatIf, ...]:
    """The what-ifs of one construct that can be swapped in."""
    return tuple(one for one in state.store.whatifs(snapshot.id) if one.target == target and one.fits(snapshot.case))


def revision_label(one: RevisionInfo) -> str:
    """A revision in the words of its edit, with the time of day."""
    return f"{one.label} ({one.created_at:%Y-%m-%d %H:%M})"


def _whatif(state: ServerState, snapshot: Snapshot, target: int, number: int) -> Variant:
    for one in whatifs_of(state, snapshot, target):
        if one.id == number:
            swap = one.swap()
            assessment = state.opened(snapshot.case if swap is None else apply(snapshot.case, swap))
            return Variant(f"w{number}", one.name, assessment.constructs[target], swap)
    message = f"this bone has no what-if of number {number}"
    raise NotFound(message)


def _revision(state: ServerState, snapshot: Snapshot, target: int, number: int) -> Variant:
    found = next((one for one in state.store.revisions(snapshot.id) if one.id == number), None)
    if found is None:
        message = f"this case has no revision {number}"
        raise NotFound(message)
    case = state.store.revision(snapshot.id, number)
    one = construct_at(state.opened(case).constructs, target, then=True)
    swap = None if found.current else _swap(snapshot.case, one, target, found.label)
    return Variant(f"r{number}", revision_label(found), one, swap)


def _swap(case: Case, one: ConstructAssessment, target: int, label: str) -> Together | None:
    """The edit that puts an older construct in place; None where the case has another bone there by now."""
    if target >= len(case.constructs) or case.constructs[target].bone.name != one.construct.bone.name:
        return None
    put = ReplaceConstruct(target=target, value=one.construct)
    return Together(label=f"Back to: {label}"[:100], edits=(put,))
