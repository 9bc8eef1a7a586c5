"""A registry: rows of many cases in one database, written once each, and runs that can be gone on with."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Any, Final, NamedTuple

from sqlalchemy import Connection, Executable, create_engine, event, func, insert, select, update
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.exc import DBAPIError, IntegrityError, InterfaceError, OperationalError, ProgrammingError

from mountproof.case.store import registry_tables as t
from mountproof.case.store.faults import named, refuse
from mountproof.case.store.registry_url import Kept, kept_in
from mountproof.case.store.times import Clock, to_text, utc_now
from mountproof.said import say

_WAIT_S: Final = 20
#: Rows in one statement: SQLite takes some thirty thousand values.
_AT_ONCE: Final = 1000


class Member(NamedTuple):
    """A case that a run is about: where it came from, and the SHA-256 of its text (64 hex digits)."""

    source: str
    digest: str


class Row(NamedTuple):
    """What one text of a case gave: ``numbers`` or ``fault``, as JSON; the other is None. ``code`` may be empty."""

    digest: str
    code: str
    numbers: str | None
    fault: str | None


class Registry:
    """The registry at a file or an address. One thread may use it at a time. Use it in a ``with`` block."""

    def __init__(self, where: str | Kept, program: str, clock: Clock = utc_now) -> None:
        """Open the registry, its tables made where there are none. ``program`` is the version whose rows are meant.

        FaultError ``registry.address``, ``registry.not_reached``, or as the store for a file.
        """
        self.kept = where if isinstance(where, Kept) else kept_in(where)
        self.program, self._clock = program, clock
        self._sqlite = self.kept.url.get_backend_name() == "sqlite"
        with self._faults():
            if self._sqlite:
                Path(str(self.kept.url.database)).parent.mkdir(parents=True, exist_ok=True)
                self._engine = create_engine(self.kept.url, connect_args={"timeout": _WAIT_S})
                event.listen(self._engine, "connect", _careful)
            else:
                wait = {"connect_timeout": _WAIT_S, "application_name": "mountproof"}
                self._engine = create_engine(self.kept.url, connect_args=wait, pool_size=1)
        try:
            self._make_tables()
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Registry:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close every connection."""
        self._engine.dispose()

    def begin(self, members: Sequence[Member]) -> str:
        """Begin a run over ``members``, in their order; return its name. A run that was stopped before stays stopped."""
        uid, now = uuid.uuid4().hex, to_text(self._clock())
        with self._writing() as connection:
            connection.execute(
                insert(t.runs).values(uid=uid, program=self.program, state="running", begun_utc=now)
            )
            listed = [{"run_uid": uid, "place": i, **one._asdict()} for i, one in enumerate(members)]
            for at in range(0, len(listed), _AT_ONCE):
                connection.execute(insert(t.members), listed[at : at + _AT_ONCE])
        return uid

    def end(self, run: str, state: str) -> None:
        """Say that a run is ``done`` or was ``stopped``."""
        with self._writing() as connection:
            now = to_text(self._clock())
            connection.execute(update(t.runs).where(t.runs.c.uid == run).values(state=state, ended_utc=now))

    def left(self, run: str) -> list[int]:
        """Return the places in the list of a run whose text has no row yet, each text once, in order."""
        query = (
            select(func.min(t.members.c.place).label("first"))
            .where(t.members.c.run_uid == run, ~self._has_row())
            .group_by(t.members.c.digest)
            .order_by("first")
        )
        with self._reading() as connection:
            return [int(place) for place in connection.execute(query).scalars()]

    def write(self, rows: Sequence[Row]) -> int:
        """Write rows in one transaction; return how many were new. A row that stands there already is left as it is."""
        if not rows:
            return 0
        now = to_text(self._clock())
        values = [{**one._asdict(), "program": self.program, "written_utc": now} for one in rows]
        with self._writing() as connection:
            return len(connection.execute(self._once(values)).scalars().all())

    def rows(self, run: str) -> list[tuple[Member, Row]]:
        """Return what stands there of a run, each text once, in the order of its list."""
        m, r = t.members.c, t.rows.c
        query = (
            select(m.source, m.digest, r.code, r.numbers, r.fault)
            .join(t.rows, (r.digest == m.digest) & (r.program == self.program))
            .where(m.run_uid == run)
            .order_by(m.place)
        )
        found: dict[str, tuple[Member, Row]] = {}
        with self._reading() as connection:
            for source, digest, code, numbers, fault in connection.execute(query):
                found.setdefault(digest, (Member(source, digest), Row(digest, code, numbers, fault)))
        return list(found.values())

    def count(self) -> int:
        """Return how many rows stand there, of every run and every version of the program."""
        with self._reading() as connection:
            return int(connection.execute(select(func.count()).select_from(t.rows)).scalar_one())

    def state(self, run: str) -> str:
        """Return the state of a run. KeyError where there is no such run."""
        with self._reading() as connection:
            found = connection.execute(select(t.runs.c.state).where(t.runs.c.uid == run)).scalar()
        if found is None:
            raise KeyError(run)
        return str(found)

    def _has_row(self) -> Any:
        same = (t.rows.c.digest == t.members.c.digest) & (t.rows.c.program == self.program)
        return select(t.rows.c.digest).where(same).exists()

    def _once(self, values: list[dict[str, Any]]) -> Executable:
        keys = ["digest", "program"]
        if self._sqlite:
            new = sqlite.insert(t.rows).values(values).on_conflict_do_nothing(index_elements=keys)
            return new.returning(t.rows.c.digest)
        placed = postgresql.insert(t.rows).values(values).on_conflict_do_nothing(index_elements=keys)
        return placed.returning(t.rows.c.digest)

    def _make_tables(self) -> None:
        try:
            with self._writing() as connection:
                t.metadata.create_all(connection)
        except (IntegrityError, ProgrammingError):
            # Two that begin at the same moment: the other one has made them by now.
            with self._writing() as connection:
                t.metadata.create_all(connection)

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        with self._faults(), self._engine.begin() as connection:
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        # Nothing to commit: what is being written elsewhere neither waits for this nor keeps it waiting.
        with self._faults(), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def _faults(self) -> Iterator[None]:
        if self._sqlite:
            with named(self.kept.shown):
                yield
            return
        try:
            yield
        except (OperationalError, InterfaceError) as error:
            self._refuse(error)
        except DBAPIError as error:
            if not error.connection_invalidated:
                raise
            self._refuse(error)

    def _refuse(self, error: DBAPIError) -> None:
        why = type(error.orig).__name__
        what = say("the database does not answer or does not let you in ({why})", why=why)
        todo = say("Check computer, port, name and password, then repeat this: it goes on where it stopped")
        refuse("registry.not_reached", what, todo, self.kept.shown)


def _careful(raw: Any, _record: Any) -> None:
    for pragma in ("journal_mode = WAL", "foreign_keys = ON", "synchronous = FULL", "trusted_schema = OFF"):
        raw.execute(f"PRAGMA {pragma}")
