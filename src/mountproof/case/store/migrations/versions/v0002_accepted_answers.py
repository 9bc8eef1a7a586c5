"""What a person accepted, with the digest it was accepted on."""

import sqlalchemy as sa
from alembic import op

from mountproof.case.store.migrations.append_only import append_only

revision = "2"
down_revision = "1"


def upgrade() -> None:
    """Add the table of accepted answers."""
    op.create_table(
        "accepted",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), nullable=False),
        sa.Column("revision_id", sa.Integer, sa.ForeignKey("revisions.id"), nullable=False),
        sa.Column("question", sa.Text, nullable=False),
        sa.Column("reads", sa.Text, nullable=False),
        sa.Column("seed", sa.Integer, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("stands", sa.Integer, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("at_utc", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("accepted_by_case", "accepted", ["case_id"])
    append_only("accepted")
