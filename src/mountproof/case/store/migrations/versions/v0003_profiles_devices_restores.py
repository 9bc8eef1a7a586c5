"""Instrument profiles, paired devices, who brought a case in, and what a restore left behind."""

import sqlalchemy as sa
from alembic import op

from mountproof.case.store.migrations.append_only import append_only

revision = "3"
down_revision = "2"


def upgrade() -> None:
    """Add the tables of version 3; no row that was there is touched."""
    op.create_table(
        "profiles",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("at_utc", sa.Text, nullable=False),
        sa.Column("entered", sa.Text),
        sa.Column("program", sa.Text, nullable=False),
        sa.UniqueConstraint("name", "number"),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "devices",
        sa.Column("key", sa.Integer, primary_key=True),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("token_sha256", sa.Text, nullable=False, unique=True),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("paired_utc", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "devices_revoked",
        sa.Column("key", sa.Integer, primary_key=True),
        sa.Column("id", sa.Text, sa.ForeignKey("devices.id"), nullable=False, unique=True),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("at_utc", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "devices_seen",
        sa.Column("id", sa.Text, sa.ForeignKey("devices.id"), primary_key=True),
        sa.Column("at_utc", sa.Text, nullable=False),
    )
    op.create_table(
        "brought_in",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), nullable=False),
        sa.Column("first", sa.Integer),
        sa.Column("last", sa.Integer, nullable=False),
        sa.Column("bundle_sha256", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("at_utc", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_index("brought_in_by_case", "brought_in", ["case_id"])
    op.create_table(
        "restores",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("kept", sa.Text, nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("at_utc", sa.Text, nullable=False),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "numbers_given",
        sa.Column("restore_id", sa.Integer, sa.ForeignKey("restores.id"), primary_key=True),
        sa.Column("case_id", sa.Integer, sa.ForeignKey("cases.id"), primary_key=True),
        sa.Column("number", sa.Integer, nullable=False),
    )
    op.create_index("numbers_given_by_case", "numbers_given", ["case_id"])
    for table in ("profiles", "devices", "devices_revoked", "brought_in", "restores", "numbers_given"):
        append_only(table)
