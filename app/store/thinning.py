"""Thinning the history of long ago: of revisions older than a limit, the last of each day stays.

What goes is found by pure functions; one document is thinned in one transaction, so that nobody waits for long.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, Engine, delete, select, update

from app.store.engine import for_writing
from app.store.tables import content, document, revision, whatif
from app.store.transaction import transaction

LEAST_DAYS = 8  # keys of writes name revisions for seven days
AT_ONCE = 500  # values in one statement; SQLite takes 999 in old versions


@dataclass(frozen=True, slots=True)
class Point:
    """A revision in the tree."""

    id: int
    previous_id: int | None
    created_at: datetime


def superfluous(points: Iterable[Point], head_id: int, pinned: Iterable[int], before: datetime) -> frozenset[int]:
    """Ids of the revisions that thinning takes away.

    What stays: everything since ``before``; the current revision with what undo and redo lead to from it; the first
    revision; what a what-if names; and the last revision of each day (UTC).
    """
    tree = sorted(points, key=lambda one: one.id)
    kept = {head_id, *pinned}
    last_of_day: dict[object, int] = {}
    for one in tree:
        if one.created_at >= before or one.previous_id in (None, head_id):
            kept.add(one.id)
        if one.id == head_id and one.previous_id is not None:
            kept.add(one.previous_id)
        last_of_day[one.created_at.date()] = one.id
    kept.update(last_of_day.values())
    return frozenset(one.id for one in tree) - kept


def joined(points: Iterable[Point], gone: frozenset[int]) -> Mapping[int, int | None]:
    """Of the revisions that stay and lose the one before, the nearest before it that stays."""
    before = {one.id: one.previous_id for one in points}
    found: dict[int, int | None] = {}
    for child, previous in before.items():
        if child in gone or previous not in gone:
            continue
        at: int | None = previous
        while at is not None and at in gone:
            at = before[at]
        found[child] = at
    return found


def thin_library(engine: Engine, before: datetime) -> int:
    """Thin every document's history; answers how many revisions went.

    Raises:
        Unavailable: the database can't serve; what was thinned by then stays so.
    """
    writer = for_writing(engine)
    with transaction(engine) as connection:
        ids = connection.execute(select(document.c.id)).scalars().all()
    gone = 0
    for document_id in ids:
        with transaction(writer, counted=False) as connection:
            gone += thin(connection, document_id, before)
    return gone


def thin(connection: Connection, document_id: str, before: datetime) -> int:
    """Thin one document's history; answers how many revisions went. A document that is gone has none."""
    wanted = select(document.c.head_id).where(document.c.id == document_id).with_for_update()
    head_id = connection.execute(wanted).scalar_one_or_none()
    if head_id is None:
        return 0
    rows = connection.execute(
        select(revision.c.id, revision.c.previous_id, revision.c.created_at).where(
            revision.c.document_id == document_id
        )
    )
    points = [Point(*row) for row in rows]
    pins = connection.execute(select(whatif.c.revision_id).where(whatif.c.document_id == document_id)).scalars()
    gone = superfluous(points, head_id, pins, before)
    for child, at in joined(points, gone).items():
        connection.execute(update(revision).where(revision.c.id == child).values(previous_id=at))
    ids = sorted(gone)
    parts = [ids[start : start + AT_ONCE] for start in range(0, len(ids), AT_ONCE)]
    for part in parts:  # until none names another, none can be deleted
        connection.execute(update(revision).where(revision.c.id.in_(part)).values(previous_id=None))
    for part in parts:
        connection.execute(delete(revision).where(revision.c.id.in_(part)))
    said = select(revision.c.content_hash).where(revision.c.document_id == document_id)
    connection.execute(delete(content).where(content.c.document_id == document_id, content.c.hash.not_in(said)))
    return len(ids)
