"""Stored files of older versions of the tables, and how they were made.

``python tests/case/store/old_files.py 2`` writes v2.sqlite, run by the program of that version. A stored file is never
made again: it stands for what is on people's disks.
"""

from __future__ import annotations

import datetime as dt
import io
import sys
import tempfile
from pathlib import Path

from mountproof.case.digest import digest
from mountproof.case.files import parse_case
from mountproof.case.store.backup import copy_database
from mountproof.case.store.change import Change
from mountproof.case.store.engine import Database
from mountproof.case.store.migrate import migrate
from mountproof.case.store.records import CaseState
from mountproof.case.store.scans import ScanFolder

HERE = Path(__file__).parent
#: What the scans of the stored case hold; too small to be any, which nothing in the store minds.
UPPER, LOWER = b"upper of SPARROW", b"lower of SPARROW"
SPARROW = b"""# SPARROW-7: an invented case\r
code = "SPARROW-7"   # first of its kind\r
lab = "Slate Lane Bench 1"\r
note = "two casts, waiting for the second record"\r
\r
[[scans]]\r
arch = "upper"\r
file = "upper.stl"\r
unit = "mm"\r
placement = { frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]] }\r
\r
[[scans]]\r
arch = "lower"\r
file = "scans/lower.stl"\r
unit = "mm"\r
placement = { frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]] }\r
"""
FINCH = '# FINCH-2: another one\ncode = "FINCH-2"\nlab = "Kalkstraße 4"\n'.encode()


def fill(change: Change, files: dict[str, str], version: int) -> None:
    """Write what every stored file holds: two cases, six revisions, an undo, a state; acceptances from version 2 on."""
    sparrow = change.begin(SPARROW, files).case_id
    finch = change.begin(FINCH).case_id
    change.edit(sparrow, {"note": "second record is here"}, 1)
    change.edit(sparrow, {"lab": "Slate Lane Bench 2"}, 1)
    change.undo(sparrow, 2)
    change.edit(finch, {"by": "QP"}, 1)
    change.set_state(sparrow, CaseState.WAITING)
    if version >= 2:
        case = parse_case(change.head(finch).text.decode())
        change.accept(finch, "pin", digest(case, ("lab",)), ("lab",))
        change.accept(finch, "stone", digest(case, ("note",)), ("note",))
        change.take_back(finch, "stone")


def make(version: int) -> Path:
    """Write the file of one version; return it."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        scans = ScanFolder(folder / "scans")
        files = {
            "upper.stl": scans.add(io.BytesIO(UPPER)).sha256,
            "scans/lower.stl": scans.add(io.BytesIO(LOWER)).sha256,
        }
        database = Database(folder / "made.sqlite")
        migrate(database, version)
        with database.writing() as connection:
            at = dt.datetime(2026, 3, 2, 10, 2, tzinfo=dt.UTC)
            fill(Change(connection, lambda _: folder, scans, "QP", at), files, version)
        database.close()
        return copy_database(folder / "made.sqlite", HERE / f"v{version}.sqlite")


if __name__ == "__main__":
    make(int(sys.argv[1]))
