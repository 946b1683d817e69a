"""The SQL of what-ifs: names pinned on revisions. Every function runs inside the caller's transaction."""

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import UTC, datetime

from sqlalchemy import Connection, delete, insert, select, update

from app.case import Case
from app.case.models import MAX_WHATIFS, KeptConstruct, whatif_name
from app.case.plain_text import mended_names, unlike
from app.store.bodies import body
from app.store.errors import BadName, NameTaken, NotFound, TooMany
from app.store.statements import PINS_CHANNEL, add_revision, missing, tell
from app.store.tables import document, whatif


@dataclass(frozen=True, slots=True)
class Pin:
    """A row of the table."""

    id: int
    document_id: str
    revision_id: int
    target: int
    name: str
    created_at: datetime


def count_change(connection: Connection, document_id: str) -> int:
    """Count a change of the document's what-ifs, and answer its head. Holds off other pinners until commit.

    On PostgreSQL every process is told, as the transaction commits.

    Raises:
        NotFound: no such document.
    """
    raised = (
        update(document)
        .where(document.c.id == document_id)
        .values(pins=document.c.pins + 1)
        .returning(document.c.head_id, document.c.pins)
    )
    row = connection.execute(raised).one_or_none()
    if row is None:
        raise missing(document_id)
    tell(connection, PINS_CHANNEL, f"{document_id}:{row.pins}")
    return int(row.head_id)


def counts(connection: Connection, ids: Iterable[str]) -> dict[str, int]:
    """How often the what-ifs of those documents that exist have changed."""
    rows = connection.execute(select(document.c.id, document.c.pins).where(document.c.id.in_(tuple(ids))))
    return {row.id: row.pins for row in rows}


def pins(connection: Connection, document_id: str | None = None) -> tuple[Pin, ...]:
    """All what-ifs of a document, or of all, by construct and then oldest first."""
    wanted = select(whatif).order_by(whatif.c.target, whatif.c.id)
    rows = connection.execute(wanted if document_id is None else wanted.where(whatif.c.document_id == document_id))
    return _as_shown([Pin(**row) for row in rows.mappings()])


def _as_shown(found: list[Pin]) -> tuple[Pin, ...]:
    """With names that older versions took as they can be shown."""
    names = mended_names([((one.document_id, one.target), one.name) for one in found])
    return tuple(one if one.name == name else replace(one, name=name) for one, name in zip(found, names, strict=True))


def pin(connection: Connection, document_id: str, whatif_id: int) -> Pin:
    """One what-if.

    Raises:
        NotFound: the document has no such what-if.
    """
    for found in pins(connection, document_id):
        if found.id == whatif_id:
            return found
    message = f"no such what-if of case {document_id}: {whatif_id}"
    raise NotFound(message)


def revision_of(connection: Connection, document_id: str, at: int | Case | None, head_id: int) -> int:
    """The revision to pin: the document's head, one that it has, or for a case that was only tried one of its own.

    The last lies beside the history, which neither undo nor redo leads to.

    Raises:
        NotFound: the document has no such revision.
    """
    if isinstance(at, Case):
        return add_revision(connection, document_id, None, at, "What-if, only tried")
    if at is not None:
        body(connection, document_id, at)
    return head_id if at is None else at


def add(connection: Connection, document_id: str, revision_id: int, target: int, name: str | None) -> Pin:
    """Pin a construct of a revision; without a name, the first free one of ``What-if 1``, ``What-if 2`` … is given.

    Raises:
        BadName: the name can't be one.
        NameTaken: another what-if of the same construct has it.
        TooMany: the document has as many as a file holds.
    """
    known = pins(connection, document_id)
    if len(known) >= MAX_WHATIFS:
        message = f"a case keeps at most {MAX_WHATIFS} what-ifs: remove one first"
        raise TooMany(message)
    taken = {found.name for found in known if found.target == target}
    row = {
        "document_id": document_id,
        "revision_id": revision_id,
        "target": target,
        "name": _free(taken) if name is None else _unused(cleaned(name), taken),
        "created_at": datetime.now(UTC),
    }
    return pin(connection, document_id, connection.execute(insert(whatif).returning(whatif.c.id), row).scalar_one())


def add_kept(connection: Connection, document_id: str, revision_id: int, one: KeptConstruct) -> Pin:
    """Pin what came with a file; where its name is taken, it gets a number."""
    taken = {found.name for found in pins(connection, document_id) if found.target == one.target}
    return add(connection, document_id, revision_id, one.target, unlike(one.name, taken))


def rename(connection: Connection, old: Pin, name: str) -> None:
    """Give a what-if another name; its own one is no other's.

    Raises:
        BadName: the name can't be one.
        NameTaken: another what-if of the same construct has it.
    """
    others = [found for found in pins(connection, old.document_id) if found.target == old.target and found.id != old.id]
    new = _unused(cleaned(name), {found.name for found in others})
    connection.execute(update(whatif).where(whatif.c.id == old.id).values(name=new))


def remove(connection: Connection, old: Pin) -> None:
    """Take a what-if away; its revision stays."""
    connection.execute(delete(whatif).where(whatif.c.id == old.id))


def cleaned(name: str) -> str:
    """The name as kept: composed letters, no blanks around it.

    Raises:
        BadName: longer than 60 characters, or not one line of plain text that can be seen.
    """
    try:
        return whatif_name(name)
    except ValueError as refused:
        message = f"the name {refused}"
        raise BadName(message) from refused


def _free(taken: set[str]) -> str:
    return next(name for number in itertools.count(1) if (name := f"What-if {number}") not in taken)


def _unused(name: str, taken: set[str]) -> str:
    if name in taken:
        message = f"another what-if of this construct is named {name}"
        raise NameTaken(message)
    return name
