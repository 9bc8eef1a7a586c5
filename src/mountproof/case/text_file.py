"""The text of a case file, or a fault that says why there is none."""

from __future__ import annotations

import codecs
import stat
from pathlib import Path as FilePath
from typing import NoReturn

from mountproof.faults import Fault, FaultError, refusal
from mountproof.said import say

#: Name of the file in a case folder.
CASE_FILE = "case.toml"
#: A case file is text typed by a person; a larger one is something else.
LARGEST_BYTES = 2_000_000


def case_file(path: str | FilePath) -> FilePath:
    """Return the case file that ``path`` means: the file itself, or ``case.toml`` in a folder."""
    path = FilePath(path)
    return path / CASE_FILE if path.is_dir() else path


def read_text(file: FilePath) -> str:
    """Return the text of a case file; FaultError where there is none, or it is not plain text."""
    return decoded(read_data(file), file)


def read_data(file: FilePath) -> bytes:
    """Return the bytes of a case file; FaultError where there is no such file, or it is too large."""
    try:
        status = file.stat()
        if stat.S_ISDIR(status.st_mode):
            _refuse("case.missing", say("the folder holds no {file}", file=CASE_FILE), _NEW, str(file))
        if not stat.S_ISREG(status.st_mode):
            _refuse(
                "case.not_text", say("this is no file"), say("Name a case folder or its case.toml"), str(file)
            )
        if status.st_size > LARGEST_BYTES:
            _too_large(file, status.st_size)
        with file.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except (FileNotFoundError, NotADirectoryError):
        known = file.parent.is_dir() and file.name == CASE_FILE
        what = (
            say("the folder holds no {file}", file=CASE_FILE)
            if known
            else say("there is no such file or folder")
        )
        _refuse("case.missing", what, _NEW, str(file))
    except (OSError, ValueError) as error:
        why = refusal(error) if isinstance(error, OSError) else None
        _refuse(
            "case.missing",
            say("the file cannot be read ({why})", why=why or say("its name is no file name")),
            _NAME,
            str(file),
        )
    if len(data) > LARGEST_BYTES:
        _too_large(file, len(data))
    return data


_NEW = say("Put the name right, or begin a case with: mountproof new FOLDER")
_NAME = say("Check the name, and whether you may read it")
SAVE = say("Open it in a text editor and save it as plain text, encoding UTF-8")


def decoded(data: bytes, file: FilePath) -> str:
    """Return the bytes of a file as text; FaultError where they are no plain text."""
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        _refuse("case.not_text", say("the file is saved as UTF-16"), SAVE, file.name)
    if b"\0" in data:
        line = data[: data.index(b"\0")].count(b"\n") + 1
        _refuse("case.not_text", say("the file holds bytes that are no text"), SAVE, file.name, line)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        what = say("a character is not saved as UTF-8")
        _refuse("case.not_text", what, SAVE, file.name, line, say("byte {byte:#04x}", byte=data[error.start]))


def bytes_like(text: str, before: bytes) -> bytes:
    """Encode with the line ends and the byte mark of the file as it was."""
    ends = "\r\n" if before.count(b"\r\n") * 2 > before.count(b"\n") else "\n"
    mark = codecs.BOM_UTF8 if before.startswith(codecs.BOM_UTF8) else b""
    return mark + text.replace("\n", ends).encode()


def _too_large(file: FilePath, size: int) -> NoReturn:
    _refuse(
        "case.too_large",
        say("this is too large for a case file"),
        say("Name the case.toml that a person typed; scans stand beside it as files"),
        file.name,
        None,
        say("{size:.1f} MB", size=size / 1e6),
        say("at most {size:.0f} MB", size=LARGEST_BYTES / 1e6),
    )


def _refuse(
    code: str, what: str, todo: str, where: str, line: int | None = None, got: str = "", allowed: str = ""
) -> NoReturn:
    raise FaultError([Fault(code, what, todo, where, line, "", got, allowed)])
