"""What revisions say, packed, in a table of its own; equal revisions of a document share a row."""

import re
from collections.abc import Iterable
from hashlib import sha256
from typing import Any

import sqlalchemy as sa
from alembic import op

from app.store.packing import packed

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

HEX = re.compile(r"[0-9a-f]{64}")
NEW_CONTENT = sa.text("INSERT INTO content (document_id, hash, packed) VALUES (:document_id, :hash, :packed)")


def upgrade() -> None:
    """Carry every revision over, document by document; its number stays, and so do the numbers never used again."""
    op.create_table(
        "content",
        sa.Column("document_id", sa.String(24), nullable=False),
        sa.Column("hash", sa.LargeBinary(32), nullable=False),
        sa.Column("packed", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("document_id", "hash", name="pk_content"),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name="fk_content_document_id", ondelete="CASCADE"),
        sqlite_with_rowid=False,
    )
    _on_sqlite() if op.get_bind().dialect.name == "sqlite" else _on_postgresql()


def _on_sqlite() -> None:
    # ALTER TABLE adds no constraint there, so the table is made anew; the caller has turned foreign keys off.
    op.create_table(
        "new_revision",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("document_id", sa.String(24), nullable=False),
        sa.Column("previous_id", sa.Integer),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("content_hash", sa.LargeBinary(32), nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_revision"),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name="fk_revision_document_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["previous_id"], ["revision.id"], name="fk_revision_previous_id"),
        sa.ForeignKeyConstraint(
            ["document_id", "content_hash"],
            ["content.document_id", "content.hash"],
            name="fk_revision_content_hash",
            deferrable=True,
            initially="DEFERRED",
        ),
        sqlite_autoincrement=True,
    )
    connection = op.get_bind()
    # Byte for byte, also what was damaged and is no text any more.
    moved = sa.text(
        "INSERT INTO new_revision SELECT id, document_id, previous_id, title, :hash, label, created_at"
        " FROM revision WHERE id = :id"
    )
    _fill(connection, "CAST(body AS BLOB)", moved)
    used = connection.execute(sa.text("SELECT seq FROM sqlite_sequence WHERE name = 'revision'")).scalar()
    op.drop_table("revision")
    op.rename_table("new_revision", "revision")
    for column in ("document_id", "previous_id", "content_hash"):
        op.create_index(f"ix_revision_{column}", "revision", [column])
    if used is not None:
        connection.execute(sa.text("UPDATE sqlite_sequence SET seq = :used WHERE name = 'revision'"), {"used": used})


def _on_postgresql() -> None:
    op.add_column("revision", sa.Column("said", sa.LargeBinary(32)))
    said = sa.text("UPDATE revision SET said = :hash WHERE id = :id")
    _fill(op.get_bind(), "convert_to(body, 'UTF8')", said)
    op.drop_column("revision", "body")
    op.drop_column("revision", "content_hash")  # and its index with it
    op.alter_column("revision", "said", new_column_name="content_hash", nullable=False)
    op.create_index("ix_revision_content_hash", "revision", ["content_hash"])
    op.create_foreign_key(
        "fk_revision_content_hash",
        "revision",
        "content",
        ["document_id", "content_hash"],
        ["document_id", "hash"],
        deferrable=True,
        initially="DEFERRED",
    )


def _fill(connection: sa.Connection, body: str, moved: sa.TextClause) -> None:
    documents = connection.execute(sa.text("SELECT DISTINCT document_id FROM revision")).scalars().all()
    wanted = sa.text(f"SELECT id, {body}, content_hash FROM revision WHERE document_id = :document_id ORDER BY id")
    for document_id in documents:
        texts, hashes = _shared(connection.execute(wanted, {"document_id": document_id}))
        if texts:
            new = [{"document_id": document_id, "hash": key, "packed": packed(text)} for key, text in texts.items()]
            connection.execute(NEW_CONTENT, new)
            connection.execute(moved, [{"id": number, "hash": key} for number, key in hashes.items()])


def _shared(rows: Iterable[Any]) -> tuple[dict[bytes, bytes], dict[int, bytes]]:
    """Texts by their hash, and hashes by revision.

    Texts that differ although their hashes agree, as one of an older format or a damaged one does, are all kept.
    """
    texts: dict[bytes, bytes] = {}
    hashes: dict[int, bytes] = {}
    for number, body, content_hash in rows:
        text = bytes(body)
        key = bytes.fromhex(content_hash) if HEX.fullmatch(content_hash) else sha256(text).digest()
        if texts.setdefault(key, text) != text:
            key = sha256(text).digest()
            texts[key] = text
        hashes[number] = key
    return texts, hashes
