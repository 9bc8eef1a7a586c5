"""Start writers and kill them, many times, each at another moment; run as a program of its own by the test.

``python killed.py FOLDER KIND TIMES SEED`` prints one line of JSON: how often a writer was killed before it was done, how
often the old and how often the new was found, and what was wrong (nothing).

Kinds: ``statement`` kills just before a statement of the transaction, its beginning and its end included; ``upload``
kills while a scan comes in; ``moment`` kills after a random time, wherever the writer is; ``step`` kills while a file of
version 1 is brought to the newest version; ``bundle`` kills at a statement while a bundle is taken in; ``restore`` kills
after a random time while a backup is put back.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import signal
import sqlite3
import sys
import time
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, event
from sqlalchemy.pool import Pool

from mountproof.case.store import CaseState, Store
from mountproof.case.store.schema import STORE_VERSION

_CASE = """code = "PLOVER"
note = "{n}"
[[scans]]
arch = "upper"
file = "upper.stl"
unit = "mm"
placement = {{ frame_from_scan = [[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]] }}
"""
_SCAN_BYTES = 1_000_000
#: Some writers are done before their death: tries stop when enough were killed, or here, which is a fault then.
_MOST_TRIES = 30
#: Where a writer can be killed: statements, its beginning and its end, giving the connection back.
_MOMENTS: tuple[tuple[Any, str], ...] = (
    (Engine, "before_cursor_execute"),
    (Engine, "commit"),
    (Pool, "checkin"),
)


def scan(n: int) -> bytes:
    """A scan of its own for every number."""
    return random.Random(n).randbytes(1000) * (_SCAN_BYTES // 1000)


def write(store: Store, case_id: int, n: int, chunks: Callable[[], None] | None = None) -> None:
    """One change in several statements: text, scan, state and an acceptance together."""
    source: io.BytesIO = io.BytesIO(scan(n)) if chunks is None else _Watched(scan(n), chunks)
    sha = store.scans.add(source).sha256
    with store.change("W") as change:
        head = change.head(case_id)
        change.save(case_id, _CASE.format(n=n).encode(), head.number, {"upper.stl": sha})
        change.set_state(case_id, CaseState.DONE if n % 2 else CaseState.OPEN)
        change.accept(case_id, "pin", f"{n:064x}", ("note",))


class _Watched(io.BytesIO):
    def __init__(self, data: bytes, told: Callable[[], None]) -> None:
        super().__init__(data)
        self._told = told

    def read(self, size: int | None = -1) -> bytes:
        self._told()
        return super().read(_SCAN_BYTES // 3)


def seen_in(folder: Path, case_id: int) -> tuple[int, str, str, str, tuple[str, ...]]:
    """Everything that the change writes, as a new program finds it; AssertionError where anything is broken."""
    with Store(folder) as store:
        faults = store.check()
        assert not faults, faults
        with store.snapshot() as seen:
            head = seen.head(case_id)
            case = seen.case(case_id)
            assert case.folder is not None
            assert (case.folder / "upper.stl").read_bytes() == scan(int(case.note))
            digest = seen.accepted(case_id)[0].digest
            listed = seen.cases().cases[0]
            assert (listed.number, listed.note, listed.state) == (head.number, case.note, seen.state(case_id))
            return head.number, case.note, seen.state(case_id), digest, tuple(head.files.values())


def killer(
    kind: str, n: int, rng: random.Random, moments: int, lasts_s: float
) -> tuple[Callable[[], None] | None, float | None]:
    """Arrange the death of this process; return what an upload tells of its chunks, and a time to be killed after."""
    if kind == "moment":
        return None, rng.uniform(0.0, 1.1 * lasts_s)
    if kind == "statement":
        # Every statement in turn, so that none is left out by chance; one more, so that some are done.
        _die_at([n % (moments + 1)])
        return None, None
    left = [rng.randrange(4)]

    def one_less() -> None:
        left[0] -= 1
        if left[0] < 0:
            os.kill(os.getpid(), signal.SIGKILL)

    return one_less, None


def child(folder: Path, case_id: int, n: int, kind: str, seed: str, moments: int, lasts_s: float) -> None:
    """Write, and be killed on the way (or not, when the moment comes too late)."""
    store = Store(folder)
    chunks, after = killer(kind, n, random.Random(seed), moments, lasts_s)
    if after is not None:
        signal.signal(signal.SIGALRM, lambda *_: os.kill(os.getpid(), signal.SIGKILL))
        signal.setitimer(signal.ITIMER_REAL, after)
    write(store, case_id, n, chunks)
    signal.setitimer(signal.ITIMER_REAL, 0)
    store.close()


def one_write(folder: Path, case_id: int, n: int) -> tuple[int, float]:
    """Write once without a death; return how many moments there are to be killed at, and how long it takes."""
    store = Store(folder)
    counted = _counted()
    began = time.perf_counter()
    write(store, case_id, n)
    lasts_s = time.perf_counter() - began
    moments = counted()
    store.close()
    return moments, lasts_s


def main(folder: Path, kind: str, times: int, seed: int) -> dict[str, object]:
    """Kill ``times`` writers; return the counts."""
    with Store(folder) as store:
        sha = store.scans.add(io.BytesIO(scan(0))).sha256
        with store.change("W") as change:
            case_id = change.begin(_CASE.format(n=0).encode(), {"upper.stl": sha}).case_id
            change.accept(case_id, "pin", f"{0:064x}", ("note",))
    counts = {"killed": 0, "old": 0, "new": 0, "tried": 0}
    wrong: list[str] = []
    moments, lasts_s = one_write(folder, case_id, 1)
    before = seen_in(folder, case_id)
    n = 1
    while counts["killed"] < times and counts["tried"] < _MOST_TRIES * times:
        n += 1
        counts["tried"] += 1
        began = time.perf_counter()
        pid = os.fork()
        if pid == 0:
            with contextlib.suppress(BaseException):
                child(folder, case_id, n, kind, f"{seed}-{n}", moments, lasts_s)
                os._exit(0)
            os._exit(1)
        status = os.waitpid(pid, 0)[1]
        if not os.WIFSIGNALED(status):
            # Some machines are quicker later on, or less busy: deaths are spread over what a writer takes now.
            lasts_s = min(lasts_s, time.perf_counter() - began)
        if os.WIFEXITED(status) and os.WEXITSTATUS(status):
            wrong.append(f"writer {n} failed by itself")
        counts["killed"] += os.WIFSIGNALED(status)
        after = seen_in(folder, case_id)
        new = (
            before[0] + 1,
            str(n),
            CaseState.DONE if n % 2 else CaseState.OPEN,
            f"{n:064x}",
            after[4] if after[4] != before[4] else ("no new scan",),
        )
        if after == before:
            counts["old"] += 1
            if os.WIFEXITED(status):
                wrong.append(f"writer {n} was done and nothing is there")
        elif after == new:
            counts["new"] += 1
        else:
            wrong.append(f"{n}: {before} -> {after}")
        before = after
        if n % 20 == 0:
            _tidy(folder)
    with Store(folder) as store:
        strays = store.orphans()
    return {**counts, "wrong": wrong, "strays": len(strays), "revisions": before[0]}


def steps(folder: Path, times: int, seed: int) -> dict[str, object]:
    """Kill programs that bring a file of version 1 to the newest; what is found is one of the two versions."""
    old_file = (Path(__file__).parent / "v1.sqlite").read_bytes()
    counts, wrong = {"killed": 0, "old": 0, "new": 0, "tried": 0}, []
    (folder / "whole").mkdir(parents=True)
    (folder / "whole" / "cases.sqlite").write_bytes(old_file)
    oldest = _tables(folder / "whole" / "cases.sqlite")
    counted = _counted()
    Store(folder / "whole").close()
    moments = counted()
    newest = _tables(folder / "whole" / "cases.sqlite")
    while counts["killed"] < times and counts["tried"] < _MOST_TRIES * times:
        counts["tried"] += 1
        place = folder / str(counts["tried"])
        place.mkdir(parents=True)
        file = place / "cases.sqlite"
        file.write_bytes(old_file)
        left = [(counts["tried"] * 7 + seed) % (moments + 1)]
        pid = os.fork()
        if pid == 0:
            _die_at(left)
            with contextlib.suppress(BaseException):
                Store(place)
            os._exit(0)
        counts["killed"] += os.WIFSIGNALED(os.waitpid(pid, 0)[1])
        with closing(sqlite3.connect(file)) as raw:
            version = raw.execute("SELECT version_num FROM alembic_version").fetchall()
        counts["old" if version == [("1",)] else "new"] += 1
        if (version, _tables(file)) not in (([("1",)], oldest), ([(str(STORE_VERSION),)], newest)):
            wrong.append(f"{version}, {sorted(_tables(file))}")
        with Store(place) as store, store.snapshot() as seen:
            texts = [len(seen.history(one.case_id)) for one in seen.cases().cases]
            if sorted(texts) != [2, 4]:
                wrong.append(f"{texts}")
    return {**counts, "wrong": wrong}


def wholes(folder: Path, kind: str, times: int, seed: int) -> dict[str, object]:
    """Kill programs that take in a bundle or put back a backup: all of it is there afterwards, or nothing."""
    with Store(folder / "other") as other:
        with other.change("W") as change:
            case_id = change.begin(b'code = "CARRIED"').case_id
            for n in range(1, 6):
                change.edit(case_id, {"note": f"{n}"}, n)
            change.set_state(case_id, CaseState.DONE)
        bundle = other.export_bundle(case_id, folder / "case.zip")
    with Store(folder / "s") as store, store.change("W") as change:
        change.begin(b'code = "STAYS"\nnote = "0"\n')
    backup = _with(folder / "s", lambda store: store.backup(folder / "backup"))
    counts, wrong = {"killed": 0, "old": 0, "new": 0, "tried": 0}, []
    rng, lasts_s, moments, counts["new"] = random.Random(seed), 0.0, 0, 0
    if kind == "bundle":
        with Store(folder / "s") as store:
            counted = _counted()
            store.import_bundle(bundle, "B", as_new=True)
            moments, counts["new"] = counted(), 1
            counts["tried"] += 1
    while counts["killed"] < times and counts["tried"] < _MOST_TRIES * times:
        counts["tried"] += 1
        n = counts["tried"]
        note = f"{n}"
        with Store(folder / "s") as store, store.change("W") as change:
            number = change.edit(1, {"note": note}, change.head(1).number).number
        pid = os.fork()
        began = time.perf_counter()
        if pid == 0:
            with contextlib.suppress(BaseException):
                store = Store(folder / "s")
                if kind == "bundle":
                    _die_at([n * 7 % (moments + 1)])
                    store.import_bundle(bundle, "B", as_new=True)
                else:
                    signal.signal(signal.SIGALRM, lambda *_: os.kill(os.getpid(), signal.SIGKILL))
                    signal.setitimer(signal.ITIMER_REAL, rng.uniform(0.001, lasts_s) if lasts_s else 60)
                    store.restore(backup, "R")
                os._exit(0)
            os._exit(1)
        status = os.waitpid(pid, 0)[1]
        rng.random()  # the child's draws are not seen here
        counts["killed"] += os.WIFSIGNALED(status)
        if os.WIFEXITED(status):
            lasts_s = 1.1 * (time.perf_counter() - began)
            if os.WEXITSTATUS(status):
                wrong.append(f"{n} failed by itself")
        with Store(folder / "s") as store:
            wrong += [str(fault) for fault in store.check()]
            with store.snapshot() as seen:
                cases = {one.case_id: one for one in seen.cases(most=500).cases}
                head = seen.head(1)
                after = (head.number, seen.case(1).note)
                carried = [
                    [one.number for one in seen.history(i)] == [1, 2, 3, 4, 5, 6]
                    and cases[i].state is CaseState.DONE
                    for i in cases
                    if i != 1
                ]
        if kind == "bundle":
            grown = len(carried) > counts["new"]
            counts["new" if grown else "old"] += 1
            if after != (number, note) or not all(carried) or len(carried) != counts["new"]:
                wrong.append(f"{n}: {after}, {carried}")
        else:
            old, new = (number, note), (1, "0")
            counts["old" if after == old else "new"] += 1
            if after not in (old, new):
                wrong.append(f"{n}: {after}")
    return {**counts, "wrong": wrong}


def _with(folder: Path, work: Callable[[Store], Path]) -> Path:
    with Store(folder) as store:
        return work(store)


def _die_at(left: list[int]) -> None:
    def one_less(*_: object) -> None:
        left[0] -= 1
        if left[0] < 0:
            os.kill(os.getpid(), signal.SIGKILL)

    for target, name in _MOMENTS:
        event.listen(target, name, one_less)


def _counted() -> Callable[[], int]:
    """Count the moments at which ``_die_at`` could kill, until the count is asked for."""
    met = [0]

    def one_more(*_: object) -> None:
        met[0] += 1

    for target, name in _MOMENTS:
        event.listen(target, name, one_more)

    def stop() -> int:
        for target, name in _MOMENTS:
            event.remove(target, name, one_more)
        return met[0]

    return stop


def _tables(file: Path) -> frozenset[str]:
    with closing(sqlite3.connect(file)) as raw:
        return frozenset(str(row[0]) for row in raw.execute("SELECT name FROM sqlite_schema"))


def _tidy(folder: Path) -> None:
    with Store(folder) as store:
        store.discard(store.orphans(), "tidy")


if __name__ == "__main__":
    began = time.perf_counter()
    given = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    if given[1] == "step":
        found = steps(given[0], *given[2:])
    elif given[1] in ("bundle", "restore"):
        found = wholes(*given)
    else:
        found = main(*given)
    sys.stdout.write(json.dumps({**found, "seconds": round(time.perf_counter() - began, 1)}) + "\n")
