"""Keys of writes, so that a write sent twice happens once."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table, empty; everything else stays as it is."""
    op.create_table(
        "write_key",
        sa.Column("scope", sa.String(24), nullable=False),
        sa.Column("key", sa.String(100), nullable=False),
        sa.Column("what", sa.String(64), nullable=False),
        sa.Column("document_id", sa.String(24), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("revision_id", sa.Integer),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("scope", "key", name="pk_write_key"),
        sqlite_with_rowid=False,
    )
