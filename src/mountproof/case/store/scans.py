"""Scans and other files of cases, each once, under the SHA-256 of what it holds.

A file comes in as a stream, goes to the disk under a passing name, and gets its own name only when all of it is
there: whoever stops the program in between leaves at most a passing file, which ``leftovers`` lists.
"""

from __future__ import annotations

import hashlib
import os
import re
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, NamedTuple

from mountproof.case.atomic import sync_folder
from mountproof.case.store.faults import named, refuse
from mountproof.said import say

#: The largest scan that is taken: ten times a full arch at 20 um.
LARGEST_BYTES = 2_000_000_000
_CHUNK = 1 << 20
_DIGEST = re.compile(r"[0-9a-f]{64}")
_INCOMING = "incoming"
_AGAIN = say("Put the file in once more from where it came")


class Scan(NamedTuple):
    """One stored file. ``new`` tells whether it was not there before."""

    sha256: str
    bytes: int
    new: bool


class Stray(NamedTuple):
    """A file in the folder of scans that no revision needs; ``sha256`` is None for one that never came in whole."""

    file: Path
    bytes: int
    sha256: str | None


class ScanFolder:
    """A folder of files named by what they hold."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def add(self, source: BinaryIO, expected: str | None = None, most_bytes: int = LARGEST_BYTES) -> Scan:
        """Take in everything that ``source`` still gives, and return its SHA-256 and size.

        ``expected`` is the SHA-256 it should have. FaultError where it has another (``store.file_damaged``), is
        larger than ``most_bytes`` (``store.too_large``) or cannot be written; nothing is kept then.
        """
        incoming = self.folder / _INCOMING
        with named(self.folder):
            incoming.mkdir(parents=True, exist_ok=True)
            handle, name = tempfile.mkstemp(dir=incoming)
            passing = Path(name)
            try:
                with os.fdopen(handle, "wb") as sink:
                    sha256, size = _copied(source, sink, most_bytes)
                    sink.flush()
                    os.fsync(sink.fileno())
                if expected is not None and sha256 != expected:
                    what = say("the file is not the one that was announced")
                    refuse("store.file_damaged", what, _AGAIN, got=sha256, allowed=expected)
                new = self._placed(passing, sha256, size)
            finally:
                passing.unlink(missing_ok=True)
        return Scan(sha256, size, new)

    def add_file(self, file: Path, expected: str | None = None) -> Scan:
        """Take in a file; the rest as ``add``. FaultError, too, where it cannot be read."""
        with named(file), file.open("rb") as source:
            return self.add(source, expected)

    def path(self, sha256: str) -> Path:
        """Return where a file with this SHA-256 lies, or would lie. ValueError for text that is no SHA-256."""
        if not _DIGEST.fullmatch(sha256):
            raise ValueError("64 hexadecimal digits are needed, in lower case")
        return self.folder / sha256[:2] / sha256

    def holds(self, sha256: str) -> bool:
        """Tell whether a file with this SHA-256 is there, without reading it."""
        return self.path(sha256).is_file()

    @contextmanager
    def open(self, sha256: str) -> Iterator[BinaryIO]:
        """Give a stored file for reading, after all of it was compared with its SHA-256.

        FaultError ``store.file_missing`` where it is not there, ``store.file_damaged`` where it is another.
        """
        file = self.path(sha256)
        with named(file):
            try:
                stream = file.open("rb")
            except FileNotFoundError:
                refuse("store.file_missing", say("a stored scan is not there"), _AGAIN, str(file))
            with stream:
                if hashlib.file_digest(stream, "sha256").hexdigest() != sha256:
                    refuse(
                        "store.file_damaged", say("a stored scan is not what was put in"), _AGAIN, str(file)
                    )
                stream.seek(0)
                yield stream

    def verified(self, sha256: str) -> Path:
        """Return where a stored file lies, after all of it was compared with its SHA-256. FaultError as ``open``."""
        with self.open(sha256):
            return self.path(sha256)

    def everything(self) -> Iterator[str]:
        """Yield the SHA-256 of every file that is there, in order."""
        with named(self.folder):
            for folder in sorted(self.folder.glob("[0-9a-f][0-9a-f]")):
                yield from (file.name for file in sorted(folder.iterdir()) if _DIGEST.fullmatch(file.name))

    def leftovers(self, older_than_s: float = 0.0) -> Iterator[Stray]:
        """Yield what uploads left that were stopped; none that was written to in the last ``older_than_s`` seconds."""
        incoming = self.folder / _INCOMING
        with named(incoming):
            for file in sorted(incoming.iterdir()) if incoming.is_dir() else ():
                try:
                    status = file.stat()
                except FileNotFoundError:
                    continue  # came in whole meanwhile
                if time.time() - status.st_mtime >= older_than_s:
                    yield Stray(file, status.st_size, None)

    def _placed(self, passing: Path, sha256: str, size: int) -> bool:
        """Give a whole file its name; False where a good one has it already. A damaged one is replaced."""
        file = self.path(sha256)
        if file.is_file() and file.stat().st_size == size:
            with file.open("rb") as stream:
                if hashlib.file_digest(stream, "sha256").hexdigest() == sha256:
                    return False
        file.parent.mkdir(exist_ok=True)
        passing.chmod(0o444)
        passing.replace(file)
        sync_folder(file.parent)
        sync_folder(self.folder)
        return True


def _copied(source: BinaryIO, sink: BinaryIO, most_bytes: int) -> tuple[str, int]:
    total, size = hashlib.sha256(), 0
    while chunk := source.read(_CHUNK):
        size += len(chunk)
        if size > most_bytes:
            what, todo = say("the file is larger than any scan"), say("Export the scan with fewer triangles")
            refuse(
                "store.too_large",
                what,
                todo,
                allowed=say("at most {size:.0f} MB", size=most_bytes / 1e6),
            )
        total.update(chunk)
        sink.write(chunk)
    return total.hexdigest(), size
