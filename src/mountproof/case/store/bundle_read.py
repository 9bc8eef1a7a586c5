"""Take in a bundle that somebody else made: everything is checked before the store changes."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO, NamedTuple, TypeVar, cast
from zipfile import BadZipFile, ZipFile

from pydantic import BaseModel, ValidationError

from mountproof.case.base import SCHEMA_VERSION
from mountproof.case.model import Case
from mountproof.case.store.bundle_parts import (
    BUNDLE_VERSION,
    AcceptedRow,
    Entry,
    Manifest,
    RevisionRow,
    StateRow,
)
from mountproof.case.store.faults import named, refuse
from mountproof.case.store.file_names import checked_names, require_files
from mountproof.case.store.scans import ScanFolder
from mountproof.case.store.texts import read, text_digest
from mountproof.case.store.zip_checks import checked_entries
from mountproof.case.text_file import CASE_FILE, LARGEST_BYTES
from mountproof.said import say

_ROW = TypeVar("_ROW", bound=BaseModel)
_MOST_TEXT = 1_000_000_000
_MOST_LINE = 12 * LARGEST_BYTES
_MOST_MANIFEST = 5_000_000
_ASK = say("Ask for the bundle once more, made by this program")


class Bundle(NamedTuple):
    """A bundle that was checked; its scans are stored."""

    uid: str
    sha256: str
    case: Case
    revisions: tuple[RevisionRow, ...]
    states: tuple[StateRow, ...]
    accepted: tuple[AcceptedRow, ...]


def read_bundle(file: Path, scans: ScanFolder) -> Bundle:
    """Read and check a bundle, and store its scans; the database is not touched.

    FaultError ``bundle....`` for everything that a bundle made by this program never has. Scans that came in before
    a fault was met stay as files that no revision needs.
    """
    where = file.name
    with (
        named(file),
        file.open("rb") as stream,
        _broken_zip(where),
        checked_entries(stream, where) as archive,
    ):
        manifest = _manifest(archive, where)
        entries = _listed(archive, manifest, where)
        revisions = _rows(archive, entries["revisions.jsonl"], RevisionRow, where)
        states = _rows(archive, entries["states.jsonl"], StateRow, where)
        accepted = _rows(archive, entries["accepted.jsonl"], AcceptedRow, where)
        newest = _whole(archive, entries[CASE_FILE], where, LARGEST_BYTES)
        case = _fits(entries, revisions, accepted, newest, where)
        for name, entry in entries.items():
            if name.startswith("scans/"):
                with archive.open(name) as source:
                    scans.add(cast(BinaryIO, source), entry.sha256, entry.bytes)
        stream.seek(0)
        sha256 = hashlib.file_digest(stream, "sha256").hexdigest()
    return Bundle(manifest.uid, sha256, case, revisions, states, accepted)


@contextmanager
def _broken_zip(where: str) -> Iterator[None]:
    try:
        yield
    except (BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as error:
        if isinstance(error, RecursionError):
            refuse("bundle.contents", say("a row is nested deeper than any"), _ASK, where)
        refuse("bundle.hash", say("a file in the bundle is damaged"), _ASK, where)


def _manifest(archive: ZipFile, where: str) -> Manifest:
    if "manifest.json" not in archive.namelist():
        refuse(
            "bundle.not_a_bundle",
            say("the zip is no bundle of this program: it has no manifest.json"),
            _ASK,
            where,
        )
    data = _read(archive, "manifest.json", where, _MOST_MANIFEST)
    manifest = _checked(Manifest, data, "manifest.json", where)
    newest = (BUNDLE_VERSION, SCHEMA_VERSION)
    if manifest.bundle_version > newest[0] or manifest.schema_version > newest[1]:
        got = say(
            "bundle {bundle}, case file {case}, program {program}",
            bundle=manifest.bundle_version,
            case=manifest.schema_version,
            program=manifest.program,
        )
        allowed = say("bundle {bundle}, case file {case}", bundle=newest[0], case=newest[1])
        what = say("the bundle was written by a newer version of this program")
        refuse("bundle.newer", what, say("Use that version"), where, "", got, allowed)
    return manifest


def _listed(archive: ZipFile, manifest: Manifest, where: str) -> dict[str, Entry]:
    """Return the entries of the list of contents, when they are exactly the files of the zip."""
    entries = {entry.name: entry for entry in manifest.files}
    if len(entries) != len(manifest.files):
        refuse("bundle.twice", say("the list of contents names a file twice"), _ASK, where)
    there = set(archive.namelist()) - {"manifest.json"}
    wanted = {CASE_FILE, "revisions.jsonl", "states.jsonl", "accepted.jsonl"}
    for name in sorted((there ^ entries.keys()) | (wanted - there)):
        refuse("bundle.contents", say("the list of contents and the files differ"), _ASK, where, got=name)
    for name, entry in entries.items():
        if name.startswith("scans/") and name != f"scans/{entry.sha256}":
            refuse("bundle.hash", say("a scan is listed under another's name"), _ASK, where, got=name)
        if archive.getinfo(name).file_size != entry.bytes:
            refuse("bundle.hash", say("a file has another size than its list says"), _ASK, where, got=name)
    return entries


def _read(archive: ZipFile, name: str, where: str, most_bytes: int) -> bytes:
    with archive.open(name) as source:
        data = source.read(most_bytes + 1)
    if len(data) > most_bytes:
        refuse("bundle.too_large", say("a file in the bundle is larger than any"), _ASK, where, got=name)
    return data


def _whole(archive: ZipFile, entry: Entry, where: str, most_bytes: int) -> bytes:
    data = _read(archive, entry.name, where, most_bytes)
    if hashlib.sha256(data).hexdigest() != entry.sha256:
        refuse("bundle.hash", say("a file is not what its list says"), _ASK, where, got=entry.name)
    return data


def _rows(archive: ZipFile, entry: Entry, kind: type[_ROW], where: str) -> tuple[_ROW, ...]:
    found, total, size = [], hashlib.sha256(), 0
    with archive.open(entry.name) as source:
        while line := source.readline(_MOST_LINE):
            size += len(line)
            total.update(line)
            if size > _MOST_TEXT or not line.endswith(b"\n"):
                refuse(
                    "bundle.too_large",
                    say("a row is longer than any, or cut off"),
                    _ASK,
                    where,
                    got=entry.name,
                )
            found.append(_checked(kind, line, entry.name, where))
    if total.hexdigest() != entry.sha256:
        refuse("bundle.hash", say("a file is not what its list says"), _ASK, where, got=entry.name)
    return tuple(found)


def _checked(kind: type[_ROW], data: bytes, name: str, where: str) -> _ROW:
    try:
        return kind.model_validate_json(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False, include_context=False)[0]
        field = ".".join(str(part) for part in first["loc"])
        refuse(
            "bundle.contents",
            say("{name} cannot be read", name=name),
            _ASK,
            where,
            field[:120],
            got=str(first["msg"])[:80],
        )


def _fits(
    entries: dict[str, Entry],
    revisions: tuple[RevisionRow, ...],
    accepted: tuple[AcceptedRow, ...],
    newest: bytes,
    where: str,
) -> Case:
    """Return the newest case of the bundle, when all of its parts fit together."""
    if not revisions or revisions[0].number != 1:
        refuse("bundle.contents", say("the first revision is missing"), _ASK, where)
    for before, one in zip((None, *revisions), revisions, strict=False):
        if one.parent != (before.number if before else None) or one.number <= (one.parent or 0):
            refuse(
                "bundle.contents",
                say("a revision does not follow the one before"),
                _ASK,
                where,
                got=str(one.number),
            )
        if len(one.text) > LARGEST_BYTES or text_digest(_encoded(one.text, where)) != one.text_sha256:
            refuse(
                "bundle.hash",
                say("the text of a revision is not what its row says"),
                _ASK,
                where,
                got=str(one.number),
            )
        checked_names(one.files)
        for sha256 in one.files.values():
            if f"scans/{sha256}" not in entries:
                refuse("bundle.contents", say("a file of a revision is missing"), _ASK, where, got=sha256)
    if not {one.number for one in accepted} <= {one.number for one in revisions}:
        refuse("bundle.contents", say("an acceptance names a revision that is not there"), _ASK, where)
    if newest != _encoded(revisions[-1].text, where):
        refuse("bundle.contents", say("{file} is not the newest revision", file=CASE_FILE), _ASK, where)
    case = read(newest).case
    require_files(case, revisions[-1].files)
    return case


def _encoded(text: str, where: str) -> bytes:
    try:
        return text.encode()
    except UnicodeEncodeError:
        refuse("bundle.contents", say("the text of a revision is no text"), _ASK, where)
