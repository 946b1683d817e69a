"""The SQL of what revisions say, in the table ``content``. Every function runs inside the caller's transaction."""

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from sqlalchemy import Connection, Executable, Select, select

from app.case import Case
from app.store.content import body_of, hash_of
from app.store.errors import NotFound
from app.store.packing import packed, unpacked
from app.store.records import Past
from app.store.tables import content, document, revision, whatif

_CONTENT = select(content.c.hash, content.c.packed).join_from(revision, content)


@lru_cache(maxsize=4)  # an edit should not wait for it to be put together
def _insert(dialect: str, whole: bool) -> Executable:
    """Keep what a revision says. What is known to be whole takes the place of what equals it, which may be damaged."""
    if dialect == "postgresql":
        from sqlalchemy.dialects.postgresql import insert as into  # a start should not load a database that isn't used
    else:
        from sqlalchemy.dialects.sqlite import insert as into  # type: ignore[assignment]

    new = into(content)
    if not whole:
        return new.on_conflict_do_nothing()
    return new.on_conflict_do_update(index_elements=["document_id", "hash"], set_={"packed": new.excluded.packed})


def keep(connection: Connection, document_id: str, case: Case) -> bytes:
    """Keep what a revision of the document says; answers the hash that the revision names it by."""
    content_hash = hash_of(case)
    _put(connection, document_id, content_hash, packed(body_of(case)), whole=True)
    return content_hash


def copy(connection: Connection, revision_id: int, document_id: str) -> bytes:
    """Keep what another document's revision says, byte for byte; answers as ``keep`` does."""
    old = connection.execute(_CONTENT.where(revision.c.id == revision_id)).one()
    _put(connection, document_id, old.hash, old.packed, whole=False)
    return bytes(old.hash)


def _put(connection: Connection, document_id: str, content_hash: bytes, kept: bytes, *, whole: bool) -> None:
    row = {"document_id": document_id, "hash": content_hash, "packed": kept}
    connection.execute(_insert(connection.dialect.name, whole), row)


def body(connection: Connection, document_id: str, revision_id: int) -> bytes:
    """The JSON text of one revision in UTF-8; what is damaged, as it lies in the database.

    Raises:
        NotFound: the document has no such revision.
    """
    wanted = _CONTENT.where(revision.c.id == revision_id, revision.c.document_id == document_id)
    found = connection.execute(wanted).one_or_none()
    if found is None:
        message = f"no such revision of case {document_id}: {revision_id}"
        raise NotFound(message)
    return unpacked(bytes(found.packed))


def heads(connection: Connection) -> Iterator[tuple[str, int, str, bytes]]:
    """Of every document its id, and its current revision's id, title and text, as ``body`` gives it."""
    rows = connection.execute(
        _CONTENT.add_columns(document.c.id, revision.c.id.label("revision_id"), revision.c.title).join(
            document, document.c.head_id == revision.c.id
        )
    )
    return ((row.id, row.revision_id, row.title, unpacked(bytes(row.packed))) for row in rows)


def pinned(connection: Connection) -> dict[int, bytes]:
    """The texts of all revisions that what-ifs name, by revision, as ``body`` gives them."""
    named = select(whatif.c.revision_id)
    rows = connection.execute(_CONTENT.add_columns(revision.c.id).where(revision.c.id.in_(named)))
    return {row.id: unpacked(bytes(row.packed)) for row in rows}


def revisions_of(document_id: str) -> Select[Any]:
    """Every revision of a document, oldest first: what is before it, its label, when it was made, whether it stands."""
    return (
        select(
            revision.c.id,
            revision.c.previous_id,
            revision.c.label,
            revision.c.created_at,
            (revision.c.id == document.c.head_id).label("current"),
        )
        .join_from(revision, document, document.c.id == revision.c.document_id)
        .where(revision.c.document_id == document_id)
        .order_by(revision.c.id)
    )


def history(connection: Connection, document_id: str) -> tuple[Past, ...]:
    """Every revision of a document with its body, oldest first."""
    rows = connection.execute(
        revisions_of(document_id)
        .add_columns(content.c.packed)
        .join(content, (content.c.document_id == revision.c.document_id) & (content.c.hash == revision.c.content_hash))
    )
    return tuple(
        Past(
            row.id,
            row.previous_id,
            row.label,
            row.created_at,
            bool(row.current),
            unpacked(bytes(row.packed)).decode("utf-8", "replace"),
        )
        for row in rows
    )
