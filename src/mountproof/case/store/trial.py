"""A case as it would be with some edits, and a case whose stored scans are not all there: nothing is written."""

from __future__ import annotations

from mountproof.case.edits import Edits
from mountproof.case.files import parse_case
from mountproof.case.model import Case
from mountproof.case.store.records import Revision
from mountproof.case.store.snapshot import Snapshot
from mountproof.case.store.texts import edited, plain_text, read, with_digests
from mountproof.case.text_file import CASE_FILE
from mountproof.faults import Fault, FaultError

_SCAN_FAULTS = frozenset({"store.file_missing", "store.file_damaged", "store.disk_full", "store.not_written"})


def opened_case(snapshot: Snapshot, revision: Revision) -> tuple[Case, tuple[Fault, ...]]:
    """Return the case of a revision, and what is wrong with its stored scans: then it comes without their folder.

    FaultError where this program finds faults in the text.
    """
    try:
        return snapshot.case(revision.case_id, revision.number), ()
    except FaultError as error:
        if not all(fault.code in _SCAN_FAULTS for fault in error.faults):
            raise
        return with_digests(parse_case(plain_text(revision.text)), revision.files), error.faults


def tried_text(base: Revision, fields: Edits) -> bytes:
    """Return the text of a revision with some entries changed, as ``Change.edit`` would; FaultError as there."""
    return edited(read(base.text), fields).data


def tried_case(snapshot: Snapshot, base: Revision, fields: Edits) -> Case:
    """Return the case that some edits of a revision would make, its scans in their folder where all are there.

    FaultError where an entry cannot be changed, or the case would not fit together.
    """
    now, _ = opened_case(snapshot, base)
    text = plain_text(tried_text(base, fields))
    return with_digests(parse_case(text, CASE_FILE, now.folder), base.files)
