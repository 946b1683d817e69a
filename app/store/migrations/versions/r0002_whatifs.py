"""What-ifs: named pins on revisions, and a count of what happened to them."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table and the count; documents and revisions stay as they are."""
    op.add_column("document", sa.Column("pins", sa.Integer, nullable=False, server_default="0"))
    op.create_table(
        "whatif",
        sa.Column("id", sa.Integer, nullable=False),
        sa.Column("document_id", sa.String(24), nullable=False),
        sa.Column("revision_id", sa.Integer, nullable=False),
        sa.Column("target", sa.Integer, nullable=False),
        sa.Column("name", sa.String(60), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_whatif"),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name="fk_whatif_document_id", ondelete="CASCADE"),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name="fk_whatif_revision_id", ondelete="CASCADE"),
        sa.UniqueConstraint("document_id", "target", "name", name="uq_whatif_document_id"),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_whatif_revision_id", "whatif", ["revision_id"])
