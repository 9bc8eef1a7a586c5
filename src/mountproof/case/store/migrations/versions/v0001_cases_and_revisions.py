"""Cases, their revisions, scans and states; the list of cases."""

import sqlalchemy as sa
from alembic import op

from mountproof.case.store.migrations.append_only import append_only

revision = "1"
down_revision = None


def upgrade() -> None:
    """Make the tables of version 1."""
    op.create_table(
        "cases",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("uid", sa.Text, nullable=False, unique=True),
        sa.Column("begun_utc", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "revisions",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("parent_id", sa.Integer, sa.ForeignKey("revisions.id"), unique=True),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("at_utc", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.Column("text", sa.LargeBinary, nullable=False),
        sa.Column("text_sha256", sa.Text, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("program", sa.Text, nullable=False),
        sa.UniqueConstraint("case_id", "number"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "changes",
        sa.Column("revision_id", sa.Integer, sa.ForeignKey("revisions.id"), primary_key=True),
        sa.Column("place", sa.Integer, primary_key=True),
        sa.Column("field", sa.Text, nullable=False),
        sa.Column("old", sa.Text),
        sa.Column("new", sa.Text),
    )
    op.create_table(
        "scans",
        sa.Column("sha256", sa.Text, primary_key=True),
        sa.Column("bytes", sa.Integer, nullable=False),
        sa.Column("added_utc", sa.Text, nullable=False),
    )
    op.create_table(
        "revision_files",
        sa.Column("revision_id", sa.Integer, sa.ForeignKey("revisions.id"), primary_key=True),
        sa.Column("name", sa.Text, primary_key=True),
        sa.Column("sha256", sa.Text, sa.ForeignKey("scans.sha256"), nullable=False),
    )
    op.create_index("revision_files_by_scan", "revision_files", ["sha256"])
    op.create_table(
        "states",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("at_utc", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("states_by_case", "states", ["case_id"])
    op.create_table(
        "heads",
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), primary_key=True),
        sa.Column("head_id", sa.Integer, sa.ForeignKey("revisions.id"), nullable=False, unique=True),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("code", sa.Text, nullable=False),
        sa.Column("lab", sa.Text, nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("state", sa.Text, nullable=False),
        sa.Column("begun_utc", sa.Text, nullable=False),
        sa.Column("changed_utc", sa.Text, nullable=False),
        sa.Column("sort_code", sa.Text, nullable=False),
        sa.Column("search", sa.Text, nullable=False),
    )
    op.create_index("heads_by_code", "heads", ["sort_code", "case_id"])
    for table in ("cases", "revisions", "changes", "scans", "revision_files", "states"):
        append_only(table)
