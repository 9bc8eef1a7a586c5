"""A case as one file to carry elsewhere: a zip with its whole history, its scans, and a list of contents.

``manifest.json`` names the format, the versions and the SHA-256 of every other file; ``case.toml`` is the newest text,
for people; ``revisions.jsonl``, ``accepted.jsonl`` and ``states.jsonl`` hold one row a line; ``scans/`` the stored files under
their SHA-256. The same case gives the same bytes.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import zipfile
from pathlib import Path
from typing import Any

from sqlalchemy import select

from mountproof.case.atomic import sync_folder
from mountproof.case.base import SCHEMA_VERSION
from mountproof.case.store import schema as t
from mountproof.case.store.bundle_parts import AcceptedRow, ChangeRow, Entry, Manifest, RevisionRow, StateRow
from mountproof.case.store.faults import named
from mountproof.case.store.records import Revision
from mountproof.case.store.scans import ScanFolder
from mountproof.case.store.snapshot import Snapshot
from mountproof.case.store.texts import text_digest
from mountproof.case.store.times import to_text
from mountproof.version import VERSION

_CHUNK = 1 << 20
#: Zip keeps a time for every file; a fixed one keeps the bytes the same.
_WHEN = (2000, 1, 1, 0, 0, 0)


def write_bundle(snapshot: Snapshot, case_id: int, goal: Path, scans: ScanFolder) -> Path:
    """Write a case with its whole history to the file ``goal`` and return it; whole or not at all.

    FaultError where there is no such case, a stored file is missing or damaged, or it cannot be written.
    """
    history = snapshot.history(case_id)
    head = snapshot.head(case_id)
    texts = {
        "accepted.jsonl": _lines(_accepted_rows(snapshot, case_id)),
        "case.toml": head.text,
        "revisions.jsonl": _lines(
            [_row(one, before) for one, before in zip(history, [None, *history[:-1]], strict=True)]
        ),
        "states.jsonl": _lines(_state_rows(snapshot, case_id)),
    }
    stored = sorted({sha256 for one in history for sha256 in one.files.values()})
    entries = [Entry(name=n, sha256=hashlib.sha256(d).hexdigest(), bytes=len(d)) for n, d in texts.items()]
    with named(goal):
        for sha256 in stored:
            size = scans.verified(sha256).stat().st_size
            entries.append(Entry(name=f"scans/{sha256}", sha256=sha256, bytes=size))
        manifest = Manifest(
            schema_version=SCHEMA_VERSION,
            store_version=t.STORE_VERSION,
            program=VERSION,
            uid=snapshot.uid(case_id),
            files=tuple(entries),
        )
        goal.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(prefix=f".{goal.name}.", dir=goal.parent)
        passing = Path(name)
        try:
            with os.fdopen(handle, "wb") as sink:
                with zipfile.ZipFile(sink, "w", zipfile.ZIP_DEFLATED) as archive:
                    _put(archive, "manifest.json", manifest.model_dump_json(indent=1).encode())
                    for text_name, data in texts.items():
                        _put(archive, text_name, data)
                    for sha256 in stored:
                        _put_scan(archive, scans, sha256)
                sink.flush()
                os.fsync(sink.fileno())
            passing.chmod(0o644)
            passing.replace(goal)
            sync_folder(goal.parent)
        finally:
            passing.unlink(missing_ok=True)
    return goal


def _info(name: str) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _WHEN)
    info.compress_type = zipfile.ZIP_DEFLATED
    info.external_attr = 0o100644 << 16
    return info


def _put(archive: zipfile.ZipFile, name: str, data: bytes) -> None:
    archive.writestr(_info(name), data)


def _put_scan(archive: zipfile.ZipFile, scans: ScanFolder, sha256: str) -> None:
    info = _info(f"scans/{sha256}")
    with scans.open(sha256) as source:
        info.file_size = os.fstat(source.fileno()).st_size
        with archive.open(info, "w") as sink:
            while chunk := source.read(_CHUNK):
                sink.write(chunk)


def _lines(rows: list[Any]) -> bytes:
    dumped = (json.dumps(row.model_dump(mode="json"), ensure_ascii=True, sort_keys=True) for row in rows)
    return "".join(f"{line}\n" for line in dumped).encode()


def _row(one: Revision, before: Revision | None) -> RevisionRow:
    return RevisionRow(
        number=one.number,
        parent=before.number if before is not None else None,
        who=one.who,
        at=to_text(one.at),
        what=one.what,
        program=one.program,
        digest=one.digest,
        text_sha256=text_digest(one.text),
        text=one.text.decode(),
        changes=tuple(ChangeRow(field=c.field, old=c.old, new=c.new) for c in one.changes),
        files=one.files,
    )


def _state_rows(snapshot: Snapshot, case_id: int) -> list[StateRow]:
    query = select(t.states).where(t.states.c.case_id == case_id).order_by(t.states.c.id)
    return [StateRow(state=r.state, who=r.who, at=r.at_utc) for r in snapshot._connection.execute(query)]


def _accepted_rows(snapshot: Snapshot, case_id: int) -> list[AcceptedRow]:
    query = (
        select(t.accepted, t.revisions.c.number)
        .join(t.revisions, t.revisions.c.id == t.accepted.c.revision_id)
        .where(t.accepted.c.case_id == case_id)
        .order_by(t.accepted.c.id)
    )
    return [
        AcceptedRow(
            number=r.number,
            question=r.question,
            reads=tuple(json.loads(r.reads)),
            seed=r.seed,
            digest=r.digest,
            stands=bool(r.stands),
            who=r.who,
            at=r.at_utc,
        )
        for r in snapshot._connection.execute(query)
    ]
