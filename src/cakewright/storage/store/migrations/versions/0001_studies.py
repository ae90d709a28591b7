"""Studies, their revisions, refused texts, attached files and settings."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the first tables."""
    op.create_table(
        "studies",
        sa.Column("id", sa.String(32), primary_key=True),
        sa.Column("title", sa.Text, nullable=False),
        sa.Column("site", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("changed", sa.DateTime(timezone=True), nullable=False),
        sa.Column("removed", sa.Boolean, nullable=False),
    )
    op.create_table(
        "revisions",
        sa.Column("study", sa.String(32), sa.ForeignKey("studies.id"), primary_key=True),
        sa.Column("version", sa.Integer, primary_key=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kind", sa.String(16), nullable=False),
        sa.Column("places", sa.Text, nullable=False),
        sa.Column("author", sa.String(64), nullable=False),
        sa.Column("back", sa.Integer),
        sa.Column("forward", sa.Integer),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "kept",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("study", sa.String(32), sa.ForeignKey("studies.id"), nullable=False, index=True),
        sa.Column("base", sa.Integer, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("places", sa.Text, nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "attachments",
        sa.Column("study", sa.String(32), sa.ForeignKey("studies.id"), primary_key=True),
        sa.Column("name", sa.String(120), primary_key=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("data", sa.LargeBinary, nullable=False),
    )
    op.create_table(
        "settings",
        sa.Column("key", sa.String(64), primary_key=True),
        sa.Column("value", sa.LargeBinary, nullable=False),
    )


def downgrade() -> None:
    """Take them away again."""
    for table in ("settings", "attachments", "kept", "revisions", "studies"):
        op.drop_table(table)
