"""The SQL of the store, one function per step; every function runs inside the caller's transaction."""

import secrets
import string
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, bindparam, delete, func, insert, select, text, update

from app.case import Case
from app.case.plain_text import BIDI_CONTROL, CONTROL
from app.store import bodies
from app.store.content import hash_of
from app.store.errors import NotFound, Stale
from app.store.records import RevisionInfo
from app.store.tables import document, revision, secret

CHANNEL = "fishplate"
PINS_CHANNEL = "fishplate_pins"
Decide = Callable[[dict[str, bytes]], dict[str, bytes | None]]  # names have 32 characters at most

ID_LENGTH = 12
_SETTLING = 0x6669_7369  # of PostgreSQL's advisory locks; the one beside it is the migrations'
LABEL_LENGTH = 120
_ALPHABET = string.ascii_lowercase + string.digits

_head = revision.alias("head")
_next = revision.alias("next")
_newest_child = (
    select(func.max(revision.c.id)).where(revision.c.previous_id == _head.c.id).correlate(_head)
).scalar_subquery()
_PLACE = (
    select(
        document.c.version,
        _head.c.id,
        _head.c.label,
        _head.c.previous_id,
        _next.c.id.label("next_id"),
        _next.c.label.label("next_label"),
    )
    .join_from(document, _head, _head.c.document_id == document.c.id)
    .outerjoin(_next, _next.c.id == _newest_child)
)
# What every edit asks is put together once: that takes longer than the database does.
_THIS = document.c.id == bindparam("document")
_POSITION = _PLACE.where(_head.c.id == document.c.head_id, _THIS)
_CLAIM = (
    update(document)
    .where(_THIS, document.c.version == bindparam("expected"))
    .values(version=document.c.version + 1, updated_at=bindparam("now"))
    .returning(document.c.head_id)
)
_MOVE_HEAD = update(document).where(_THIS).values(head_id=bindparam("head"))
_ADD_REVISION = insert(revision).returning(revision.c.id)


@dataclass(frozen=True, slots=True)
class Position:
    """Where a document stands: its head, and the revisions before and after it where there are any."""

    version: int
    head_id: int
    label: str
    previous_id: int | None
    next_id: int | None
    next_label: str | None


def new_id() -> str:
    """A short random id for an address: 12 letters and digits, 62 bits."""
    return "".join(secrets.choice(_ALPHABET) for _ in range(ID_LENGTH))


def missing(document_id: str) -> NotFound:
    """The error for a document that isn't there."""
    return NotFound(f"no such case: {document_id}")


def claim(connection: Connection, document_id: str, expected_version: int) -> int:
    """Raise the version by one if it is the expected one, and answer the head. Holds off other writers until commit.

    Raises:
        NotFound: no such document.
        Stale: the version is another one.
    """
    asked = {"document": document_id, "expected": expected_version, "now": datetime.now(UTC)}
    head_id = connection.execute(_CLAIM, asked).scalar_one_or_none()
    if head_id is None:
        current = versions(connection, (document_id,)).get(document_id)
        raise missing(document_id) if current is None else Stale(expected_version, current)
    return int(head_id)


def position(connection: Connection, document_id: str) -> Position:
    """Where the document stands.

    Raises:
        NotFound: no such document.
    """
    row = connection.execute(_POSITION, {"document": document_id}).one_or_none()
    if row is None:
        raise missing(document_id)
    return Position(*row)


def position_at(connection: Connection, document_id: str, revision_id: int) -> Position:
    """Where the document would stand at one of its revisions; the version is today's.

    Raises:
        NotFound: no such document, or it has no such revision.
    """
    row = connection.execute(_PLACE.where(document.c.id == document_id, _head.c.id == revision_id)).one_or_none()
    if row is None:
        raise missing(document_id)
    return Position(*row)


def add_document(connection: Connection) -> str:
    """A document of version 1 whose head is still to be set, before the transaction ends."""
    now = datetime.now(UTC)
    row = {"id": new_id(), "version": 1, "head_id": 0, "created_at": now, "updated_at": now}
    connection.execute(insert(document), row)
    return str(row["id"])


def as_kept(label: str) -> str:
    """The label as a revision keeps it: what no line of plain text holds leaves it."""
    return BIDI_CONTROL.sub("", CONTROL.sub(" ", label))[:LABEL_LENGTH].strip()


def add_revision(connection: Connection, document_id: str, previous_id: int | None, case: Case, label: str) -> int:
    """Append a revision, and answer its id."""
    row = {
        "document_id": document_id,
        "previous_id": previous_id,
        "title": case.title,
        "content_hash": bodies.keep(connection, document_id, case),
        "label": as_kept(label),
        "created_at": datetime.now(UTC),
    }
    return int(connection.execute(_ADD_REVISION, row).scalar_one())


def copy_revision(connection: Connection, revision_id: int, document_id: str, label: str) -> int:
    """A revision of another document, word for word and before all others."""
    title = connection.execute(select(revision.c.title).where(revision.c.id == revision_id)).scalar_one()
    new = {
        "document_id": document_id,
        "title": title,
        "content_hash": bodies.copy(connection, revision_id, document_id),
        "label": as_kept(label),
        "created_at": datetime.now(UTC),
    }
    return int(connection.execute(_ADD_REVISION, new).scalar_one())


def move_head(connection: Connection, document_id: str, revision_id: int) -> None:
    """Make a revision the current one."""
    connection.execute(_MOVE_HEAD, {"document": document_id, "head": revision_id})


def remove(connection: Connection, document_id: str) -> None:
    """Delete a document with all its revisions.

    Raises:
        NotFound: no such document.
    """
    if connection.execute(delete(document).where(document.c.id == document_id)).rowcount == 0:
        raise missing(document_id)


def versions(connection: Connection, ids: Iterable[str]) -> dict[str, int]:
    """Current versions of those documents that exist."""
    rows = connection.execute(select(document.c.id, document.c.version).where(document.c.id.in_(tuple(ids))))
    return {row.id: row.version for row in rows}


def same_content(connection: Connection, case: Case) -> str | None:
    """The oldest document whose current case is this one. Others who ask for the same content wait until commit."""
    content_hash = hash_of(case)
    if connection.dialect.name == "postgresql":
        key = int.from_bytes(content_hash[:7], "big")
        connection.execute(select(func.pg_advisory_xact_lock(key)))
    found = (
        select(document.c.id)
        .join_from(document, revision, revision.c.id == document.c.head_id)
        .where(revision.c.content_hash == content_hash)
        .order_by(document.c.created_at, document.c.id)
        .limit(1)
    )
    return connection.execute(found).scalar_one_or_none()


def revisions(connection: Connection, document_id: str) -> tuple[RevisionInfo, ...]:
    """Revisions without their bodies, oldest first."""
    rows = connection.execute(bodies.revisions_of(document_id).add_columns(revision.c.title))
    return tuple(
        RevisionInfo(row.id, row.previous_id, as_kept(row.label), row.title, row.created_at, bool(row.current))
        for row in rows
    )


def notify(connection: Connection, document_id: str, version: int) -> None:
    """On PostgreSQL, tell every process of a change; it leaves with the commit, or not at all."""
    tell(connection, CHANNEL, f"{document_id}:{version}")


def tell(connection: Connection, channel: str, payload: str) -> None:
    """On PostgreSQL, tell every process that listens; it leaves with the commit, or not at all."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_notify(:channel, :payload)"), {"channel": channel, "payload": payload})


def kept(connection: Connection, prefix: str) -> dict[str, bytes]:
    """The values kept under names that begin so."""
    rows = connection.execute(select(secret).where(secret.c.name.startswith(prefix, autoescape=True)))
    return {row.name: bytes(row.value) for row in rows}


def settled(connection: Connection, prefix: str, decide: Decide) -> dict[str, bytes]:
    """Change what is kept under names that begin so; answer what is there then.

    ``decide`` is given what is there and answers what shall be (None: gone); no other process comes in between.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(select(func.pg_advisory_xact_lock(_SETTLING)))
    there = kept(connection, prefix)
    for name, value in decide(dict(there)).items():
        if there.get(name) == value:
            continue
        connection.execute(delete(secret).where(secret.c.name == name))
        there.pop(name, None)
        if value is not None:
            connection.execute(insert(secret), {"name": name, "value": value})
            there[name] = value
    return there
