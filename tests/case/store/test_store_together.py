"""Two browser windows and a command line at once: nothing is lost, conflicts are shown, nothing is overwritten."""

from __future__ import annotations

import io
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from mountproof.case.store import Store

HERE = Path(__file__).parent
SRC = HERE.parents[2] / "src"
PROCESSES, THREADS, CHANGES = 2, 3, 8


def test_processes_and_threads_write_one_case_and_nothing_is_lost(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        with store.change("QP") as change:
            change.begin(b'code = "A"  # first\n')
        command = [sys.executable, "-W", "error", str(HERE / "together.py"), str(tmp_path)]
        running = [
            subprocess.Popen(
                [*command, str(n), str(THREADS), str(CHANGES)],
                env={"PYTHONPATH": str(SRC)},
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                text=True,
            )
            for n in range(PROCESSES)
        ]
        told = [(one.communicate(timeout=120), one.returncode) for one in running]
        for (out, err), status in told:
            assert status == 0, err
            assert 0 < float(out) < 30
        assert store.check() == ()
        with store.snapshot() as seen:
            history, case = seen.history(1), seen.case(1)
    writers = [f"{n}{t}" for n in range(PROCESSES) for t in range(THREADS)]
    # Every change of everybody stands in the history, in everybody's own order.
    for who in writers:
        own = [one.what for one in history if one.who == who and one.what != "changed"]
        assert own == [f"{who} {n}" for n in range(1, CHANGES + 1)]
    assert len(history) == 1 + 2 * len(writers) * CHANGES
    assert [one.number for one in history] == list(range(1, len(history) + 1))
    assert sorted(case.note.split()) == sorted(f"{who}-{n}" for who in writers for n in range(1, CHANGES + 1))
    assert (case.lab, case.by) == (str(CHANGES), str(CHANGES))
    assert case.bench is not None
    numbers = (case.bench.room_c, case.bench.powder_g, case.bench.water_ml, case.bench.volume_ml)
    assert numbers == (CHANGES + 1,) * 4
    assert b"# first" in history[-1].text


def test_many_open_a_new_store_at_once(tmp_path: Path) -> None:
    def begin(n: int) -> int:
        with Store(tmp_path / "new", wait_s=60) as store, store.change("QP") as change:
            return change.begin(f'code = "{n}"'.encode()).case_id

    with ThreadPoolExecutor(8) as pool:
        found = list(pool.map(begin, range(16)))
    assert sorted(found) == list(range(1, 17))


def test_many_new_stores_at_once(tmp_path: Path) -> None:
    def begin(n: int) -> int:
        with Store(tmp_path / str(n)) as store, store.change("QP") as change:
            return change.begin(b'code = "A"').case_id

    with ThreadPoolExecutor(8) as pool:
        assert list(pool.map(begin, range(16))) == [1] * 16


def test_one_scan_from_many_at_once_is_one_file(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        data = bytes(range(256)) * 10_000

        def put(n: int) -> str:
            sha = store.scans.add(io.BytesIO(data)).sha256
            with store.change("QP") as change:
                case_id = change.begin(f'code = "{n}"'.encode(), {"a.stl": sha}).case_id
            with store.snapshot() as seen:
                folder = seen.case(case_id).folder
            assert folder is not None
            assert (folder / "a.stl").read_bytes() == data
            return sha

        with ThreadPoolExecutor(8) as pool:
            shas = set(pool.map(put, range(24)))
        assert len(shas) == 1
        assert list(store.scans.everything()) == list(shas)
        assert store.check() == store.orphans() == ()


def test_readers_never_wait_and_never_see_half(tmp_path: Path) -> None:
    with Store(tmp_path) as store:
        with store.change("QP") as change:
            one, two = (change.begin(f'code = "{c}"\nnote = "0"\n'.encode()).case_id for c in "AB")

        def read(_: int) -> bool:
            with store.snapshot() as seen:
                return seen.case(one).note == seen.case(two).note

        with ThreadPoolExecutor(4) as pool:
            reads = [pool.submit(read, n) for n in range(60)]
            for n in range(1, 21):
                with store.change("QP") as change:
                    for case_id in (one, two):
                        change.edit(case_id, {"note": str(n)}, n)
            assert all(done.result() for done in reads)
