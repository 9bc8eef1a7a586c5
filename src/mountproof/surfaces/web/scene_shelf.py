"""Scenes, scans and pictures that were made before, kept while there is room."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import NamedTuple, TypeVar

from mountproof.answers.motion_parts import Movement
from mountproof.answers.motion_steps import motion_steps
from mountproof.answers.result import Answer
from mountproof.answers.scene import Scene, scene
from mountproof.answers.words import BY_KEY
from mountproof.case.digest import digest
from mountproof.case.model import Case
from mountproof.case.scans import Scan
from mountproof.surfaces.web.kept import Kept

_MOST_SCENES, _MOST_SCANS, _MOST_PICTURES = 4, 2, 60
#: What a scene reads beside what the contacts read.
_ALSO = ("instrument", "plane", "caliper", "marks", "pin_readings", "mounted_on", "dentition")

T = TypeVar("T")


class Made(NamedTuple):
    """A scene under the digest of what it was made from."""

    digest: str
    scene: Scene


class Shelf:
    """What the picture in space needs, made once for all who look."""

    def __init__(self) -> None:
        self._scenes: Kept[Made] = Kept(_MOST_SCENES)
        self._motions: Kept[tuple[Movement, ...]] = Kept(_MOST_SCENES)
        self._scans: Kept[Scan] = Kept(_MOST_SCANS)
        self._pictures: Kept[bytes] = Kept(_MOST_PICTURES)
        self._locks: Kept[threading.Lock] = Kept(500)
        self._lock = threading.Lock()

    def scene(self, case: Case, contacts: Answer) -> Made:
        """Return the scene of a case, from its answer to the contacts."""
        of = scene_digest(case)
        name = f"{of} {contacts.digest} {contacts.evidence is None}"
        return self._once(self._scenes, name, lambda: Made(of, scene(case, contacts)))

    def motions(self, case: Case, contacts: Answer, guidance: Answer) -> tuple[Movement, ...]:
        """Return the movements of a case, from its answers to contacts and guidance."""
        name = f"{scene_digest(case)} {contacts.digest} {guidance.digest} {contacts.evidence is None}"
        return self._once(self._motions, name, lambda: motion_steps(case, contacts, guidance))

    def scan(self, sha256: str, read: Callable[[], Scan]) -> Scan:
        """Return a scan as it lies in its file."""
        return self._once(self._scans, sha256, read)

    def picture(self, name: str, draw: Callable[[], bytes]) -> bytes:
        """Return a drawn picture."""
        return self._once(self._pictures, name, draw)

    def _once(self, kept: Kept[T], name: str, make: Callable[[], T]) -> T:
        with self._lock:
            lock = self._locks.setdefault(f"{id(kept)} {name}", threading.Lock())
        with lock:
            found = kept.get(name)
            if found is None:
                found = kept[name] = make()
        return found


def scene_digest(case: Case) -> str:
    """Return the digest of all that the scene of a case is made from; FaultError where a scan file cannot be read."""
    return digest(case, tuple(dict.fromkeys((*BY_KEY["contacts"].reads, *_ALSO))))
