"""The first shape: cases, events, blobs. Written out, so that later changes of the tables do not alter it."""

import sqlalchemy as sa
from alembic import op

revision = "s0001"
down_revision = None


def upgrade() -> None:
    """Make the three tables."""
    op.create_table(
        "cases",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.String(120), nullable=False, unique=True),
        sa.Column("opened_at", sa.String(64), nullable=False),
    )
    op.create_table(
        "events",
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), primary_key=True),
        sa.Column("sequence", sa.Integer, primary_key=True, autoincrement=False),
        sa.Column("kind", sa.String(60), nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("at", sa.String(64), nullable=False),
        sa.Column("author", sa.String(200), nullable=False),
        sa.Column("body", sa.Text, nullable=False),
    )
    op.create_table(
        "blobs",
        sa.Column("sha256", sa.String(64), primary_key=True),
        sa.Column("content", sa.LargeBinary, nullable=False),
    )
