"""The store: every case of a bench, every revision of each, and the scans, in one folder."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from mountproof.case.store.adopt import adopt
from mountproof.case.store.backup import make_backup
from mountproof.case.store.bundle import write_bundle
from mountproof.case.store.bundle_read import read_bundle
from mountproof.case.store.change import Change
from mountproof.case.store.checkup import checkup, strays
from mountproof.case.store.engine import WAIT_S, Database
from mountproof.case.store.faults import named
from mountproof.case.store.folders import changed_files, take_in, write_out
from mountproof.case.store.migrate import migrate
from mountproof.case.store.place import Place, user_place
from mountproof.case.store.records import Revision
from mountproof.case.store.restore import Restore, put_back, put_back_over_damaged
from mountproof.case.store.scans import ScanFolder, Stray
from mountproof.case.store.snapshot import Snapshot
from mountproof.case.store.times import Clock, to_text, utc_now
from mountproof.case.store.views import view
from mountproof.case.store.why import IMPORTED
from mountproof.faults import Fault, FaultError


class Store:
    """One store. Threads may share it; processes open one each. Close it, or use it in a ``with`` block."""

    def __init__(self, folder: Path | None = None, *, wait_s: float = WAIT_S, clock: Clock = utc_now) -> None:
        """Open the store in ``folder`` (the user's data folder unless told), made anew where there is none.

        A store of an older version is brought to this one; the database as it was stays in ``kept``. ``wait_s`` is
        how long to wait for another writer, ``clock`` tells the time in UTC. FaultError ``store.newer``,
        ``store.damaged``, ``store.read_only``, ``store.disk_full``, ``store.not_a_store`` or ``store.busy``.
        """
        self.place = user_place() if folder is None else Place(Path(folder))
        self.scans = ScanFolder(self.place.scans)
        self._clock, self._wait_s = clock, wait_s
        self._database = Database(self.place.database, wait_s)
        try:
            migrate(self._database, keep=self.place.kept)
        except BaseException:
            self._database.close()
            raise

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close every connection to the database."""
        self._database.close()

    @contextmanager
    def snapshot(self) -> Iterator[Snapshot]:
        """Give the store as it is now: all that is asked in the block is of one moment, whatever others write."""
        with self._database.reading() as connection:
            yield Snapshot(connection, self._view)

    @contextmanager
    def change(self, who: str) -> Iterator[Change]:
        """Give the one change that may be written now: all of the block is kept, or nothing if it raises.

        ``who`` is a name, initials or a code; ValueError where it is empty. FaultError ``store.busy`` where another
        change takes longer than the time to wait. Put scans in before, so that others need not wait for that.
        """
        name = _named(who)
        with self._database.writing() as connection:
            yield Change(connection, self._view, self.scans, name, self._clock())

    def import_folder(self, path: Path, who: str, case_id: int | None = None) -> Revision:
        """Take in a case folder: the case file byte for byte and every file beside it; return the revision.

        A new case, or the next revision of ``case_id``. The folder is only read. FaultError with every fault in it.
        """
        text, files = take_in(Path(path), self.scans)
        with self.change(who) as change:
            if case_id is None:
                return change.begin(text, files, IMPORTED)
            head = change.head(case_id)
            return change.save(case_id, text, head.number, changed_files(head.files, files), IMPORTED)

    def export_folder(self, case_id: int, goal: Path, number: int | None = None) -> Path:
        """Write a revision (the newest unless told) as a case folder; return its case file. See ``write_out``."""
        with self.snapshot() as snapshot:
            found = snapshot.head(case_id) if number is None else snapshot.revision(case_id, number)
        return write_out(found, Path(goal), self.scans)

    def export_bundle(self, case_id: int, goal: Path) -> Path:
        """Write a case with its history and scans to one file; return it. See ``write_bundle``."""
        with self.snapshot() as snapshot:
            return write_bundle(snapshot, case_id, Path(goal), self.scans)

    def import_bundle(self, file: Path, who: str, as_new: bool = False) -> int:
        """Take in a bundle; return the case. FaultError ``bundle....`` where it is not as this program makes them,
        and ``bundle.diverged`` where the case went on in both places (``as_new`` makes it a case of its own).
        """
        bundle = read_bundle(Path(file), self.scans)
        with self.change(who) as change:
            return adopt(change, bundle, as_new)

    def backup(self, folder: Path) -> Path:
        """Copy the store to ``folder`` while it is in use; return the folder. A backup can be opened as a store."""
        return make_backup(self.place, Path(folder))

    def restore(self, folder: Path, who: str) -> Path:
        """Put a backup in the place of what is here; return where the database that was here is kept.

        Numbers of revisions that were given since the backup are never given again. See ``put_back`` for what is
        refused; ValueError where ``who`` is empty.
        """
        with self._database.alone():
            restore = Restore(_named(who), to_text(self._clock()))
            return put_back(self.place, Path(folder), restore, self._wait_s)

    @staticmethod
    def recover(folder: Path, backup: Path, who: str, clock: Clock = utc_now) -> Path:
        """Put a backup in the place of a store that cannot be opened any more; return where its database is kept.

        Close everything that uses the store before. FaultError as ``restore``.
        """
        return put_back_over_damaged(
            Place(Path(folder)), Path(backup), Restore(_named(who), to_text(clock()))
        )

    def orphans(self, older_than_s: float = 0.0) -> tuple[Stray, ...]:
        """Return stored files that no revision needs, and what stopped uploads left ``older_than_s`` ago or more."""
        with self.snapshot() as snapshot:
            return tuple(strays(snapshot._connection, self.scans, older_than_s))

    def discard(self, chosen: Iterable[Stray], who: str) -> int:
        """Remove files that ``orphans`` found and that no revision needs by now; return how many went."""
        gone = 0
        with self.change(who) as change, named(self.place.scans):
            still = set(strays(change._connection, self.scans, 0.0))
            for one in chosen:
                if one in still:
                    one.file.unlink()
                    gone += 1
        return gone

    def check(self) -> tuple[Fault, ...]:
        """Return everything in the store that is not as it was written; every text and scan is compared."""
        try:
            with self.snapshot() as snapshot:
                return tuple(checkup(snapshot._connection, self.scans, str(self.place.database)))
        except FaultError as error:  # too damaged to be gone through
            return error.faults

    def _view(self, files: Mapping[str, str]) -> Path:
        return view(self.place.views, self.scans, files)


def _named(who: str) -> str:
    if not who.strip():
        raise ValueError("a change needs to say who made it")
    return who.strip()
