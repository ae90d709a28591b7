"""People of a team with their roles and tokens, and who did what beside editing."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    """Make the two tables; what is there stays."""
    op.create_table(
        "people",
        sa.Column("name", sa.String(60), primary_key=True),
        sa.Column("role", sa.String(16), nullable=False),
        sa.Column("token", sa.String(64), nullable=False, unique=True),
        sa.Column("created", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended", sa.Boolean, nullable=False),
    )
    op.create_table(
        "acts",
        sa.Column("number", sa.Integer, primary_key=True, autoincrement=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.String(64), nullable=False),
        sa.Column("study", sa.String(32), nullable=False),
        sa.Column("act", sa.String(40), nullable=False),
        sa.Column("what", sa.Text, nullable=False),
    )


def downgrade() -> None:
    """Take them away again."""
    for table in ("acts", "people"):
        op.drop_table(table)
