"""What the disk, another program or a damaged file can do: each has its name, and leaves what was there."""

from __future__ import annotations

import io
import os
import re
import resource
import shutil
import signal
import sqlite3
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from mountproof.case.store import Store
from mountproof.case.store.faults import CODES
from mountproof.faults import FaultError

ROOT = Path(__file__).parents[3]
NOBODY = 65534


def in_child(work: Callable[[], list[str]]) -> list[str]:
    """Run in a process of its own, so that limits and rights do not stay; return what it found."""
    reader, writer = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            os.close(reader)
            try:
                found = work()
            except BaseException:
                found = [traceback.format_exc()]
            os.write(writer, "\n".join(found).encode()[:60_000])
        finally:
            os._exit(0)
    os.close(writer)
    with os.fdopen(reader) as stream:
        text = stream.read()
    os.waitpid(pid, 0)
    return text.split("\n") if text else []


def code_of(work: Callable[[], object]) -> str:
    try:
        work()
    except FaultError as error:
        return ",".join(fault.code for fault in error.faults)
    return "no fault"


def note(store: Store, text: str, case_id: int = 1) -> None:
    with store.change("QP") as change:
        change.edit(case_id, {"note": text}, change.head(case_id).number)


def begun(folder: Path) -> None:
    with Store(folder) as store, store.change("QP") as change:
        change.begin(b'code = "A"\nnote = "old"\n')


def note_of(store: Store) -> tuple[int, str]:
    with store.snapshot() as seen:
        return seen.count(), seen.case(1).note


def note_in(folder: Path) -> str:
    with Store(folder) as store:
        assert store.check() == ()
        with store.snapshot() as seen:
            return seen.case(1).note


def test_a_full_disk(tmp_path: Path) -> None:
    """A limit on the size of files stands for it: what is written beyond is refused as a full disk would."""
    begun(tmp_path)

    def work() -> list[str]:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        found = []
        with Store(tmp_path) as store:
            note(store, "new")
            size = max(file.stat().st_size for file in tmp_path.iterdir() if file.is_file())
            resource.setrlimit(resource.RLIMIT_FSIZE, (size + 5000, resource.RLIM_INFINITY))
            found.append(code_of(lambda: store.scans.add(io.BytesIO(bytes(5_000_000)))))
            found += [code_of(lambda: note(store, "x" * 200_000)) for _ in range(3)]
            found.append(code_of(lambda: store.backup(tmp_path / "backup")))
            with store.snapshot() as seen:
                found.append(seen.case(1).note)
            resource.setrlimit(resource.RLIMIT_FSIZE, (resource.RLIM_INFINITY, resource.RLIM_INFINITY))
            note(store, "after")
        return found

    scan, *changes, backup, kept = in_child(work)
    assert scan == "store.disk_full"
    assert set(changes) <= {"store.disk_full", "store.not_written"}
    assert backup in ("store.disk_full", "store.not_written", "no fault")
    assert kept == "new"
    assert note_in(tmp_path) == "after"
    with Store(tmp_path) as store:
        assert store.orphans() == ()


@pytest.mark.skipif(
    os.geteuid() != 0 or not Path("/dev/full").exists(), reason="needs a small disk of its own"
)
def test_a_small_disk_that_is_full(tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    if os.system(f"mount -t tmpfs -o size=1m tmpfs {disk} 2>/dev/null"):
        pytest.skip("this system lets nobody make a small disk")
    try:
        begun(disk / "store")
        with Store(disk / "store") as store:
            note(store, "new")
            assert code_of(lambda: store.scans.add(io.BytesIO(bytes(2_000_000)))) == "store.disk_full"
            found = {code_of(lambda: note(store, "x" * 300_000)) for _ in range(6)}
            assert "store.disk_full" in found
            assert found <= {"store.disk_full", "store.not_written", "no fault"}
            assert store.check() == ()
            # Neither a backup that is put back nor a case that is brought in is there by half.
            with Store(tmp_path / "other") as other:
                with other.change("QP") as change:
                    large = change.begin(f'code = "L"\nnote = "{"y" * 900_000}"\n'.encode()).case_id
                bundle = other.export_bundle(large, tmp_path / "large.zip")
                backup = other.backup(tmp_path / "backup")
            here = note_of(store)
            full = {"store.disk_full", "store.not_written"}
            assert code_of(lambda: store.import_bundle(bundle, "QP")) in full
            assert code_of(lambda: store.restore(backup, "QP")) in full
            assert code_of(lambda: store.export_folder(1, disk / "store" / "out")) in {
                *full,
                "case.not_written",
            }
            assert (note_of(store), store.check()) == (here, ())
        shutil.copytree(disk / "store", tmp_path / "copy")
        assert note_in(tmp_path / "copy") in ("new", "x" * 300_000)
    finally:
        os.system(f"umount {disk}")


def test_a_folder_that_may_only_be_read(tmp_path: Path) -> None:
    begun(tmp_path / "store")
    empty = tmp_path / "empty"
    empty.mkdir()
    for one in (tmp_path / "store", *(tmp_path / "store").iterdir()):
        one.chmod(0o555 if one.is_dir() else 0o444)
    empty.chmod(0o555)
    for parent in tmp_path.parents[:2]:
        parent.chmod(0o755)
    tmp_path.chmod(0o755)

    def work() -> list[str]:
        if os.geteuid() == 0:
            os.setuid(NOBODY)
        return [
            code_of(lambda: Store(tmp_path / "store")),
            code_of(lambda: Store(empty)),
            code_of(lambda: Store(empty / "deeper")),
        ]

    assert in_child(work) == ["store.read_only"] * 3
    (tmp_path / "store").chmod(0o755)
    (tmp_path / "store" / "cases.sqlite").chmod(0o644)
    assert note_in(tmp_path / "store") == "old"


def test_a_database_that_another_program_keeps_to_itself(tmp_path: Path) -> None:
    begun(tmp_path)
    with (
        Store(tmp_path, wait_s=0.2) as store,
        closing(sqlite3.connect(tmp_path / "cases.sqlite")) as raw,
    ):
        raw.isolation_level = None
        raw.execute("BEGIN IMMEDIATE")
        began = time.monotonic()
        assert code_of(lambda: note(store, "new")) == "store.busy"
        assert 0.15 < time.monotonic() - began < 5
        with store.snapshot() as seen:
            assert seen.case(1).note == "old", "reading goes on"
        raw.execute("ROLLBACK")
        note(store, "new")
    assert note_in(tmp_path) == "new"


def test_a_thread_that_does_not_let_go(tmp_path: Path) -> None:
    begun(tmp_path)
    with Store(tmp_path, wait_s=0.1) as store:
        inside, leave = threading.Event(), threading.Event()

        def hold() -> None:
            with store.change("other"):
                inside.set()
                leave.wait(10)

        thread = threading.Thread(target=hold)
        thread.start()
        inside.wait(10)
        assert code_of(lambda: note(store, "new")) == "store.busy"
        leave.set()
        thread.join()
        note(store, "new")


@pytest.mark.parametrize("how", ["head", "pages", "short", "text", "empty page"])
def test_a_damaged_database(how: str, tmp_path: Path) -> None:
    with Store(tmp_path) as store, store.change("QP") as change:
        for n in range(40):
            change.begin(f'code = "{n}"\nnote = "{"x" * 900}"\n'.encode())
    file = tmp_path / "cases.sqlite"
    data = file.read_bytes()
    spoiled = {
        "head": b"\0" * 100 + data[100:],
        "pages": data[:8192] + b"\xa5" * (len(data) - 8192),
        "short": data[: len(data) // 2],
        "text": b"code = 1\n" * 500,
        "empty page": data[:4096] + bytes(4096) + data[8192:],
    }[how]
    file.write_bytes(spoiled)

    def use() -> None:
        with Store(tmp_path) as store:
            faults = store.check()
            if faults:
                raise FaultError(faults)

    found = code_of(use)
    assert set(found.split(",")) == {"store.damaged"}, found
    assert file.read_bytes() == spoiled, "nothing was mended or written over"


def test_what_is_no_store(tmp_path: Path) -> None:
    other = tmp_path / "other"
    other.mkdir()
    with closing(sqlite3.connect(other / "cases.sqlite")) as raw:
        raw.execute("CREATE TABLE notes (text)")
    before = (other / "cases.sqlite").read_bytes()
    assert code_of(lambda: Store(other)) == "store.not_a_store"
    assert (other / "cases.sqlite").read_bytes() == before
    (tmp_path / "file").write_text("x")
    assert code_of(lambda: Store(tmp_path / "file")) == "store.not_written"
    (tmp_path / "folder" / "cases.sqlite").mkdir(parents=True)
    assert code_of(lambda: Store(tmp_path / "folder")) == "store.not_a_store"


def descriptors() -> set[str]:
    found = set()
    for link in Path("/proc/self/fd").iterdir():
        try:
            found.add(str(link.readlink()))
        except OSError:
            continue
    return found


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="counts open files by /proc")
def test_no_file_stays_open(tmp_path: Path) -> None:
    begun(tmp_path)
    sha = ""
    for n in range(20):
        with Store(tmp_path, wait_s=0.05) as store:
            sha = store.scans.add(io.BytesIO(b"a scan")).sha256
            with store.scans.open(sha):
                pass
            note(store, str(n))
            threads = [threading.Thread(target=lambda s=store: s.check()) for _ in range(6)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            with pytest.raises(ZeroDivisionError), store.change("QP") as change:
                change.begin(str(1 // 0).encode())
            with pytest.raises(FaultError):
                note(store, "x", case_id=99)
            store.backup(tmp_path / "backup")
            store.restore(tmp_path / "backup", "QP")
    for name in ("bad", "cases.sqlite/x"):
        (tmp_path / "bad").mkdir(exist_ok=True)
        (tmp_path / "bad" / "cases.sqlite").write_bytes(b"no database" * 100)
        with pytest.raises(FaultError):
            Store(tmp_path / name)
    left = {path for path in descriptors() if path.startswith(str(tmp_path))}
    assert left == set()
    assert not (tmp_path / "cases.sqlite-wal").exists(), "the last one out folds the log in"


def test_every_code_has_its_words_and_its_place_on_the_page() -> None:
    page = (ROOT / "docs" / "theory" / "store.md").read_text(encoding="utf-8")
    used = set()
    for file in (ROOT / "src/mountproof/case/store").glob("*.py"):
        used |= set(re.findall(r'"((?:store|bundle)\.[a-z_]+)"', file.read_text(encoding="utf-8")))
    assert used == set(CODES)
    for code, words in CODES.items():
        assert f"| `{code}` | {words} |" in page, code
