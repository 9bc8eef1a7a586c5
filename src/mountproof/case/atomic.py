"""Replace a case file whole or not at all, and keep what stood in it before.

Decision: nothing a person entered is ever lost. Before a file is replaced, its text is kept beside it as
``earlier/case-0001.toml``, ``case-0002.toml`` and so on; these are never written again or removed by the program.
"""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path

from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import say

#: Folder beside the case file that keeps its earlier texts.
EARLIER = "earlier"


def replace_file(file: Path, data: bytes, expected: bytes | None) -> None:
    """Write ``data`` to ``file`` in one step; a reader sees the old or the new text, nothing between.

    ``expected`` is what the file held when the change was made (None: there was no file). FaultError
    ``case.changed`` where it holds something else by now, ``case.not_written`` where it cannot be written; in
    both cases the file is as it was.
    """
    file = Path(os.path.realpath(file))
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{file.name}.", dir=file.parent)
        temporary = Path(name)
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
            now = file.read_bytes() if file.exists() else None
            if now != expected:
                what, todo = (
                    say("the file was changed by somebody else meanwhile"),
                    say("Read the case again, then repeat this"),
                )
                raise FaultError([Fault("case.changed", what, todo, file.name)])
            if now is not None:
                temporary.chmod(file.stat().st_mode & 0o777)
                if now != data:
                    keep_earlier(file, now)
            else:
                temporary.chmod(0o666 & ~_umask())
            temporary.replace(file)
        finally:
            temporary.unlink(missing_ok=True)
        sync_folder(file.parent)
    except OSError as error:
        todo = say("Check whether the folder may be written to and the disk has room")
        what = say(
            "the case cannot be written ({why}); nothing was changed",
            why=refusal(error),
        )
        raise FaultError([Fault("case.not_written", what, todo, str(file))]) from error


def keep_earlier(file: Path, data: bytes) -> Path:
    """Keep ``data`` under the next free number in the folder of earlier texts; return its file."""
    folder = file.parent / EARLIER
    folder.mkdir(exist_ok=True)
    taken = [
        int(p.stem.rpartition("-")[2])
        for p in folder.glob(f"{file.stem}-[0-9]*{file.suffix}")
        if _numbered(p)
    ]
    number = max(taken, default=0)
    while True:
        number += 1
        kept = folder / f"{file.stem}-{number:04d}{file.suffix}"
        try:
            with kept.open("xb") as stream:
                stream.write(data)
                stream.flush()
                os.fsync(stream.fileno())
        except FileExistsError:
            continue
        sync_folder(folder)
        return kept


def _numbered(file: Path) -> bool:
    return file.stem.rpartition("-")[2].isdecimal()


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def sync_folder(folder: Path) -> None:
    """Ask the disk to keep the new name too; some systems cannot, and lose nothing by it."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
