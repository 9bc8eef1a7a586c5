"""Bring the tables of a store to a version, one step after the other, all in one transaction."""

from __future__ import annotations

import threading
from pathlib import Path
from typing import Any

from sqlalchemy import Connection

from mountproof.case.store.engine import Database, table_version
from mountproof.case.store.schema import APPLICATION_ID, STORE_VERSION

_STEPS = Path(__file__).parent / "migrations"
#: The steps speak to one database of the process at a time: alembic hands it to them by a global name.
_TURN = threading.Lock()


def migrate(database: Database, to: int = STORE_VERSION, keep: Path | None = None) -> tuple[int, int]:
    """Bring a database to version ``to``; return the versions before and after.

    Where it holds an older version already, a copy of it as it was goes to the folder ``keep`` first, if given.
    Several programs may do this at once: the first does it, the others find it done. FaultError where it cannot
    be written; it is as it was then.
    """
    before = database.version()
    if before >= to:
        return before, before
    if before and keep is not None:
        from mountproof.case.store.backup import copy_database

        keep.mkdir(parents=True, exist_ok=True)
        copy_database(database.file, keep / f"version-{before}.sqlite")
    with database.writing() as connection:
        before = table_version(connection)
        if before < to:
            connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
            _run(connection, str(to))
    return before, max(before, to)


def steps() -> tuple[str, ...]:
    """Return the versions that there is a step to, oldest first."""
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(_STEPS))
    return tuple(reversed([one.revision for one in script.walk_revisions()]))


def _run(connection: Connection, to: str) -> None:
    # Late: a store that is up to date never needs it.
    from alembic.config import Config
    from alembic.runtime.environment import EnvironmentContext
    from alembic.runtime.migration import MigrationContext
    from alembic.script import ScriptDirectory

    script = ScriptDirectory(str(_STEPS))

    def upgrade(revision: Any, _context: MigrationContext) -> Any:
        return script._upgrade_revs(to, revision)

    with _TURN, EnvironmentContext(Config(), script, fn=upgrade) as environment:
        environment.configure(connection=connection)
        environment.run_migrations()
