"""The tables: documents, the tree of their revisions, what those say, what-ifs, keys of writes, the server's secret."""

from datetime import UTC, datetime

from sqlalchemy import (
    Column,
    DateTime,
    Dialect,
    ForeignKey,
    ForeignKeyConstraint,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)


class Instant(TypeDecorator[datetime]):
    """A moment in UTC. SQLite keeps no time zone, so it is put back on reading."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Aware, in UTC."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Aware, in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


metadata = MetaData(
    naming_convention={
        "pk": "pk_%(table_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "ix": "ix_%(table_name)s_%(column_0_name)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
    }
)

document = Table(
    "document",
    metadata,
    Column("id", String(24), primary_key=True),
    Column("version", Integer, nullable=False),
    Column("head_id", Integer, nullable=False),
    Column("created_at", Instant, nullable=False),
    Column("updated_at", Instant, nullable=False, index=True),
    # Counts what happened to the document's what-ifs, which leave its version alone.
    Column("pins", Integer, nullable=False, server_default="0"),
    # Checked at commit: a document and its first revision need each other.
    ForeignKeyConstraint(
        ["head_id"], ["revision.id"], deferrable=True, initially="DEFERRED", use_alter=True, name="fk_document_head_id"
    ),
)

revision = Table(
    "revision",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("document_id", String(24), ForeignKey("document.id", ondelete="CASCADE"), nullable=False, index=True),
    # No cascade here: along a long chain of revisions SQLite would run out of its allowed depth.
    Column("previous_id", Integer, ForeignKey("revision.id"), nullable=True, index=True),
    Column("title", Text, nullable=False),
    Column("content_hash", LargeBinary(32), nullable=False, index=True),
    Column("label", Text, nullable=False),
    Column("created_at", Instant, nullable=False),
    # Checked at commit: PostgreSQL may reach the contents of a deleted document before its revisions.
    ForeignKeyConstraint(
        ["document_id", "content_hash"],
        ["content.document_id", "content.hash"],
        deferrable=True,
        initially="DEFERRED",
        name="fk_revision_content_hash",
    ),
    # Cases are cached by revision id, so an id must never come back, not even after the document was deleted.
    sqlite_autoincrement=True,
)

# What revisions say. Equal revisions of a document share a row; those of different documents never do, so that a
# document goes with all that is its own, and nobody who writes into one waits for who writes into another.
content = Table(
    "content",
    metadata,
    Column("document_id", String(24), ForeignKey("document.id", ondelete="CASCADE"), primary_key=True),
    Column("hash", LargeBinary(32), primary_key=True),
    Column("packed", LargeBinary, nullable=False),
    # One tree on the disk instead of two, and a document's contents side by side in it.
    sqlite_with_rowid=False,
)

# What the list of cases says of each and looks for, in a table of its own: a page of it reads no case, and an edit
# writes no more than it must. Keys to sort by are bytes, which every database puts in the same order.
listed = Table(
    "listed",
    metadata,
    Column("document_id", String(24), ForeignKey("document.id", ondelete="CASCADE"), primary_key=True),
    Column("title", Text, nullable=False),
    Column("bones", Text, nullable=False),
    Column("sought", Text, nullable=False),
    Column("title_key", LargeBinary, nullable=False, index=True),
    Column("bone_key", LargeBinary, nullable=False, index=True),
)

whatif = Table(
    "whatif",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("document_id", String(24), ForeignKey("document.id", ondelete="CASCADE"), nullable=False),
    Column("revision_id", Integer, ForeignKey("revision.id", ondelete="CASCADE"), nullable=False, index=True),
    Column("target", Integer, nullable=False),
    Column("name", String(60), nullable=False),
    Column("created_at", Instant, nullable=False),
    UniqueConstraint("document_id", "target", "name"),
    # An address that named a what-if must never come to name another one.
    sqlite_autoincrement=True,
)

# What letting people in needs kept: what signs, which phrase was last, what has ended, tries of the phrase.
secret = Table(
    "secret",
    metadata,
    Column("name", String(32), primary_key=True),
    Column("value", LargeBinary, nullable=False),
)

# Written with the write that carries the key, so that a repeat finds it; rows are dropped when they are old.
write_key = Table(
    "write_key",
    metadata,
    Column("scope", String(24), primary_key=True),
    Column("key", String(100), primary_key=True),
    Column("what", String(64), nullable=False),
    Column("document_id", String(24), nullable=False),
    Column("number", Integer, nullable=False),
    Column("revision_id", Integer),
    Column("created_at", Instant, nullable=False),
    # One tree on the disk instead of two: every edit writes into it. Old rows are looked for once an hour only, so
    # that an index for them would cost more than it saves.
    sqlite_with_rowid=False,
)
