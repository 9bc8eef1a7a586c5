"""New cases: an empty one with its code, the demo, or one from elsewhere."""

from __future__ import annotations

import os
import secrets
import tempfile
from concurrent.futures import wait
from pathlib import Path
from typing import BinaryIO

from mountproof.case.model import Case
from mountproof.case.store import Revision, why
from mountproof.case.store.faults import named, refuse
from mountproof.case.store.scans import LARGEST_BYTES as LARGEST_SCAN
from mountproof.case.store.times import utc_now
from mountproof.case.text_file import LARGEST_BYTES as LARGEST_TEXT
from mountproof.faults import Fault, FaultError
from mountproof.said import say
from mountproof.surfaces.web.access_folders import passing_folder
from mountproof.surfaces.web.bench import Bench

_ZIP = b"PK\x03\x04"
_CHUNK = 1 << 20


def begin_case(bench: Bench, code: str, who: str, *, demo: bool = False) -> Revision:
    """Begin a case and return its first revision. FaultError where the code cannot be one."""
    if demo:
        return _demo(bench, who)
    chosen = code.strip() or f"{utc_now().astimezone():%Y-%m-%d %H.%M}"
    with bench.store.change(who) as change:
        return change.begin(Case.model_construct(code=chosen))


def _demo(bench: Bench, who: str) -> Revision:
    """Make the demo as work, so that it can be followed and stopped, and take it in when it is there."""
    from mountproof.surfaces.demo_case import make_demo

    with passing_folder(bench.store) as folder:
        name = f"demo-{secrets.token_hex(4)}"
        work = bench.works.begin(
            name, None, say("making the demo"), lambda progress: _done(make_demo(folder / "demo", progress))
        )
        wait([one for one in (work.future,) if one is not None])
        if work.faults:
            raise FaultError(work.faults)
        if work.state == "cancelled":
            what = say("the demo was stopped; nothing of it was kept")
            raise FaultError([Fault("work.stopped", what, say("Begin it once more"))])
        return bench.store.import_folder(folder / "demo", who)


def _done(_made: Path) -> None:
    """Nothing more is wanted of it: it lies in its folder."""


def brought_in(bench: Bench, body: BinaryIO, name: str, who: str, *, as_new: bool) -> int:
    """Take in a bundle or a case.toml, and return the case.

    FaultError ``bundle....`` or ``case....`` for what is neither; nothing is kept then.
    """
    start = _read(body, len(_ZIP))
    if start != _ZIP:
        text = start + _read(body, LARGEST_TEXT + 1)
        with bench.store.change(who) as change:
            return change.begin(text, what=why.brought_in(_shown(name))).case_id
    incoming = bench.store.place.scans / "incoming"
    with named(incoming):
        incoming.mkdir(parents=True, exist_ok=True)
        handle, passing = tempfile.mkstemp(dir=incoming, suffix=".zip")
        try:
            with os.fdopen(handle, "wb") as sink:
                _copied(start, body, sink)
            return bench.store.import_bundle(Path(passing), who, as_new)
        finally:
            Path(passing).unlink(missing_ok=True)


def _copied(start: bytes, body: BinaryIO, sink: BinaryIO) -> None:
    sink.write(start)
    size = len(start)
    while chunk := body.read(_CHUNK):
        size += len(chunk)
        if size > LARGEST_SCAN:
            todo = say("Choose the bundle of one case")
            refuse("bundle.too_large", say("this is larger than any bundle"), todo)
        sink.write(chunk)


def _read(body: BinaryIO, most: int) -> bytes:
    """Return the next bytes, fewer than ``most`` only at the end."""
    found = b""
    while len(found) < most and (chunk := body.read(most - len(found))):
        found += chunk
    return found


def _shown(name: str) -> str:
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(c if c.isprintable() else "?" for c in last)[-80:] or "a file"
