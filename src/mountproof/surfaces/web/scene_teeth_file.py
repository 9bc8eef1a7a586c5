"""A list of tooth numbers beside a scan."""

from __future__ import annotations

from mountproof.answers.scan_checks import entry_of
from mountproof.case.model import Arch
from mountproof.case.scans import Scan, read_face_teeth
from mountproof.case.store import Revision, why
from mountproof.case.store.trial import tried_text
from mountproof.surfaces.web.bench import Bench, opened

#: The largest list of tooth numbers: two million lines of a few characters, with room.
MOST_BYTES = 1 << 26


def put_teeth(
    bench: Bench, who: str, case_id: int, arch: Arch, based_on: int, *, scan: Scan, sha256: str
) -> Revision:
    """Make a stored file the tooth numbers of one scan, as a new revision. ``scan`` is that scan.

    ConflictError; FaultError where there is no such scan, or the file does not hold one tooth number for each triangle.
    """
    with bench.store.snapshot() as snapshot:
        base = snapshot.revision(case_id, based_on)
        case = opened(snapshot, case_id, based_on).case
    entry = entry_of(case, arch)
    read_face_teeth(bench.store.scans.path(sha256), len(scan.faces))
    name = f"{arch.value}_teeth.csv"
    files: dict[str, str | None] = {name: sha256}
    if entry.teeth_file not in (None, name):
        files[str(entry.teeth_file)] = None
    place = case.scans.index(entry) + 1
    text = tried_text(base, {f"scans.{place}.teeth_file": name})
    with bench.store.change(who) as change:
        return change.save(case_id, text, based_on, files, why.teeth_of(arch))
