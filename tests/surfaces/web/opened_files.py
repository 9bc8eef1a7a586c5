"""Which files a block of code opens, makes, moves or lists, in every thread, as the interpreter itself tells."""

from __future__ import annotations

import os
import sys
import sysconfig
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NamedTuple

_ROOT = Path(__file__).resolve().parents[3]
#: The program and what it is made of; read, never written.
_PROGRAM = tuple(
    Path(one).resolve()
    for one in {sys.prefix, sys.base_prefix, *sysconfig.get_paths().values(), str(_ROOT / "src")}
)
#: Small files of the system that libraries read: time zones, kinds of files, the number of processors, chance.
_SYSTEM = tuple(
    Path(one)
    for one in (
        "/dev/null", "/dev/urandom", "/etc/localtime", "/etc/timezone", "/etc/mime.types", "/usr/share/zoneinfo",
        "/proc/cpuinfo", "/proc/self", "/proc/stat", "/sys/devices/system/cpu", "/sys/fs/cgroup",
    )
)  # fmt: skip
#: What is compiled is kept beside its source.
_COMPILED = {".pyc", ".nbi", ".nbc"}
_ONE_PATH = {
    "os.listdir", "os.scandir", "os.mkdir", "os.rmdir", "os.remove", "os.truncate", "os.chmod", "os.utime",
    "shutil.rmtree", "sqlite3.connect", "tempfile.mkstemp", "tempfile.mkdtemp", "os.chdir", "os.exec", "subprocess.Popen",
}  # fmt: skip
_TWO_PATHS = {"os.rename", "os.link", "os.symlink", "shutil.copyfile", "shutil.move"}
_WRITES = os.O_WRONLY | os.O_RDWR | os.O_CREAT | os.O_TRUNC | os.O_APPEND


class Touched(NamedTuple):
    """One file, and whether it may have been changed."""

    event: str
    path: Path
    writes: bool


_seen: list[Touched] | None = None
_lock = threading.Lock()
_hooked = False


def _hear(event: str, args: tuple[Any, ...]) -> None:
    if _seen is None:
        return
    if event == "open":
        path, mode, flags = args
        writes = bool((flags or 0) & _WRITES) or any(c in (mode or "") for c in "wax+")
        _note(event, path, writes)
    elif event in _ONE_PATH:
        # Taking a folder away goes from handle to handle: the last of what is told is then the folder's.
        folder = args[-1] if len(args) > 1 and isinstance(args[-1], int) else -1
        _note(event, args[0], event not in ("os.listdir", "os.scandir"), folder)
    elif event in _TWO_PATHS:
        _note(event, args[0], event != "shutil.copyfile")
        _note(event, args[1], True)


def _note(event: str, path: Any, writes: bool, folder: int = -1) -> None:
    if isinstance(path, int) or path is None:
        return
    text = os.fsdecode(path) if isinstance(path, bytes | os.PathLike) else str(path)
    if folder >= 0:
        text = str(Path(f"/proc/self/fd/{folder}").resolve() / text)
    elif event == "open" and not writes and not Path(text).is_absolute() and not Path(text).exists():
        return  # below a handle that is not told; it is heard again where anything is done with it
    if event == "sqlite3.connect" and (text == ":memory:" or text.startswith("file:")):
        text = text.removeprefix("file:").partition("?")[0]
    with _lock:
        if _seen is not None:
            _seen.append(Touched(event, Path(text), writes))


@contextmanager
def opened_files() -> Iterator[list[Touched]]:
    """Give the list of what is touched while the block runs."""
    global _seen, _hooked
    if not _hooked:
        sys.addaudithook(_hear)
        _hooked = True
    found: list[Touched] = []
    _seen = found
    try:
        yield found
    finally:
        _seen = None


def outside(found: list[Touched], *folders: Path) -> list[Touched]:
    """Return what was touched outside the folders given, the program's own files aside."""
    homes = tuple(folder.resolve() for folder in folders)
    return [one for one in found if not _allowed(one, homes)]


def _allowed(one: Touched, homes: tuple[Path, ...]) -> bool:
    # A path is taken as it would be followed, through every link.
    path = one.path.resolve()
    if any(path.is_relative_to(home) for home in homes):
        return True
    if any(path.is_relative_to(part) for part in _PROGRAM):
        return not one.writes or path.suffix.split("~")[0] in _COMPILED or "__pycache__" in path.parts
    if one.event == "os.listdir" and path in {Path(part).resolve() for part in sys.path}:
        return True  # where the interpreter looks for modules
    return not one.writes and any(path.is_relative_to(part) for part in _SYSTEM)
