"""Case folders in and out: the case file byte for byte, and every file beside it."""

from __future__ import annotations

import os
import shutil
from collections.abc import Mapping
from pathlib import Path

from mountproof.case.atomic import replace_file, sync_folder
from mountproof.case.files import load_case
from mountproof.case.store.faults import named, refuse
from mountproof.case.store.file_names import checked_names
from mountproof.case.store.records import Revision
from mountproof.case.store.scans import ScanFolder
from mountproof.case.text_file import CASE_FILE, case_file, read_data
from mountproof.said import say

_MOST_FILES = 2000
_CASE_ONLY = say("Name a folder that holds one case and nothing else")


def take_in(path: Path, scans: ScanFolder) -> tuple[bytes, dict[str, str]]:
    """Return the bytes of the case file of a folder, and the files beside it: name to SHA-256, now stored.

    Earlier texts in ``earlier`` come with it. Hidden files stay out. FaultError where the case has faults, where
    the folder holds a link or more than a case does, or a file has a name that cannot be written everywhere.
    """
    file = case_file(path)
    data = read_data(file)
    load_case(file)
    return data, {name: scans.add_file(file.parent / name).sha256 for name in _beside(file)}


def write_out(revision: Revision, goal: Path, scans: ScanFolder) -> Path:
    """Write a revision as a case folder and return its case file; every scan is compared with its SHA-256.

    Files that are there already under these names are replaced in one step each; a case file that is there is kept
    in ``earlier``. Nothing is written through a link. FaultError where a stored file is missing or damaged, or the
    folder cannot be written to.
    """
    files = checked_names(revision.files)
    with named(goal):
        goal.mkdir(parents=True, exist_ok=True)
        for name, sha256 in files.items():
            _no_links(goal, name)
            place = goal / name
            place.parent.mkdir(parents=True, exist_ok=True)
            _copied(scans, sha256, place)
        file = goal / CASE_FILE
        _no_links(goal, CASE_FILE)
        replace_file(file, revision.text, file.read_bytes() if file.exists() else None)
    return file


def _copied(scans: ScanFolder, sha256: str, place: Path) -> None:
    passing = place.with_name(f".{place.name}.part")
    try:
        with scans.open(sha256) as source, passing.open("wb") as sink:
            shutil.copyfileobj(source, sink)
            sink.flush()
            os.fsync(sink.fileno())
        passing.replace(place)
        sync_folder(place.parent)
    finally:
        passing.unlink(missing_ok=True)


def _beside(file: Path) -> list[str]:
    root = file.parent
    found: dict[str, str] = {}
    for folder, inner, names in os.walk(root):
        inner[:] = sorted(name for name in inner if not name.startswith("."))
        here = Path(folder)
        for name in sorted(names):
            one = here / name
            if name.startswith(".") or one == file:
                continue
            if one.is_symlink() or not one.is_file():
                refuse(
                    "store.file_name", say("the folder holds a link or a special file"), _CASE_ONLY, str(one)
                )
            found[one.relative_to(root).as_posix()] = ""
        for name in inner:
            if (here / name).is_symlink():
                refuse(
                    "store.file_name",
                    say("the folder holds a link to another one"),
                    _CASE_ONLY,
                    str(here / name),
                )
        if len(found) > _MOST_FILES:
            allowed = say("at most {most} files", most=_MOST_FILES)
            refuse("store.too_large", say("this is more than a case"), _CASE_ONLY, str(root), allowed=allowed)
    return list(checked_names(found))


def _no_links(goal: Path, name: str) -> None:
    here = goal
    for part in Path(name).parts:
        here = here / part
        if here.is_symlink():
            refuse("store.file_name", say("a link stands in the way"), say("Name an empty folder"), str(here))


def changed_files(before: Mapping[str, str], now: Mapping[str, str]) -> dict[str, str | None]:
    """Return what turns the files ``before`` into those ``now``, as ``Change.save`` takes it."""
    return {**{name: None for name in before if name not in now}, **now}
