"""What the list of cases says and looks for, in a table of its own; titles that can't be shown are mended."""

import json
from typing import Any

import sqlalchemy as sa
from alembic import op

from app.case.plain_text import mended_title
from app.store.lines import row_of
from app.store.packing import unpacked
from app.store.records import ListedBone

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

HEADS = sa.text(
    "SELECT document.id, revision.title, content.packed FROM document"
    " JOIN revision ON revision.id = document.head_id"
    " JOIN content ON content.document_id = revision.document_id AND content.hash = revision.content_hash"
)
TITLES = sa.text("SELECT id, title FROM revision")
RETITLE = sa.text("UPDATE revision SET title = :title WHERE id = :id")
NEW = sa.text(
    "INSERT INTO listed (document_id, title, bones, sought, title_key, bone_key)"
    " VALUES (:document_id, :title, :bones, :sought, :title_key, :bone_key)"
)
AT_ONCE = 500


def upgrade() -> None:
    """List every document by its current revision; one that can't be read, by its title alone."""
    op.create_table(
        "listed",
        sa.Column("document_id", sa.String(24), nullable=False),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("bones", sa.Text, nullable=False),
        sa.Column("sought", sa.Text, nullable=False),
        sa.Column("title_key", sa.LargeBinary, nullable=False),
        sa.Column("bone_key", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("document_id", name="pk_listed"),
        sa.ForeignKeyConstraint(["document_id"], ["document.id"], name="fk_listed_document_id", ondelete="CASCADE"),
    )
    for column in ("title_key", "bone_key"):
        op.create_index(f"ix_listed_{column}", "listed", [column])
    connection = op.get_bind()
    odd = [
        {"id": one.id, "title": mended_title(one.title)}
        for one in connection.execute(TITLES)
        if mended_title(one.title) != one.title
    ]
    if odd:
        connection.execute(RETITLE, odd)
    rows = [
        {"document_id": one.id, **row_of(mended_title(one.title), _bones(bytes(one.packed)))}
        for one in connection.execute(HEADS)
    ]
    for first in range(0, len(rows), AT_ONCE):
        connection.execute(NEW, rows[first : first + AT_ONCE])


def _bones(packed: bytes) -> tuple[ListedBone, ...]:
    """Of a case in whatever format, as far as it can be made out."""
    try:
        document = json.loads(unpacked(packed))
        return tuple(_bone(one) for one in document.get("constructs") or [document["construct"]])
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return ()


def _bone(construct: dict[str, Any]) -> ListedBone:
    bone, fracture = construct["bone"], construct["fracture"]
    found = (bone["name"], bone.get("side"), fracture.get("code"), construct["principle"])
    if not all(one is None or isinstance(one, str) for one in found) or None in (found[0], found[3]):
        raise ValueError(construct)
    return ListedBone(*found)
