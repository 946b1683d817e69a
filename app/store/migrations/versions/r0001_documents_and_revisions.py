"""Documents and their tree of revisions."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make both tables, which refer to each other."""
    on_sqlite = op.get_bind().dialect.name == "sqlite"
    head = sa.ForeignKeyConstraint(
        ["head_id"], ["revision.id"], name="fk_document_head_id", deferrable=True, initially="DEFERRED"
    )
    # SQLite can't add a constraint later, but lets one refer to a table still to come; PostgreSQL is the opposite.
    _document(head) if on_sqlite else _document()
    _revision()
    if not on_sqlite:
        op.create_foreign_key(
            "fk_document_head_id", "document", "revision", ["head_id"], ["id"], deferrable=True, initially="DEFERRED"
        )


def _document(*constraints: sa.Constraint) -> None:
    op.create_table(
        "document",
        sa.Column("id", sa.String(24), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("head_id", sa.Integer, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("updated_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_document"),
        *constraints,
    )
    op.create_index("ix_document_updated_at", "document", ["updated_at"])


def _revision() -> None:
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("document_id", sa.String(24), nullable=False),
        sa.Column("previous_id", sa.Integer),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("body", sa.Text, nullable=False),
        sa.Column("content_hash", sa.String(64), nullable=False),
        sa.Column("label", sa.Text, nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_revision"),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name="fk_revision_document_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["previous_id"], ["revision.id"], name="fk_revision_previous_id"),
        sqlite_autoincrement=True,
    )
    for column in ("document_id", "previous_id", "content_hash"):
        op.create_index(f"ix_revision_{column}", "revision", [column])
