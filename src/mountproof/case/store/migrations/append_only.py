"""Let the database itself refuse to change or remove rows of a table."""

from __future__ import annotations

from alembic import op


def append_only(table: str) -> None:
    """Add the two triggers that keep every row of ``table`` as it was written. For use inside a step only."""
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
            f"BEGIN SELECT RAISE(ABORT, '{table}: rows are only ever added'); END"
        )
