"""Look at a zip from somebody else before anything is unpacked from it; nothing is ever unpacked by its own name."""

from __future__ import annotations

import re
import stat
import struct
import zipfile
from pathlib import PurePosixPath, PureWindowsPath
from typing import BinaryIO

from mountproof.case.store.faults import refuse
from mountproof.said import say

MOST_FILES = 5000
MOST_BYTES = 20_000_000_000
#: Texts and scans shrink to a tenth or so; what shrinks to less than this was made to fill a disk.
MOST_RATIO = 300
_SMALL = 10_000_000
_NAME = re.compile(r"manifest\.json|case\.toml|(?:revisions|accepted|states)\.jsonl|scans/[0-9a-f]{64}")
_ASK = say("Ask for the bundle once more, made by this program")
_END = struct.Struct("<4s4H2LH")
_LONG_END = struct.Struct("<4sQ2H2L4Q")
_LONG_PLACE = struct.Struct("<4sLQL")
_LOCAL_BYTES = 30
#: An entry of the list at a zip's end: 46 bytes, a name of at most 70, and room for long sizes.
_LISTED_BYTES = 200


def checked_entries(archive: BinaryIO, where: str) -> zipfile.ZipFile:
    """Return an open zip whose entries may be read one by one, each as one of a bundle's own files.

    FaultError for too many files (seen before the list is read), names that a bundle does not have (paths, drives,
    folders), two of one name, links, passwords, files that overlap, and sizes that would fill a disk.
    """
    _few_enough(archive, where)
    try:
        found = zipfile.ZipFile(archive)
    except (zipfile.BadZipFile, NotImplementedError, ValueError, EOFError, struct.error, IndexError):
        refuse("bundle.not_a_bundle", say("the file is no zip, or is cut off"), _ASK, where)
    infos = found.infolist()
    if len(infos) > MOST_FILES:
        _too_many(where)
    seen: set[str] = set()
    for info in infos:
        _one(info, where)
        if info.filename.casefold() in seen:
            refuse(
                "bundle.twice", say("the bundle holds two files of one name"), _ASK, where, got=info.filename
            )
        seen.add(info.filename.casefold())
    _apart(infos, where)
    if sum(info.file_size for info in infos) > MOST_BYTES:
        _too_large(where)
    return found


def _one(info: zipfile.ZipInfo, where: str) -> None:
    name = info.filename
    original = info.orig_filename
    mode = info.external_attr >> 16
    if stat.S_IFMT(mode) not in (0, stat.S_IFREG):
        refuse("bundle.link", say("the bundle holds a link or a special file"), _ASK, where, got=name)
    path = PurePosixPath(name)
    leads_out = path.is_absolute() or ".." in path.parts or "\\" in original
    if leads_out or PureWindowsPath(name).drive or PureWindowsPath(name).is_absolute():
        refuse(
            "bundle.name",
            say("the bundle holds a file that leads out of its folder"),
            _ASK,
            where,
            got=original,
        )
    if original != name or not _NAME.fullmatch(name):
        refuse("bundle.name", say("the bundle holds a file that no bundle has"), _ASK, where, got=original)
    if info.flag_bits & 0x1:
        refuse("bundle.locked", say("the bundle is locked with a password"), _ASK, where, got=name)
    if info.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        refuse(
            "bundle.not_a_bundle",
            say("the bundle is packed in a way that is not used here"),
            _ASK,
            where,
            got=name,
        )
    if info.file_size > _SMALL and info.file_size > MOST_RATIO * max(info.compress_size, 1):
        _too_large(where)


def _too_large(where: str) -> None:
    allowed = say(
        "{size:.0f} GB in all, no file shrunk more than {times} times",
        size=MOST_BYTES / 1e9,
        times=MOST_RATIO,
    )
    refuse("bundle.too_large", say("the bundle unpacks to more than it may"), _ASK, where, allowed=allowed)


def _apart(infos: list[zipfile.ZipInfo], where: str) -> None:
    """Files that share bytes of the archive unpack to far more than it holds."""
    end = 0
    for info in sorted(infos, key=lambda one: one.header_offset):
        if info.header_offset < end:
            refuse(
                "bundle.overlap",
                say("two files stand in one place of the bundle"),
                _ASK,
                where,
                got=info.filename,
            )
        end = info.header_offset + _LOCAL_BYTES + len(info.filename) + info.compress_size


def _few_enough(archive: BinaryIO, where: str) -> None:
    """Read how many files the zip says it has, and how long their list is, from its end alone."""
    archive.seek(0, 2)
    size = archive.tell()
    back = min(size, _END.size + 65535 + _LONG_PLACE.size)
    archive.seek(size - back)
    tail = archive.read(back)
    at = tail.rfind(b"PK\x05\x06")
    if at < 0 or len(tail) - at < _END.size:
        refuse("bundle.not_a_bundle", say("the file is no zip, or is cut off"), _ASK, where)
    *_, many, long, _, _ = _END.unpack_from(tail, at)
    if at >= _LONG_PLACE.size and tail.startswith(b"PK\x06\x07", at - _LONG_PLACE.size):
        _, _, place, _ = _LONG_PLACE.unpack_from(tail, at - _LONG_PLACE.size)
        archive.seek(min(place, size))
        long_end = archive.read(_LONG_END.size)
        if len(long_end) == _LONG_END.size and long_end.startswith(b"PK\x06\x06"):
            *_, many, long, _ = _LONG_END.unpack(long_end)
    archive.seek(0)
    if many > MOST_FILES or long > MOST_FILES * _LISTED_BYTES:
        _too_many(where)


def _too_many(where: str) -> None:
    allowed = say("at most {most}", most=MOST_FILES)
    refuse("bundle.too_many", say("the bundle holds more files than it may"), _ASK, where, allowed=allowed)
