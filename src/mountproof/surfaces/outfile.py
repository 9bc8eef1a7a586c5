"""Files out: tried before the long computation, written whole or not at all."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import say


def check_writable(path: str | Path) -> None:
    """Raise ``FaultError`` unless a file could be written at ``path``; leaves nothing behind.

    Called before the computation, so that nobody waits for a file that cannot be kept.
    """
    target = Path(path)
    try:
        if target.is_dir():
            raise FaultError([_fault(target, say("this is a folder"), say("Name a file in it"))])
        handle, name = tempfile.mkstemp(prefix=".mountproof-", dir=target.parent)
        os.close(handle)
        Path(name).unlink()
        if target.exists() and not os.access(target, os.W_OK):
            raise PermissionError(13, say("the file is there and must not be written"))
    except OSError as error:
        raise FaultError(
            [_fault(target, refusal(error), say("Name another place, or free this one"))]
        ) from error


def write_whole(path: str | Path, content: bytes) -> None:
    """Write ``content`` at ``path`` whole or not at all; raises ``FaultError`` when it cannot be written."""
    target = Path(path)
    temporary = None
    try:
        handle, name = tempfile.mkstemp(prefix=".mountproof-", dir=target.parent)
        temporary = Path(name)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(target)
    except OSError as error:
        if temporary is not None:
            temporary.unlink(missing_ok=True)
        raise FaultError(
            [_fault(target, refusal(error), say("Name another place, or free this one"))]
        ) from error


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _why(error: OSError) -> str:
    return refusal(error)


def _fault(target: Path, why: str, todo: str) -> Fault:
    return Fault(
        "out.not-writable", say("nothing can be written here: {why}", why=why), todo, where=str(target)
    )
