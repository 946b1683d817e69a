"""The secret that sign-in cookies and read-only links are signed with, for machines that share a database."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Add the table, empty."""
    op.create_table(
        "secret",
        sa.Column("name", sa.String(32), nullable=False),
        sa.Column("value", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_secret"),
    )
