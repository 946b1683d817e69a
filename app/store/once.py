"""Writes that carry a key happen once, however often they are sent. Every function runs in the caller's transaction.

The key is kept with the write, in its transaction: both are there or neither is. Who sends the same again is answered
as the first time. After draft-ietf-httpapi-idempotency-key-header (IETF HTTPAPI working group; from memory).
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

from sqlalchemy import Connection, Executable, delete, select

from app.store.errors import KeyReused
from app.store.tables import write_key

KEPT_FOR = timedelta(days=7)  # a page that waits for its server lies open for days at most
PRUNED_EVERY = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Once:
    """A write's key, and a fingerprint (hex, at most 64 characters) of what it writes."""

    key: str
    what: str


@dataclass(frozen=True, slots=True)
class Done:
    """What a write made: a version of a document and the revision it stood at, or a what-if's number."""

    document_id: str
    number: int
    revision_id: int | None = None


class RepeatedError(Exception):
    """The key is kept already; the transaction must be rolled back, and the first answer given."""


@lru_cache(maxsize=2)  # an edit should not wait for it to be put together
def _keep(dialect: str) -> Executable:
    if dialect == "postgresql":
        from sqlalchemy.dialects.postgresql import insert  # a start should not load a database that isn't used
    else:
        from sqlalchemy.dialects.sqlite import insert  # type: ignore[assignment]

    return insert(write_key).on_conflict_do_nothing().returning(write_key.c.key)


def keep(connection: Connection, scope: str, once: Once | None, done: Done) -> None:
    """Keep what was made, as the last step of the transaction that made it.

    Whoever comes with the same key meanwhile waits here for this transaction's end, or earlier, for the document.

    Args:
        connection: the transaction of the write.
        scope: the document's id, empty for a new one; the same key in another scope is another key.
        once: the key; without one nothing is kept.
        done: what was made.

    Raises:
        RepeatedError: the key is kept already.
    """
    if once is None:
        return
    row = {
        "scope": scope,
        "key": once.key,
        "what": once.what,
        "document_id": done.document_id,
        "number": done.number,
        "revision_id": done.revision_id,
        "created_at": datetime.now(UTC),
    }
    if connection.execute(_keep(connection.dialect.name), row).first() is None:
        raise RepeatedError


def found(connection: Connection, scope: str, once: Once) -> Done | None:
    """What was made under the key, if anything was; for a transaction after the one that was refused.

    Raises:
        KeyReused: the key was used for something else.
    """
    wanted = select(write_key).where(write_key.c.scope == scope, write_key.c.key == once.key)
    row = connection.execute(wanted).one_or_none()
    if row is None:
        return None
    if row.what != once.what:
        message = "this key was used for another change; nothing was written. Give every change a key of its own."
        raise KeyReused(message)
    return Done(row.document_id, row.number, row.revision_id)


def prune(connection: Connection, now: datetime) -> None:
    """Forget the keys that nobody will come back with."""
    connection.execute(delete(write_key).where(write_key.c.created_at < now - KEPT_FOR))
