"""Folders in which stored scans stand under their names in a case, as everything that reads scans expects them.

They are made from the stored files (links where the disk can, copies elsewhere), shared by all revisions with the same
files, and can be removed at any time.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import tempfile
from collections.abc import Mapping
from pathlib import Path

from mountproof.case.store.faults import named
from mountproof.case.store.file_names import checked_names
from mountproof.case.store.scans import ScanFolder


def view(folder: Path, scans: ScanFolder, files: Mapping[str, str]) -> Path:
    """Return a folder with ``files`` (name to SHA-256) in it, made in ``folder`` if it is not there.

    Every file is compared with its SHA-256 when the folder is made. FaultError where one is missing or damaged.
    """
    files = checked_names(files)
    key = hashlib.sha256(json.dumps(files, sort_keys=True).encode()).hexdigest()
    goal = folder / key
    if _whole(goal, scans, files):
        return goal
    with named(folder):
        folder.mkdir(parents=True, exist_ok=True)
        passing = Path(tempfile.mkdtemp(prefix=".", dir=folder))
        try:
            for name, sha256 in files.items():
                place = passing / name
                place.parent.mkdir(parents=True, exist_ok=True)
                stored = scans.verified(sha256)
                try:
                    os.link(stored, place)
                except OSError:
                    shutil.copyfile(stored, place)
            if goal.is_dir():
                goal.rename(passing.with_name(passing.name + "-old"))
            try:
                passing.rename(goal)
            except OSError:
                if not _whole(goal, scans, files):  # somebody else made it at the same time
                    raise
        finally:
            for old in (passing, passing.with_name(passing.name + "-old")):
                shutil.rmtree(old, ignore_errors=True)
    return goal


def _whole(goal: Path, scans: ScanFolder, files: Mapping[str, str]) -> bool:
    try:
        return goal.is_dir() and all(
            (goal / name).lstat().st_size == scans.path(sha256).stat().st_size
            and not (goal / name).is_symlink()
            for name, sha256 in files.items()
        )
    except OSError:
        return False
