"""The checks of scan files, as work beside the requests, remembered by what they read."""

from __future__ import annotations

import itertools
import threading
from collections.abc import Callable
from typing import NamedTuple

from mountproof.answers.progress import Progress
from mountproof.answers.scan_checks import Checked, checked
from mountproof.case.digest import digest
from mountproof.case.model import ScanEntry
from mountproof.said import say
from mountproof.surfaces.web.answering import Opened
from mountproof.surfaces.web.kept import Kept
from mountproof.surfaces.web.works import State, Works

_MOST = 500
#: What a check reads of a case.
_READS = ("scans", "dentition", "instrument")


class Look(NamedTuple):
    """What is known of the file of one scan by now: what was found, or the name of the work that looks."""

    found: Checked | None
    work: str | None


class Checks:
    """Checks the scans of cases once, however often they are asked for."""

    def __init__(self, works: Works, tell: Callable[[int, int], None]) -> None:
        self._works, self._tell = works, tell
        self._found: Kept[Checked] = Kept(_MOST)
        self._stopped: Kept[bool] = Kept(_MOST)
        self._going: dict[str, str] = {}
        self._lock = threading.Lock()
        self._count = itertools.count(1)

    def look(self, opened: Opened, *, begin: bool = True, again: bool = False) -> tuple[Look, ...]:
        """Return what is known of every scan of a case, in the order of its entries.

        A file that was not checked yet is, as work (``begin``); one whose check somebody stopped only ``again``.
        """
        if opened.faults or not opened.case.scans or opened.case.folder is None:
            return tuple(Look(None, None) for _ in opened.case.scans)
        key = digest(opened.case, _READS)
        return tuple(
            self._one(opened, entry, f"{entry.arch.value} {key}", begin, again) for entry in opened.case.scans
        )

    def _one(self, opened: Opened, entry: ScanEntry, key: str, begin: bool, again: bool) -> Look:
        with self._lock:
            found = self._found.get(key)
            if found is not None:
                return Look(found, None)
            if key in self._going:
                return Look(None, self._going[key])
            if again:
                self._stopped.pop(key, None)
            if not begin or key in self._stopped:
                return Look(None, None)
            name = f"check-{opened.case_id}-{entry.arch.value}-{next(self._count)}"
            older = [
                work
                for work in self._going.values()
                if work.startswith(f"check-{opened.case_id}-{entry.arch.value}-")
            ]
            self._going[key] = name

        def run(progress: Progress) -> None:
            self._found[key] = checked(opened.case, entry, progress)
            progress(1.0, say("done"))

        def ended(state: State) -> None:
            with self._lock:
                self._going.pop(key, None)
                if state != "done" and key not in self._found:
                    self._stopped[key] = True
            self._tell(opened.case_id, opened.number)

        for work in older:
            self._works.cancel(work)
        self._works.begin(name, opened.case_id, say("reading the scan"), run, ended)
        return Look(None, name)
