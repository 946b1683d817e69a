"""Putting something else where a revision's case was: hand-damaged, or of a later version."""

from sqlalchemy import select, update

from app.store import Store
from app.store.packing import packed
from app.store.tables import content, revision


def damage(store: Store, revision_id: int, body: str) -> None:
    """Let the revision say ``body``."""
    with store.engine.begin() as connection:
        wanted = select(revision.c.document_id, revision.c.content_hash).where(revision.c.id == revision_id)
        document_id, said = connection.execute(wanted).one()
        its_own = update(content).where(content.c.document_id == document_id, content.c.hash == said)
        connection.execute(its_own.values(packed=packed(body.encode())))
