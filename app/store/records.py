"""What the store answers with."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from app.case import Case, Construct
from app.case.edits import ReplaceConstruct, Together
from app.case.models import KeptConstruct


@dataclass(frozen=True, slots=True)
class Snapshot:
    """A document as it stands. ``version`` grows with every write, undo and redo included.

    ``label`` names the edit that made the current revision; ``undo_label`` and ``redo_label`` name what undo would take
    back and redo would bring again, None where there is nothing.
    """

    id: str
    version: int
    case: Case
    revision_id: int
    label: str
    undo_label: str | None
    redo_label: str | None

    @property
    def can_undo(self) -> bool:
        """Whether a revision comes before the current one."""
        return self.undo_label is not None

    @property
    def can_redo(self) -> bool:
        """Whether a revision follows the current one."""
        return self.redo_label is not None


@dataclass(frozen=True, slots=True)
class ListedBone:
    """What the list of documents says of one bone of a case."""

    bone: str
    side: str | None
    code: str | None
    principle: str


@dataclass(frozen=True, slots=True)
class Listing:
    """A line in the list of documents; ``bones`` as far as they can be made out."""

    id: str
    title: str
    version: int
    updated_at: datetime
    bones: tuple[ListedBone, ...]


@dataclass(frozen=True, slots=True)
class Page:
    """Some lines of the list, of ``total`` that were asked for.

    ``before`` and ``after`` name the places at which the page before ends and the next one begins; None: there is none.
    """

    lines: tuple[Listing, ...]
    total: int
    before: str | None
    after: str | None


@dataclass(frozen=True, slots=True)
class Exported:
    """A document's current case as a file; ``fault`` says why it can't be read, and then it is as stored."""

    name: str
    title: str
    content: bytes
    fault: str = ""


@dataclass(frozen=True, slots=True)
class Past:
    """A revision with its case as stored; ``previous_id`` is None for a first one."""

    id: int
    previous_id: int | None
    label: str
    created_at: datetime
    current: bool
    body: str


@dataclass(frozen=True, slots=True)
class RevisionInfo:
    """A revision without its case; ``previous_id`` is None for the first one, and for one copied with its what-if."""

    id: int
    previous_id: int | None
    label: str
    title: str
    created_at: datetime
    current: bool


@dataclass(frozen=True, slots=True)
class UnreadableCase:
    """A document whose current revision can't be read; ``earlier`` is the one that undo would go back to."""

    id: str
    version: int
    revision_id: int
    title: str
    earlier: RevisionInfo | None


@dataclass(frozen=True, slots=True)
class WhatIf:
    """A named variant of the construct at index ``target``: the one that stands there in an older revision.

    A revision never changes, so neither does the variant. ``construct`` is None where the revision can't be read.
    """

    id: int
    document_id: str
    revision_id: int
    target: int
    name: str
    created_at: datetime
    construct: Construct | None

    def fits(self, case: Case) -> bool:
        """Whether it can be read, and the case still has a construct on the same bone in this place."""
        if self.construct is None or self.target >= len(case.constructs):
            return False
        return case.constructs[self.target].bone.name == self.construct.bone.name

    def swap(self) -> Together | None:
        """The edit that puts the variant in place of the construct, its order of insertion included.

        None where it can't be read.
        """
        if self.construct is None:
            return None
        put = ReplaceConstruct(target=self.target, value=self.construct)
        return Together(label=f"Swap in {self.name}", edits=(put,))


def with_whatifs(case: Case, kept: Iterable[WhatIf]) -> Case:
    """The case with those of its what-ifs that can be read: as it travels in a file."""
    found = tuple(KeptConstruct(name=one.name, target=one.target, value=one.construct) for one in kept if one.construct)
    return case.model_copy(update={"whatifs": found})
